package lp

// Solve moves to an optimal basis in at most limit pivots. Where it can tell early that
// the optimum is below cutoff it stops with Cutoff.
func (s *Solver) Solve(limit int, cutoff float64) Status {
	end := s.Iterations + limit
	s.spend(int64(2*len(s.basis) + len(s.cols)))
	for round := 0; round < 20; round++ {
		if (!s.fresh || !s.fits) && !s.refresh(round) {
			return Stalled
		}
		if s.begun {
			s.begun = false
			if st := s.approach(end); st == Infeasible {
				return st
			}
			continue
		}
		var st Status
		if worst := s.infeasibility(); worst <= s.Tol || worst <= mostShift && !s.dualFeasible() {
			s.shiftBounds()
			st = s.primal(end)
			if s.unshift() {
				continue
			}
			if st == Optimal {
				if s.updates > 0 {
					if !s.refresh(round) {
						return Stalled
					}
					if s.infeasibility() > s.Tol || !s.dualFeasible() {
						continue
					}
				}
				return Optimal
			}
		} else {
			st = s.dual(end, cutoff)
			if st == Optimal {
				// Numbers computed anew decide.
				continue
			}
		}
		if st == Infeasible || st == Cutoff {
			return st
		}
		if s.Iterations >= end || s.Stop != nil && s.Stop() {
			return Stalled
		}
	}
	return Stalled
}

// Try gives what the objective has come to after at most limit pivots of the dual method: no less than
// the optimum, but for rounding. It begins at an optimal basis whose bounds have changed since, stops where the
// objective falls below cutoff, and computes nothing anew at its end: Restore comes next.
func (s *Solver) Try(limit int, cutoff float64) float64 {
	s.spend(int64(2*len(s.basis) + len(s.cols)))
	if (!s.fresh || !s.fits) && !s.refresh(0) {
		return s.Objective()
	}
	s.dual(s.Iterations+limit, cutoff)
	s.fresh = false
	return s.Objective()
}

// spend counts numbers touched as work, seven tenths of a nanosecond each.
func (s *Solver) spend(touched int64) { s.Work += touched * 7 / 10 }

// infeasibility gives how far the basic variable that is farthest out stands outside its bounds.
func (s *Solver) infeasibility() float64 {
	var worst float64
	for _, v := range s.basis {
		worst = max(worst, s.lo[v]-s.x[v], s.x[v]-s.hi[v])
	}
	return worst
}

// shiftBounds widens the bounds of basic variables that stand a little outside them, as
// rounding leaves them, so that the primal method can go on; unshift puts the bounds back.
func (s *Solver) shiftBounds() {
	for _, v := range s.basis {
		x := s.x[v]
		if x >= s.lo[v] && x <= s.hi[v] {
			continue
		}
		s.shifts = append(s.shifts, shift{v, s.lo[v], s.hi[v]})
		s.lo[v], s.hi[v] = min(s.lo[v], x), max(s.hi[v], x)
	}
}

// unshift reports whether anything had been shifted that now has to be repaired.
func (s *Solver) unshift() bool {
	if len(s.shifts) == 0 {
		return false
	}
	moved := false
	for i := len(s.shifts) - 1; i >= 0; i-- {
		f := s.shifts[i]
		moved = moved || s.where[f.v] < 0 || s.x[f.v] < f.lo-s.Tol || s.x[f.v] > f.hi+s.Tol
		s.lo[f.v], s.hi[f.v] = f.lo, f.hi
		s.place(f.v)
	}
	s.shifts = s.shifts[:0]
	if moved {
		s.fresh = false
	}
	return moved
}

func (s *Solver) dualFeasible() bool {
	for v := range s.d {
		if s.improves(v) {
			return false
		}
	}
	return true
}

// improves says whether a nonbasic variable would gain by leaving its bound.
func (s *Solver) improves(v int) bool {
	return float64(s.d[v]*s.move[v]) > dualTol
}
