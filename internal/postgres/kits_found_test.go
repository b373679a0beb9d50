package postgres

import (
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// Of a kit that was lost some turn up: what is sewn of them waits to be checked, what is not can be
// handed out, each as a part of its own, and the rest is lost still, in every list and in the books.
func TestSomeOfALostKitTurnUp(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	mary, bo := addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund")
	ref := ownKits(t, s, z, 1, 8, mary, nil)[0]
	part := func(n int) *drive.KitRef { return &drive.KitRef{Number: ref.Number, Part: n} }
	_, err := s.KitLost(t.Context(), s.fresh(), ref, "moved house", time.Time{})
	require.NoError(t, err)
	stands := func(what string, lost, sewn, here int) {
		t.Helper()
		list, err := s.Kits(t.Context(), "spring", KitsQuery{Where: KitsLost, Today: dayIn(0)})
		require.NoError(t, err)
		require.Equal(t, lost, list.Cases, "%s: lost by the list of kits", what)
		counts, books := drive.Counts{}, booksIn(t, s.Store, dayIn(0), dayIn(9))
		for _, c := range books.States {
			counts[c.State] += c.Closing
		}
		require.Equal(t, []int{lost, sewn, here}, []int{counts[drive.CaseLost], counts[drive.CaseSewn], counts[drive.CaseCut]}, what)
		for _, p := range books.People {
			require.Equal(t, map[string]int{"Mary Ellis": sewn}[p.Name], p.Sewn, "%s: sewn by %s", what, p.Name)
		}
		balanced(t, s, 8)
		agrees(t, s)
	}
	stands("lost", 8, 0, 0)

	for _, c := range []struct {
		sewn, lost  int
		field, says string
	}{
		{9, 0, "sewn", "0 to 8"},
		{-1, 0, "sewn", "0 to 8"},
		{0, 8, "still_lost", "say how many are lost still, 0 to 7"},
		{0, -1, "still_lost", "0 to 7"},
		{3, 6, "still_lost", "3 sewn and 6 still lost are more than that"},
	} {
		_, err := s.KitFound(t.Context(), s.fresh(), ref, c.sewn, c.lost, time.Time{})
		require.Contains(t, apperr.Fields(err)[c.field], c.says, "%+v", c)
	}
	stands("refused", 8, 0, 0)

	act := s.fresh()
	var taken TakenBack
	for range 2 { // the same form twice is one find
		taken, err = s.KitFound(t.Context(), act, ref, 2, 3, time.Time{})
		require.NoError(t, err)
	}
	require.Equal(t, TakenBack{Back: part(2), Sewn: 2, Left: 3, Apart: part(3), Lost: 3}, taken)
	stands("two sewn, three not", 3, 2, 3)
	require.Equal(t, []drive.KitState{drive.KitLost, drive.KitBack, drive.KitFound},
		[]drive.KitState{kit(t, s, ref).State, kit(t, s, *part(2)).State, kit(t, s, *part(3)).State})

	// A find by mistake is lost again with the rest.
	require.True(t, kit(t, s, *part(2)).MayUndo && kit(t, s, *part(2)).LostAgain)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), *part(2))
	require.NoError(t, err)
	stands("the sewn ones lost again", 5, 0, 3)
	require.Equal(t, 5, kit(t, s, ref).Cases)

	// At the returns table too: sewn ones alone, and then none that are sewn.
	taken, err = s.TakeIn(t.Context(), s.fresh(), ref, drive.KitCounted{Sewn: 2, StillLost: 3}, time.Time{})
	require.NoError(t, err)
	require.Equal(t, TakenBack{Back: part(4), Sewn: 2, Found: true, Here: true, Lost: 3}, taken)
	taken, err = s.TakeIn(t.Context(), s.fresh(), ref, drive.KitCounted{StillLost: 1}, time.Time{})
	require.NoError(t, err)
	require.Equal(t, TakenBack{Left: 2, Apart: part(5), Found: true, Here: true, Lost: 1}, taken)
	stands("one is lost still", 1, 2, 5)

	// What turned up goes its own way: out and back, and lost again.
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{*part(3)}, Person: bo})
	require.NoError(t, err)
	_, err = s.UndoHandOut(t.Context(), s.fresh(), []drive.KitRef{*part(3)})
	require.NoError(t, err)
	_, err = s.KitLost(t.Context(), s.fresh(), *part(5), "", time.Time{})
	require.NoError(t, err)
	stands("two of them lost again", 3, 2, 3)
	_, err = s.GiveAgain(t.Context(), s.fresh(), ref, drive.HandOut{Person: bo})
	require.NoError(t, err)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), *part(4))
	require.ErrorContains(t, err, "not lost any more")
	stands("the last one given again", 2, 2, 3)
}

// A find with nothing sewn that is undone on a later day was never one: the ledgers and the books of every
// day say that the kit was lost all along, and it is lost since it was.
func TestAFindWithNothingSewnIsLostAgain(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	mary := addPerson(t, s, "Mary Ellis")
	ref := ownKits(t, s, addSize(t, s, "standard"), 1, 6, mary, nil)[0]
	_, err := s.KitLost(t.Context(), s.fresh(), ref, "moved house", time.Time{})
	require.NoError(t, err)
	since := kit(t, s, ref).Since
	for _, c := range []struct {
		sewn, lost int
		undo       drive.KitRef // by which it is undone
		gone       []drive.KitRef
	}{
		{0, 0, ref, nil},
		{0, 4, drive.KitRef{Number: ref.Number, Part: 2}, []drive.KitRef{{Number: ref.Number, Part: 2}}},
		{2, 0, drive.KitRef{Number: ref.Number, Part: 3}, []drive.KitRef{{Number: ref.Number, Part: 3}}},
	} {
		s.clock.forward(24 * time.Hour)
		taken, err := s.KitFound(t.Context(), s.fresh(), ref, c.sewn, c.lost, time.Time{})
		require.NoError(t, err)
		require.Equal(t, 6-c.sewn-c.lost, taken.Left)
		s.clock.forward(24 * time.Hour)
		page := kit(t, s, c.undo)
		require.True(t, page.MayUndo && page.LostAgain, "%+v", c)
		undone, err := s.UndoTakeBack(t.Context(), s.fresh(), c.undo)
		require.NoError(t, err)
		require.Equal(t, KitsMoved{Kits: []drive.KitRef{c.undo}, Cases: 6 - c.lost, Now: &ref}, undone)
		again := kit(t, s, ref)
		require.Equal(t, []any{drive.KitLost, 6, since}, []any{again.State, again.Cases, again.Since}, "%+v", c)
		for _, part := range c.gone {
			require.Equal(t, drive.KitTakenApart, kit(t, s, part).State)
		}
		books := booksIn(t, s.Store, dayIn(0), dayIn(30))
		for _, b := range books.States {
			require.True(t, b.Closing == 0 || b.State == drive.CaseLost && b.Closing == 6, "%s: %d", b.State, b.Closing)
		}
		balanced(t, s, 6)
		agrees(t, s)
	}

	// What turned up and was handed out since is no find to undo.
	_, err = s.KitFound(t.Context(), s.fresh(), ref, 0, 0, time.Time{})
	require.NoError(t, err)
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{ref}, Person: mary})
	require.NoError(t, err)
	require.False(t, kit(t, s, ref).MayUndo)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), ref)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
}
