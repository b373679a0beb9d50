package planning

import (
	"math"
	"slices"

	"boltward/internal/planning/lp"
)

// limitOf says what a branching limits.
type limitOf uint8

const (
	limitQuota  limitOf = iota // pillowcases of a quota
	limitUse                   // panels used of one kind from one group
	limitMake                  // pillowcases of one making
	limitChoice                // trims of one choice
	limitSum                   // a sum of others
	limitSplit                 // whether a piece's pattern gives more of a panel than so many: where all are known
	limitColumn                // pieces cut by one pattern: where all are known
)

// limit holds a whole quantity of a plan between two numbers.
type limit struct {
	of     limitOf
	i, k   int // quota, supply row, making, sum, or trimming and choice
	lo, hi int64
}

func (l limit) same(o limit) bool { return l.of == o.of && l.i == o.i && l.k == o.k }

// node is a part of all plans: those within its limits. Its bound is proven.
type node struct {
	limits []limit
	bound  int64 // in units of weight
	proof  *proof

	split     limit // where it was parted: at most at of the quantity, or more
	at        int64
	low, high *node
	cannot    *tooMuch // no plan lies here: this cannot be cut together
	from      *bases   // that its solve begins with, nil for the present one
}

// bases are what a node's solves have come to: its halves differ from it in one limit, and theirs
// begin there.
type bases struct {
	solved lp.Snapshot
	tried  *lp.Snapshot // that its halves were tried from, nil where none were
}

// tree searches plans by halves: a quantity that the relaxation leaves between two whole
// numbers is at most the one or at least the other. It limits only what is sewn, so pricing
// stays as it is.
type tree struct {
	s       *search
	ms      *master
	useAt   []int // programme rows that count the use of a supply, −1 where none was needed yet
	spans   map[int][2]float64
	open    []*node
	done    []*node // leaves that cannot hold a better plan
	nodes   int
	gives   map[int]*gives
	sums    []sum
	history map[[3]int]*history // by limit, without its span
	usual   history             // of all of them
	patient bool                // about what groups can give
	stuck   []*node             // leaves that no quantity here can part
	inBulk  bool                // the programme has a row a group and cuts no single piece: the tree only proves

	elsewhere int64 // the highest bound of the nodes that another tree works on
}

const (
	strongCandidates = 20
	mostIdle         = 6 // candidates tried in a row without a better one
	strongPivots     = 60
)

// newTree prepares to part plans with a master of its own; it has no nodes yet.
func newTree(s *search, ms *master) *tree {
	t := &tree{s: s, ms: ms, spans: map[int][2]float64{}, gives: map[int]*gives{}, sums: s.m.sums(), history: map[[3]int]*history{}, usual: history{1, 1, 1, 1}}
	for range s.m.supply {
		t.useAt = append(t.useAt, -1)
	}
	for _, u := range ms.units {
		ms.open(u)
	}
	ms.addEscapes()
	s.sums = t.sums
	return t
}

// plant gives the tree all plans to part.
func (t *tree) plant() {
	t.s.root = &node{bound: t.s.bound, proof: t.s.m.plainProof(t.s.proof, t.s.m.weightOf)}
	t.open = []*node{t.s.root}
}

// escape is what it costs to have a panel or a place in a quota that is not there.
func (ms *master) escape() float64 { return -20 * float64(ms.m.heaviest) }

// addEscapes lets panels and places in quotas be had at a great cost, so that every set of
// limits has a solution and its worth says how far from possible it is.
func (ms *master) addEscapes() {
	cost := ms.escape()
	for _, r := range ms.supplyAt {
		ms.add(cost, 1e4, []lp.Entry{{Row: int32(r), Val: 1}}, nil)
	}
	for _, r := range ms.quotaAt {
		ms.add(cost, 1e4, []lp.Entry{{Row: int32(r), Val: -1}}, nil)
		ms.add(cost, 1e4, []lp.Entry{{Row: int32(r), Val: 1}}, nil)
	}
}

// step works through the node with the highest bound, and reports whether there was one.
func (t *tree) step() bool {
	if len(t.open) == 0 && !t.reopen() {
		return false
	}
	t.nodes++
	at := 0
	for i, n := range t.open {
		if n.bound > t.open[at].bound || n.bound == t.open[at].bound && len(n.limits) > len(t.open[at].limits) {
			at = i
		}
	}
	n := t.open[at]
	t.open = slices.Delete(t.open, at, at+1)
	t.work(n)
	t.lower()
	return true
}

// reopen looks once more, with more patience, at what could not be decided; false where
// nothing is left that patience could decide.
func (t *tree) reopen() bool {
	if t.patient || len(t.stuck) == 0 {
		return false
	}
	t.patient = true
	for _, b := range t.gives {
		b.becomePatient()
	}
	t.open, t.stuck = t.stuck, nil
	return true
}

// lower keeps the highest bound of all leaves as the bound of the whole.
func (t *tree) lower() {
	if worst := max(t.s.sewn.value, t.highest(), t.elsewhere); worst < t.s.bound {
		t.s.bound = worst
		t.s.tell(t.s.phase)
	}
}

// highest is the highest bound of the nodes that may hold a better plan, nothing where there are none.
func (t *tree) highest() int64 {
	worst := int64(math.MinInt64)
	for _, list := range [][]*node{t.open, t.stuck} {
		for _, n := range list {
			worst = max(worst, n.bound)
		}
	}
	return worst
}

// work proves a node's bound and, where that still leaves room for a better plan, parts it.
func (t *tree) work(n *node) {
	t.apply(n.limits)
	if n.from != nil {
		t.ms.lp.Restore(&n.from.solved)
	}
	above := n.from
	n.from = nil
	if !t.prove(n) {
		return
	}
	n.from = &bases{}
	defer func() { n.from = nil }()
	t.ms.lp.Save(&n.from.solved)
	if t.nodes%10 == 1 && !t.inBulk {
		t.tryWhole(n)
		t.ms.lp.Restore(&n.from.solved)
		if !t.prove(n) { // the dive has moved the programme away, and may have raised the best
			return
		}
	}
	if t.s.halt() {
		t.open = append(t.open, n)
		return
	}
	if x := t.overdrawn(n, t.used()); x != nil {
		t.open = append(t.open, t.part(n, x)...)
		return
	}
	c, ok := t.choose(n, above)
	if !ok {
		t.settle(n)
		return
	}
	low := t.halve(n, c.limit, int64(c.low()))
	t.open = append(t.open, n.high, low)
}

// settle ends a node whose quantities are all whole: they are cut, or parted by what cannot be.
func (t *tree) settle(n *node) {
	if t.inBulk {
		t.stuck = append(t.stuck, n)
		return
	}
	used := t.used()
	if x := t.impossible(n, used); x != nil {
		t.open = append(t.open, t.part(n, x)...)
		return
	}
	if cuts, ok := t.wholeCuts(used); ok {
		t.s.offer(cuts)
	} else {
		t.tryWhole(n)
	}
	if n.bound > t.s.sewn.value {
		t.stuck = append(t.stuck, n)
	} else {
		t.done = append(t.done, n)
	}
}

func with(limits []limit, l limit) []limit {
	out := slices.Clone(limits)
	for i := range out {
		if out[i].same(l) {
			out[i] = l
			return out
		}
	}
	return append(out, l)
}

// apply sets the programme's bounds to a node's limits.
func (t *tree) apply(limits []limit) {
	want := map[int][2]float64{}
	for _, l := range limits {
		v := t.variable(l)
		want[v] = [2]float64{float64(l.lo), min(float64(l.hi), t.cap(l))}
	}
	for v, span := range t.spans {
		if _, still := want[v]; !still {
			t.ms.lp.SetBounds(v, span[0], span[1])
		}
	}
	for v, span := range want {
		if _, known := t.spans[v]; !known {
			lo, hi := t.ms.lp.Bounds(v)
			t.spans[v] = [2]float64{lo, hi}
		}
		t.ms.lp.SetBounds(v, span[0], span[1])
	}
}

// cap is what the programme lets a quantity be at most without any limit.
func (t *tree) cap(l limit) float64 {
	m := t.s.m
	switch l.of {
	case limitQuota:
		return float64(m.quotas[l.i].most)
	case limitMake:
		return float64(m.quotas[m.makes[l.i].quota].most)
	case limitChoice:
		return float64(m.trims[l.i].cap)
	}
	return unlimited
}

// variable gives the programme's variable that a limit holds.
func (t *tree) variable(l limit) int {
	switch l.of {
	case limitQuota:
		return t.ms.lp.RowVar(t.ms.quotaAt[l.i])
	case limitMake:
		return t.ms.y[l.i]
	case limitChoice:
		return t.ms.z[l.i][l.k]
	case limitSum:
		return t.sumVariable(l.i)
	case limitColumn:
		return l.i
	}
	if t.useAt[l.i] < 0 {
		vars, vals := t.ms.users(l.i)
		t.useAt[l.i] = t.ms.lp.AddRow(0, unlimited, vars, vals)
		t.addEscape(t.useAt[l.i])
	}
	return t.ms.lp.RowVar(t.useAt[l.i])
}

func (t *tree) addEscape(row int) {
	for _, by := range []float64{1, -1} {
		t.ms.add(t.ms.escape(), 1e4, []lp.Entry{{Row: int32(row), Val: by}}, nil)
	}
}

// users lists the variables that use a supply and how much.
func (ms *master) users(r int) (vars []int, vals []float64) {
	for i := range ms.m.makes {
		var n int64
		for _, u := range ms.m.makes[i].uses {
			if u.row == r {
				n += u.count
			}
		}
		if n > 0 {
			vars, vals = append(vars, ms.y[i]), append(vals, float64(n))
		}
	}
	for t := range ms.m.trims {
		for k, row := range ms.m.trims[t].rows {
			if row == r {
				vars, vals = append(vars, ms.z[t][k]), append(vals, float64(ms.m.trims[t].count))
			}
		}
	}
	return vars, vals
}

// prove generates columns under the node's limits and lowers its bound; false when nothing
// better than the best plan can lie there.
func (t *tree) prove(n *node) bool {
	better := float64(t.s.sewn.value) + 1 - 1e-3
	open := true
	_, ok := t.ms.generate(60, math.Inf(-1), func(value float64, p prices, fabric int64) bool {
		pr := t.proofOf(n, p)
		if b := t.s.m.reachable(t.s.m.within(n.limits, pr) + fabric); b < n.bound {
			n.bound, n.proof = b, pr
		}
		if n.bound <= t.s.sewn.value {
			open = false
			return false
		}
		// The relaxation's value will not sink below the next whole weight: no need to finish.
		return !(value > better && math.Floor(value+1e-6) >= float64(n.bound)) && !t.s.halt()
	})
	if !ok && open {
		t.stuck = append(t.stuck, n) // the programme gave no answer: nothing is proven
		return false
	}
	if !open {
		t.done = append(t.done, n)
	}
	return open
}

// open frees a unit wholly; its columns may all be used again.
func (ms *master) open(u *unit) {
	u.begun, u.closed = nil, false
	u.left = ms.m.stock[u.stock].point
	ms.lp.SetRowBounds(u.row, 0, float64(u.pieces))
	for _, c := range u.cols {
		ms.lp.SetBounds(c.v, 0, float64(u.pieces))
	}
}
