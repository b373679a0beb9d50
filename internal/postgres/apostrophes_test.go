package postgres

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
)

// What is copied from a message brings along what nobody sees: whoever is known by name is one all the same.
func TestNamesThatLookAlikeAreOne(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	addPerson(t, s, "Nora O'Dell")
	_, err := s.CreatePerson(t.Context(), s.fresh(), drive.Person{Kind: drive.PersonVolunteer, Name: "\u202aNora\u00a0O’Dell\u200b\u202c"}, nil)
	require.ErrorContains(t, err, "somebody of this name already")
}

// Phones type the curly apostrophe by themselves: whoever searches with either finds what was
// written with either.
func TestSearchesTakeEitherApostrophe(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	person := addPerson(t, s, "Nora O’Dell")
	z := addSize(t, s, "standard")
	ownKits(t, s, z, 1, 2, person, nil)
	_, err := s.TagLots(t.Context(), s.fresh(), []drive.Tagging{{Donor: "Pat D'Arle", Pieces: 1, ReceivedOn: drive.Day(s.clock.now, time.UTC), Note: "for the children’s ward"}})
	require.NoError(t, err)
	for _, typed := range []string{"O'Dell", "O’DELL"} {
		people, err := s.People(t.Context(), "spring", PeopleQuery{Q: typed})
		require.NoError(t, err)
		require.Equal(t, 1, people.Total, typed)
		kits, err := s.Kits(t.Context(), "spring", KitsQuery{Q: typed})
		require.NoError(t, err)
		require.Len(t, kits.Kits, 1, typed)
		trail, err := s.Trail(t.Context(), "spring", TrailQuery{Q: typed})
		require.NoError(t, err)
		require.NotEmpty(t, trail, typed)
	}
	for _, typed := range []string{"d'arle", "D’Arle"} {
		donors, err := s.Donors(t.Context(), "spring", typed)
		require.NoError(t, err)
		require.Len(t, donors, 1, typed)
	}
	for _, typed := range []string{"D'Arle", "D’Arle", "children's ward", "children’s ward"} {
		lots, err := s.Lots(t.Context(), "spring", LotsQuery{Q: typed})
		require.NoError(t, err)
		require.Len(t, lots.Lots, 1, typed)
	}
}
