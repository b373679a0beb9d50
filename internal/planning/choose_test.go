package planning

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/planning/lp"
)

// Where sums of quotas are held from above, halves are tried as if they were not, and what a quantity
// is then is told; afterwards the node is held as before.
func TestHalvesAreTriedWithTheHeaviestFree(t *testing.T) {
	told := 0
	rapid.Check(t, func(t *rapid.T) {
		m, err := newModel(smallProblem(t))
		require.NoError(t, err)
		s := newSearch(context.Background(), m, Options{})
		ms := newMaster(m)
		s.masters = append(s.masters, ms)
		for i, st := range m.stock {
			ms.addUnit(i, len(st.pieces))
		}
		s.relax(ms)
		tr := newTree(s, ms)
		solved := func() float64 {
			require.Equal(t, lp.Optimal, ms.lp.Solve(10_000, math.Inf(-1)))
			return ms.lp.Objective()
		}
		n := &node{from: &bases{}}
		free := solved()
		for i := range tr.sums {
			if x := tr.value(limit{of: limitSum, i: i}, tr.used()); len(tr.sums[i].quotas) > 0 && x >= 1 {
				n.limits = append(n.limits, limit{of: limitSum, i: i, hi: int64(x+whole) - 1})
			}
		}
		if len(n.limits) == 0 {
			t.Skip("nothing is sewn for several quotas")
		}
		tr.apply(n.limits)
		held := solved()
		require.Less(t, held, free)

		down := tr.lift(n, nil)
		require.InDelta(t, free, solved(), 1e-4)
		for _, l := range n.limits {
			require.Greater(t, tr.value(l, tr.used()), float64(l.hi))
		}
		down()
		require.InDelta(t, held, solved(), 1e-4)

		if list := tr.totals(n); len(list) > 0 {
			c := tr.likeliest(n, list, nil)
			below, over := c.moves()
			require.InDelta(t, c.x+c.moved-c.low(), below*c.batch, max(0, c.low()-c.x-c.moved)+1e-9, "how far at most so much of it is")
			require.InDelta(t, c.high()-c.x-c.moved, over*c.batch, max(0, c.x+c.moved-c.high())+1e-9, "how far more is")
			require.InDelta(t, held, solved(), 1e-4)

			// A half begins where its halves are tried from with what this node came to.
			down = tr.lift(n, n.from)
			pivots := ms.lp.Iterations
			require.InDelta(t, free, solved(), 1e-4)
			require.Equal(t, pivots, ms.lp.Iterations)
			down()
			told++
		}
	})
	require.Positive(t, told)
}
