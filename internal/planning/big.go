package planning

import (
	"math"
	"math/rand/v2"
	"slices"
)

// mostUnits is the number of different pieces up to which each has a row of its own from the
// beginning, mostSingle that up to which they are still hunted one by one. Where a group has hardly
// any pieces, sharing out and mending find less, and hunting pays for more pieces.
const (
	mostUnits  = 150
	mostSingle = 400
	mostLonely = 600
	lonely     = 4 // pieces of a group are fewer
	shortPiece = 2 // strips
)

// isBig says whether pieces are too many, or too long, to be hunted one by one. The strips that many
// allows come together by the number alone of more pieces than mostSingle: of those only pieces that
// hold more than two strips each are long.
func (m *model) isBig() bool {
	if n := len(m.stock); n > mostSingle && n <= mostLonely && n < lonely*len(m.stocked()) {
		return m.strips() > shortPiece*int64(n)
	}
	return len(m.stock) > mostSingle || m.many()
}

// runBig plans drives of many different pieces: the bulk relaxation, its patterns shared out,
// then again and again a few hundred pieces taken up and cut anew by a dive.
func (s *search) runBig() {
	b := newBulk(s.m)
	b.lp.Stop = s.interrupted
	s.masters = append(s.masters, b.master)
	s.tell("bound")
	b.seed()
	rounds, shared := 0, false
	b.generate(1000, math.Inf(-1), func(value float64, p prices, fabric int64) bool {
		s.improve(s.m.quotaSide(p, s.m.weightOf)+fabric, p)
		if rounds++; rounds == 3 {
			s.offer(b.shareOut(nil))
			shared = true
		}
		s.tell("bound")
		return !s.halt()
	})
	if shared && s.interrupted() {
		s.halt()
		return
	}
	s.offer(b.shareOut(nil))
	if s.halt() {
		s.casesBound(b.master, 30)
		return
	}
	s.tell("improving")
	s.improveBig(b)
}

// improveBig improves a plan that was shared out, in two lanes: first by dives over what sharing
// out leaves most to gain in, then in turns.
func (s *search) improveBig(b *bulk) {
	rng := rand.New(rand.NewPCG(3, 4))
	pool := b.pool()
	begin := [2]*start{s.firstDive(b, pool, rng), s.spreadDive(b, rng)}
	a, o := &bigLane{s: s, known: b.strips, pool: pool}, s.bigTwin(pool, begin[1])
	s.halve(o.s)
	besides(s, o.s, func() {
		s.recut(a.known, a.pool, begin[0], ends)
		s.casesBound(b.master, 30)
	}, func() {
		o.s.recut(o.known, o.pool, begin[1], ends/2)
	})
	a.turns, o.turns = newTurns(s, a.known, a.pool, 1), newTurns(o.s, o.known, o.pool, 2)
	if n := len(s.m.stock); n > mostUnits && n <= mostParted && s.m.strips() < longPiece*int64(s.m.count()) {
		o.tree = o.s.parting(b)
	}
	for meetBig(a, o); !s.ended(o.s); meetBig(a, o) {
		s.tell("improving")
		besides(s, o.s, a.share, o.share)
	}
	s.root, s.sums = o.s.root, o.s.sums
}

// start is where a dive begins: pieces to cut anew, how many of each stock, and how all others are cut.
type start struct {
	cuts [][]cutPattern
	free map[int]int
}

// firstDive takes up all cloth where it is a few bolts or many pieces alike, which a dive settles
// in bulk; else some pieces.
func (s *search) firstDive(b *bulk, pool [][][]*strip, rng *rand.Rand) *start {
	m := s.m
	pieces, strips, patterns := 0, 0, 0
	for i, st := range m.stock {
		pieces += len(st.pieces)
		for _, p := range pool[i] {
			strips, patterns = strips+len(p), patterns+1
		}
	}
	if len(m.stock) > mostDived || pieces <= 2*len(m.stock) && strips < longPiece*patterns {
		return s.spreadDive(b, rng)
	}
	all := map[int]int{}
	for i, st := range m.stock {
		all[i] = len(st.pieces)
	}
	return &start{make([][]cutPattern, len(m.stock)), all}
}

// spreadDive takes up some pieces from anywhere.
func (s *search) spreadDive(b *bulk, rng *rand.Rand) *start {
	free := s.spread(rng, 250)
	return &start{b.shareOut(func(stock, piece int) bool { return piece < free[stock] }), free}
}

// mostDived is the number of different pieces up to which one dive takes up all cloth.
const mostDived = 400

// spread picks pieces to cut anew, from anywhere: how many of each stock.
func (s *search) spread(rng *rand.Rand, size int) map[int]int {
	free := map[int]int{}
	groups := s.m.stocked()
	for range 4 * size {
		if len(groups) == 0 || size == 0 {
			break
		}
		gr := s.m.groups[groups[rng.IntN(len(groups))]]
		st := gr.stock[rng.IntN(len(gr.stock))]
		if free[st] < len(s.m.stock[st].pieces) {
			free[st]++
			size--
		}
	}
	return free
}

func (s *search) near() [][]int {
	if s.related == nil {
		s.related = s.m.relatedGroups()
	}
	return s.related
}

// recut dives for the free pieces with all others cut as given; of long ones so many strips are
// settled one by one.
func (s *search) recut(known []map[string]*strip, pool [][][]*strip, from *start, ends int) {
	if s.halt() {
		return
	}
	cuts, free := from.cuts, from.free
	ms := newMasterWith(s.m, s.m.panels(cuts), 1)
	ms.strips, ms.lp.Stop, ms.enough, ms.ends = known, s.interrupted, 0.05, ends
	s.masters = append(s.masters, ms)
	defer s.retire(ms)
	for i := range s.m.stock {
		if free[i] == 0 {
			continue
		}
		u := ms.addUnit(i, free[i])
		for _, strips := range pool[i] {
			ms.addColumn(u, strips)
		}
	}
	// Copies can be settled in bulk only where there is a solution.
	going := func(float64, prices, int64) bool { return !s.halt() }
	if _, ok := ms.generate(50, float64(s.sewn.value)-1e-3, going); !ok {
		return
	}
	var more [][]cutPattern
	if ms.dive(float64(s.sewn.value)-1e-3, s.halt) {
		more = ms.cuts()
	} else {
		more = ms.rounded() // what it has settled is worth something, though it came to no end
	}
	all := make([][]cutPattern, len(s.m.stock))
	for i := range cuts {
		all[i] = append(slices.Clone(cuts[i]), more[i]...)
	}
	s.offer(all)
}

// retire forgets a master but keeps count of its work.
func (s *search) retire(ms *master) {
	s.m.assembled += ms.lp.Work
	s.masters = slices.DeleteFunc(s.masters, func(x *master) bool { return x == ms })
}
