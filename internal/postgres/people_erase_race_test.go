package postgres

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// While a kit is being handed to somebody, they are not forgotten: whoever forgets them
// waits, and then is told that they have a kit.
func TestNobodyIsForgottenWhileAKitGoesOut(t *testing.T) {
	s, person := somebodyWhoSews(t)
	_, err := s.TakeBack(t.Context(), s.fresh(), drive.KitRef{Number: 1, Part: 1}, drive.KitReturn{Sewn: 1, RestUnsewn: true}, dayIn(0))
	require.NoError(t, err)
	kit := drive.KitRef{Number: 2, Part: 1}
	// The hand-out is stopped between its look at the person and its look at the kit.
	held, err := s.db.Owner().Begin(t.Context())
	require.NoError(t, err)
	defer func() { _ = held.Rollback(t.Context()) }() // it is over by then where all went well
	_, err = held.Exec(t.Context(), `SELECT FROM kits WHERE drive_id = 'spring' AND number = $1 FOR UPDATE`, kit.Number)
	require.NoError(t, err)
	out, forgotten := make(chan error, 1), make(chan error, 1)
	act := s.fresh()
	go func() {
		_, err := s.HandOut(t.Context(), act, drive.HandOut{Kits: []drive.KitRef{kit}, Person: person})
		out <- err
	}()
	require.Eventually(t, func() bool { return lockWaiters(t, s) == 1 }, 20*time.Second, 5*time.Millisecond)
	act = s.fresh()
	go func() {
		_, err := s.ErasePerson(t.Context(), act, person)
		forgotten <- err
	}()
	require.Eventually(t, func() bool { return lockWaiters(t, s) == 2 || len(forgotten) == 1 }, 20*time.Second, 5*time.Millisecond)
	require.NoError(t, held.Commit(t.Context()))
	require.NoError(t, <-out)
	require.True(t, apperr.Is(<-forgotten, apperr.KindConflict), "they have a kit by then")
	p, err := s.Person(t.Context(), "spring", person)
	require.NoError(t, err)
	require.Nil(t, p.ErasedAt)
}

// Nothing goes to somebody who is forgotten: no kit by an undoing, and no link.
func TestNothingGoesToWhoIsForgotten(t *testing.T) {
	s, person := somebodyWhoSews(t)
	kit := drive.KitRef{Number: 1, Part: 1}
	_, err := s.TakeBack(t.Context(), s.fresh(), kit, drive.KitReturn{Sewn: 4}, dayIn(0))
	require.NoError(t, err)
	_, err = s.ErasePerson(t.Context(), s.fresh(), person)
	require.NoError(t, err)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), kit)
	require.True(t, apperr.Is(err, apperr.KindConflict), "got %v", err)
	require.ErrorContains(t, err, "is forgotten")
	for _, renew := range []bool{false, true} {
		_, err = s.PersonLink(t.Context(), s.fresh(), person, renew)
		require.True(t, apperr.Is(err, apperr.KindConflict), "got %v", err)
	}
	links, err := s.PersonLinks(t.Context(), "spring", []int64{person})
	require.NoError(t, err)
	require.Empty(t, links)
	agrees(t, s)
}

// Who is forgotten while it is looked whom to remind gets no reminder and no link; and
// whoever forgets somebody for whom one is being made waits, and ends both.
func TestNobodyIsRemindedWhoIsBeingForgotten(t *testing.T) {
	for _, first := range []string{"forgotten", "reminded"} {
		s := newStore(t)
		startDrive(t, s)
		person, due := addPerson(t, s, "Mary Ellis"), dayIn(1)
		kit := ownKits(t, s, addSize(t, s, "standard"), 1, 4, person, &due)[0]
		remindersOn(t, s, false)
		// A trigger stops one of the two halfway, until this lock is given up.
		held, err := s.db.Owner().Begin(t.Context())
		require.NoError(t, err)
		defer func() { _ = held.Rollback(t.Context()) }() // it is over by then where all went well
		_, err = held.Exec(t.Context(), `SELECT pg_advisory_xact_lock(77)`)
		require.NoError(t, err)
		halfway := map[string]string{"forgotten": "UPDATE ON people", "reminded": "INSERT ON reminders"}[first]
		_, err = s.db.Owner().Exec(t.Context(), `CREATE FUNCTION waits() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN PERFORM pg_advisory_xact_lock(77); RETURN NEW; END $$;
			CREATE TRIGGER waits AFTER `+halfway+` FOR EACH ROW EXECUTE FUNCTION waits()`)
		require.NoError(t, err)
		forgotten, reminded := make(chan error, 1), make(chan error, 1)
		back, erase := s.fresh(), s.fresh()
		forget := func() {
			_, err := s.TakeBack(t.Context(), back, kit, drive.KitReturn{Sewn: 4}, dayIn(0))
			if err == nil {
				_, err = s.ErasePerson(t.Context(), erase, person)
			}
			forgotten <- err
		}
		remind := func() { _, err := s.RemindersDue(t.Context(), false); reminded <- err }
		if first == "reminded" {
			go remind()
			require.Eventually(t, func() bool { return lockWaiters(t, s) == 1 }, 20*time.Second, 5*time.Millisecond)
			go forget()
			require.Eventually(t, func() bool { return lockWaiters(t, s) == 2 }, 20*time.Second, 5*time.Millisecond)
			require.NoError(t, held.Commit(t.Context()))
		} else {
			// It has read that they have a kit, and comes to them once they are being forgotten.
			tx, err := s.db.Pool.Begin(t.Context())
			require.NoError(t, err)
			go forget()
			require.Eventually(t, func() bool { return lockWaiters(t, s) == 1 }, 20*time.Second, 5*time.Millisecond)
			go func() {
				number, err := s.insertReminder(t.Context(), tx, "spring", person, drive.RemindSoon, []drive.KitRef{kit})
				if err == nil && number != 0 {
					err = fmt.Errorf("reminder %d is made", number)
				}
				reminded <- errors.Join(err, tx.Commit(t.Context()))
			}()
			require.Eventually(t, func() bool { return lockWaiters(t, s) == 2 || len(reminded) == 1 }, 20*time.Second, 5*time.Millisecond)
			require.NoError(t, held.Commit(t.Context()))
		}
		require.NoError(t, <-reminded, first)
		require.NoError(t, <-forgotten, first)
		links, err := s.PersonLinks(t.Context(), "spring", []int64{person})
		require.NoError(t, err)
		require.Empty(t, links, "%s first: no link is left", first)
		standing, _, err := s.Reminders(t.Context(), "spring", 10)
		require.NoError(t, err)
		require.Empty(t, standing, "%s first: no reminder stands", first)
	}
}

// lockWaiters counts the statements that wait for a lock.
func lockWaiters(t *testing.T, s *testStore) int {
	const q = `SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'`
	n := 0
	if err := s.db.Pool.QueryRow(t.Context(), q).Scan(&n); err != nil {
		t.Errorf("who waits: %v", err)
	}
	return n
}
