package lp

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// optimal checks by the conditions of optimality, not by another solver: rows hold, bounds
// hold, and no nonbasic variable gains by moving.
func requireOptimal(t require.TestingT, s *Solver) {
	act := make([]float64, s.Rows())
	for v := range s.cols {
		require.GreaterOrEqual(t, s.x[v], s.lo[v]-1e-7, "variable %d below its bound", v)
		require.LessOrEqual(t, s.x[v], s.hi[v]+1e-7, "variable %d above its bound", v)
		for _, e := range s.cols[v] {
			act[e.Row] += e.Val * s.x[v]
		}
	}
	for r, a := range act {
		require.InDelta(t, 0, a, 1e-6, "row %d does not balance", r)
	}
	y := make([]float64, s.Rows())
	for r := range y {
		y[r] = s.Dual(r)
	}
	for v := range s.cols {
		d := s.cost[v]
		for _, e := range s.cols[v] {
			d -= y[e.Row] * e.Val
		}
		switch {
		case s.lo[v] == s.hi[v]:
		case s.x[v] > s.lo[v]+1e-6 && s.x[v] < s.hi[v]-1e-6:
			require.InDelta(t, 0, d, 1e-6, "variable %d stands between its bounds and has a reduced cost", v)
		case s.x[v] <= s.lo[v]+1e-6 && s.hi[v]-s.lo[v] > 1e-5:
			require.LessOrEqual(t, d, 1e-6, "variable %d would gain by growing", v)
		case s.hi[v]-s.lo[v] > 1e-5:
			require.GreaterOrEqual(t, d, -1e-6, "variable %d would gain by shrinking", v)
		}
	}
}

func randomProgramme(t *rapid.T) *Solver {
	s := New()
	m := rapid.IntRange(1, 25).Draw(t, "rows")
	for range m {
		s.AddRow(0, float64(rapid.IntRange(0, 9).Draw(t, "hi")), nil, nil)
	}
	addColumns(t, s, rapid.IntRange(1, 40).Draw(t, "columns"))
	return s
}

func addColumns(t *rapid.T, s *Solver, n int) {
	for range n {
		var col []Entry
		seen := map[int32]bool{}
		for range rapid.IntRange(0, 5).Draw(t, "entries") {
			r := int32(rapid.IntRange(0, s.Rows()-1).Draw(t, "row"))
			if v := rapid.IntRange(-3, 3).Draw(t, "value"); v != 0 && !seen[r] {
				seen[r] = true
				col = append(col, Entry{r, float64(v)})
			}
		}
		s.AddColumn(float64(rapid.IntRange(-5, 9).Draw(t, "cost")), 0, float64(rapid.IntRange(0, 4).Draw(t, "up")), col)
	}
}

// The origin is feasible in every programme drawn here, so the primal method starts; then
// bounds change and the dual method, then columns arrive again.
func TestSolveReachesTheConditionsOfOptimality(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := randomProgramme(t)
		require.Equal(t, Optimal, s.Solve(10000, math.Inf(-1)))
		requireOptimal(t, s)
		for range 6 {
			before := s.Objective()
			v := rapid.IntRange(0, s.Vars()-1).Draw(t, "variable")
			lo, hi := s.Bounds(v)
			hi = lo + math.Floor((hi-lo)/2)
			s.SetBounds(v, lo, hi)
			if rapid.Bool().Draw(t, "more") {
				addColumns(t, s, 3)
				before = math.Inf(1)
			}
			st := s.Solve(10000, math.Inf(-1))
			require.Equal(t, Optimal, st, "the origin is still feasible")
			requireOptimal(t, s)
			require.LessOrEqual(t, s.Objective(), before+1e-6, "a tighter bound cannot gain")
		}
	})
}

// Whatever variables a solve is told to begin with, dependent ones too, it ends at the optimum.
func TestSolveBeginsAnywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := randomProgramme(t)
		require.Equal(t, Optimal, s.Solve(10000, math.Inf(-1)))
		for range 3 {
			best := s.Objective()
			s.Begin(rapid.SliceOfDistinct(rapid.IntRange(0, s.Vars()-1), func(v int) int { return v }).Draw(t, "basis"))
			if rapid.Bool().Draw(t, "again") {
				s.Begin(nil)
			}
			require.Equal(t, Optimal, s.Solve(10000, math.Inf(-1)), "the origin is still feasible")
			requireOptimal(t, s)
			require.InDelta(t, best, s.Objective(), 1e-6, "the programme is the same")
		}
	})
}

func TestSolveSaysInfeasible(t *testing.T) {
	s := New()
	r := s.AddRow(0, 10, nil, nil)
	q := s.AddRow(5, 10, nil, nil)
	s.AddColumn(1, 0, 3, []Entry{{int32(r), 1}, {int32(q), 1}})
	require.Equal(t, Infeasible, s.Solve(1000, math.Inf(-1)))
}

func TestSolveStopsBelowTheCutoff(t *testing.T) {
	s := New()
	r := s.AddRow(0, 10, nil, nil)
	v := s.AddColumn(1, 0, 8, []Entry{{int32(r), 1}})
	w := s.AddColumn(2, 0, 8, []Entry{{int32(r), 1}})
	require.Equal(t, Optimal, s.Solve(1000, math.Inf(-1)))
	require.InDelta(t, 18, s.Objective(), 1e-9)
	s.SetBounds(w, 0, 1)
	s.SetBounds(v, 0, 1)
	require.Contains(t, []Status{Cutoff, Optimal}, s.Solve(1000, 10))
}

// Chvátal, Linear Programming (1983), chapter 13: rolls of 100, widths 45, 36, 31, 14 wanted
// 97, 610, 395, 211; the optimum over all patterns is 452.25 rolls.
func TestCuttingStockOfChvatal(t *testing.T) {
	widths, wanted := []int{45, 36, 31, 14}, []float64{97, 610, 395, 211}
	s := New()
	for _, w := range wanted {
		s.AddRow(w, 1e6, nil, nil)
	}
	var pattern func(k, left int, counts [4]int)
	pattern = func(k, left int, counts [4]int) {
		if k == len(widths) {
			var col []Entry
			for i, n := range counts {
				if n > 0 {
					col = append(col, Entry{int32(i), float64(n)})
				}
			}
			s.AddColumn(-1, 0, 1e6, col)
			return
		}
		for n := 0; n*widths[k] <= left; n++ {
			counts[k] = n
			pattern(k+1, left-n*widths[k], counts)
		}
	}
	pattern(0, 100, [4]int{})
	require.Equal(t, Optimal, s.Solve(10000, math.Inf(-1)))
	requireOptimal(t, s)
	require.InDelta(t, -452.25, s.Objective(), 1e-6)
}

// Whichever basis is gone back to, in whatever order, the optimum is the same, also where rows that
// hold nothing and columns that gain nothing have been added since.
func TestGoingBackInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := New()
		for range 4 {
			s.AddRow(0, float64(rapid.IntRange(1, 9).Draw(t, "row")), nil, nil)
		}
		for range 8 {
			var entries []Entry
			for r := range int32(4) {
				if n := rapid.IntRange(0, 3).Draw(t, "entry"); n > 0 {
					entries = append(entries, Entry{r, float64(n)})
				}
			}
			s.AddColumn(float64(rapid.IntRange(1, 9).Draw(t, "worth")), 0, 5, entries)
		}
		require.Equal(t, Optimal, s.Solve(1000, math.Inf(-1)))
		best := s.Objective()
		saved := make([]Snapshot, 3)
		s.Save(&saved[0])
		s.Save(&saved[1])
		s.Save(&saved[2])
		for range rapid.IntRange(1, 12).Draw(t, "moves") {
			v, k := s.logical[0]+1+int32(rapid.IntRange(3, 10).Draw(t, "variable")), rapid.IntRange(0, 2).Draw(t, "which")
			s.SetBounds(int(v), 0, float64(rapid.IntRange(0, 5).Draw(t, "bound")))
			s.Solve(rapid.IntRange(0, 3).Draw(t, "pivots"), math.Inf(-1))
			if rapid.Bool().Draw(t, "save") {
				s.Save(&saved[k])
			} else {
				s.Restore(&saved[k])
				requireBasis(t, s)
			}
			s.SetBounds(int(v), 0, 5)
			switch rapid.IntRange(0, 3).Draw(t, "new") {
			case 0:
				s.AddRow(-1e3, 1e3, []int{int(v)}, []float64{2})
			case 1:
				s.AddColumn(0, 0, 3, []Entry{{int32(s.Rows() - 1), 1}, {0, 1}})
			}
			if rapid.Bool().Draw(t, "other worth") {
				was := s.cost[v]
				s.SetCost(int(v), was+1)
				s.Restore(&saved[k])
				requireBasis(t, s)
				s.SetCost(int(v), was)
			}
			if rapid.Bool().Draw(t, "back at once") {
				s.Restore(&saved[k])
				requireBasis(t, s)
			}
		}
		require.Equal(t, Optimal, s.Solve(1000, math.Inf(-1)))
		require.InDelta(t, best, s.Objective(), 1e-7)
	})
}

// However few pivots a try takes, the optimum is no more than what it gives, and where it takes all it
// needs it is just that; gone back from, the programme is as it was.
func TestATryGivesNoLessThanTheOptimum(t *testing.T) {
	moved := 0
	rapid.Check(t, func(t *rapid.T) {
		s := randomProgramme(t)
		require.Equal(t, Optimal, s.Solve(10000, math.Inf(-1)))
		best := s.Objective()
		var at Snapshot
		s.Save(&at)
		v := rapid.IntRange(0, s.Vars()-1).Draw(t, "variable")
		lo, hi := s.Bounds(v)
		half := lo + math.Floor((hi-lo)/2)
		s.SetBounds(v, lo, half)
		few := s.Try(rapid.IntRange(0, 3).Draw(t, "pivots"), math.Inf(-1))
		s.SetBounds(v, lo, hi)
		s.Restore(&at)
		requireBasis(t, s)
		require.InDelta(t, best, s.Objective(), 1e-7)
		s.SetBounds(v, lo, half)
		all := s.Try(10000, math.Inf(-1))
		require.Equal(t, Optimal, s.Solve(10000, math.Inf(-1)))
		require.InDelta(t, s.Objective(), all, 1e-6)
		require.GreaterOrEqual(t, few, all-1e-6)
		if all < best-1e-6 {
			moved++
		}
	})
	require.Positive(t, moved)
}

// requireBasis checks that each position of the basis has a variable of its own and no other has one,
// and that a factorisation at hand is of as many.
func requireBasis(t require.TestingT, s *Solver) {
	basic := 0
	for v, at := range s.where {
		if at >= 0 {
			require.EqualValues(t, v, s.basis[at])
			basic++
		}
	}
	require.Equal(t, len(s.basis), basic)
	if s.fits {
		require.Equal(t, len(s.basis), s.fac.m)
	}
	if s.fresh {
		x, d := slices.Clone(s.x), slices.Clone(s.d)
		s.computeX()
		s.computeD()
		require.InDeltaSlice(t, s.x, x, 1e-7, "a point gone back to is that of its basis")
		require.InDeltaSlice(t, s.d, d, 1e-7)
	}
}
