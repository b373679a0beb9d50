package lp

// refresh computes all values and reduced costs anew, from the factorisation at hand where that
// is still good, else from a new one. It reports false where refactor does.
func (s *Solver) refresh(tries int) bool {
	if !s.fits || len(s.fac.etas) > fewEtas || tries > mostTries {
		return s.refactor()
	}
	s.Work += 2*s.fac.size() + int64(4*len(s.cols))
	s.computeX()
	s.computeD()
	s.fresh, s.updates = true, 0
	return true
}

// refactor factors the basis anew and computes all values and reduced costs from it.
// Columns that depend on others are replaced by the logicals of rows without a pivot.
// It reports false when not even that gives a regular basis.
func (s *Solver) refactor() bool {
	s.fits = false
	m := len(s.basis)
	for _, w := range []*vector{&s.colWork, &s.rho, &s.tau, &s.flips} {
		w.grow(m)
	}
	column := func(pos int) []Entry { return s.cols[s.basis[pos]] }
	badCols, badRows := s.fac.build(m, column)
	s.Work += int64(30*m + 10*len(s.fac.uIdx) + 4*len(s.cols))
	if len(badCols) > 0 {
		for i, pos := range badCols {
			s.leave(s.basis[pos])
			v := s.logical[badRows[i]]
			s.basis[pos], s.where[v] = v, pos
			s.edge[pos] = 1
		}
		if bad, _ := s.fac.build(m, column); len(bad) > 0 {
			return false
		}
	}
	s.computeX()
	s.computeD()
	s.fits, s.fresh, s.updates = true, true, 0
	return true
}

// leave makes a variable nonbasic at its nearer bound.
func (s *Solver) leave(v int32) {
	if s.x[v]-s.lo[v] <= s.hi[v]-s.x[v] {
		s.where[v], s.x[v] = atLower, s.lo[v]
	} else {
		s.where[v], s.x[v] = atUpper, s.hi[v]
	}
}

// computeX solves B·xB = −N·xN.
func (s *Solver) computeX() {
	a := &s.colWork
	a.clear()
	for v := range s.cols {
		if s.where[v] >= 0 {
			continue
		}
		if s.where[v] == atLower {
			s.x[v] = s.lo[v]
		} else {
			s.x[v] = s.hi[v]
		}
		if x := s.x[v]; x != 0 {
			for _, e := range s.cols[v] {
				a.add(e.Row, -float64(x*e.Val))
			}
		}
	}
	s.fac.solve(a)
	for pos, v := range s.basis {
		s.x[v] = a.val[pos]
	}
	a.clear()
}

// computeD solves Bᵀ·y = cB and prices every variable: d = c − y·A.
func (s *Solver) computeD() {
	y := &s.rho
	y.clear()
	for pos, v := range s.basis {
		if c := s.cost[v]; c != 0 {
			y.add(int32(pos), c)
		}
	}
	s.fac.solveT(y)
	for v := range s.cols {
		if s.where[v] >= 0 {
			s.d[v] = 0
			continue
		}
		d := s.cost[v]
		for _, e := range s.cols[v] {
			if p := y.val[e.Row]; p != 0 {
				d -= float64(p * e.Val)
			}
		}
		s.d[v] = d
	}
	y.clear()
}

// pivotRow computes row r of B⁻¹N into rowWork (by variable), and that row of the inverse into rho.
func (s *Solver) pivotRow(r int32) {
	s.rho.clear()
	s.rho.add(r, 1)
	s.fac.solveT(&s.rho)
	w := &s.rowWork
	w.clear()
	s.Work += s.fac.size()
	for _, i := range s.rho.idx {
		p := s.rho.val[i]
		s.Work += int64(len(s.rows[i]))
		for _, t := range s.rows[i] {
			if s.where[t.v] < 0 {
				w.add(t.v, float64(p*t.val))
			}
		}
		if l := s.logical[i]; s.where[l] < 0 {
			w.add(l, -p)
		}
	}
}

// enteringColumn computes B⁻¹ a_q into colWork (by position).
func (s *Solver) enteringColumn(q int32) {
	s.colWork.clear()
	for _, e := range s.cols[q] {
		s.colWork.add(e.Row, e.Val)
	}
	s.fac.solve(&s.colWork)
	s.Work += s.fac.size() + int64(len(s.cols))
}

// swap puts q into the basis at position r; the variable there leaves at the bound given.
func (s *Solver) swap(r, q, bound int32) {
	out := s.basis[r]
	s.where[out] = bound
	if bound == atLower {
		s.x[out] = s.lo[out]
	} else {
		s.x[out] = s.hi[out]
	}
	s.basis[r], s.where[q] = q, r
	s.fac.update(r, &s.colWork)
	s.Iterations++
	s.updates++
}

// updateD carries the reduced costs over a pivot on row r (in rowWork) and variable q.
func (s *Solver) updateD(out, q int32) {
	theta := s.d[q] / s.rowWork.val[q]
	for _, j := range s.rowWork.idx {
		s.d[j] -= float64(theta * s.rowWork.val[j])
	}
	s.d[q] = 0
	s.d[out] = -theta
}
