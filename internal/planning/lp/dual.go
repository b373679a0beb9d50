package lp

import "math"

type breakpoint struct {
	v     int32
	ratio float64
	size  float64
}

// dual runs the dual method: steepest-edge weights, long steps over boxed variables.
// It starts by moving nonbasic variables to the bound that their reduced cost asks for.
func (s *Solver) dual(end int, cutoff float64) Status {
	s.makeDualFeasible()
	z := s.Objective()
	for s.Iterations < end {
		if s.Iterations&63 == 63 && s.Stop != nil && s.Stop() {
			return Stalled
		}
		if len(s.fac.etas) >= maxEtas {
			if !s.refactor() {
				return Stalled
			}
			s.makeDualFeasible()
			z = s.Objective()
		}
		r, out, delta := s.worstInfeasible()
		if r < 0 {
			s.fresh = s.updates == 0
			return Optimal
		}
		if z < cutoff {
			return Cutoff
		}
		s.pivotRow(r)
		q := s.dualRatio(out, delta)
		if q < 0 {
			if len(s.fac.etas) > 0 {
				s.fresh = false
				if !s.refactor() {
					return Stalled
				}
				s.makeDualFeasible()
				z = s.Objective()
				if r, out, delta = s.worstInfeasible(); r < 0 {
					return Optimal
				}
				s.pivotRow(r)
				if q = s.dualRatio(out, delta); q < 0 {
					return Infeasible
				}
			} else {
				return Infeasible
			}
		}
		z += s.applyFlips()
		s.enteringColumn(q)
		pivot := s.colWork.val[r]
		if math.Abs(pivot-s.row.val[q]) > 1e-6*(1+math.Abs(pivot)) || math.Abs(pivot) < pivotTol {
			s.fresh = false
			if len(s.fac.etas) == 0 || !s.refactor() {
				return Stalled
			}
			s.makeDualFeasible()
			z = s.Objective()
			continue
		}
		bound, to := atLower, s.lo[out]
		if delta > 0 {
			bound, to = atUpper, s.hi[out]
		}
		t := (s.x[out] - to) / pivot
		z += float64(s.d[q] * t)
		for _, i := range s.colWork.idx {
			s.x[s.basis[i]] -= float64(t * s.colWork.val[i])
		}
		s.x[q] += t
		s.updateEdge(r)
		s.updateD(out, q)
		s.swap(r, q, bound)
	}
	return Stalled
}

// makeDualFeasible moves every nonbasic variable whose reduced cost asks for it to its other bound.
func (s *Solver) makeDualFeasible() {
	moved := false
	for v := range s.d {
		if s.improves(v) {
			s.flip(int32(v))
			moved = true
		}
	}
	if moved {
		s.computeX()
	}
}

// worstInfeasible gives the position to repair, its variable and the signed distance
// from the bound it breaks; position −1 when all hold.
func (s *Solver) worstInfeasible() (int32, int32, float64) {
	r, best, delta := int32(-1), 0.0, 0.0
	for i, v := range s.basis {
		x := s.x[v]
		var by float64
		switch {
		case x < s.lo[v]-s.Tol:
			by = x - s.lo[v]
		case x > s.hi[v]+s.Tol:
			by = x - s.hi[v]
		default:
			continue
		}
		if p := by * by / s.edge[i]; p > best {
			r, best, delta = int32(i), p, by
		}
	}
	if r < 0 {
		return -1, -1, 0
	}
	return r, s.basis[r], delta
}

// dualRatio picks the entering variable for the pivot row, passing breakpoints of
// boxed variables while the row stays infeasible; those passed are left in flips by
// variable in breaks. −1 when nothing can repair the row.
func (s *Solver) dualRatio(out int32, delta float64) int32 {
	sign := 1.0
	if delta < 0 {
		sign = -1
	}
	s.breaks = s.breaks[:0]
	for _, j := range s.row.idx {
		if a := float64(sign * s.row.val[j] * s.move[j]); a > pivotTol {
			s.breaks = append(s.breaks, breakpoint{j, math.Abs(s.d[j] / a), a})
		}
	}
	slope := math.Abs(delta)
	rest := s.breaks
	for n := 0; len(rest) > 0; {
		// Among nearly equal ratios the largest pivot is the safest.
		least := rest[0].ratio
		for _, b := range rest {
			least = min(least, b.ratio)
		}
		near, pick := 0, int32(-1)
		size, gain := 0.0, 0.0
		for i, b := range rest {
			if b.ratio > least+1e-9 {
				continue
			}
			if b.size > size || b.size == size && b.v < pick {
				size, pick = b.size, b.v
			}
			gain += float64(b.size * (s.hi[b.v] - s.lo[b.v]))
			rest[i], rest[near] = rest[near], b
			near++
		}
		s.spend(int64(len(rest)))
		if slope-gain <= 0 || near == len(rest) {
			s.breaks = s.breaks[:n]
			return pick
		}
		slope -= gain
		n += near
		rest = rest[near:]
	}
	return -1
}

// applyFlips moves the variables in breaks to their other bounds and gives the gain in the objective.
func (s *Solver) applyFlips() float64 {
	if len(s.breaks) == 0 {
		return 0
	}
	w := &s.flips
	w.clear()
	var gain float64
	for _, b := range s.breaks {
		v := b.v
		old := s.x[v]
		s.flip(v)
		by := s.x[v] - old
		gain += float64(s.d[v] * by)
		for _, e := range s.cols[v] {
			w.val[e.Row] += float64(by * e.Val)
		}
	}
	s.fac.solve(w)
	for _, i := range w.idx {
		s.x[s.basis[i]] -= w.val[i]
	}
	w.clear()
	return gain
}

// updateEdge carries the steepest-edge weights over a pivot at position r: colWork holds
// the entering column, rho the row of the inverse.
func (s *Solver) updateEdge(r int32) {
	var norm float64
	tau := s.tau[:len(s.basis)]
	for _, i := range s.rho.idx {
		v := s.rho.val[i]
		norm += float64(v * v)
		tau[i] = v
	}
	s.fac.solveDense(tau)
	pivot := s.colWork.val[r]
	for _, i := range s.colWork.idx {
		if i == r {
			continue
		}
		k := s.colWork.val[i] / pivot
		if k == 0 {
			continue
		}
		w := s.edge[i] - float64(2*float64(k*tau[i])) + float64(float64(k*k)*norm)
		s.edge[i] = max(w, 1e-4, float64(k*k)*1e-4)
	}
	s.edge[r] = max(norm/(pivot*pivot), 1e-4)
	clear(tau)
}
