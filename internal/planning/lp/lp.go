// Package lp solves linear programmes of the kind column generation makes:
//
//	maximise c·x   subject to   lo ≤ A·x ≤ hi (each row),   l ≤ x ≤ u (each variable)
//
// where columns arrive all the time, bounds tighten and loosen, and the last
// basis is a good start for the next solve, as is what stood in the basis of
// another programme much like it (Begin). It is a bounded revised simplex:
// a sparse LU factorisation of the basis (Markowitz order, threshold pivots)
// with product-form updates and refactorisation; the primal method with devex
// prices while the basis is feasible (after new columns), the dual method with
// steepest-edge weights and a long-step ratio test otherwise (after new bounds).
//
// Every bound must be finite. That is what makes the dual method complete here:
// any basis becomes dual feasible by moving variables to their other bound, so
// no first phase exists. Its weights are carried, by a guess, over the primal
// method's pivots, so that the next solve need not learn them anew.
//
// Guarantees: the same calls give the same results on any machine (products are
// rounded before they are added, so that no compiler may fuse them; no map order,
// no clock). Results carry the rounding error of float64, about 1e-9 on values of
// this size: nothing here is a proof. A caller that needs one re-derives it from
// the prices in whole numbers.
//
// References: Koberstein, "The dual simplex method, techniques for a fast and
// stable implementation" (2005); Suhl and Suhl, "Computing sparse LU
// factorizations for large-scale linear programming bases" (1990); Forrest and
// Goldfarb, "Steepest-edge simplex algorithms" (1992).
package lp

import (
	"fmt"
	"math"
)

// Entry is one coefficient of a column.
type Entry struct {
	Row int32
	Val float64
}

// Status says how a solve ended.
type Status int

const (
	// Optimal: within tolerance no better point exists.
	Optimal Status = iota
	// Infeasible: no point satisfies all bounds.
	Infeasible
	// Cutoff: the optimum is below the limit the caller gave.
	Cutoff
	// Stalled: the iteration limit was reached or the numbers went bad; the
	// caller must treat the values as a guess.
	Stalled
)

func (s Status) String() string {
	return [...]string{"optimal", "infeasible", "cutoff", "stalled"}[s]
}

const (
	dualTol   = 1e-9  // how far a reduced cost may have the wrong sign
	pivotTol  = 1e-8  // least pivot taken
	mostShift = 1e-3  // farthest outside its bounds that counts as rounding
	mostEdge  = 1e15  // most that a guess makes of a weight
	zeroTol   = 1e-14 // smaller numbers are dropped from vectors
	maxEtas   = 60    // updates before the basis is factored anew
	fewEtas   = 20    // updates with which values are still computed anew from a factorisation
	mostTries = 3     // rounds of a solve after which only a new factorisation will do
)

const (
	atLower int32 = -1
	atUpper int32 = -2

	nobody int32 = -1 // in the basis, where a row's own variable is to be put
)

// Solver holds one linear programme and its current basis. Not for concurrent use.
type Solver struct {
	rows    [][]nonzero // by row: structural variables with their coefficients
	cols    [][]Entry   // by variable
	lo, hi  []float64
	cost    []float64
	x, d    []float64
	where   []int32   // position in the basis, or atLower, atUpper
	move    []float64 // 1 for a nonbasic variable that may grow, −1 for one that may shrink, 0 for all others
	basis   []int32   // variable at each position
	logical []int32   // variable that stands for a row's activity

	fac     factor
	begun   bool // the basis was taken from elsewhere and not yet made feasible
	fits    bool // fac belongs to the present basis
	fresh   bool // x and d belong to it too
	costs   int  // times that a worth was changed
	updates int  // pivots that x and d were carried over since they were last computed
	devex   []float64
	edge    []float64 // dual steepest-edge weights by position
	row     vector    // pivot row, by variable; entries not listed mean nothing
	colWork vector    // entering column, by position
	rho     vector    // row of the inverse, by row
	tau     []float64 // by row, then by position; all 0 between uses
	flips   vector
	breaks  []breakpoint
	shifts  []shift
	lowered []worth

	// Iterations counts pivots and bound flips since New.
	Iterations int
	// Work counts the numbers touched since New, roughly nanoseconds: a measure of effort
	// that is the same on any machine.
	Work int64
	// Tol is how far a variable may stand outside its bounds, 1e-9 unless set: larger where
	// values are in the thousands.
	Tol float64
	// Stop, where set, is asked every few pivots whether to give up; Solve then says Stalled.
	Stop func() bool
}

type shift struct {
	v      int32
	lo, hi float64
}

// New gives an empty programme.
func New() *Solver { return &Solver{Tol: 1e-9} }

// Reset empties the programme and keeps its memory for the next. Work and Iterations go on.
func (s *Solver) Reset() {
	for _, w := range []*vector{&s.colWork, &s.rho, &s.flips} {
		w.clear()
	}
	s.rows, s.cols = s.rows[:0], s.cols[:0]
	s.lo, s.hi, s.cost, s.x, s.d = s.lo[:0], s.hi[:0], s.cost[:0], s.x[:0], s.d[:0]
	s.where, s.move, s.basis, s.logical = s.where[:0], s.move[:0], s.basis[:0], s.logical[:0]
	s.devex, s.edge = s.devex[:0], s.edge[:0]
	s.breaks, s.shifts = s.breaks[:0], s.shifts[:0]
	s.begun, s.fits, s.fresh = false, false, false
}

// Rows and Vars give the size: rows, and structural variables plus one per row.
func (s *Solver) Rows() int { return len(s.logical) }

// Vars counts all variables, those that stand for rows included.
func (s *Solver) Vars() int { return len(s.cols) }

// AddRow adds a row whose activity must lie in [lo, hi], both finite, and gives its number.
// Columns that exist already have no entry in it unless given in terms (variable, coefficient).
func (s *Solver) AddRow(lo, hi float64, vars []int, vals []float64) int {
	r := len(s.logical)
	v := s.addVar(0, lo, hi)
	s.cols[v] = append(s.cols[v], Entry{int32(r), -1})
	s.logical = append(s.logical, int32(v))
	s.rows = longer(s.rows)
	for i, j := range vars {
		s.cols[j] = append(s.cols[j], Entry{int32(r), vals[i]})
		s.rows[r] = append(s.rows[r], nonzero{int32(j), vals[i]})
	}
	s.where[v], s.move[v] = int32(len(s.basis)), 0
	s.basis = append(s.basis, int32(v))
	s.edge = append(s.edge, 1)
	s.fits, s.fresh = false, false
	return r
}

// AddColumn adds a variable with bounds [lo, hi], both finite, and gives its number. It starts at lo.
func (s *Solver) AddColumn(cost, lo, hi float64, entries []Entry) int {
	v := s.addVar(cost, lo, hi)
	s.cols[v] = append(s.cols[v], entries...)
	for _, e := range entries {
		s.rows[e.Row] = append(s.rows[e.Row], nonzero{int32(v), e.Val})
	}
	if lo != 0 {
		s.fresh = false
	} else if s.fresh {
		s.d[v] = s.reduced(v)
	}
	return v
}

func (s *Solver) addVar(cost, lo, hi float64) int {
	if !(lo <= hi) || math.IsInf(lo, 0) || math.IsInf(hi, 0) {
		panic(fmt.Sprintf("lp: bounds [%g, %g] are not finite and ordered", lo, hi))
	}
	v := len(s.cols)
	s.cols = longer(s.cols)
	s.lo, s.hi, s.cost = append(s.lo, lo), append(s.hi, hi), append(s.cost, cost)
	s.x, s.d = append(s.x, lo), append(s.d, 0)
	s.where, s.move, s.devex = append(s.where, atLower), append(s.move, 0), append(s.devex, 1)
	s.place(int32(v))
	s.row.grow(len(s.cols))
	return v
}

// longer adds an empty list, with the memory of one that stood there before.
func longer[T any](lists [][]T) [][]T {
	n := len(lists)
	if n == cap(lists) {
		return append(lists, nil)
	}
	lists = lists[:n+1]
	lists[n] = lists[n][:0]
	return lists
}

// SetBounds changes a variable's bounds; both must be finite and in order.
func (s *Solver) SetBounds(v int, lo, hi float64) {
	if !(lo <= hi) {
		panic(fmt.Sprintf("lp: bounds [%g, %g] are out of order", lo, hi))
	}
	if s.lo[v] == lo && s.hi[v] == hi {
		return
	}
	s.lo[v], s.hi[v] = lo, hi
	if s.where[v] >= 0 {
		return
	}
	s.place(int32(v))
	to := lo
	if s.where[v] == atUpper {
		to = hi
	}
	if s.x[v] != to {
		s.x[v] = to
		s.fresh = false
	}
}

// Bounds gives a variable's bounds.
func (s *Solver) Bounds(v int) (lo, hi float64) { return s.lo[v], s.hi[v] }

// SetRowBounds changes the bounds of a row's activity.
func (s *Solver) SetRowBounds(r int, lo, hi float64) { s.SetBounds(int(s.logical[r]), lo, hi) }

// RowVar gives the variable that stands for a row's activity.
func (s *Solver) RowVar(r int) int { return int(s.logical[r]) }

// Snapshot is a basis to come back to, with the point that it stands for.
type Snapshot struct {
	basis, where []int32
	edge         []float64
	x, d         []float64 // nothing where they had only been carried along
	costs        int
	factor       mark
}

// Save keeps the present basis in into.
func (s *Solver) Save(into *Snapshot) {
	if s.fresh && s.fits && len(s.fac.etas) > fewEtas {
		s.refactor() // once, in place of each time that somebody comes back
	}
	into.basis = append(into.basis[:0], s.basis...)
	into.where = append(into.where[:0], s.where...)
	into.edge = append(into.edge[:0], s.edge...)
	into.x, into.d = into.x[:0], into.d[:0]
	if s.fresh && s.updates == 0 {
		into.x, into.d = append(into.x, s.x...), append(into.d, s.d...)
	}
	into.costs, into.factor = s.costs, s.fac.mark(s.fits)
}

// Restore goes back to a basis kept by Save; bounds stay as they are. Of what was added since, rows
// stand in the basis by their own variables, columns outside it.
func (s *Solver) Restore(from *Snapshot) {
	copy(s.basis, from.basis)
	copy(s.where, from.where)
	copy(s.edge, from.edge)
	for v := len(from.where); v < len(s.where); v++ {
		s.where[v] = atLower
	}
	for r := len(from.basis); r < len(s.basis); r++ {
		v := s.logical[r]
		s.basis[r], s.where[v], s.edge[r] = v, int32(r), 1
	}
	s.begun = false
	for v := range s.cols {
		s.place(int32(v))
	}
	s.fits, s.fresh = len(from.basis) == len(s.basis) && s.fac.back(from.factor), false
	s.recall(from)
}

// recall takes the point kept with a basis where it still is that of the basis: where no row has come
// since, no worth has changed and no bound that something outside the basis stands at.
func (s *Solver) recall(from *Snapshot) {
	if !s.fits || len(from.x) == 0 || from.costs != s.costs {
		return
	}
	for v, x := range from.x {
		if s.where[v] < 0 && s.atBound(int32(v)) != x {
			return
		}
	}
	for v := len(from.x); v < len(s.x); v++ {
		if s.lo[v] != 0 {
			return
		}
	}
	copy(s.x, from.x)
	copy(s.d, from.d)
	for v := len(from.x); v < len(s.x); v++ {
		s.x[v], s.d[v] = 0, s.reduced(v)
	}
	s.spend(int64(len(s.x)))
	s.fresh, s.updates = true, 0
}

// reduced works the reduced cost of a nonbasic variable out from those that stand for rows, which are
// the prices of these.
func (s *Solver) reduced(v int) float64 {
	d := s.cost[v]
	for _, e := range s.cols[v] {
		d -= float64(s.Dual(int(e.Row)) * e.Val)
	}
	return d
}

// RowBounds gives the bounds of a row's activity.
func (s *Solver) RowBounds(r int) (lo, hi float64) { return s.Bounds(int(s.logical[r])) }

// SetCost changes a variable's worth.
func (s *Solver) SetCost(v int, cost float64) {
	if s.cost[v] != cost {
		s.cost[v] = cost
		s.fresh = false
		s.costs++
	}
}

// Value gives a variable's value after the last solve.
func (s *Solver) Value(v int) float64 { return s.x[v] }

// Activity gives a row's activity after the last solve.
func (s *Solver) Activity(r int) float64 { return s.x[s.logical[r]] }

// Dual gives a row's price: how much the objective gains for one more unit of its bound.
// It is at least 0 for a row held at its upper bound and at most 0 at its lower bound.
func (s *Solver) Dual(r int) float64 {
	v := s.logical[r]
	if s.where[v] >= 0 {
		return 0
	}
	return s.d[v]
}

// Reduced gives a variable's reduced cost, 0 for a basic one.
func (s *Solver) Reduced(v int) float64 {
	if s.where[v] >= 0 {
		return 0
	}
	return s.d[v]
}

// Basic says whether a variable is in the basis.
func (s *Solver) Basic(v int) bool { return s.where[v] >= 0 }

// Objective gives c·x at the present point.
func (s *Solver) Objective() float64 {
	var z float64
	for v, c := range s.cost {
		if c != 0 {
			z += float64(c * s.x[v])
		}
	}
	return z
}
