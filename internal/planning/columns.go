package planning

import (
	"math"
)

// generate solves the relaxation over all patterns of the master's units by column
// generation. After each round report gets the value of the programme and of the Lagrangian
// at its prices, and may end it. It returns the programme's last value, and false where the
// programme has no solution.
func (ms *master) generate(rounds int, cutoff float64, report func(value float64, p prices, fabric int64) bool) (float64, bool) {
	for round := 0; ; round++ {
		st := ms.lp.Solve(50_000, cutoff)
		if st != 0 {
			return math.Inf(-1), false
		}
		value := ms.lp.Objective()
		ms.takePrices()
		added, fabric := ms.priceAll()
		if report != nil && !report(value, ms.price, fabric) {
			return value, true
		}
		if added == 0 || round >= rounds {
			return value, true
		}
	}
}

// priceAll runs the programmes at the present prices, adds for each unit the best pattern
// that gains, and gives the number added and what all pieces hold.
func (ms *master) priceAll() (added int, fabric int64) {
	by := ms.unitsByGroup()
	for g, units := range by {
		if len(units) == 0 {
			continue
		}
		n, f := ms.priceUnits(g, units)
		added, fabric = added+n, fabric+f
	}
	return added, fabric
}

func (ms *master) unitsByGroup() [][]*unit {
	by := make([][]*unit, len(ms.m.groups))
	for _, u := range ms.units {
		if !u.closed {
			by[u.group] = append(by[u.group], u)
		}
	}
	return by
}

func (ms *master) priceUnits(g int, units []*unit) (added int, fabric int64) {
	ms.values = ms.m.values(g, ms.price, ms.values)
	prog := ms.m.groups[g].prog
	prog.Price(ms.values, nil)
	for _, u := range units {
		begun := ms.worth(u.begun)
		value := begun + prog.Best(u.left, u.width)
		fabric += value * int64(u.pieces)
		gain := float64(value)/float64(ms.m.unit) - ms.lp.Dual(u.row)
		if gain > 1e-6 {
			if ms.addColumn(u, ms.best(u)) != nil {
				added++
			}
		}
	}
	return added, fabric
}

// worth gives what strips hold at the present prices.
func (ms *master) worth(strips []*strip) int64 {
	var sum int64
	for _, s := range strips {
		for _, n := range s.counts {
			sum += ms.price[n.row] * int64(n.n)
		}
	}
	return sum
}

// seed gives every unit a few patterns to begin with: the best when panels are worth their
// share, by area, of the best pillowcase they can be part of, and of each case alone.
func (ms *master) seed() {
	m := ms.m
	for only := -1; only < len(m.p.Cases); only++ {
		ms.price = ms.price[:0]
		for range m.supply {
			ms.price = append(ms.price, 0)
		}
		found := false
		for i := range m.makes {
			mk := &m.makes[i]
			if only >= 0 && mk.spec != only {
				continue
			}
			found = true
			w := float64(m.quotas[mk.quota].weight) * float64(m.unit) / m.caseArea(mk.spec)
			for _, u := range mk.uses {
				ms.price[u.row] = max(ms.price[u.row], int64(w*m.area(u.row)))
			}
			for _, t := range mk.trims {
				for _, r := range m.trims[t].rows {
					ms.price[r] = max(ms.price[r], int64(w*m.area(r)))
				}
			}
		}
		if found {
			ms.priceAll()
		}
	}
}

func (m *model) area(row int) float64 {
	k := &m.kinds[m.supply[row].kind]
	return float64(k.around) * float64(k.along)
}

func (m *model) caseArea(spec int) float64 {
	var sum float64
	for _, l := range m.p.Cases[spec].Panels {
		sum += float64(m.length(l.Around)) * float64(m.length(l.Along)) * float64(l.Pieces)
	}
	return sum
}
