package planning

import (
	"cmp"
	"math"
	"slices"

	"boltward/internal/planning/lp"
)

// knownTree parts the plans that known patterns alone make. It prices nothing, so that a node costs
// little, and it finds plans that no few pieces taken up lead to. Its bounds hold for these patterns
// alone and prove nothing of others: where it comes to its end they hold no better plan, and it waits
// until more are known.
//
// It parts by the patterns of single pieces: those that give more than so many of a panel, and the
// others. That halves what a piece may be cut into, where one pattern that is not taken says next to
// nothing. Pieces come first, for once they are cut nearly everything sewn comes out whole.
type knownTree struct {
	s     *search
	h     *hunt // that knows the patterns, and goes on from what is found
	t     *tree // whose programme and histories serve here; it has no nodes of its own
	began int   // patterns that were known when the programme was laid out
	size  int   // of those, the ones that none other covers
	ended bool
	open  []*knownNode
	next  *knownNode // where it goes on, nil for the most promising of open
	held  []held     // by unit
	at    lp.Snapshot
}

// knownNode is a part of these plans; its bound holds for them.
type knownNode struct {
	limits []limit
	bound  int64
	guess  float64 // what a plan there is worth, by what parting has lost before
}

// held is what the limits of a node leave of a single piece's patterns.
type held struct {
	limits []limit
	cut    bool // one of the patterns is cut for certain
}

const (
	// moreKnown is the part of the patterns by which they must have grown for another tree.
	moreKnown = 20
	// knownStrong is how many quantities are tried at a node, knownReliable how often a half must
	// have been seen to be believed.
	knownStrong, knownReliable = 4, 4
)

// newKnownTree waits for its first step.
func newKnownTree(s *search, h *hunt) *knownTree {
	ms := newMaster(s.m)
	s.masters = append(s.masters, ms)
	return &knownTree{
		s: s, h: h, ended: true, held: make([]held, len(s.m.stock)),
		t: &tree{s: s, ms: ms, history: map[[3]int]*history{}, usual: history{1, 1, 1, 1}},
	}
}

// begin lays the programme out over all patterns known by now.
func (k *knownTree) begin() {
	m := k.s.m
	ms := k.t.ms.renewed(m, make([]int64, len(m.supply)), k.h.strips)
	ms.start(m.everything(), false)
	ms.lp.Stop = k.s.interrupted
	k.t.ms, k.t.spans, k.size = ms, map[int][2]float64{}, 0
	for i, st := range m.stock {
		u := ms.addUnit(i, len(st.pieces))
		for _, c := range k.h.known.best(i) {
			ms.addNew(u, c.strips, c.counts)
			k.size++
		}
	}
	ms.addEscapes()
	k.open, k.next = []*knownNode{{bound: k.s.bound}}, nil
	k.began, k.ended = k.h.known.count, false
	m.assembled += int64(1000 * k.size)
}

// work parts for so much work at most, and lets the hunt go on from what is found.
func (k *knownTree) work(most int64) {
	was := k.s.sewn.value
	k.s.slice(most, k.step)
	if k.s.sewn.value > was {
		ms := &master{m: k.s.m, strips: k.h.strips}
		k.h.take(ms.adopt(k.s.cuts), k.s.sewn)
	}
}

// step works through one node; false where there is none until more patterns are known.
func (k *knownTree) step() bool {
	if k.ended {
		if k.h.known.count <= k.began+k.began/moreKnown {
			return false
		}
		k.begin()
	}
	n := k.choose()
	if n == nil {
		k.ended = true
		return false
	}
	k.s.m.assembled += int64(20 * k.size) // what a node costs besides its programme
	k.apply(n.limits)
	sv := k.t.ms.lp
	if sv.Solve(5_000, float64(k.s.sewn.value)+1-1e-3) != lp.Optimal {
		return true
	}
	value := sv.Objective()
	if n.bound = min(n.bound, int64(math.Floor(value+1e-6))); n.bound <= k.s.sewn.value {
		return true
	}
	list := k.mixed()
	if len(list) == 0 {
		list = k.t.singles(&node{limits: n.limits})
	}
	if len(list) == 0 {
		k.s.offer(k.t.ms.cuts())
		return true
	}
	k.part(n, k.likeliest(list), value)
	return true
}

// choose takes the half of the last node that it goes on with, or else the most promising node.
func (k *knownTree) choose() *knownNode {
	if n := k.next; n != nil {
		k.next = nil
		return n
	}
	k.open = slices.DeleteFunc(k.open, func(n *knownNode) bool { return n.bound <= k.s.sewn.value })
	if len(k.open) == 0 {
		return nil
	}
	at := 0
	for i, n := range k.open {
		if n.guess > k.open[at].guess {
			at = i
		}
	}
	n := k.open[at]
	k.open = slices.Delete(k.open, at, at+1)
	return n
}

// part parts a node by a quantity, and goes on with the half that is likely to lose less.
func (k *knownTree) part(n *knownNode, c quantity, value float64) {
	h := k.t.history[c.key()]
	if h == nil {
		h = &k.t.usual
	}
	low, high := c.limit, c.limit
	low.hi, high.lo = int64(c.low()), int64(c.high())
	down := &knownNode{with(n.limits, low), n.bound, value - h.down/h.downs*c.part()}
	up := &knownNode{with(n.limits, high), n.bound, value - h.up/h.ups*(1-c.part())}
	if down.guess > up.guess {
		down, up = up, down
	}
	k.open, k.next = append(k.open, down), up
}

// mixed lists the ways to part the patterns of pieces that the solution mixes.
func (k *knownTree) mixed() []quantity {
	var list []quantity
	ms := k.t.ms
	for i, u := range ms.units {
		switch {
		case ms.decided(u):
		case u.pieces > 1:
			for _, c := range u.cols {
				l := limit{of: limitColumn, i: c.v, hi: int64(u.pieces)}
				lo, hi := ms.lp.Bounds(c.v)
				if q := (quantity{limit: l, x: ms.lp.Value(c.v), batch: 1}); q.parts() {
					q.lo, q.hi = int64(lo), int64(hi)
					list = append(list, q)
				}
			}
		default:
			list = k.splits(list, i)
		}
	}
	return list
}

// splits adds the ways to part the patterns of a single piece.
func (k *knownTree) splits(list []quantity, unit int) []quantity {
	first := len(list)
	for _, c := range k.t.ms.units[unit].cols {
		x := k.t.ms.lp.Value(c.v)
		if x < whole {
			continue
		}
		for _, n := range c.counts {
			for at := range n.n {
				l := splitOf(unit, n.row, at)
				i := first + slices.IndexFunc(list[first:], func(q quantity) bool { return q.same(l) })
				if i < first {
					i = len(list)
					list = append(list, quantity{limit: l, batch: 1})
				}
				list[i].x += x
			}
		}
	}
	return append(list[:first], slices.DeleteFunc(list[first:], func(q quantity) bool { return !q.parts() })...)
}

// parts says whether a quantity is far enough from whole to part by.
func (c *quantity) parts() bool { return c.part() > 1e-4 && c.part() < 1-1e-4 }

// splitOf parts the patterns of a unit by whether they give more than at of a row's panel.
func splitOf(unit int, row, at int32) limit {
	return limit{of: limitSplit, i: unit, k: int(row)<<16 | int(at), hi: 1}
}

// allows says whether a limit by splitOf leaves a pattern.
func (l limit) allows(c *column) bool {
	row, at := int32(l.k>>16), int32(l.k&0xffff)
	more := slices.ContainsFunc(c.counts, func(n count) bool { return n.row == row && n.n > at })
	return more && l.hi == 1 || !more && l.lo == 0
}

// apply sets the programme's bounds to a node's limits.
func (k *knownTree) apply(limits []limit) {
	for i := range k.held {
		k.held[i] = held{limits: k.held[i].limits[:0]}
	}
	var others []limit
	for _, l := range limits {
		if l.of == limitSplit {
			k.held[l.i].add(l)
		} else {
			others = append(others, l)
		}
	}
	k.t.apply(others)
	for i, u := range k.t.ms.units {
		if u.pieces == 1 {
			k.hold(i)
		}
	}
}

func (h *held) add(l limit) {
	h.limits = append(h.limits, l)
	h.cut = h.cut || l.lo == 1
}

// hold leaves a piece the patterns that its limits allow.
func (k *knownTree) hold(unit int) {
	u, h, sv := k.t.ms.units[unit], &k.held[unit], k.t.ms.lp
	for _, c := range u.cols {
		most := 1.0
		if slices.ContainsFunc(h.limits, func(l limit) bool { return !l.allows(c) }) {
			most = 0
		}
		sv.SetBounds(c.v, 0, most)
	}
	least := 0.0
	if h.cut {
		least = 1
	}
	sv.SetRowBounds(u.row, least, 1)
}

// likeliest picks the quantity whose halves promise to lose most, as the proving tree does.
func (k *knownTree) likeliest(list []quantity) quantity {
	sv := k.t.ms.lp
	from := sv.Objective()
	room := from - (float64(k.s.sewn.value) + 1 - 1e-3)
	for i := range list {
		list[i].score = k.t.expected(list[i], room)
	}
	slices.SortStableFunc(list, func(a, b quantity) int { return cmp.Compare(b.score, a.score) })
	if len(list) == 1 {
		return list[0]
	}
	sv.Save(&k.at)
	best, bestScore := list[0], -1.0
	for _, c := range list[:min(len(list), knownStrong)] {
		score := c.score
		if h := k.t.history[c.key()]; h == nil || h.downs < knownReliable || h.ups < knownReliable {
			score = k.try(c, from, room)
		}
		if score > bestScore {
			best, bestScore = c, score
		}
	}
	return best
}

// try solves both halves of a quantity, as far as a few pivots go, and scores what they lose.
func (k *knownTree) try(c quantity, from, room float64) float64 {
	if c.of != limitSplit {
		return k.t.try(c, &k.at, from, room)
	}
	was := k.held[c.i]
	half := func(lo, hi int64) float64 {
		l := c.limit
		l.lo, l.hi = lo, hi
		k.held[c.i].limits = slices.Clip(was.limits)
		k.held[c.i].add(l)
		k.hold(c.i)
		lost := max(from-k.t.ms.lp.Try(strongPivots, from-room), 0)
		k.held[c.i] = was
		k.hold(c.i)
		k.t.ms.lp.Restore(&k.at)
		return lost
	}
	down, up := half(0, 0), half(1, 1)
	k.t.learn(c, down, up)
	return scoreOf(down, up, room)
}
