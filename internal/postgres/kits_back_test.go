package postgres

import (
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// A kit that was booked as back unsewn by mistake is with whoever had it again, until the same day
// and since the same day as before; in part, together with what was booked as sewn in that act.
func TestBackUnsewnByMistake(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	mary, bo, due := addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund"), dayIn(14)
	refs := ownKits(t, s, z, 2, 6, mary, &due)
	s.clock.forward(3 * 24 * time.Hour)
	withMary := func(ref drive.KitRef) {
		t.Helper()
		page := kit(t, s, ref)
		require.Equal(t, "Mary Ellis", page.HolderName)
		require.Equal(t, []time.Time{dayIn(0), due}, []time.Time{*page.Since, *page.Due})
		require.Equal(t, 6, page.Count(drive.CaseOut))
		require.False(t, page.MayUndo)
		balanced(t, s, 12)
		agrees(t, s)
	}

	_, err := s.TakeBack(t.Context(), s.fresh(), refs[0], drive.KitReturn{RestUnsewn: true}, time.Time{})
	require.NoError(t, err)
	require.True(t, kit(t, s, refs[0]).MayUndo)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), refs[0])
	require.NoError(t, err)
	withMary(refs[0])
	events, err := s.PersonEvents(t.Context(), "spring", mary, 10)
	require.NoError(t, err)
	require.Equal(t, "unsewn", events[0].Kind)
	require.True(t, events[0].Undone, "her page says that it was undone")
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), refs[0])
	require.True(t, apperr.Is(err, apperr.KindConflict), "undone once: %v", err)

	both := drive.KitReturn{Sewn: 2, RestUnsewn: true}
	taken, err := s.TakeBack(t.Context(), s.fresh(), refs[1], both, time.Time{})
	require.NoError(t, err)
	require.True(t, kit(t, s, *taken.Back).MayUndo)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), *taken.Back)
	require.NoError(t, err)
	withMary(refs[1])

	taken, err = s.TakeBack(t.Context(), s.fresh(), refs[1], both, time.Time{})
	require.NoError(t, err)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), refs[1])
	require.NoError(t, err, "the rest alone")
	require.Equal(t, 4, kit(t, s, refs[1]).Count(drive.CaseOut))
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), *taken.Back)
	require.NoError(t, err, "and then what was sewn")
	withMary(refs[1])

	taken, err = s.TakeBack(t.Context(), s.fresh(), refs[1], both, time.Time{})
	require.NoError(t, err)
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: refs[1:], Person: bo})
	require.NoError(t, err)
	for _, ref := range []drive.KitRef{refs[1], *taken.Back} {
		require.False(t, kit(t, s, ref).MayUndo)
		_, err = s.UndoTakeBack(t.Context(), s.fresh(), ref)
		require.True(t, apperr.Is(err, apperr.KindConflict), "it went out again since: %v", err)
	}
}
