package postgres

import (
	"testing"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

// A ward must have what the cloth of planned kits makes: they are given up for it and that is told, or
// they stay as they are, and it gets what other cloth makes.
func TestAChangeGivesKitsUpOrLeavesThem(t *testing.T) {
	s, a, first := toChange(t)
	urgent := addAsked(t, s, addRecipient(t, s, "Ward 5"), drive.Size{Number: a.Sizes[0]}, 40)
	urgent.Matter = drive.MatterMust
	_, err := s.UpdateAsked(t.Context(), s.fresh(), urgent)
	require.NoError(t, err)

	gives, err := s.PlanChanged(t.Context(), "spring", changePlan(t, s, first))
	require.NoError(t, err)
	require.Equal(t, []any{3, false}, []any{gives.GivenUp, gives.Whole})
	require.Empty(t, gives.Told.Stay)
	layCloth(t, s, 4, "D1", "feature", 170*length.Inch, "navy")
	number := changePlanOr(t, s, first, true)
	leaves, err := s.PlanChanged(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, []any{0, true}, []any{leaves.GivenUp, leaves.Whole})
	require.Len(t, leaves.Told.Stay, 3)
	require.NotEmpty(t, leaves.Told.New)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	require.Equal(t, 3, got.KitsStay)
	balances(t, s)
	agrees(t, s)
}
