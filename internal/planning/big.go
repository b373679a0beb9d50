package planning

import (
	"math"
	"math/rand/v2"
	"slices"
)

// mostUnits is the number of different pieces up to which each has a row of its own.
const mostUnits = 150

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
	if s.halt() && s.stopped != Closed {
		return
	}
	s.tell("improving")
	pool := b.pool()
	s.firstDives(b, pool)
	s.casesBound(b.master, 30)
	s.takeTurns(b.strips, pool)
}

// firstDives cuts anew, by a dive, what sharing out leaves most to gain in: all cloth where it is
// a few bolts or many pieces alike, which a dive settles in bulk; else some pieces.
func (s *search) firstDives(b *bulk, pool [][][]*strip) {
	if s.halt() {
		return
	}
	m := s.m
	pieces, strips, patterns := 0, 0, 0
	for i, st := range m.stock {
		pieces += len(st.pieces)
		for _, p := range pool[i] {
			strips, patterns = strips+len(p), patterns+1
		}
	}
	all := map[int]int{}
	for i, st := range m.stock {
		all[i] = len(st.pieces)
	}
	switch rng := rand.New(rand.NewPCG(3, 4)); {
	case len(m.stock) <= mostDived && (pieces > 2*len(m.stock) || strips >= longPiece*patterns):
		s.recut(b.strips, pool, make([][]cutPattern, len(m.stock)), all)
	default:
		for range 2 {
			if s.halt() {
				return
			}
			free := s.spread(rng, 250)
			s.recut(b.strips, pool, b.shareOut(func(stock, piece int) bool { return piece < free[stock] }), free)
		}
	}
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

// recut dives for the free pieces with all others cut as given.
func (s *search) recut(known []map[string]*strip, pool [][][]*strip, cuts [][]cutPattern, free map[int]int) {
	ms := newMasterWith(s.m, s.m.panels(cuts), 1)
	ms.strips, ms.lp.Stop, ms.enough = known, s.interrupted, 0.05
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
	if _, ok := ms.generate(50, float64(s.sewn.value)-1e-3, going); !ok || !ms.dive(float64(s.sewn.value)-1e-3, s.halt) {
		return
	}
	more := ms.cuts()
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
