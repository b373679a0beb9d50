package planning

import (
	"math"

	"boltward/internal/apperr"
)

// compare orders by pairs of numbers, the first that differ decide.
func compare(pairs ...int64) int {
	for i := 0; i < len(pairs); i += 2 {
		if pairs[i] < pairs[i+1] {
			return -1
		}
		if pairs[i] > pairs[i+1] {
			return 1
		}
	}
	return 0
}

// chooseUnit finds how fine prices can be so that no sum leaves int64.
func (m *model) chooseUnit() error {
	var worth, panels float64
	m.heaviest = 1
	for _, q := range m.quotas {
		worth += float64(q.wanted) * float64(q.weight)
		m.heaviest = max(m.heaviest, q.weight)
	}
	for _, s := range m.stock {
		panels += m.mostPanels(s) * float64(len(s.pieces))
	}
	for _, r := range m.supply {
		panels += float64(r.given)
	}
	most := dearest * max(worth, panels*float64(m.heaviest), 1)
	m.unit = 1 << 32
	for m.unit > 1 && most*float64(m.unit) > math.MaxInt64/16 {
		m.unit /= 2
	}
	if most*float64(m.unit) > math.MaxInt64/16 {
		return apperr.Invalid("", "the fabric holds more panels, at these weights, than can be counted")
	}
	return nil
}

// fits refuses a problem of which a plan could be too large to hold: pillowcases are at most
// what is wanted, and at most what all cloth makes by the area of the smallest body.
func (m *model) fits() error {
	var wanted, bodies float64
	for q := range m.quotas {
		wanted += float64(m.quotas[q].most)
	}
	least := make([]float64, len(m.groups)) // area of cloth that the bodies of a pillowcase take
	for i := range m.makes {
		mk := &m.makes[i]
		k := &m.kinds[m.supply[mk.uses[0].row].kind]
		if a := float64(k.around) * float64(k.along) * float64(mk.uses[0].count); least[mk.group] == 0 || a < least[mk.group] {
			least[mk.group] = a
		}
	}
	seen := make([]bool, len(m.supply))
	for i := range m.makes {
		if u := m.makes[i].uses[0]; !seen[u.row] {
			seen[u.row] = true
			bodies += float64(m.supply[u.row].given)
		}
	}
	for _, s := range m.stock {
		if least[s.group] == 0 {
			continue
		}
		for _, x := range s.pieces {
			bodies += math.Floor(float64(x.length) * float64(x.width) / least[s.group])
		}
	}
	if most := min(wanted, bodies); most > MostMade {
		return apperr.Invalid("", "this cloth could make more than %d pillowcases: plan it in parts", MostMade)
	}
	return nil
}

// many says whether all pieces together are so long that planning them one by one would take
// too much work, however few are different: bolts, or many alike.
func (m *model) many() bool { return m.strips() > 500 }

// strips counts the highest strips that all pieces together hold.
func (m *model) strips() int64 {
	var strips int64
	for _, s := range m.stock {
		gr := m.groups[s.group]
		strips += int64(len(s.pieces)) * (gr.prog.Length(s.point) / gr.highest())
	}
	return strips
}

// highest is the height of the highest panel of a group.
func (gr *group) highest() int64 {
	highest := int64(1)
	for _, f := range gr.forms {
		highest = max(highest, f.H)
	}
	return highest
}

// mostPanels gives an upper bound on the panels of one piece, by area.
func (m *model) mostPanels(s *stock) float64 {
	gr := m.groups[s.group]
	least := math.Inf(1)
	for _, f := range gr.real {
		least = min(least, float64(f.W)*float64(f.H))
	}
	pc := s.pieces[0]
	for _, x := range s.pieces {
		if x.length > pc.length {
			pc = x
		}
	}
	return math.Ceil(float64(pc.length) * float64(pc.width) / least)
}
