package postgres

import (
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// A bag that went out and comes back unsewn lies wherever it was put down then, not where it
// was taken from; a hand-out that was a mistake leaves it where it is.
func TestABagThatComesBackHasNoPlaceYet(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 12)
	refs := cutKits(t, s, a, 3, 4)
	mary := addPerson(t, s, "Mary Ellis")
	_, err := s.PlaceKits(t.Context(), s.fresh(), refs, "shelf 3")
	require.NoError(t, err)

	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: refs, Person: mary})
	require.NoError(t, err)
	_, err = s.UndoHandOut(t.Context(), s.fresh(), refs[:1])
	require.NoError(t, err)
	require.Equal(t, "shelf 3", kit(t, s, refs[0]).Place, "it never left")

	_, err = s.TakeBack(t.Context(), s.fresh(), refs[1], drive.KitReturn{Sewn: 1, RestUnsewn: true}, time.Time{})
	require.NoError(t, err)
	_, err = s.KitLost(t.Context(), s.fresh(), refs[2], "on the bus", time.Time{})
	require.NoError(t, err)
	_, err = s.KitFound(t.Context(), s.fresh(), refs[2], 0, 0, time.Time{})
	require.NoError(t, err)
	lines, _, _, err := s.KitsHere(t.Context(), "spring", 10)
	require.NoError(t, err)
	places := map[drive.KitRef]string{}
	for _, k := range lines {
		places[k.KitRef] = k.Place
	}
	require.Equal(t, map[drive.KitRef]string{refs[0]: "shelf 3", refs[1]: "", refs[2]: ""}, places)

	_, err = s.PlaceKits(t.Context(), s.fresh(), refs[1:2], "by the door")
	require.NoError(t, err)
	_, err = s.SplitKit(t.Context(), s.fresh(), refs[1], 1, 0, nil)
	require.NoError(t, err)
	require.Equal(t, "by the door", kit(t, s, refs[1]).Place, "parting a bag leaves it where it lies")
}

// A split that was a mistake is undone: the part is counted in its kit again, here and with
// the people who have both, and every balance holds. Once something happened to either it stands.
func TestASplitIsUndone(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 12)
	refs := cutKits(t, s, a, 2, 5)
	mary, bo, rosa := addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund"), addPerson(t, s, "Rosa")
	here, out := refs[0], refs[1]

	split, err := s.SplitKit(t.Context(), s.fresh(), here, 2, 0, nil)
	require.NoError(t, err)
	require.True(t, kit(t, s, split.Part).MayJoin)
	require.False(t, kit(t, s, here).MayJoin)
	got, err := s.UndoSplitKit(t.Context(), s.act("undo"), split.Part)
	require.NoError(t, err)
	require.Equal(t, KitSplit{Part: here, Left: 5}, got)
	again, err := s.UndoSplitKit(t.Context(), s.act("undo"), split.Part)
	require.NoError(t, err)
	require.Equal(t, got, again)
	require.Equal(t, []any{5, drive.KitCut, 5}, []any{kit(t, s, here).Cases, kit(t, s, here).State, kit(t, s, here).Count(drive.CaseCut)})
	require.Equal(t, drive.KitTakenApart, kit(t, s, split.Part).State)
	_, err = s.UndoSplitKit(t.Context(), s.fresh(), split.Part)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	requireAgreed(t, s)

	due := dayIn(20)
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{out}, Person: mary, Due: &due})
	require.NoError(t, err)
	split, err = s.SplitKit(t.Context(), s.fresh(), out, 3, bo, nil)
	require.NoError(t, err)
	_, err = s.UndoSplitKit(t.Context(), s.fresh(), split.Part)
	require.NoError(t, err)
	k := kit(t, s, out)
	require.Equal(t, []any{5, mary, due.Format(time.DateOnly)}, []any{k.Count(drive.CaseOut), *k.Holder, k.Due.Format(time.DateOnly)})
	requireAgreed(t, s)

	split, err = s.SplitKit(t.Context(), s.fresh(), out, 3, bo, nil)
	require.NoError(t, err)
	_, err = s.GiveAgain(t.Context(), s.fresh(), out, drive.HandOut{Person: rosa})
	require.NoError(t, err)
	_, err = s.UndoSplitKit(t.Context(), s.fresh(), split.Part)
	require.ErrorContains(t, err, "not where it was when kit 2-3 was split off")
	_, err = s.GiveAgain(t.Context(), s.fresh(), out, drive.HandOut{Person: mary})
	require.NoError(t, err)
	_, err = s.TakeBack(t.Context(), s.fresh(), split.Part, drive.KitReturn{Sewn: 1}, time.Time{})
	require.NoError(t, err)
	_, err = s.UndoSplitKit(t.Context(), s.fresh(), split.Part)
	require.ErrorContains(t, err, "more happened to it")
	requireAgreed(t, s)
}
