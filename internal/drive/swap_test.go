package drive

import (
	"context"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/apperr"
	"boltward/internal/planning"
)

// swapInput is two prints and two plains that all go together, and a rust plain that does not.
func swapInput(t *rapid.T) PlanInput {
	in := inputOf(rapid.IntRange(2, 8).Draw(t, "wanted"), clothOf("1/1", PrintFeature, 81*inch, "navy"), clothOf("2/1", PrintFeature, 108*inch, "navy"),
		clothOf("3/1", PrintSolid, 66*inch, "navy"), clothOf("4/1", PrintSolid, 66*inch, "white"), clothOf("5/1", PrintSolid, 66*inch, "rust"))
	for i := 2; i < 5; i++ {
		in.Cloths[i].Themes = []string{"plain"}
	}
	in.Wants[0].ThemesAvoid, in.KitCases = []string{"plain"}, rapid.IntRange(1, 3).Draw(t, "kit")
	return in
}

func aSwap(t *rapid.T, plan *planning.Plan) Swap {
	k := rapid.SampledFrom(plan.Kits).Draw(t, "kit")
	w := Swap{Kit: k.ID, Role: rapid.SampledFrom([]string{"cuff", "accent"}).Draw(t, "role"), Lot: rapid.SampledFrom([]int64{3, 4, 4, 3, 5}).Draw(t, "lot")}
	w.Case = rapid.IntRange(1, len(k.Pillowcases)).Draw(t, "case")
	w.N = rapid.IntRange(0, 1).Draw(t, "n")
	return w
}

// requireSwapped holds that the kit has the lot as often as was wished.
func requireSwapped(t *rapid.T, w Swap, got Swapped) {
	kits, err := ByEye(got.Plan)
	require.NoError(t, err)
	n := 0
	for _, k := range kits {
		if k.Kit == w.Kit {
			for i, one := range k.Different {
				if slices.Equal(lotsOf(one, w.Role), []int64{w.Lot}) {
					n += k.Alike[i]
				}
			}
		}
	}
	require.GreaterOrEqual(t, n, got.N)
}

// Before a plan is accepted a swap gives a plan that can be accepted in its place; one with
// cloth that does not go with the body is refused.
func TestASwapBeforeAcceptance(t *testing.T) {
	exchanged, planned := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		in := swapInput(t)
		problem, _ := in.Problem()
		plan, err := planning.Solve(context.Background(), problem, planning.Options{Effort: 40})
		require.NoError(t, err)
		w := aSwap(t, plan)
		got, err := w.By(context.Background(), problem, plan, nil, planning.Options{Effort: 40})
		if err != nil {
			require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
			return
		}
		require.NotEqual(t, int64(5), w.Lot, "rust goes with nothing here")
		requireSwapped(t, w, got)
		a := Accepting{Number: 1, FirstNew: PlanNumbers{Sheet: 1, Kit: 1}, Problem: got.Problem, Plan: got.Plan, Now: in}
		for i, c := range in.Cloths {
			a.Shelf = append(a.Shelf, Shelved{Cloth: c, Lot: int64(i + 1), Piece: 1})
		}
		_, err = a.Accept()
		require.NoError(t, err)
		if planned++; got.Exchange {
			exchanged++
			moved, err := ClothMoved(plan, got.Plan)
			require.NoError(t, err)
			require.Empty(t, moved)
		}
	})
	require.Greater(t, planned-exchanged, 5)
}

// Once a plan stands, whatever of it is begun or short, a swap gives a change of it that can be
// accepted and leaves alone what is begun; where panels only change places no cloth moves.
func TestASwapAfterAcceptance(t *testing.T) {
	exchanged, planned := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c := standingOf(t, swapInput(t))
		if rapid.Bool().Draw(t, "begun") {
			begin(t, &c)
		}
		open, alive := c.Open()[1], 0
		for _, k := range c.Kits {
			alive += k.Cases
		}
		c.Now.Wants[0].Wanted = Asked{Wanted: alive}.StillToChange(Counts{CasePlanned: alive}, open, 0)
		problem, stands := c.Problem()
		if len(problem.Quotas) == 0 || len(stands.Plan.Kits) == 0 {
			return
		}
		w := aSwap(t, stands.Plan)
		got, err := w.By(context.Background(), problem, stands.Plan, &stands, planning.Options{Effort: 20})
		if err != nil {
			require.NotNil(t, apperr.As(err), "%v", err)
			return
		}
		require.NotContains(t, stands.Settled.Kits, w.Kit)
		requireSwapped(t, w, got)
		change := PlanChange{Number: 2, FirstNew: PlanNumbers{Sheet: 50, Kit: 50}, Problem: got.Problem, Plan: got.Plan, Was: stands, Now: c}
		require.Subset(t, change.Difference().Kept, stands.Settled.Kits)
		done, err := change.Accept()
		require.NoError(t, err)
		requireHolds(t, change, done)
		for _, s := range done.Revised {
			if s.Begun() {
				require.Equal(t, len(s.Was.Panels), len(s.New.Panels))
			}
		}
		if planned++; got.Exchange {
			exchanged++
			require.Empty(t, done.New)
			require.Empty(t, done.Withdrawn)
		}
	})
	require.Greater(t, planned-exchanged, 5)
	require.Positive(t, exchanged)
}
