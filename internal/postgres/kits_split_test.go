package postgres

import (
	"testing"
	"time"

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
	_, err = s.KitFound(t.Context(), s.fresh(), refs[2], 0, time.Time{})
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
