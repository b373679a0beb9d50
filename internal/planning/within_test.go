package planning_test

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
	"boltward/internal/planning/invent"
)

// ticking is a clock that goes on by a millisecond whenever it is looked at, so that a ceiling on
// time falls on the same places on every machine, however busy.
func ticking() func() time.Time {
	var looks atomic.Int64
	return func() time.Time { return time.Unix(0, looks.Add(1)*int64(time.Millisecond)) }
}

// Wherever time ends, within a round of pricing too, the plan holds and no bound is below what can be made.
func TestWhereverTimeEndsTheBoundHolds(t *testing.T) {
	for kind, fabrics := range map[string]int{"depot": 20, "scraps": 20, "identical": 12} {
		k, _ := invent.Named(kind)
		p := k.Make(1, fabrics).Problem
		made := solved(t, p, 40).Summary.WeightMade
		for ticks := 1; ticks < 400; ticks += 1 + ticks/6 {
			plan, err := planning.Solve(context.Background(), p, planning.Options{Effort: 40, Within: time.Duration(ticks) * time.Millisecond, Now: ticking()})
			require.NoError(t, err)
			require.Empty(t, planning.Check(p, plan), "%s after %d looks", kind, ticks)
			require.GreaterOrEqual(t, plan.Summary.WeightBound.Cmp(made), 0, "%s after %d looks", kind, ticks)
		}
	}
}

// A change that time ends is proven all the same: its bound is one of what can be cut, not all that is
// asked for.
func TestAChangeThatTimeEndsIsProven(t *testing.T) {
	k, _ := invent.Named("sparse")
	p := k.Make(1, 80).Problem
	old := solved(t, p, 100)
	q := *p
	q.Fabrics = nil
	for i, f := range p.Fabrics {
		if i%10 != 3 {
			q.Fabrics = append(q.Fabrics, f)
		}
	}
	var asked float64
	for _, quota := range q.Quotas {
		asked += quota.Weight.Float() * float64(quota.Wanted)
	}
	whole, err := planning.Replan(context.Background(), &q, old, planning.Settled{Lie: true}, planning.Options{Effort: 100})
	require.NoError(t, err)
	r, err := planning.Replan(context.Background(), &q, old, planning.Settled{Lie: true}, planning.Options{Within: 3 * time.Second, Now: ticking()})
	require.NoError(t, err)
	require.Empty(t, planning.Check(r.Problem, r.Plan))
	require.Less(t, r.Tries, whole.Tries, "time ended it")
	require.Less(t, r.Plan.Summary.WeightBound.Float(), asked-1)
}
