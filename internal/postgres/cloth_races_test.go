package postgres

import (
	"fmt"
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// Of two who take all of a piece at once, one does, and the other is told.
func TestTwoTakeTheSameCloth(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	lot := bolt(t, s, true)
	stock, err := s.LotStock(t.Context(), "spring", lot)
	require.NoError(t, err)
	errs := make([]error, 6)
	inParallel(len(errs), func(i int) {
		_, errs[i] = s.HandleCloth(t.Context(), s.act(fmt.Sprintf("taker-%d", i)), lot, stock.Last(), drive.Handling{Kind: drive.DeedGivenAway, Piece: 1, All: true, Reason: "the guild"})
	})
	taken := 0
	for _, err := range errs {
		if err == nil {
			taken++
			continue
		}
		require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	}
	require.Equal(t, 1, taken)
	require.Zero(t, piece(t, s, lot, 1).Free)
	agrees(t, s)
}
