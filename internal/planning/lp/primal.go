package lp

import "math"

// primal runs the primal method from a feasible basis: devex prices, a two-pass
// ratio test (Harris) and bound flips.
func (s *Solver) primal(end int) Status {
	for i := range s.devex {
		s.devex[i] = 1
	}
	stuck := 0
	for s.Iterations < end {
		if s.Iterations&63 == 63 && s.Stop != nil && s.Stop() {
			return Stalled
		}
		if len(s.fac.etas) >= maxEtas {
			if !s.refactor() {
				return Stalled
			}
			if s.infeasibility() > mostShift {
				return Stalled
			}
			s.shiftBounds()
		}
		q := s.bestEntering(stuck > 400)
		if q < 0 {
			return Optimal
		}
		s.enteringColumn(q)
		dir := 1.0
		if s.where[q] == atUpper {
			dir = -1
		}
		r, step := s.ratio(q, dir)
		if step > 1e-12 {
			stuck = 0
		} else {
			stuck++
		}
		for _, i := range s.colWork.idx {
			s.x[s.basis[i]] -= float64(float64(step*dir) * s.colWork.val[i])
		}
		if r < 0 {
			s.flip(q)
			s.Iterations++
			continue
		}
		s.x[q] += float64(step * dir)
		s.pivotRow(r)
		pivot := s.colWork.val[r]
		if math.Abs(pivot-s.row.val[q]) > 1e-6*(1+math.Abs(pivot)) {
			s.fresh = false
			if len(s.fac.etas) == 0 || !s.refactor() {
				return Stalled
			}
			if s.infeasibility() > mostShift {
				return Stalled
			}
			s.shiftBounds()
			continue
		}
		out := s.basis[r]
		s.updateDevex(out, q)
		s.carryEdge(r)
		s.updateD(out, q)
		bound := atLower
		if float64(dir*pivot) < 0 {
			bound = atUpper
		}
		s.swap(r, q, bound)
	}
	return Stalled
}

// bestEntering gives the nonbasic variable with the best devex price, or the first
// that gains at all (Bland), which cannot cycle; −1 at the optimum.
func (s *Solver) bestEntering(bland bool) int32 {
	q, best := int32(-1), 0.0
	for v := range s.d {
		if !s.improves(v) {
			continue
		}
		if bland {
			return int32(v)
		}
		if d := s.d[v]; d*d > best*s.devex[v] {
			q, best = int32(v), d*d/s.devex[v]
		}
	}
	return q
}

// ratio finds how far q may move in its direction and which position blocks it; −1 when
// its own other bound does.
func (s *Solver) ratio(q int32, dir float64) (int32, float64) {
	limit := math.Inf(1)
	for _, i := range s.colWork.idx {
		a := float64(dir * s.colWork.val[i])
		v := s.basis[i]
		switch {
		case a > pivotTol:
			limit = min(limit, (s.x[v]-s.lo[v]+s.Tol)/a)
		case a < -pivotTol:
			limit = min(limit, (s.hi[v]-s.x[v]+s.Tol)/-a)
		}
	}
	own := s.hi[q] - s.lo[q]
	if own <= limit {
		return -1, own
	}
	r, size, step := int32(-1), 0.0, 0.0
	for _, i := range s.colWork.idx {
		a := float64(dir * s.colWork.val[i])
		v := s.basis[i]
		var t float64
		switch {
		case a > pivotTol:
			t = (s.x[v] - s.lo[v]) / a
		case a < -pivotTol:
			t = (s.hi[v] - s.x[v]) / -a
		default:
			continue
		}
		if t <= limit && math.Abs(a) > size {
			r, size, step = i, math.Abs(a), t
		}
	}
	return r, max(step, 0)
}

// updateDevex carries the reference weights over a pivot.
func (s *Solver) updateDevex(out, q int32) {
	aq := s.row.val[q]
	wq := s.devex[q]
	for _, j := range s.row.idx {
		if j == q {
			continue
		}
		t := s.row.val[j] / aq
		if w := float64(t*t) * wq; w > s.devex[j] {
			s.devex[j] = w
		}
	}
	s.devex[out] = max(wq/(aq*aq), 1)
	if s.devex[out] > 1e8 {
		for i := range s.devex {
			s.devex[i] = 1
		}
	}
}

// carryEdge carries the dual steepest-edge weights over a primal pivot at position r, for the
// dual method that comes after. A weight is the squared length of a row of the inverse; that
// the rows added to one another are at right angles is a guess that saves a solve a pivot and
// serves as well.
func (s *Solver) carryEdge(r int32) {
	var norm float64
	for _, i := range s.rho.idx {
		v := s.rho.val[i]
		norm += float64(v * v)
	}
	pivot := s.colWork.val[r]
	for _, i := range s.colWork.idx {
		k := s.colWork.val[i] / pivot
		s.edge[i] = min(s.edge[i]+float64(float64(k*k)*norm), mostEdge)
	}
	s.edge[r] = max(norm/(pivot*pivot), 1e-4)
}
