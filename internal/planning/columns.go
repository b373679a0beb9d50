package planning

import (
	"math"

	"boltward/internal/planning/lp"
)

// generate solves the relaxation over all patterns of the master's units by column
// generation. After each round report gets the value of the programme and of the Lagrangian
// at its prices, and may end it. It returns the programme's last value, and false where the
// programme has no solution.
func (ms *master) generate(rounds int, cutoff float64, report func(value float64, p prices, fabric int64) bool) (float64, bool) {
	var centre prices // the prices that proved the least bound so far
	least := int64(math.MaxInt64)
	for round := 0; ; round++ {
		// Pricing a depot's bolts takes longer than anybody who wants to stop should wait.
		if ms.lp.Solve(50_000, math.Inf(-1)) != lp.Optimal || ms.stopping() {
			return math.Inf(-1), false
		}
		if ms.footing != nil {
			ms.footing.note(ms)
			ms.footing = nil
		}
		value := ms.lp.Objective()
		ms.takePrices()
		smooth := ms.smooth > 0 && centre != nil
		if smooth {
			for r := range ms.price {
				ms.price[r] = (centre[r]*ms.smooth + ms.price[r]*(8-ms.smooth)) / 8
			}
		}
		added, fabric, whole := ms.priceAll()
		if !whole {
			return math.Inf(-1), false
		}
		if report != nil && !report(value, ms.price, fabric) {
			return value, true
		}
		if ms.smooth > 0 {
			if b := ms.m.quotaSide(ms.price, ms.weight) + fabric; b < least {
				least, centre = b, append(centre[:0], ms.price...)
			}
			if bound := float64(least) / float64(ms.m.unit); math.Floor(bound) <= value+1e-6 || bound-value < float64(1e-6*value) {
				return value, true
			}
		}
		if added == 0 && smooth {
			// Smoothed prices found nothing: only the programme's own can say that nothing is left.
			ms.takePrices()
			if added, fabric, whole = ms.priceAll(); !whole {
				return math.Inf(-1), false
			}
			if report != nil && !report(value, ms.price, fabric) {
				return value, true
			}
		}
		// Patterns not known yet can bring no more than what these prices promise.
		if value+ms.gain <= cutoff {
			return value, false
		}
		if added == 0 || round >= rounds || ms.gain < ms.enough {
			return value, true
		}
	}
}

// stopping says whether somebody waits for the end.
func (ms *master) stopping() bool { return ms.lp.Stop != nil && ms.lp.Stop() }

// priceUnitsAll runs the programmes at the present prices, adds for each unit the best pattern
// that gains, and gives the number added and what all pieces hold; false where somebody waits for the end.
func (ms *master) priceUnitsAll() (added int, fabric int64, whole bool) {
	by := ms.unitsByGroup()
	var groups []int
	tops := make([]int32, len(by))
	for g, units := range by {
		for _, u := range units {
			tops[g] = max(tops[g], u.left)
		}
		if len(units) > 0 {
			groups = append(groups, g)
		}
	}
	if !ms.m.priceGroups(groups, ms.price, ms.thrift, tops, ms.lp.Stop) {
		return 0, 0, false
	}
	ms.gain = 0
	for _, g := range groups {
		n, f := ms.priceUnits(g, by[g])
		added, fabric = added+n, fabric+f
	}
	return added, fabric, true
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
	prog := ms.m.groups[g].prog
	for _, u := range units {
		begun := ms.worth(u.begun)
		value := begun + prog.Best(u.left, u.width)
		if ms.m.groups[g].loose == nil {
			fabric += value * int64(u.pieces)
		}
		gain := float64(value)/float64(ms.m.unit) - ms.thrift.begun(u) - ms.lp.Dual(u.row)
		if gain > 1e-6 {
			ms.gain += gain * float64(u.pieces)
			if strips := ms.best(u); !ms.banned(u, strips) && ms.addColumn(u, strips) != nil {
				added++
			}
		}
	}
	if ms.m.groups[g].loose != nil {
		fabric += ms.m.atMost(g)
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
	for only := -1; only < len(m.p.Cases) && !ms.stopping(); only++ {
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
