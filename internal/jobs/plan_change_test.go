package jobs

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/planning"
)

// A change is worked out like any plan, and kept with the problem that it is a plan of.
func TestAChangeIsWorkedOut(t *testing.T) {
	h := newHouse(t)
	first := h.request(t)
	h.work(t, plain)
	h.until(t, first, drive.PlanReady)
	_, err := h.AcceptPlan(t.Context(), h.act("accept"), first)
	require.NoError(t, err)
	a, err := h.Asked(t.Context(), "spring", 1)
	require.NoError(t, err)
	a.Wanted = 4
	_, err = h.UpdateAsked(t.Context(), h.act("more"), a)
	require.NoError(t, err)

	number, err := h.RequestChange(t.Context(), h.act("change"), first, false)
	require.NoError(t, err)
	p := h.until(t, number, drive.PlanReady)
	require.Equal(t, first, *p.Changes)
	require.Equal(t, 4, p.Cases)
	problem, plan, err := h.PlanFiles(t.Context(), "spring", number)
	require.NoError(t, err)
	require.NotNil(t, problem.Fixed, "the problem that is kept holds what stays")
	require.Empty(t, planning.Check(problem, plan))
	got, err := h.AcceptPlan(t.Context(), h.act("accept change"), number)
	require.NoError(t, err)
	require.Equal(t, []any{first, 1, 1}, []any{got.Changed, got.KitsStay, got.Kits})
}
