package planning

import "math"

// A bound is proven by prices alone. Give every panel kind of every group a price of at
// least 0. Whatever a plan cuts from a piece is worth, at these prices, at most what the
// guillotine programme says; whatever it sews costs its panels; so for any prices
//
//	weight made ≤ Σ_quotas wanted · max(0, weight − cheapest panels) + Σ_pieces T(prices) + Σ given · price
//
// (the Lagrangian of the supply rows, which at the prices of the linear relaxation over all
// patterns equals its value). Prices are whole numbers and so is every sum, hence nothing is
// lost to rounding; the least bound over all prices tried is kept.

// prices are whole numbers by supply row, in 1/unit of the unit of weights.
type prices []int64

// toPrices rounds prices of the linear programme.
func (m *model) toPrices(pi []float64, into prices) prices {
	into = into[:0]
	for _, p := range pi {
		into = append(into, max(m.toPrice(p), 0))
	}
	return into
}

// toPrice rounds a price, and keeps it to what chooseUnit has left room for.
func (m *model) toPrice(p float64) int64 {
	most := dearest * float64(m.heaviest)
	return int64(math.Round(min(max(p, -most), most) * float64(m.unit)))
}

// dearest is how many of the heaviest pillowcases a panel may cost: more than the escapes of a
// tree ever charge.
const dearest = 40

// values gives each form of a group the price of its supply row.
func (m *model) values(g int, p prices, into []int64) []int64 {
	into = into[:0]
	for _, r := range m.groups[g].row {
		into = append(into, p[r])
	}
	return into
}

// quotaSide gives Σ wanted · max(0, weight − cheapest panels) + Σ given · price. weights
// gives what a pillowcase of each quota is worth.
func (m *model) quotaSide(p prices, weight func(q int) int64) int64 {
	cheapest := make([]int64, len(m.trims))
	for t := range m.trims {
		cheapest[t] = m.cheapest(t, p)
	}
	best := make([]int64, len(m.quotas))
	for i := range m.makes {
		mk := &m.makes[i]
		rest := weight(mk.quota) * m.unit
		for _, u := range mk.uses {
			rest -= p[u.row] * u.count
		}
		for _, t := range mk.trims {
			rest -= cheapest[t]
		}
		best[mk.quota] = max(best[mk.quota], rest)
	}
	var sum int64
	for q, b := range best {
		sum += b * m.quotas[q].wanted
	}
	for r := range m.supply {
		sum += p[r] * m.supply[r].given
	}
	return sum
}

func (m *model) cheapest(t int, p prices) int64 {
	tr := &m.trims[t]
	least := int64(math.MaxInt64)
	for _, r := range tr.rows {
		least = min(least, p[r]*tr.count)
	}
	return least
}

// fabricSide gives Σ pieces T(prices), running each group's programme, and leaves the
// programmes priced.
func (m *model) fabricSide(p prices) int64 {
	groups := m.stocked()
	m.priceGroups(groups, p, nil, nil, nil)
	var sum int64
	for _, g := range groups {
		sum += m.atMost(g)
	}
	return sum
}

// stocked lists the groups that something can be cut from.
func (m *model) stocked() []int {
	var out []int
	for g, gr := range m.groups {
		if len(gr.stock) > 0 {
			out = append(out, g)
		}
	}
	return out
}

func (m *model) weightOf(q int) int64 { return m.quotas[q].weight }

func one(int) int64 { return 1 }

// reachable rounds a bound in price units down to a whole weight.
func (m *model) reachable(b int64) int64 { return b / m.unit }
