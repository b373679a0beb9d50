package postgres

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Whoever holds the print of a sheet that was withdrawn is sent to sheets of its lot that
// wait to be cut, not to one that is cut by now.
func TestSheetsInsteadWaitToBeCut(t *testing.T) {
	s, _, first := toChange(t)
	old := sheetOf(t, s, sheetsWaiting(t, s)[0])
	_, err := s.WithdrawPlan(t.Context(), s.fresh(), first)
	require.NoError(t, err)
	_, err = s.AcceptPlan(t.Context(), s.fresh(), makePlan(t, s))
	require.NoError(t, err)
	instead := func() []int64 {
		t.Helper()
		sheets, err := s.SheetsInstead(t.Context(), "spring", old.Number)
		require.NoError(t, err)
		return sheets
	}
	now := instead()
	require.Len(t, now, 1, "the lot has one piece")
	require.Equal(t, old.Lot, sheetOf(t, s, now[0]).Lot)
	_, err = s.SignOutSheet(t.Context(), s.fresh(), now[0], "Rosa")
	require.NoError(t, err)
	require.Equal(t, now, instead(), "it is on the table")
	_, err = s.MarkSheetCut(t.Context(), s.fresh(), now[0])
	require.NoError(t, err)
	require.Empty(t, instead())
}
