package postgres

import (
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// Of a kit that was lost on its way to be mended some turn up: those are counted and wait to be checked,
// as a part of their own, and the rest is lost still, in every list, until it turns up or is given again.
func TestSomeOfALostMendingTurnUp(t *testing.T) {
	s, a := wardOf(t, 20)
	bea, cy := addPerson(t, s, "Bea Lund"), addPerson(t, s, "Cy Moss")
	rest := lostMending(t, s, a, bea, cy)
	s.clock.forward(24 * time.Hour)
	since := dayIn(0)
	stands := func(what string, lost, sewn, mending int) {
		t.Helper()
		counts := drive.Counts{}
		for _, c := range booksIn(t, s.Store, dayIn(0), dayIn(9)).States {
			counts[c.State] += c.Closing
		}
		require.Equal(t, []int{lost, sewn, mending}, []int{counts[drive.CaseLost], counts[drive.CaseSewn], counts[drive.CaseToMend]}, what)
		list, err := s.Kits(t.Context(), "spring", KitsQuery{Where: KitsLost, Today: dayIn(1)})
		require.NoError(t, err)
		require.Equal(t, lost, list.Cases, "%s: lost by the list of kits", what)
		for _, k := range list.Kits {
			require.Equal(t, since, *k.Since, "%s: lost since", what)
		}
		books := booksIn(t, s.Store, dayIn(0), dayIn(9))
		for _, p := range books.People {
			require.Equal(t, map[string]int{"Bea Lund": 4, "Cy Moss": 0}[p.Name], p.Sewn, "%s: sewn by %s", what, p.Name)
		}
		inBooks := 0
		for _, k := range books.Kits {
			if k.State == drive.KitLost {
				inBooks += k.Cases
			}
		}
		require.Equal(t, lost, inBooks, "%s: lost by the books", what)
		agrees(t, s)
	}
	stands("lost", 4, 0, 0)
	require.True(t, kit(t, s, rest).Mending)

	act := s.fresh()
	var taken TakenBack
	for range 2 { // the same form twice is one find
		var err error
		taken, err = s.KitFound(t.Context(), act, rest, 3, 0, time.Time{})
		require.NoError(t, err)
	}
	part := drive.KitRef{Number: rest.Number, Part: 2}
	require.Equal(t, TakenBack{Back: &part, Sewn: 3, Lost: 1}, taken)
	stands("three turned up", 1, 3, 0)
	require.Equal(t, drive.KitBack, kit(t, s, part).State)
	require.True(t, kit(t, s, part).MayUndo)

	_, err := s.UndoTakeBack(t.Context(), s.fresh(), part)
	require.NoError(t, err)
	stands("that undone", 4, 0, 0)
	require.Equal(t, drive.KitTakenApart, kit(t, s, part).State)

	taken, err = s.TakeIn(t.Context(), s.fresh(), rest, drive.KitCounted{Sewn: 2}, time.Time{})
	require.NoError(t, err)
	part.Part = 3
	require.Equal(t, TakenBack{Back: &part, Sewn: 2, Found: true, Here: true, Lost: 2}, taken)
	taken, err = s.KitFound(t.Context(), s.fresh(), rest, 1, 0, time.Time{})
	require.NoError(t, err)
	later := *taken.Back
	stands("two and then one turned up", 1, 3, 0)

	// What was checked since stays; what was not goes where the rest is lost.
	of := drive.Stack{Size: a.Sizes[0], Kit: part.Number, Part: part.Part}
	_, err = s.CheckCases(t.Context(), s.fresh(), of, drive.Checked{Good: 1, Pins: true})
	require.NoError(t, err)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), part)
	require.ErrorContains(t, err, "checked or promised since")
	_, err = s.GiveAgain(t.Context(), s.fresh(), rest, drive.HandOut{Person: cy})
	require.NoError(t, err)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), later)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	require.ErrorContains(t, err, "is not lost as it was then")
	s.clock.forward(24 * time.Hour)
	_, err = s.KitLost(t.Context(), s.fresh(), rest, "once more", time.Time{})
	require.NoError(t, err)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), later)
	require.ErrorContains(t, err, "is not lost as it was then", "lost since another day")
	taken, err = s.KitFound(t.Context(), s.fresh(), rest, 1, 0, time.Time{})
	require.NoError(t, err)
	require.Equal(t, TakenBack{Back: &rest, Sewn: 1}, taken, "the last of them")
	stands("all turned up, one of them is good", 0, 3, 0)
}

// Pillowcases without a kit name who may have sewn them, to be checked and to be mended, until those
// are forgotten; who alone can have sewn them is whom they are given to first.
func TestLooseSewersAreNamed(t *testing.T) {
	s, a := wardOf(t, 20)
	bea, cy := addPerson(t, s, "Bea Lund"), addPerson(t, s, "Cy Moss")
	bring := func(asked int64, n int, maker *int64) {
		t.Helper()
		_, err := s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: n, Asked: asked, Maker: maker})
		require.NoError(t, err)
	}
	named := func(state drive.CaseState, asked int64) (string, int64) {
		t.Helper()
		stacks, err := s.Stacks(t.Context(), "spring", state)
		require.NoError(t, err)
		for _, l := range stacks {
			if l.Asked == asked && l.Kit == 0 {
				return l.SewnBy, l.Maker
			}
		}
		require.Fail(t, "there is no such stack")
		return "", 0
	}
	tells := func(state drive.CaseState, asked int64, says string, alone int64) {
		t.Helper()
		name, maker := named(state, asked)
		require.Equal(t, says, name)
		require.Equal(t, alone, maker)
	}
	bring(0, 4, &bea)
	bring(0, 1, nil)
	steps, err := s.CasesLately(t.Context(), "spring", 1)
	require.NoError(t, err)
	tells(drive.CaseSewn, 0, "Bea Lund or others", 0)
	_, err = s.UndoCases(t.Context(), s.fresh(), 0, steps[0].ID)
	require.NoError(t, err)
	tells(drive.CaseSewn, 0, "Bea Lund", bea)
	loose := drive.Stack{Size: a.Sizes[0], State: drive.CaseSewn}
	_, err = s.Promise(t.Context(), s.fresh(), loose, 3, a.Number)
	require.NoError(t, err)
	bring(0, 2, &cy)
	tells(drive.CaseSewn, 0, "Cy Moss or Bea Lund", 0)
	tells(drive.CaseSewn, a.Number, "Bea Lund", bea)
	_, err = s.CheckCases(t.Context(), s.fresh(), drive.Stack{Asked: a.Number, Size: a.Sizes[0]}, drive.Checked{Good: 1, Pins: true, Failed: []drive.Failed{{N: 2, To: drive.CaseToMend, Reasons: []string{"seam open"}}}})
	require.NoError(t, err)
	tells(drive.CaseToMend, a.Number, "Bea Lund", bea)
	bring(a.Number, 1, &cy)
	_, err = s.MendedHere(t.Context(), s.fresh(), drive.Stack{Asked: a.Number, Size: a.Sizes[0]}, 1)
	require.NoError(t, err)
	tells(drive.CaseSewn, a.Number, "Bea Lund or Cy Moss", 0)
	tells(drive.CaseToMend, a.Number, "Bea Lund", bea)
	_, err = s.ErasePerson(t.Context(), s.fresh(), bea)
	require.NoError(t, err)
	tells(drive.CaseToMend, a.Number, "Erased person 1", 0)
	tells(drive.CaseSewn, a.Number, "Erased person 1 or Cy Moss", 0)
	agrees(t, s)
}
