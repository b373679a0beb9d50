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

// Where a name stands with either apostrophe, from before names were kept with the straight one, each can be changed
// without renaming it; a name that is typed anew is kept with the straight one, and clashes as before.
func TestNamesWithEitherApostropheAreChanged(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	tell(t, s, `INSERT INTO people (drive_id, number, kind, name, created_at) VALUES ('spring', 1, 'volunteer', 'Nora O’Dell', now()), ('spring', 2, 'volunteer', 'Nora O''Dell', now())`,
		`INSERT INTO recipients (drive_id, number, kind, name, created_at) VALUES ('spring', 1, 'ward', 'Children’s ward', now()), ('spring', 2, 'ward', 'Children''s ward', now())`,
		`INSERT INTO donors (drive_id, number, name, created_at) VALUES ('spring', 1, 'Pat D’Arle', now()), ('spring', 2, 'Pat D''Arle', now())`,
		`INSERT INTO counters (drive_id, kind, last) VALUES ('spring', 'person', 2), ('spring', 'recipient', 2), ('spring', 'donor', 2)`)
	for _, n := range []int64{1, 2} {
		p, err := s.Person(t.Context(), "spring", n)
		require.NoError(t, err)
		was := p.Name
		p.Note, p.Heads = "mornings", 1
		_, err = s.UpdatePerson(t.Context(), s.fresh(), p, nil)
		require.NoError(t, err)
		p, err = s.Person(t.Context(), "spring", n)
		require.NoError(t, err)
		require.Equal(t, []string{was, "mornings"}, []string{p.Name, p.Note})

		r, err := s.Recipient(t.Context(), "spring", n)
		require.NoError(t, err)
		was = r.Name
		r.Note = "ring first"
		r, err = s.UpdateRecipient(t.Context(), s.fresh(), r)
		require.NoError(t, err)
		stands, err := s.Recipient(t.Context(), "spring", n)
		require.NoError(t, err)
		require.Equal(t, []string{was, was, "ring first"}, []string{r.Name, stands.Name, stands.Note})

		d, err := s.Donor(t.Context(), "spring", n)
		require.NoError(t, err)
		was = d.Name
		d.Note = "by the church"
		_, err = s.UpdateDonor(t.Context(), s.fresh(), d, nil)
		require.NoError(t, err)
		d, err = s.Donor(t.Context(), "spring", n)
		require.NoError(t, err)
		require.Equal(t, []string{was, "by the church"}, []string{d.Name, d.Note})
	}
	_, err := s.CreatePerson(t.Context(), s.fresh(), drive.Person{Kind: drive.PersonVolunteer, Name: "Nora O’Dell", Heads: 1}, nil)
	require.ErrorContains(t, err, "somebody of this name already")
	p, err := s.Person(t.Context(), "spring", 1)
	require.NoError(t, err)
	p.Name = "Nora O’Dell of Mill Lane"
	_, err = s.UpdatePerson(t.Context(), s.fresh(), p, nil)
	require.NoError(t, err)
	p, err = s.Person(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, "Nora O'Dell of Mill Lane", p.Name)
}
