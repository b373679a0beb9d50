package planning

import (
	"math"
	"slices"

	"boltward/internal/planning/lp"
)

// quantity is something that must be whole and is not in the present solution.
type quantity struct {
	limit
	x     float64
	score float64
}

// choose picks the quantity to part a node by: totals of quotas and of panels used first,
// single makings and choices only where all those are whole. Of the likeliest twenty each
// half is tried by a few dual pivots and the best pair taken.
func (t *tree) choose(n *node) (limit, float64, bool) {
	list := t.totals(n)
	if len(list) == 0 {
		list = t.singles(n)
	}
	if len(list) == 0 {
		return limit{}, 0, false
	}
	slices.SortStableFunc(list, func(a, b quantity) int {
		switch {
		case a.score > b.score:
			return -1
		case a.score < b.score:
			return 1
		}
		return 0
	})
	if len(list) > strongCandidates {
		list = list[:strongCandidates]
	}
	best := list[0]
	if len(list) > 1 {
		best = t.strong(list)
	}
	return best.limit, best.x, true
}

func (t *tree) totals(n *node) []quantity {
	m := t.s.m
	var list []quantity
	for q := range m.quotas {
		l := limit{of: limitQuota, i: q, hi: m.quotas[q].wanted}
		list = t.consider(list, n, l, t.ms.lp.Activity(t.ms.quotaAt[q]), 2*float64(m.quotas[q].weight))
	}
	for r, x := range t.used() {
		list = t.consider(list, n, limit{of: limitUse, i: r, hi: unlimited}, x, 1)
	}
	return list
}

// used gives how much of each supply the relaxation uses.
func (t *tree) used() []float64 {
	m := t.s.m
	used := make([]float64, len(m.supply))
	for i := range m.makes {
		for _, u := range m.makes[i].uses {
			used[u.row] += float64(u.count) * t.ms.lp.Value(t.ms.y[i])
		}
	}
	for i := range m.trims {
		for k, r := range m.trims[i].rows {
			used[r] += float64(m.trims[i].count) * t.ms.lp.Value(t.ms.z[i][k])
		}
	}
	return used
}

func (t *tree) singles(n *node) []quantity {
	m := t.s.m
	var list []quantity
	for i, y := range t.ms.y {
		l := limit{of: limitMake, i: i, hi: m.quotas[m.makes[i].quota].wanted}
		list = t.consider(list, n, l, t.ms.lp.Value(y), 1)
	}
	for i := range m.trims {
		for k, z := range t.ms.z[i] {
			l := limit{of: limitChoice, i: i, k: k, hi: m.trims[i].most}
			list = t.consider(list, n, l, t.ms.lp.Value(z), 1)
		}
	}
	return list
}

// consider adds a quantity that is not whole, with the span the node leaves it.
func (t *tree) consider(list []quantity, n *node, l limit, x, weight float64) []quantity {
	part := x - math.Floor(x)
	if lo, hi := t.span(l); x < lo || x > hi {
		return list
	}
	if part < 1e-4 || part > 1-1e-4 {
		return list
	}
	for _, had := range n.limits {
		if had.same(l) {
			l = had
		}
	}
	return append(list, quantity{l, x, weight * min(part, 1-part)})
}

// span gives the bounds that the programme holds a quantity in.
func (t *tree) span(l limit) (lo, hi float64) {
	if l.of == limitUse && t.useAt[l.i] < 0 {
		return 0, unlimited
	}
	return t.ms.lp.Bounds(t.variable(l))
}

// strong tries both halves of each quantity.
func (t *tree) strong(list []quantity) quantity {
	for _, c := range list {
		t.variable(c.limit) // rows must exist before the basis is saved
	}
	t.ms.lp.Solve(10_000, math.Inf(-1))
	var at lp.Snapshot
	t.ms.lp.Save(&at)
	from := t.ms.lp.Objective()
	floor := float64(t.s.sewn.value) + 1 - 1e-3
	best, bestScore := list[0], -1.0
	for _, c := range list {
		v := t.variable(c.limit)
		lo, hi := t.ms.lp.Bounds(v)
		try := func(lo, hi float64) float64 {
			t.ms.lp.SetBounds(v, lo, hi)
			t.ms.lp.Solve(strongPivots, floor)
			z := t.ms.lp.Objective()
			return max(from-max(z, floor-0.5), 1e-4)
		}
		down := try(lo, math.Floor(c.x))
		t.ms.lp.SetBounds(v, lo, hi)
		t.ms.lp.Restore(&at)
		up := try(math.Ceil(c.x), hi)
		t.ms.lp.SetBounds(v, lo, hi)
		t.ms.lp.Restore(&at)
		if score := down * up; score > bestScore {
			best, bestScore = c, score
		}
	}
	return best
}

// tryWhole looks for a better plan within the present limits.
func (t *tree) tryWhole(n *node) {
	better := float64(t.s.sewn.value) + 1 - 1e-3
	if t.ms.dive(better, t.s.halt) {
		t.s.offer(t.ms.cuts())
	}
	for _, u := range t.ms.units {
		t.ms.open(u)
	}
}
