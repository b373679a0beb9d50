package planning

import (
	"math/rand/v2"
	"slices"
)

// turns improve a large plan in two ways: mending, which sews a few bodies anew, and dives over
// some pieces with all that is sewn open. Which brings more differs from drive to drive, so each
// gets shares of work in turn, and what has lately gained more gets most of them.
type turns struct {
	s    *search
	mend *mend
	pool [][][]*strip
	rng  *rand.Rand
	gain [2]float64 // of each way, what happened last counting most
	next int        // counts shares

	mended bool // the last share went by mending, and the mend's deeds tell all of it
}

func newTurns(s *search, known []map[string]*strip, pool [][][]*strip, seed uint64) *turns {
	return &turns{s: s, mend: newMend(s, known, pool, seed), pool: pool, rng: rand.New(rand.NewPCG(seed, 4)), next: int(seed)}
}

// share goes one way until so much work is done.
func (t *turns) share(work int64) {
	way, before := t.way(), t.s.sewn.value
	t.mend.deeds = t.mend.deeds[:0]
	t.s.slice(work, [2]func() bool{t.mend.move, t.redive}[way])
	t.gain[way] = t.gain[way]/2 + float64(t.s.sewn.value-before)
	t.next++
	t.mended = way == 0
	if way == 1 {
		t.mend.take()
		t.mend.weigh()
	}
}

// shareOfWork is how long one way goes on before the lanes meet; longer where taking over a plan
// takes long.
func (s *search) shareOfWork() int64 { return 60 + int64(len(s.m.stock))/150 }

// way picks what goes next: the other one every fourth time, so that neither is given up.
func (t *turns) way() int {
	switch {
	case t.gain[0] == t.gain[1] || t.next < 3:
		return t.next % 2
	case (t.gain[1] > t.gain[0]) == (t.next%4 != 3):
		return 1
	}
	return 0
}

// redive takes some pieces up, from groups that meet in pillowcases or from anywhere, and dives
// for them. It always has more to do.
func (t *turns) redive() bool {
	s := t.s
	s.m.assembled += 100_000 // what a move costs at least
	free := t.some(12 + t.rng.IntN(12<<t.rng.IntN(5)))
	cuts := t.without(free)
	ms := newMasterWith(s.m, s.m.panels(cuts), 1)
	ms.strips, ms.lp.Stop, ms.noise, ms.enough = t.mend.known, s.interrupted, wild(t.rng), 0.05
	s.masters = append(s.masters, ms)
	defer s.retire(ms)
	for i := range s.m.stock {
		if free[i] == 0 {
			continue
		}
		u := ms.addUnit(i, free[i])
		for _, strips := range t.pool[i] {
			ms.addColumn(u, strips)
		}
	}
	if !ms.dive(float64(s.sewn.value)-1e-3, s.halt) {
		return true
	}
	for i, more := range ms.cuts() {
		cuts[i] = append(slices.Clone(cuts[i]), more...)
	}
	sewn := s.m.assemble(s.m.panels(cuts), 60)
	if sewn.value == s.sewn.value {
		s.sewn, s.cuts = sewn, cuts // wander over equal plans
		return true
	}
	s.keep(cuts, sewn)
	return true
}

// some picks pieces to take up: how many of each stock.
func (t *turns) some(size int) map[int]int {
	m := t.s.m
	free := map[int]int{}
	groups := m.stocked()
	if len(groups) > 0 && t.rng.IntN(2) == 0 {
		near := t.s.near()[groups[t.rng.IntN(len(groups))]]
		groups = slices.DeleteFunc(groups, func(g int) bool { return !slices.Contains(near, g) })
	}
	for range 4 * size {
		if len(groups) == 0 || size == 0 {
			break
		}
		gr := m.groups[groups[t.rng.IntN(len(groups))]]
		st := gr.stock[t.rng.IntN(len(gr.stock))]
		if free[st] < len(m.stock[st].pieces) {
			free[st]++
			size--
		}
	}
	return free
}

// without gives the best cuts with pieces to free taken out.
func (t *turns) without(free map[int]int) [][]cutPattern {
	s := t.s
	out := make([][]cutPattern, len(s.m.stock))
	for i, list := range s.cuts {
		if free[i] == 0 {
			out[i] = list
			continue
		}
		idle := len(s.m.stock[i].pieces)
		for _, c := range list {
			idle -= c.pieces
		}
		list = slices.Clone(list)
		for n := free[i]; n > 0; n-- {
			k := t.rng.IntN(idle + len(list))
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
