package lp

import "math"

// refresh computes all values and reduced costs anew, from the factorisation at hand where that
// is still good, else from a new one. It reports false where refactor does.
func (s *Solver) refresh(tries int) bool {
	if !s.fits || len(s.fac.etas) > fewEtas || tries > mostTries {
		return s.refactor()
	}
	s.spend(2*s.fac.size() + int64(4*len(s.cols)))
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
	for _, w := range []*vector{&s.colWork, &s.rho, &s.flips} {
		w.grow(m)
	}
	if len(s.tau) < m {
		s.tau = make([]float64, 2*m)
	}
	column := func(pos int) []Entry {
		if v := s.basis[pos]; v != nobody {
			return s.cols[v]
		}
		return nil
	}
	badCols, badRows := s.fac.build(m, column)
	s.spend(int64(30*m + 10*len(s.fac.u) + 4*len(s.cols)))
	if len(badCols) > 0 {
		for i, pos := range badCols {
			if s.basis[pos] != nobody {
				s.leave(s.basis[pos])
			}
			v := s.logical[badRows[i]]
			s.basis[pos], s.where[v], s.move[v] = v, pos, 0
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
	s.place(v)
}

// flip moves a nonbasic variable to its other bound.
func (s *Solver) flip(v int32) {
	s.where[v] = atLower + atUpper - s.where[v]
	s.x[v], s.move[v] = s.atBound(v), -s.move[v]
}

// atBound is the bound that a nonbasic variable stands at.
func (s *Solver) atBound(v int32) float64 {
	if s.where[v] == atLower {
		return s.lo[v]
	}
	return s.hi[v]
}

// place notes which way a variable may go from where it stands.
func (s *Solver) place(v int32) {
	switch {
	case s.where[v] >= 0 || s.lo[v] == s.hi[v]:
		s.move[v] = 0
	case s.where[v] == atLower:
		s.move[v] = 1
	default:
		s.move[v] = -1
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
		x := s.atBound(int32(v))
		s.x[v] = x
		if x != 0 {
			for _, e := range s.cols[v] {
				a.val[e.Row] -= float64(x * e.Val)
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
			y.val[pos] = c
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

// pivotRow computes row r of B⁻¹N into s.row (by variable), and that row of the inverse into rho.
func (s *Solver) pivotRow(r int32) {
	s.rho.clear()
	s.rho.val[r] = 1
	s.fac.solveT(&s.rho)
	touched := s.fac.size()
	row := s.row.val[:len(s.cols)]
	clear(row)
	for _, i := range s.rho.idx {
		p := s.rho.val[i]
		touched += int64(len(s.rows[i]))
		take(row, s.rows[i], -p)
		row[s.logical[i]] = -p
	}
	s.listRow()
	s.spend(touched)
}

// listRow lists the nonbasic variables with an entry in the row, counting as collect does.
func (s *Solver) listRow() {
	row := s.row.val[:len(s.cols)]
	where, idx := s.where[:len(row)], s.row.idx[:len(row)]
	k := 0
	for v, a := range row {
		size := math.Float64bits(a) &^ (1 << 63)
		idx[k] = int32(v)
		k += int((tinyBits - 1 - size) >> 63 & uint64(uint32(where[v])>>31))
	}
	s.row.idx = idx[:k]
}

// enteringColumn computes B⁻¹ a_q into colWork (by position).
func (s *Solver) enteringColumn(q int32) {
	s.colWork.clear()
	for _, e := range s.cols[q] {
		s.colWork.val[e.Row] += e.Val
	}
	s.fac.solve(&s.colWork)
	s.spend(s.fac.size() + int64(len(s.cols)))
}

// swap puts q into the basis at position r; the variable there leaves at the bound given.
func (s *Solver) swap(r, q, bound int32) {
	out := s.basis[r]
	s.where[out] = bound
	s.x[out] = s.atBound(out)
	s.place(out)
	s.basis[r], s.where[q], s.move[q] = q, r, 0
	s.fac.update(r, &s.colWork)
	s.Iterations++
	s.updates++
}

// updateD carries the reduced costs over a pivot on row r (in s.row) and variable q.
func (s *Solver) updateD(out, q int32) {
	theta := s.d[q] / s.row.val[q]
	for _, j := range s.row.idx {
		s.d[j] -= float64(theta * s.row.val[j])
	}
	s.d[q] = 0
	s.d[out] = -theta
}
