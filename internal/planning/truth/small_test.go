package truth

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/planning"
)

// tally counts how drawn problems ended.
type tally struct{ tried, closed, short, left int }

// hold holds a plan to the best that there is.
func (n *tally) hold(t require.TestingT, p *planning.Problem, plan *planning.Plan, best *big.Rat) {
	n.tried++
	made, bound := plan.Summary.WeightMade.Rat(), plan.Summary.WeightBound.Rat()
	require.LessOrEqual(t, best.Cmp(bound), 0, "%s can be made, the bound is said to be %s, of %s", best.RatString(), bound.RatString(), text(t, p))
	require.LessOrEqual(t, made.Cmp(best), 0, "a valid plan makes %s, the best there is %s, of %s", made.RatString(), best.RatString(), text(t, p))
	if plan.Summary.Stopped == planning.Closed {
		n.closed++
		require.Equal(t, 0, made.Cmp(best), "closed at %s, the best is %s, of %s", made.RatString(), best.RatString(), text(t, p))
	}
	if made.Cmp(best) < 0 {
		n.short++
	}
}

// Every plan is valid, its bound is proven by the second checker, brute force never beats the
// bound, and where a plan says that it is closed brute force finds no better one.
func TestSmallDrivesAgainstBruteForce(t *testing.T) {
	var n tally
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t, tiny)
		plan := planned(t, stretched(t, p), planning.Options{Effort: 60})
		best, ok := bruteForce(p)
		if !ok {
			n.left++
			return
		}
		n.hold(t, p, plan, best)
	})
	t.Logf("%d problems tried in full (%d would take too long), %d plans closed, %d below the best", n.tried, n.left, n.closed, n.short)
	require.Greater(t, n.closed*10, n.tried*9, "most small problems were meant to be closed")
}

// The same with a general solver over all patterns, which takes larger problems.
func TestDrivesAgainstTheGeneralSolver(t *testing.T) {
	general := solver(t)
	var n tally
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t, middle)
		plan := planned(t, stretched(t, p), planning.Options{Effort: 60})
		best, ok := solved(t, general, p)
		if !ok {
			n.left++
			return
		}
		n.hold(t, p, plan, best)
	})
	t.Logf("%d problems solved (%d left out: too many patterns), %d plans closed, %d below the best", n.tried, n.left, n.closed, n.short)
	require.Greater(t, n.tried, n.left)
}

// Brute force and the general solver were written apart: where both can answer they agree.
func TestBruteForceAndTheGeneralSolverAgree(t *testing.T) {
	general := solver(t)
	both := 0
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t, tiny)
		one, ok := bruteForce(p)
		if !ok {
			return
		}
		if two, ok := solved(t, general, p); ok {
			both++
			require.Equal(t, one.RatString(), two.RatString(), "of %s", text(t, p))
		}
	})
	require.Positive(t, both)
}

// solved asks the general solver for the most weight that can be made.
func solved(t require.TestingT, general *other, p *planning.Problem) (*big.Rat, bool) {
	kinds := kindsOf(p)
	question := struct {
		Problem  *planning.Problem `json:"problem"`
		Kinds    [][3]any          `json:"kinds"`
		Patterns [][][]int         `json:"patterns"`
	}{Problem: p}
	for _, k := range kinds {
		question.Kinds = append(question.Kinds, [3]any{k.role, k.around, k.along})
	}
	for i := range p.Fabrics {
		c := &cutter{kinds: kinds, work: 10_000_000}
		var list [][]int
		for _, v := range c.patterns(&p.Fabrics[i]) {
			var counts []int
			for _, n := range []byte(v) {
				counts = append(counts, int(n))
			}
			list = append(list, counts)
		}
		if c.work < 0 {
			return nil, false
		}
		question.Patterns = append(question.Patterns, list)
	}
	var answer struct {
		Made   *float64
		Proven bool
	}
	require.NoError(t, general.ask(question, &answer))
	if !answer.Proven || answer.Made == nil {
		return nil, false
	}
	// Weights here are whole thousandths; the solver answers in floats.
	return new(big.Rat).SetFrac64(int64(*answer.Made*1000+0.5), 1000), true
}
