package postgres

import (
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

func TestLotReachesKitsAndWards(t *testing.T) {
	s, asked, _ := accepted(t)
	line := line(t, s, asked.Number)
	list, err := s.Lots(t.Context(), "spring", LotsQuery{})
	require.NoError(t, err)
	reached := 0
	for _, l := range list.Lots {
		history, err := s.LotHistory(t.Context(), "spring", l.Number)
		require.NoError(t, err)
		if l.Promised == 0 {
			require.Empty(t, history.Reach, "lot %d was not drawn on", l.Number)
			continue
		}
		reached++
		require.NotEmpty(t, history.Reach, "lot %d", l.Number)
		for _, r := range history.Reach {
			require.Equal(t, line.RecipientName, r.Recipient)
			require.Positive(t, r.Panels)
			require.Positive(t, r.Counts[drive.CasePlanned])
		}
		last := history.Entries[len(history.Entries)-1]
		require.Contains(t, last.Words(drive.Drive{Unit: "in"}), "Promised to plan 1 on sheet")
		_, err = s.UndoMeasure(t.Context(), s.fresh(), l.Number)
		require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
		require.ErrorContains(t, err, "promised to a plan")
	}
	require.Positive(t, reached)
}
