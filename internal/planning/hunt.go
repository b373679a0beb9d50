package planning

import (
	"math"
	"math/rand/v2"
	"slices"

	"boltward/internal/planning/lp"
)

// hunt improves a whole plan piece by piece: it takes up a few related pieces, keeps all others
// as they are cut, and dives again for those, in a small programme of what they can reach. A
// dive ends as soon as the relaxation says that nothing better can come of it; a result as good
// as the best is taken too, so that the hunt wanders over equal plans instead of standing still;
// where that leads nowhere for long, much is cut anew at random and hunting goes on from there.
type hunt struct {
	s       *search
	m       *model
	strips  []map[string]*strip
	near    *master // the small programme of the last move
	footing *footing
	rng     *rand.Rand
	stock   []int      // of each piece
	cut     [][]*strip // what each piece is cut into, nil for nothing
	lie     []int64    // panels of all cuts, by supply row
	value   int64
	need    []int64     // panels that what is sewn from them takes
	pool    [][]*column // patterns to begin with, by stock
	known   *known      // patterns come across, nil where pieces are many
	related [][]int     // groups that meet in some pillowcase, by group
	prices  prices      // that prove the bound
	best    []int64     // what each stock holds at most at those prices
	width   float64     // how many pieces are taken up at most where less cloth is looked for
	thrift  *thrift     // look for less cloth at the same weight, not for more weight
	figures figures
	highest int64 // that the plan in hand was worth since it was stirred
	since   int64 // work done when it came to that
	stirred int64 // work that stirring it took
}

// widest is how many pieces are ever taken up together.
const widest = 60

// newHunt begins with the best plan so far. Patterns of the master are what dives begin with;
// hunts of different seeds go different ways.
func newHunt(s *search, ms *master, seed uint64) *hunt {
	h := &hunt{s: s, m: s.m, strips: ms.strips, near: &master{lp: lp.New()}, footing: newFooting(s.m), rng: rand.New(rand.NewPCG(seed, 2)), related: s.m.relatedGroups()}
	h.pool = make([][]*column, len(s.m.stock))
	for _, u := range ms.units {
		for _, c := range u.cols {
			known := func(had *column) bool { return sameStrips(had.strips, c.strips) }
			if len(c.strips) > 0 && !slices.ContainsFunc(h.pool[u.stock], known) {
				h.pool[u.stock] = append(h.pool[u.stock], c)
			}
		}
	}
	if s.m.count() <= mostTable {
		h.known = newKnown(s.m, ms.strips, h.pool)
	}
	for i, st := range s.m.stock {
		for range st.pieces {
			h.stock = append(h.stock, i)
		}
	}
	h.price()
	if s.m.count() > mostTable {
		h.thin()
	}
	h.take(s.cuts, s.sewn)
	return h
}

// mostPool is how many patterns a dive begins with for each piece, where pieces are many.
const mostPool = 12

// thin leaves in the pool of each stock the patterns that lose least at the prices that prove the
// bound: others hardly come into a plan, and make every programme larger.
func (h *hunt) thin() {
	for i, list := range h.pool {
		slices.SortStableFunc(list, func(a, b *column) int { return compare(h.prices.worth(b.strips), h.prices.worth(a.strips)) })
		h.pool[i] = list[:min(len(list), mostPool)]
	}
}

// relatedGroups lists for each group those that can meet its panels in a pillowcase, itself first.
func (m *model) relatedGroups() [][]int {
	out := make([][]int, len(m.groups))
	for g := range out {
		out[g] = []int{g}
	}
	link := func(a, b int) {
		if !slices.Contains(out[a], b) {
			out[a] = append(out[a], b)
		}
		if !slices.Contains(out[b], a) {
			out[b] = append(out[b], a)
		}
	}
	for i := range m.makes {
		for _, u := range m.makes[i].uses[1:] {
			link(m.makes[i].group, m.supply[u.row].group)
		}
	}
	for t := range m.trims {
		for _, r := range m.trims[t].rows {
			link(m.trims[t].body, m.supply[r].group)
		}
	}
	return out
}

// take makes a whole solution the plan to improve.
func (h *hunt) take(cuts [][]cutPattern, sewn *sewing) {
	h.value, h.need = sewn.value, h.m.needs(sewn)
	h.cut = make([][]*strip, len(h.stock))
	h.lie = h.m.panels(cuts)
	at := 0
	for i, st := range h.m.stock {
		next := at
		if i < len(cuts) {
			for _, c := range cuts[i] {
				for range c.pieces {
					h.cut[next] = c.strips
					next++
				}
			}
		}
		at += len(st.pieces)
	}
}

// cuts gives the plan in hand as a solution.
func (h *hunt) cuts() [][]cutPattern {
	out := make([][]cutPattern, len(h.m.stock))
	for i, strips := range h.cut {
		if len(strips) > 0 {
			out[h.stock[i]] = append(out[h.stock[i]], cutPattern{strips, 1})
		}
	}
	return out
}

// move takes up some pieces and dives for them; false where there are none.
func (h *hunt) move() bool {
	if len(h.stock) == 0 {
		return false
	}
	h.m.assembled += 100_000 // what a move costs at least
	if h.stands() {
		h.stir()
		return true
	}
	free := h.choose()
	before := h.near.lp.Work
	ms := h.programme(free)
	defer func() { h.m.assembled += ms.lp.Work - before }()
	if !ms.dive(h.cutoff(free), h.over()) {
		h.adapt(ms)
		return true
	}
	old := h.change(ms, free)
	if !h.better(h.m.assemble(h.lie, 20)) {
		h.undo(free, old)
	}
	return true
}

// over says when a dive must end: looking for less cloth begins when the search for weight is over.
func (h *hunt) over() func() bool {
	if h.thrift != nil {
		return h.s.interrupted
	}
	return h.s.halt
}

// programme lays out what the pieces taken up can reach, with the patterns known for them.
func (h *hunt) programme(free []int) *master {
	open := make([]bool, len(h.m.groups))
	lie := slices.Clone(h.lie)
	for _, i := range free {
		open[h.m.stock[h.stock[i]].group] = true
		for _, st := range h.cut[i] {
			for _, n := range st.counts {
				lie[n.row] -= int64(n.n)
			}
		}
	}
	ms := newMasterNear(h.m, lie, open, h.strips, h.near)
	h.near = ms
	ms.lp.Stop, ms.thrift = h.s.interrupted, h.thrift
	ms.noise = [...]func() float64{nil, h.rng.Float64, wild(h.rng), wild(h.rng)}[h.rng.IntN(4)]
	if h.thrift == nil {
		ms.chances = h.m.turns()
	}
	var cuts []int
	for _, i := range free {
		u := ms.addUnit(h.stock[i], 1)
		var own *column
		if len(h.cut[i]) > 0 {
			own = ms.addColumn(u, h.cut[i])
			cuts = append(cuts, own.v)
		}
		for _, c := range h.pool[h.stock[i]] {
			if own == nil || !sameStrips(c.strips, own.strips) {
				ms.addNew(u, c.strips, c.counts)
			}
		}
	}
	h.footing.begin(ms, cuts)
	ms.footing = h.footing
	return ms
}

// cutoff is the worth in the small programme that a dive must beat.
func (h *hunt) cutoff(free []int) float64 {
	if h.thrift != nil {
		worth := float64(h.value)
		for _, i := range free {
			worth -= h.thrift.costOf(h.stock[i], h.cut[i])
		}
		return worth - 1e-7
	}
	if h.rng.IntN(3) == 0 {
		return float64(h.value) - 1e-3
	}
	return float64(h.value) + 1 - 1e-3
}

// change cuts the pieces taken up as the dive ended, and gives how they were cut.
func (h *hunt) change(ms *master, free []int) [][]*strip {
	var old [][]*strip
	for k, i := range free {
		old = append(old, h.cut[i])
		h.recut(i, nil)
		for _, c := range ms.units[k].cols {
			if math.Round(ms.lp.Value(c.v)) == 1 && len(c.strips) > 0 {
				h.recut(i, c.strips)
			}
		}
		if h.known != nil {
			h.known.add(h.stock[i], h.cut[i])
		}
	}
	return old
}

func (h *hunt) undo(free []int, old [][]*strip) {
	for k, i := range free {
		h.recut(i, old[k])
	}
}

func (h *hunt) recut(i int, strips []*strip) {
	for _, st := range h.cut[i] {
		for _, n := range st.counts {
			h.lie[n.row] -= int64(n.n)
		}
	}
	h.cut[i] = strips
	for _, st := range strips {
		for _, n := range st.counts {
			h.lie[n.row] += int64(n.n)
		}
	}
}

// better says whether the plan in hand stays, now that it sews so much, and keeps it where it
// is the best so far.
func (h *hunt) better(sewn *sewing) bool {
	if h.thrift != nil {
		return h.thriftier(sewn)
	}
	if sewn.value < h.value {
		return false
	}
	h.value, h.need = sewn.value, h.m.needs(sewn)
	if sewn.value > h.s.sewn.value {
		h.s.keep(h.cuts(), sewn)
	}
	return true
}

func (h *hunt) thriftier(sewn *sewing) bool {
	if sewn.value < h.s.sewn.value {
		return false
	}
	cuts := h.cuts()
	list := h.m.lay(cuts, sewn)
	f := h.m.judge(h.m.move(list))
	if !f.before(h.figures) && sewn.value == h.s.sewn.value {
		return false
	}
	h.value, h.figures = sewn.value, f
	h.s.sewn, h.s.cuts = sewn, cuts
	return true
}

// recall thins the best plan so far to what is sewn from it and makes it the one in hand.
func (h *hunt) recall() {
	m := h.m
	list := m.lay(h.s.cuts, h.s.sewn)
	h.figures = m.judge(m.move(m.lay(h.s.cuts, h.s.sewn)))
	stockOf := map[[2]int]int{}
	for i, st := range m.stock {
		for _, p := range st.pieces {
			stockOf[[2]int{p.fabric, p.number}] = i
		}
	}
	ms := &master{m: m, strips: h.strips}
	cuts := make([][]cutPattern, len(m.stock))
	for _, c := range list {
		var strips []*strip
		for _, s := range c.pattern {
			strips = append(strips, ms.intern(c.group, s))
		}
		i := stockOf[[2]int{c.fabric, c.number}]
		cuts[i] = append(cuts[i], cutPattern{strips, 1})
	}
	h.take(cuts, h.s.sewn)
}

// wild bends a dive's order so much that it may settle what hardly counts first.
func wild(rng *rand.Rand) func() float64 {
	return func() float64 { return 6 * rng.Float64() }
}

// adapt takes up more pieces after the relaxation has said at once that nothing can come of
// so few, and fewer where a dive got lost among many.
func (h *hunt) adapt(ms *master) {
	hopeless := true
	for _, u := range ms.units {
		hopeless = hopeless && len(u.begun) == 0
	}
	if hopeless {
		h.width = min(h.width*1.02, widest)
	} else {
		h.width = max(h.width*0.96, 3)
	}
}
