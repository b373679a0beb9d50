package truth

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
	"boltward/internal/planning/invent"
)

// A plan for all quotas is worth no less than one that asks for the heaviest alone, with a tenth of the work.
func TestNoHeavyTierIsGivenUpForLightOnes(t *testing.T) {
	for _, seed := range []uint64{1, 2, 3, 4} {
		k, _ := invent.Named("steep")
		p := k.Make(seed, 40).Problem
		all, err := planning.Solve(context.Background(), p, planning.Options{Effort: 400})
		require.NoError(t, err)
		require.Empty(t, planning.Check(p, all))
		requireProven(t, p, all)
		heavy := *p
		heavy.Quotas = nil
		for _, q := range p.Quotas {
			if q.Weight.Cmp(planning.Whole(100)) < 0 {
				q.Wanted = 0
			}
			heavy.Quotas = append(heavy.Quotas, q)
		}
		alone, err := planning.Solve(context.Background(), &heavy, planning.Options{Effort: 40})
		require.NoError(t, err)
		require.GreaterOrEqual(t, all.Summary.WeightMade.Cmp(alone.Summary.WeightMade), 0, "seed %d: %s with light ones, %s without", seed, all.Summary.WeightMade, alone.Summary.WeightMade)
		t.Logf("seed %d: %s of %s, the heaviest alone %s of %s", seed, all.Summary.WeightMade, all.Summary.WeightBound, alone.Summary.WeightMade, alone.Summary.WeightBound)
	}
}
