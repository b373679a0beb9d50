package planning

import "math"

// proof holds the whole-number multipliers that prove a bound within limits: prices of panels
// by supply row, what is added to a price for panels that are used, what a place in a quota
// and a trim are worth. Any values prove some bound; good ones come from the relaxation.
type proof struct {
	price prices
	use   []int64 // by supply row
	quota []int64
	trim  []int64
	sums  []int64 // by sum of a tree, nil where none is limited
	extra []int64 // what sums add to the price of panels used, by supply row
	toll  []int64 // what sums charge for a pillowcase, by quota
}

const unlimited = 10_000_000

// proofOf reads multipliers from the relaxation solved under a node's limits.
func (t *tree) proofOf(n *node, p prices) *proof {
	m := t.s.m
	pr := &proof{
		price: append(prices(nil), p...), use: make([]int64, len(m.supply)),
		quota: make([]int64, len(m.quotas)), trim: make([]int64, len(m.trims)),
	}
	dual := func(row int) int64 {
		return m.toPrice(t.ms.lp.Dual(row))
	}
	t.takeSums(n, pr, dual)
	free := map[int]bool{}    // trimmings with a limited choice
	limited := map[int]bool{} // quotas with a limited making
	for _, l := range n.limits {
		switch l.of {
		case limitUse:
			v := dual(t.useAt[l.i])
			if l.hi >= unlimited {
				v = min(v, 0)
			}
			pr.use[l.i] = v
		case limitChoice:
			free[l.i] = true
		case limitMake:
			limited[m.makes[l.i].quota] = true
		}
	}
	for i := range m.trims {
		if free[i] {
			pr.trim[i] = dual(t.ms.trimAt[i])
			continue
		}
		least := int64(math.MaxInt64)
		for _, r := range m.trims[i].rows {
			least = min(least, pr.charge(r)*m.trims[i].count)
		}
		pr.trim[i] = least
	}
	for q := range pr.quota {
		pr.quota[q] = math.MinInt64
	}
	for i := range m.makes {
		q := m.makes[i].quota
		pr.quota[q] = max(pr.quota[q], m.gain(i, pr))
	}
	for q := range pr.quota {
		lo := int64(0)
		for _, l := range n.limits {
			if l.of == limitQuota && l.i == q {
				lo = l.lo
			}
		}
		switch {
		case limited[q]:
			pr.quota[q] = dual(t.ms.quotaAt[q])
		case pr.quota[q] == math.MinInt64 || lo == 0 && pr.quota[q] < 0:
			pr.quota[q] = 0
		}
	}
	return pr
}

// gain gives what a pillowcase of a making is worth beyond its panels and trims.
func (m *model) gain(i int, pr *proof) int64 {
	return m.gainAt(i, pr, m.quotas[m.makes[i].quota].weight)
}

func (m *model) gainAt(i int, pr *proof, weight int64) int64 {
	mk := &m.makes[i]
	rest := weight * m.unit
	if pr.toll != nil {
		rest -= pr.toll[mk.quota]
	}
	for _, u := range mk.uses {
		rest -= pr.charge(u.row) * u.count
	}
	for _, t := range mk.trims {
		rest -= pr.trim[t]
	}
	return rest
}

// noBound is so much that no bound comes of it, and leaves room to add what fabric holds.
const noBound = math.MaxInt64 / 2

// within gives the part of the Lagrangian that does not come from fabric, for plans within limits.
// Multipliers come from a programme that may be far off where a node has hardly a solution: a
// sum that could leave int64 would wrap into a bound that is too low, so noBound stands in its place.
func (m *model) within(limits []limit, pr *proof) int64 {
	quota := make([][2]int64, len(m.quotas))
	for q := range quota {
		quota[q] = [2]int64{0, m.quotas[q].wanted}
	}
	makes := make([][2]int64, len(m.makes))
	for i := range makes {
		makes[i] = [2]int64{0, m.quotas[m.makes[i].quota].wanted}
	}
	choices := map[[2]int][2]int64{}
	var sum int64
	var size float64
	add := func(each int64, span [2]int64) {
		n := most(each, span)
		sum += each * n
		size += math.Abs(float64(each)) * float64(n)
	}
	for _, l := range limits {
		span := [2]int64{l.lo, l.hi}
		switch l.of {
		case limitQuota:
			quota[l.i] = span
		case limitMake:
			makes[l.i] = span
		case limitChoice:
			choices[[2]int{l.i, l.k}] = span
		case limitUse:
			add(pr.use[l.i], span)
		case limitSum:
			add(pr.sums[l.i], span)
		}
	}
	for r := range m.supply {
		add(pr.price[r], [2]int64{m.supply[r].given, m.supply[r].given})
	}
	for q := range quota {
		add(pr.quota[q], quota[q])
	}
	for i := range makes {
		add(m.gain(i, pr)-pr.quota[m.makes[i].quota], makes[i])
	}
	for t := range m.trims {
		for k, r := range m.trims[t].rows {
			span, limited := choices[[2]int{t, k}]
			if !limited {
				span = [2]int64{0, m.trims[t].most}
			}
			add(pr.trim[t]-pr.charge(r)*m.trims[t].count, span)
		}
	}
	if size > noBound {
		return noBound
	}
	return sum
}

// most gives the n within a span at which each·n is greatest.
func most(each int64, span [2]int64) int64 {
	if each > 0 {
		return span[1]
	}
	return span[0]
}
