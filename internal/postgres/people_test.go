package postgres

import (
	"strings"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// addPerson adds a volunteer of this name to the drive "spring".
func addPerson(t testing.TB, s *testStore, name string) int64 {
	t.Helper()
	saved, err := s.CreatePerson(t.Context(), s.fresh(), drive.Person{Kind: drive.PersonVolunteer, Name: name}, nil)
	require.NoError(t, err)
	return saved.Number
}

func TestPersonIsKeptAndChanged(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	pace := 3
	reach := drive.Contacts{Contact: "Ms Fenn", Email: "office@hill.example", Phone: "555 0101", Address: "1 Hill Rd"}
	saved, err := s.CreatePerson(t.Context(), s.act("added"), drive.Person{
		Kind: drive.PersonSchool, Name: " Hill   School ", Heads: 24, Pace: &pace, Pickup: "library", Overlocker: true,
	}, &reach)
	require.NoError(t, err)
	require.Equal(t, PersonSaved{Number: 1, Version: 1}, saved)

	p, err := s.Person(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, "Hill School", p.Name)
	require.True(t, p.Active)
	require.Equal(t, 24, p.Heads)
	c, err := s.Contacts(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, reach, c)

	p.Name, p.FrenchSeam = "Hill School, year 9", true
	saved, err = s.UpdatePerson(t.Context(), s.act("change"), p, nil)
	require.NoError(t, err)
	require.Equal(t, 2, saved.Version)
	c, err = s.Contacts(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, reach, c, "whoever may not write contacts leaves them as they are")

	_, err = s.UpdatePerson(t.Context(), s.act("late change"), p, nil)
	require.True(t, apperr.Is(err, apperr.KindConflict), "a stale version: %v", err)
}

func TestPersonRefused(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	startDriveAs(t, s, "autumn")
	number := addPerson(t, s, "Ann Noyes")
	_, err := s.CreatePerson(t.Context(), s.fresh(), drive.Person{Kind: drive.PersonVolunteer, Name: "ANN NOYES"}, nil)
	require.Contains(t, apperr.Fields(err)["name"], "already")
	_, err = s.CreatePerson(t.Context(), s.fresh(), drive.Person{Kind: "aunt", Name: "Bo"}, &drive.Contacts{Email: "no"})
	require.Len(t, apperr.Fields(err), 2, "kind and email: %v", err)
	_, err = s.Person(t.Context(), "autumn", number)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "another drive's person: %v", err)
	_, err = s.UpdatePerson(t.Context(), s.actIn("autumn", "foreign"), drive.Person{Number: number, Kind: drive.PersonVolunteer, Name: "Eve", Version: 1}, nil)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "another drive's person: %v", err)
}

func TestPersonalFieldsStayOutOfAuditAndAnswers(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	secret := drive.Contacts{Contact: "Sekrit-contact", Email: "sekrit@example.org", Phone: "Sekrit-phone", Address: "Sekrit-address"}
	p := drive.Person{Kind: drive.PersonVolunteer, Name: "Sekrit-name", Note: "Sekrit-note", Pickup: "Sekrit-pickup"}
	saved, err := s.CreatePerson(t.Context(), s.act("added"), p, &secret)
	require.NoError(t, err)
	p.Number, p.Version, p.Active, p.Name = saved.Number, saved.Version, true, "Sekrit-other"
	secret.Phone = "Sekrit-new"
	_, err = s.UpdatePerson(t.Context(), s.act("change"), p, &secret)
	require.NoError(t, err)
	var kept string
	const all = `SELECT coalesce((SELECT string_agg(a::text, E'\n') FROM audit a), '') || coalesce((SELECT string_agg(o::text, E'\n') FROM once o), '')`
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), all).Scan(&kept))
	require.Contains(t, kept, "changed")
	require.NotContains(t, strings.ToLower(kept), "sekrit")
}

func TestPeopleList(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	ann, bo := addPerson(t, s, "Ann Noyes"), addPerson(t, s, "Bo Lund")
	saved, err := s.CreatePerson(t.Context(), s.fresh(), drive.Person{Kind: drive.PersonSchool, Name: "Hill School", Pickup: "the library", Heads: 20},
		&drive.Contacts{Phone: "555 0199"})
	require.NoError(t, err)
	rests, err := s.Person(t.Context(), "spring", addPerson(t, s, "Cy Rests"))
	require.NoError(t, err)
	rests.Active = false
	_, err = s.UpdatePerson(t.Context(), s.fresh(), rests, nil)
	require.NoError(t, err)

	soon, later := dayIn(5), dayIn(9)
	first := ownKits(t, s, z, 1, 4, ann, &later)
	ownKits(t, s, z, 1, 6, ann, &soon)
	ownKits(t, s, z, 1, 3, bo, nil)
	_, err = s.TakeBack(t.Context(), s.fresh(), first[0], drive.KitReturn{Sewn: 3}, time.Time{})
	require.NoError(t, err)

	s.clock.forward(7 * 24 * time.Hour)
	names := func(q PeopleQuery) []string {
		q.Today = drive.Day(s.clock.now, time.UTC)
		list, err := s.People(t.Context(), "spring", q)
		require.NoError(t, err)
		var names []string
		for _, p := range list.People {
			names = append(names, p.Name)
		}
		require.GreaterOrEqual(t, list.Total, len(names))
		return names
	}
	require.Equal(t, []string{"Ann Noyes", "Bo Lund", "Hill School"}, names(PeopleQuery{}))
	require.Equal(t, []string{"Ann Noyes", "Bo Lund"}, names(PeopleQuery{Who: PeopleWithKits}))
	require.Equal(t, []string{"Hill School"}, names(PeopleQuery{Who: PeopleFree}))
	require.Equal(t, []string{"Cy Rests"}, names(PeopleQuery{Who: PeopleResting}))
	require.Equal(t, []string{"Hill School"}, names(PeopleQuery{Q: "LIBR"}))
	require.Empty(t, names(PeopleQuery{Q: "555 01"}), "a search without the right to contacts does not reach them")
	require.Equal(t, []string{"Hill School"}, names(PeopleQuery{Q: "555 01", Contacts: true}))
	require.Equal(t, []string{"Hill School"}, names(PeopleQuery{Kind: drive.PersonSchool}))
	require.Equal(t, []string{"Ann Noyes", "Bo Lund", "Hill School"}, names(PeopleQuery{Sort: "kits", Desc: true}))
	require.Equal(t, []string{"Bo Lund"}, names(PeopleQuery{Limit: 1, Offset: 1}))
	for _, sort := range []string{"name", "kind", "pickup", "kits", "due", "done", "; drop table people"} {
		require.Len(t, names(PeopleQuery{Sort: sort}), 3, "sorted by %s", sort)
	}

	list, err := s.People(t.Context(), "spring", PeopleQuery{Limit: 1, Today: drive.Day(s.clock.now, time.UTC)})
	require.NoError(t, err)
	require.Equal(t, PeopleList{People: list.People, Total: 3, Kits: 3, Cases: 10, Late: 1, Done: 3}, list)
	a := list.People[0]
	require.Equal(t, []int{2, 7, 1, 3}, []int{a.Kits, a.Cases, a.Late, a.Done}, "kits, pillowcases, late, done of Ann")
	require.Equal(t, soon, *a.Due)
	require.Equal(t, int64(3), saved.Number)

	sewers, err := s.Sewers(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, sewers, 3, "who rests is not offered")
}

func TestPersonEvents(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	ann, bo := addPerson(t, s, "Ann Noyes"), addPerson(t, s, "Bo Lund")
	kits := ownKits(t, s, z, 3, 4, ann, nil)
	_, err := s.UndoHandOut(t.Context(), s.fresh(), kits[2:])
	require.NoError(t, err)
	s.clock.forward(24 * time.Hour)
	_, err = s.TakeBack(t.Context(), s.fresh(), kits[0], drive.KitReturn{Sewn: 3}, time.Time{})
	require.NoError(t, err)
	_, err = s.ExtendDue(t.Context(), s.fresh(), kits[:1], new(dayIn(9)))
	require.NoError(t, err)
	_, err = s.GiveAgain(t.Context(), s.fresh(), kits[1], drive.HandOut{Person: bo})
	require.NoError(t, err)

	for _, way := range []drive.ReminderWay{drive.RemindedByPhone, drive.RemindedInPerson} {
		s.clock.forward(7 * 24 * time.Hour)
		_, err = s.NoteReminder(t.Context(), s.fresh(), aReminder(t, s, bo, kits[1]), way)
		require.NoError(t, err)
	}
	aReminder(t, s, bo, kits[1]) // nobody has sent it yet

	kinds := func(who int64) []string {
		events, err := s.PersonEvents(t.Context(), "spring", who, 50)
		require.NoError(t, err)
		var list []string
		for _, e := range events {
			kind := e.Kind + " " + e.KitName()
			if e.Undone {
				kind += " undone"
			}
			list = append(list, kind)
		}
		return list
	}
	require.ElementsMatch(t, []string{"got 1", "got 2", "got 3 undone", "sewn 1-2", "longer 1", "given on 2"}, kinds(ann))
	require.Equal(t, []string{"reminded in person 2", "reminded by phone 2", "got 2"}, kinds(bo), "whoever rings Bo sees that others did")
}
