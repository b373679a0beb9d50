package planning

import (
	"math"
	"math/rand/v2"
	"slices"

	"boltward/internal/planning/lp"
)

// hunt improves a whole plan piece by piece: it frees a few related pieces, keeps all others
// as they are cut, and dives again for those. A dive ends as soon as the relaxation says that
// nothing better can come of it; a result as good as the best is taken too, so that the hunt
// wanders over equal plans instead of standing still.
type hunt struct {
	s       *search
	ms      *master
	rng     *rand.Rand
	cut     []*column // what each unit is cut into, nil for nothing
	value   int64
	related [][]int // groups that meet in some pillowcase, by group
	size    int
	misses  int
	thrift  bool // look for less cloth at the same weight, not for more weight
	figures figures
	worth   float64 // of the plan in hand by the programme's own measure
}

func newHunt(s *search, ms *master) *hunt {
	h := &hunt{s: s, ms: ms, rng: rand.New(rand.NewPCG(1, 2)), size: 4}
	h.related = s.m.relatedGroups()
	ms.noise = h.rng.Float64
	return h
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

// start takes the present whole solution of the master, whether it is the best or not.
func (h *hunt) start() {
	cuts := h.ms.cuts()
	sewn := h.s.m.assemble(h.s.m.panels(cuts), 60)
	h.s.keep(cuts, sewn)
	h.take(sewn.value)
}

// take reads the present whole solution of the master as the plan to improve.
func (h *hunt) take(value int64) {
	h.value = value
	h.cut = make([]*column, len(h.ms.units))
	for i, u := range h.ms.units {
		for _, c := range u.cols {
			if math.Round(h.ms.lp.Value(c.v)) == 1 && len(c.strips) > 0 {
				h.cut[i] = c
			}
		}
	}
}

// move frees some pieces and dives for them.
func (h *hunt) move() bool {
	h.s.m.assembled += int64(200_000 + 3000*len(h.ms.units)) // what a move costs at least
	h.ms.noise = [...]func() float64{nil, h.rng.Float64, wild(h.rng), wild(h.rng)}[h.rng.IntN(4)]
	free := h.choose()
	for i, u := range h.ms.units {
		if free[i] {
			h.ms.open(u)
		} else {
			h.ms.fix(u, h.cut[i])
		}
	}
	cutoff := float64(h.s.sewn.value) + 1 - 1e-3
	if h.rng.IntN(3) == 0 {
		cutoff = float64(h.value) - 1e-3
	}
	if h.thrift {
		return h.save()
	}
	if !h.ms.dive(cutoff, h.s.halt) {
		h.miss()
		return true
	}
	cuts := h.ms.cuts()
	sewn := h.s.m.assemble(h.s.m.panels(cuts), 20)
	if sewn.value < h.value {
		h.miss()
		return true
	}
	if sewn.value > h.value {
		h.misses, h.size = 0, max(4, h.size/2)
	} else {
		h.miss()
	}
	h.take(sewn.value)
	h.s.keep(cuts, sewn)
	return true
}

// save dives for the pieces freed at the cost of cloth and keeps what takes less of it.
func (h *hunt) save() bool {
	if !h.ms.dive(h.worth-1e-7, h.s.interrupted) {
		h.miss()
		return true
	}
	cuts := h.ms.cuts()
	sewn := h.s.m.assemble(h.s.m.panels(cuts), 20)
	if sewn.value < h.s.sewn.value {
		h.miss()
		return true
	}
	f := h.s.m.judge(h.s.m.move(h.s.m.lay(cuts, sewn)))
	if !f.before(h.figures) && sewn.value == h.s.sewn.value {
		h.miss()
		return true
	}
	h.misses, h.size = 0, max(4, h.size/2)
	h.take(sewn.value)
	h.figures, h.worth = f, h.ms.lp.Objective()
	h.s.sewn, h.s.cuts = sewn, cuts
	return true
}

// recall makes the best plan so far the one in hand: its patterns, thinned to what is sewn
// from them, become columns.
func (h *hunt) recall() bool {
	m := h.s.m
	list := m.lay(h.s.cuts, h.s.sewn)
	h.figures = m.judge(m.move(m.lay(h.s.cuts, h.s.sewn)))
	free := map[int][]int{} // units by stock
	for i, u := range h.ms.units {
		free[u.stock] = append(free[u.stock], i)
	}
	stockOf := map[[2]int]int{}
	for i, st := range m.stock {
		for _, p := range st.pieces {
			stockOf[[2]int{p.fabric, p.number}] = i
		}
	}
	h.cut = make([]*column, len(h.ms.units))
	for _, c := range list {
		st := stockOf[[2]int{c.fabric, c.number}]
		if len(free[st]) == 0 {
			return false
		}
		i := free[st][0]
		free[st] = free[st][1:]
		u := h.ms.units[i]
		h.ms.open(u)
		var strips []*strip
		for _, s := range c.pattern {
			strips = append(strips, h.ms.intern(c.group, s))
		}
		h.cut[i] = h.ms.columnOf(u, strips)
	}
	for i, u := range h.ms.units {
		h.ms.fix(u, h.cut[i])
	}
	h.value = h.s.sewn.value
	if h.ms.lp.Solve(50_000, math.Inf(-1)) != lp.Optimal {
		return false
	}
	h.worth = h.ms.lp.Objective()
	return true
}

// wild bends a dive's order so much that it may settle what hardly counts first.
func wild(rng *rand.Rand) func() float64 {
	return func() float64 { return 6 * rng.Float64() }
}

// miss widens the search after moves that found nothing.
func (h *hunt) miss() {
	if h.misses++; h.misses%12 == 0 {
		h.size = min(h.size+1, 20)
	}
}

// choose picks pieces to free: one at random, then others of groups that meet its panels.
func (h *hunt) choose() []bool {
	free := make([]bool, len(h.ms.units))
	n := h.rng.IntN(h.size) + 2
	near := map[int]bool{}
	seed := h.rng.IntN(len(h.ms.units))
	for _, g := range h.related[h.ms.units[seed].group] {
		near[g] = true
	}
	free[seed] = true
	order := h.rng.Perm(len(h.ms.units))
	for _, wide := range []bool{false, true} {
		for _, i := range order {
			if n <= 1 {
				return free
			}
			if free[i] || !wide && !near[h.ms.units[i].group] {
				continue
			}
			free[i] = true
			n--
		}
	}
	return free
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

// fix cuts a unit into one column, or leaves it uncut.
func (ms *master) fix(u *unit, cut *column) {
	u.closed = true
	ms.lp.SetRowBounds(u.row, 0, 1)
	for _, c := range u.cols {
		if c == cut {
			ms.lp.SetBounds(c.v, 1, 1)
		} else {
			ms.lp.SetBounds(c.v, 0, 0)
		}
	}
}
