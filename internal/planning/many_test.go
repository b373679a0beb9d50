package planning_test

import (
	"bytes"
	"context"
	"encoding/json"
	"runtime"
	"testing"

	"boltward/internal/planning"
	"boltward/internal/planning/invent"
	"boltward/internal/planning/proof"

	"github.com/stretchr/testify/require"
)

// Drives of few different pieces that hold very much, and drives of many pieces: plans come
// near their bound at little effort, hold before both checkers, and are the same on any number
// of cores.
func TestMuchClothIsPlannedInBulk(t *testing.T) {
	for _, c := range []struct {
		kind    string
		fabrics int
		seed    uint64
		effort  int64
		within  float64 // of the bound, in hundredths
	}{
		{"identical", 4, 1, 1000, 0},
		{"identical", 12, 2, 400, 0.05},
		{"depot", 20, 2, 1200, 0.5},
		{"depot", 10, 3, 1200, 0.5}, // of bolts so long that settling them strip by strip would come to no end
		{"sparse", 200, 1, 300, 5},
		{"dense", 200, 1, 300, 1},
	} {
		kind, ok := invent.Named(c.kind)
		require.True(t, ok)
		p := kind.Make(c.seed, c.fabrics).Problem
		plan := solved(t, p, c.effort)
		require.Empty(t, planning.Check(p, plan))
		problem, err := json.Marshal(p)
		require.NoError(t, err)
		text, err := json.Marshal(plan)
		require.NoError(t, err)
		if c.kind != "depot" { // the second checker takes long over bolts: the tables show those
			_, err = proof.Check(context.Background(), bytes.NewReader(problem), bytes.NewReader(text))
			require.NoError(t, err, "%s of %d", c.kind, c.fabrics)
		}
		made, bound := plan.Summary.WeightMade.Float(), plan.Summary.WeightBound.Float()
		require.LessOrEqual(t, 100*(bound-made), c.within*bound, "%s of %d: %g of %g", c.kind, c.fabrics, made, bound)

		was := runtime.GOMAXPROCS(1)
		again := solved(t, p, c.effort)
		runtime.GOMAXPROCS(was)
		again.Summary.Seconds = plan.Summary.Seconds
		other, err := json.Marshal(again)
		require.NoError(t, err)
		require.JSONEq(t, string(text), string(other), "%s of %d", c.kind, c.fabrics)
	}
}

func solved(t *testing.T, p *planning.Problem, effort int64) *planning.Plan {
	plan, err := planning.Solve(context.Background(), p, planning.Options{Effort: effort})
	require.NoError(t, err)
	return plan
}
