package lp

import "math"

// Begin lets the next solve begin from these variables in place of the present basis: as far as
// they do not depend on one another, and with variables of rows for the rest. It pays where they
// were in the basis of a programme much like this one. Solve comes before Save.
func (s *Solver) Begin(vars []int) {
	for pos, v := range s.basis {
		if v != nobody {
			s.leave(v)
		}
		s.basis[pos], s.edge[pos] = nobody, 1
	}
	for pos, v := range vars[:min(len(vars), len(s.basis))] {
		s.basis[pos], s.where[v], s.move[v] = int32(v), int32(pos), 0
	}
	s.begun, s.fits, s.fresh = true, false, false
}

// approach makes a basis taken from elsewhere feasible. Variables that would gain by moving
// could only go to their far bounds, and a good basis would be lost; so they count as worth
// less until then, just enough that they need not move, and the primal method sees to them.
func (s *Solver) approach(end int) Status {
	for _, v := range s.logical {
		if s.improves(int(v)) {
			s.flip(v)
		}
	}
	s.computeX()
	s.lowered = s.lowered[:0]
	for v := range s.d {
		if s.improves(v) {
			s.lowered = append(s.lowered, worth{v, s.cost[v]})
			s.cost[v] -= s.d[v]
			s.d[v] = 0
		}
	}
	st := s.dual(end, math.Inf(-1))
	for _, w := range s.lowered {
		s.cost[w.v] = w.cost
	}
	s.fresh = false
	return st
}

type worth struct {
	v    int
	cost float64
}
