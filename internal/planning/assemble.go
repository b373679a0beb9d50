package planning

import (
	"math"
	"slices"

	"boltward/internal/planning/lp"
)

// sewing is what is sewn from given panels: pillowcases by making, trims by trimming and choice.
type sewing struct {
	made  []int64
	trims [][]int64
	value int64
}

// assemble finds the most valuable whole sewing for the panels that lie cut, by supply row.
// The programme is nearly a network, so its relaxation is mostly whole; branching does the rest.
// nodes limits that; what was found first is still whole.
func (m *model) assemble(panels []int64, nodes int) *sewing {
	a := &assembly{m: m, panels: panels, nodes: nodes}
	for q := range m.quotas {
		a.wanted = append(a.wanted, m.quotas[q].wanted)
	}
	before := m.sewer.lp.Work
	a.build()
	a.search()
	m.assembled += a.lp.Work - before
	return a.best
}

// assembleNear is assemble for the pillowcases within reach, of which so many are wanted by quota.
func (m *model) assembleNear(panels, wanted []int64, r *reach, nodes int) *sewing {
	before := m.sewer.lp.Work
	ms := m.sewer.renewed(m, panels, nil)
	ms.wanted = wanted
	ms.start(r, true)
	m.sewer = ms
	a := &assembly{m: m, panels: panels, wanted: wanted, nodes: nodes, lp: ms.lp, y: ms.y, z: ms.z}
	a.best = a.nothing()
	a.search()
	m.assembled += a.lp.Work - before
	return a.best
}

type assembly struct {
	m      *model
	panels []int64
	wanted []int64
	lp     *lp.Solver
	y      []int
	z      [][]int
	first  *master // whose basis is noted once it is solved, nil for none
	best   *sewing
	nodes  int
}

func (a *assembly) build() {
	m := a.m
	ms := newMasterNear(m, a.panels, nil, nil, m.sewer)
	m.sewer = ms
	a.lp, a.y, a.z = ms.lp, ms.y, ms.z
	a.best = a.nothing()
	if m.footing == nil {
		m.footing = newFooting(m)
	}
	m.footing.begin(ms, nil)
	a.first = ms
}

func (a *assembly) nothing() *sewing {
	s := &sewing{made: make([]int64, len(a.m.makes)), trims: make([][]int64, len(a.m.trims))}
	for t := range s.trims {
		s.trims[t] = make([]int64, len(a.m.trims[t].rows))
	}
	return s
}

// search branches depth first on the variable farthest from whole, the upper side first.
func (a *assembly) search() {
	if a.nodes--; a.nodes < 0 {
		return
	}
	if a.lp.Solve(20_000, float64(a.best.value)+1-whole) != lp.Optimal {
		return
	}
	if a.first != nil {
		a.m.footing.note(a.first)
		a.first = nil
	}
	if a.lp.Objective() < float64(a.best.value)+1-1e-3 {
		return
	}
	a.keep()
	v, x := a.fractional()
	if v < 0 {
		return
	}
	lo, hi := a.lp.Bounds(v)
	a.lp.SetBounds(v, math.Ceil(x), hi)
	a.search()
	a.lp.SetBounds(v, lo, math.Floor(x))
	a.search()
	a.lp.SetBounds(v, lo, hi)
}

func (a *assembly) fractional() (int, float64) {
	v, worst := -1, whole*10
	see := func(j int) {
		if j < 0 {
			return
		}
		x := a.lp.Value(j)
		if d := math.Abs(x - math.Round(x)); d > worst {
			v, worst = j, d
		}
	}
	for _, j := range a.y {
		see(j)
	}
	for _, vars := range a.z {
		for _, j := range vars {
			see(j)
		}
	}
	if v < 0 {
		return -1, 0
	}
	return v, a.lp.Value(v)
}

// keep rounds the present solution to a whole one, repairs it and keeps it where it is better.
func (a *assembly) keep() {
	m := a.m
	left := make([]int64, len(m.supply))
	for r := range left {
		left[r] = a.panels[r] + m.supply[r].given
	}
	s := a.nothing()
	open := make([]int64, len(m.trims))
	for t, vars := range a.z {
		for k, v := range vars {
			if v < 0 {
				continue
			}
			r, c := m.trims[t].rows[k], m.trims[t].count
			n := min(int64(a.lp.Value(v)+2e-4), left[r]/c)
			s.trims[t][k] = n
			left[r] -= n * c
			open[t] += n
		}
	}
	wanted := slices.Clone(a.wanted)
	for i, v := range a.y {
		if v >= 0 {
			a.make(s, i, int64(a.lp.Value(v)+2e-4), left, open, wanted)
		}
	}
	for i, v := range a.y {
		if v >= 0 {
			a.make(s, i, math.MaxInt32, left, open, wanted)
		}
	}
	a.unusedTrims(s, open)
	if s.value > a.best.value {
		a.best = s
	}
}

// make sews up to n more of a making from what is left: trims come from those set aside, then
// from what lies free.
func (a *assembly) make(s *sewing, i int, n int64, left, open, wanted []int64) {
	m, mk := a.m, &a.m.makes[i]
	n = min(n, wanted[mk.quota])
	for ; n > 0; n-- {
		for k, u := range mk.uses {
			if left[u.row] < u.count {
				for _, back := range mk.uses[:k] {
					left[back.row] += back.count
				}
				return
			}
			left[u.row] -= u.count
		}
		for k, t := range mk.trims {
			if open[t] > 0 || a.openTrim(s, t, left, open) {
				open[t]--
				continue
			}
			for _, back := range mk.trims[:k] {
				open[back]++
			}
			for _, back := range mk.uses {
				left[back.row] += back.count
			}
			return
		}
		s.made[i]++
		s.value += m.quotas[mk.quota].weight
		wanted[mk.quota]--
	}
}

// openTrim sets one more trim aside from the choice with most left.
func (a *assembly) openTrim(s *sewing, t int, left, open []int64) bool {
	tr := &a.m.trims[t]
	k, most := -1, tr.count-1
	for i, r := range tr.rows {
		if left[r] > most {
			k, most = i, left[r]
		}
	}
	if k < 0 {
		return false
	}
	left[tr.rows[k]] -= tr.count
	s.trims[t][k]++
	open[t]++
	return true
}

// unusedTrims takes back what was set aside for pillowcases that could not be made.
func (a *assembly) unusedTrims(s *sewing, open []int64) {
	for t := range open {
		for k := range s.trims[t] {
			n := min(open[t], s.trims[t][k])
			s.trims[t][k] -= n
			open[t] -= n
		}
	}
}

// needs gives the panels a sewing takes by supply row.
func (m *model) needs(s *sewing) []int64 {
	need := make([]int64, len(m.supply))
	for i, n := range s.made {
		for _, u := range m.makes[i].uses {
			need[u.row] += n * u.count
		}
	}
	for t := range s.trims {
		for k, n := range s.trims[t] {
			need[m.trims[t].rows[k]] += n * m.trims[t].count
		}
	}
	return need
}
