package planning

import (
	"cmp"
	"math"
	"slices"

	"boltward/internal/planning/lp"
)

// quantity is something that must be whole and is not in the present solution.
type quantity struct {
	limit
	x     float64
	moved float64 // by how much it is more than that in the solution that the halves are tried from
	batch float64 // that it is a multiple of
	score float64
}

// choose picks the quantity to part a node by: totals of quotas and of panels used first,
// and of sums, single makings and choices only where all those are whole. above are the bases of
// the node that it is a half of, nil where nobody has them any more.
func (t *tree) choose(n *node, above *bases) (quantity, bool) {
	list := t.totals(n)
	if len(list) == 0 {
		list = t.singles(n)
	}
	if len(list) == 0 {
		return quantity{}, false
	}
	best := list[0]
	if len(list) > 1 {
		best = t.likeliest(n, list, above)
	}
	return best, true
}

func (t *tree) totals(n *node) []quantity {
	m := t.s.m
	var list []quantity
	used := t.used()
	for q := range m.quotas {
		list = t.consider(list, n, limit{of: limitQuota, i: q, hi: m.quotas[q].wanted}, used)
	}
	for r := range used {
		list = t.consider(list, n, limit{of: limitUse, i: r, hi: unlimited}, used)
	}
	for i := range t.sums {
		list = t.consider(list, n, limit{of: limitSum, i: i, hi: unlimited}, used)
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
	for i := range t.ms.y {
		list = t.consider(list, n, limit{of: limitMake, i: i, hi: m.quotas[m.makes[i].quota].wanted}, nil)
	}
	for i := range m.trims {
		for k := range t.ms.z[i] {
			list = t.consider(list, n, limit{of: limitChoice, i: i, k: k, hi: m.trims[i].most}, nil)
		}
	}
	return list
}

// consider adds a quantity that is not whole, with the span the node leaves it.
func (t *tree) consider(list []quantity, n *node, l limit, used []float64) []quantity {
	x := t.value(l, used)
	c := quantity{limit: l, x: x, batch: float64(t.batch(l))}
	if lo, hi := t.span(l); x < lo || x > hi {
		return list
	}
	if part := c.part(); part < 1e-4 || part > 1-1e-4 {
		return list
	}
	for _, had := range n.limits {
		if had.same(l) {
			c.limit = had
		}
	}
	return append(list, c)
}

// value gives what the present solution has of a quantity; used is what it uses of each supply.
func (t *tree) value(l limit, used []float64) float64 {
	switch l.of {
	case limitQuota:
		return t.ms.lp.Activity(t.ms.quotaAt[l.i])
	case limitUse:
		return used[l.i]
	case limitMake:
		return t.ms.lp.Value(t.ms.y[l.i])
	case limitChoice:
		return t.ms.lp.Value(t.ms.z[l.i][l.k])
	}
	var x float64
	for _, q := range t.sums[l.i].quotas {
		x += t.ms.lp.Activity(t.ms.quotaAt[q])
	}
	for _, r := range t.sums[l.i].rows {
		x += used[r]
	}
	return x
}

// span gives the bounds that the programme holds a quantity in.
func (t *tree) span(l limit) (lo, hi float64) {
	if l.of == limitUse && t.useAt[l.i] < 0 {
		return 0, unlimited
	}
	if l.of == limitSum && t.sums[l.i].row < 0 {
		return 0, unlimited
	}
	return t.ms.lp.Bounds(t.variable(l))
}

// likeliest picks the quantity whose halves promise to lose most. What parting by a quantity has
// lost before stands for what it will lose; those that are not known well enough are tried by a
// few dual pivots.
func (t *tree) likeliest(n *node, list []quantity, above *bases) quantity {
	free := t.s.m.count() <= mostTable // of more pieces it has brought as much harm as good
	if free {
		defer t.lift(n, above)()
	}
	t.ms.lp.Solve(10_000, math.Inf(-1))
	from := t.ms.lp.Objective()
	room := from - (float64(t.s.sewn.value) + 1 - 1e-3) // what ends a half
	used := t.used()
	for i := range list {
		c := &list[i]
		if free {
			c.moved = t.value(c.limit, used) - c.x
		}
		c.score = t.expected(*c, room)
	}
	slices.SortStableFunc(list, func(a, b quantity) int { return cmp.Compare(b.score, a.score) })
	if len(list) > strongCandidates {
		list = list[:strongCandidates]
	}
	for _, c := range list {
		t.variable(c.limit) // rows must exist before the basis is saved
	}
	t.ms.lp.Solve(10_000, math.Inf(-1))
	at := &lp.Snapshot{}
	t.ms.lp.Save(at)
	n.from.tried = at
	best, bestScore, idle := list[0], -1.0, 0
	for _, c := range list {
		if idle++; idle > mostIdle {
			break
		}
		score := c.score
		if h := t.history[c.key()]; h == nil || !t.s.m.reliable(h) {
			score = t.try(c, at, from, room)
		}
		if score > bestScore {
			best, bestScore, idle = c, score, 0
		}
	}
	return best
}

// lift frees the sums of quotas that a node holds from above, and gives what holds them again.
// Where the heaviest pillowcases are held to what a plan has of them, everything within the limits
// is worth the same, nearly, until nothing is left there: what parting loses is only seen by how much
// more of them there could be.
func (t *tree) lift(n *node, above *bases) (down func()) {
	held := map[int][2]float64{}
	for _, l := range n.limits {
		if l.of == limitSum && l.hi < unlimited && len(t.sums[l.i].quotas) > 0 {
			v := t.variable(l)
			lo, hi := t.ms.lp.Bounds(v)
			held[v] = [2]float64{lo, hi}
			t.ms.lp.SetBounds(v, lo, unlimited)
		}
	}
	if len(held) > 0 && above != nil && above.tried != nil {
		t.ms.lp.Restore(above.tried)
	}
	return func() {
		for v, span := range held {
			t.ms.lp.SetBounds(v, span[0], span[1])
		}
	}
}

// try solves both halves of a quantity, as far as a few pivots go, and scores what they lose.
func (t *tree) try(c quantity, at *lp.Snapshot, from, room float64) float64 {
	v := t.variable(c.limit)
	lo, hi := t.ms.lp.Bounds(v)
	half := func(low, high float64) float64 {
		t.ms.lp.SetBounds(v, low, high)
		z := t.ms.lp.Try(strongPivots, from-room)
		t.ms.lp.SetBounds(v, lo, hi)
		t.ms.lp.Restore(at)
		return max(from-z, 0)
	}
	down, up := half(lo, c.low()), half(c.high(), hi)
	t.learn(c, down, up)
	return scoreOf(down, up, room)
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
