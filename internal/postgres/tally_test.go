package postgres

import (
	"strings"
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

func TestTakeTally(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	_, err := s.TagLots(t.Context(), s.fresh(), []drive.Tagging{{Donor: "Orla", Tag: "17", Pieces: 1, ReceivedOn: dayIn(0)}})
	require.NoError(t, err)
	untagged := cut(2, "", "Pim", 90*inch)
	waits := cut(4, "", "", 90*inch)
	waits.Value.Measured = nil
	rows := []drive.Incoming[drive.LotIn]{cut(1, "17", "Orla", 170*inch), untagged, cut(3, "18", "orla", 90*inch), waits}
	taken, err := s.TakeTally(t.Context(), s.act("tally"), rows)
	require.NoError(t, err)
	require.Equal(t, TallyTaken{Lots: 3, First: 2, Measured: 3}, taken)
	again, err := s.TakeTally(t.Context(), s.act("tally"), rows)
	require.NoError(t, err)
	require.Equal(t, taken, again, "a form sent twice is taken once")
	lots, err := s.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	require.Equal(t, 4, lots.Total)
	require.Equal(t, 1, lots.Waiting)
	require.Equal(t, "Pim", lots.Lots[1].DonorName, "numbers run on in the order of the rows")
	agrees(t, s)

	bad := cut(6, "19", "Pim", 90*inch)
	bad.Value.Kind = strings.Repeat("x", 300)
	good := cut(5, "20", "Somebody new", 90*inch)
	_, err = s.TakeTally(t.Context(), s.fresh(), []drive.Incoming[drive.LotIn]{good, bad, cut(7, "17", "Orla", 170*inch)})
	fields := apperr.Fields(err)
	require.Len(t, fields, 2, "%v", err)
	for name, why := range fields {
		require.True(t, strings.HasPrefix(name, "row6_") && strings.Contains(why, "too long") || strings.HasPrefix(name, "row7_") && strings.Contains(why, "measured already"), "%s: %s", name, why)
	}
	lots, err = s.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	require.Equal(t, 4, lots.Total, "all or none")
}
