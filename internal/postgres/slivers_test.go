package postgres

import (
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// What no panel comes out of leaves the shelf in one go, and comes back in one go.
func TestSliversAreBookedAsOffcuts(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	found, err := s.Slivers(t.Context(), "spring")
	require.NoError(t, err)
	require.Zero(t, found.Pieces, "without a size nobody knows")
	addSize(t, s, "standard")
	whole := bolt(t, s, true)
	for range 2 {
		lot := bolt(t, s, true)
		handle(t, s, lot, drive.Handling{Kind: drive.DeedParted, Piece: 1, Length: 1 * inch})
	}
	found, err = s.Slivers(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, Slivers{Pieces: 2, Lots: 2, Least: 2 * inch}, found)
	booked, err := s.BookSlivers(t.Context(), s.fresh())
	require.NoError(t, err)
	require.Equal(t, 2, booked.N)
	require.Zero(t, func() int { f, err := s.Slivers(t.Context(), "spring"); require.NoError(t, err); return f.Pieces }())
	require.Positive(t, piece(t, s, whole, 1).Free)
	_, err = s.BookSlivers(t.Context(), s.fresh())
	require.True(t, apperr.Is(err, apperr.KindConflict))
	agrees(t, s)

	_, err = s.UndoSlivers(t.Context(), s.fresh(), SliversBooked{First: booked.First, N: 9})
	require.True(t, apperr.Is(err, apperr.KindNotFound))
	_, err = s.UndoSlivers(t.Context(), s.fresh(), SliversBooked{First: booked.First - 1, N: 1})
	require.ErrorContains(t, err, "booked no sliver")
	back, err := s.UndoSlivers(t.Context(), s.fresh(), booked)
	require.NoError(t, err)
	require.Equal(t, 2, back)
	_, err = s.UndoSlivers(t.Context(), s.fresh(), booked)
	require.Error(t, err)
	found, err = s.Slivers(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, 2, found.Pieces)
	agrees(t, s)
}
