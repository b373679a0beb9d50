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
	rounds := 0
	b.generate(1000, math.Inf(-1), func(value float64, p prices, fabric int64) bool {
		s.improve(s.m.quotaSide(p, s.m.weightOf)+fabric, p)
		if rounds++; rounds == 3 {
			s.offer(b.shareOut(nil))
		}
		s.tell("bound")
		return !s.halt()
	})
	s.offer(b.shareOut(nil))
	s.tell("improving")
	rng := rand.New(rand.NewPCG(3, 4))
	for _, size := range []int{250, 250} {
		if s.halt() {
			return
		}
		free := s.freeSome(rng, size)
		cuts := b.shareOut(func(stock, piece int) bool { return piece < free[stock] })
		s.recut(b, cuts, free, rng)
	}
	s.casesBound(b.master, 5)
	for !s.halt() {
		free := s.freeSome(rng, 12+rng.IntN(12<<rng.IntN(5)))
		cuts := s.without(free, rng)
		s.recut(b, cuts, free, rng)
	}
}

// freeSome picks pieces to cut anew: how many of each stock. Half the time they come from
// groups that meet in pillowcases, else from anywhere.
func (s *search) freeSome(rng *rand.Rand, size int) map[int]int {
	free := map[int]int{}
	var groups []int
	for g, gr := range s.m.groups {
		if len(gr.stock) > 0 {
			groups = append(groups, g)
		}
	}
	if len(groups) == 0 {
		return free
	}
	if rng.IntN(2) == 0 {
		near := s.near()[groups[rng.IntN(len(groups))]]
		groups = slices.DeleteFunc(groups, func(g int) bool { return !slices.Contains(near, g) })
	}
	for range 4 * size {
		gr := s.m.groups[groups[rng.IntN(len(groups))]]
		st := gr.stock[rng.IntN(len(gr.stock))]
		if free[st] < len(s.m.stock[st].pieces) {
			free[st]++
			if size--; size == 0 {
				break
			}
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

// without gives the best cuts with the pieces to free taken out.
func (s *search) without(free map[int]int, rng *rand.Rand) [][]cutPattern {
	out := make([][]cutPattern, len(s.cuts))
	for i, list := range s.cuts {
		n := free[i]
		if n == 0 {
			out[i] = list
			continue
		}
		idle := len(s.m.stock[i].pieces)
		for _, c := range list {
			idle -= c.pieces
		}
		list = slices.Clone(list)
		for ; n > 0; n-- {
			k := rng.IntN(idle + len(list))
			if k < idle {
				idle--
				continue
			}
			for k -= idle; list[k%len(list)].pieces == 0; k++ {
			}
			list[k%len(list)].pieces--
			if !slices.ContainsFunc(list, func(c cutPattern) bool { return c.pieces > 0 }) {
				break
			}
		}
		out[i] = slices.DeleteFunc(list, func(c cutPattern) bool { return c.pieces == 0 })
	}
	return out
}

// recut dives for the free pieces with all others cut as given.
func (s *search) recut(b *bulk, cuts [][]cutPattern, free map[int]int, rng *rand.Rand) {
	ms := newMasterWith(s.m, s.m.panels(cuts), 1)
	ms.strips, ms.lp.Stop, ms.noise, ms.enough = b.strips, s.interrupted, wild(rng), 0.05
	s.masters = append(s.masters, ms)
	defer s.retire(ms)
	var stocks []int
	for i := range free {
		stocks = append(stocks, i)
	}
	slices.Sort(stocks)
	units := map[int]*unit{}
	for _, i := range stocks {
		units[i] = ms.addUnit(i, free[i])
	}
	for g, gr := range s.m.groups {
		if !slices.ContainsFunc(gr.stock, func(i int) bool { return free[i] > 0 }) {
			continue
		}
		for _, w := range b.wholes[g] {
			if b.lp.Value(w.v) < whole {
				continue
			}
			gr.prog.Price(w.values, nil)
			for _, i := range gr.stock {
				if u := units[i]; u != nil {
					ms.addColumn(u, ms.best(u))
				}
			}
		}
	}
	if !ms.dive(float64(s.sewn.value)-1e-3, s.halt) {
		return
	}
	more := ms.cuts()
	all := make([][]cutPattern, len(cuts))
	for i := range cuts {
		all[i] = append(slices.Clone(cuts[i]), more[i]...)
	}
	sewn := s.m.assemble(s.m.panels(all), 60)
	if sewn.value == s.sewn.value {
		s.sewn, s.cuts = sewn, all // wander over equal plans
		return
	}
	s.keep(all, sewn)
}

// retire forgets a master but keeps count of its work.
func (s *search) retire(ms *master) {
	s.m.assembled += ms.lp.Work
	s.masters = slices.DeleteFunc(s.masters, func(x *master) bool { return x == ms })
}
