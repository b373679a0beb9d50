package postgres

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// TestManyHandOutOneKit: whoever is first has it, and everybody else reads who.
func TestManyHandOutOneKit(t *testing.T) {
	const tables = 200
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	ref := ownKits(t, s, z, 1, 4, 0, nil)
	people := make([]int64, tables)
	for i := range people {
		people[i] = addPerson(t, s, fmt.Sprintf("Person %d", i))
	}
	errs := make([]error, tables)
	inParallel(tables, func(i int) {
		_, errs[i] = s.HandOut(t.Context(), s.act(fmt.Sprintf("table-%d", i)), drive.HandOut{Kits: ref, Person: people[i]})
	})
	won := -1
	for i, err := range errs {
		if err == nil {
			require.Equal(t, -1, won, "one wins")
			won = i
		}
	}
	require.NotEqual(t, -1, won, "somebody wins")
	winner := fmt.Sprintf("Person %d", won)
	for i, err := range errs {
		if i != won {
			require.EqualError(t, err, "Kit 1 is with "+winner+" since 3 Oct 2026. Nothing was changed.")
			require.True(t, apperr.Is(err, apperr.KindConflict))
		}
	}
	require.Equal(t, winner, kit(t, s, ref[0]).HolderName)
	balanced(t, s, 4)
}

// TestTwoTablesOverFiftyKits: in both orders at once, and each kit ends in one place.
func TestTwoTablesOverFiftyKits(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	refs := ownKits(t, s, z, 50, 4, 0, nil)
	people := []int64{addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund")}
	wins := make([]int, 2)
	inParallel(2, func(table int) {
		for i := range refs {
			at := i
			if table == 1 {
				at = len(refs) - 1 - i
			}
			_, err := s.HandOut(t.Context(), s.act(fmt.Sprintf("table-%d-%d", table, i)), drive.HandOut{Kits: refs[at : at+1], Person: people[table]})
			if err == nil {
				wins[table]++
			} else if !apperr.Is(err, apperr.KindConflict) {
				t.Errorf("table %d, kit %s: %v", table, refs[at], err)
			}
		}
	})
	require.Equal(t, 50, wins[0]+wins[1])
	for i, who := range people {
		list, err := s.Kits(t.Context(), "spring", KitsQuery{Where: KitsOut, Holder: who, Today: dayIn(0)})
		require.NoError(t, err)
		require.Equal(t, wins[i], list.Total)
	}
	balanced(t, s, 200)
}

// TestSameFormTwoHundredTimes: the same wish at once is one wish, and everybody
// gets the answer of the first.
func TestSameFormTwoHundredTimes(t *testing.T) {
	const times = 200
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	mary := addPerson(t, s, "Mary Ellis")
	ref := ownKits(t, s, z, 1, 6, 0, nil)[0]
	errs, answers := make([]error, times), make([]TakenBack, times)
	moves := make([]KitsMoved, times)
	inParallel(times, func(i int) {
		moves[i], errs[i] = s.HandOut(t.Context(), s.act("same hand-out"), drive.HandOut{Kits: []drive.KitRef{ref}, Person: mary})
	})
	for i, err := range errs {
		require.NoError(t, err)
		require.Equal(t, KitsMoved{Kits: []drive.KitRef{ref}, Person: mary, Cases: 6}, moves[i])
	}
	require.Len(t, kit(t, s, ref).Events, 2, "made and handed out, once")
	inParallel(times, func(i int) {
		answers[i], errs[i] = s.TakeBack(t.Context(), s.act("same form"), ref, drive.KitReturn{Sewn: 2}, time.Time{})
	})
	for i, err := range errs {
		require.NoError(t, err)
		require.Equal(t, TakenBack{Back: &drive.KitRef{Number: 1, Part: 2}, Sewn: 2, Left: 4}, answers[i])
	}
	require.Len(t, kit(t, s, ref).Parts, 2, "taken back once")
	_, err := s.TakeBack(t.Context(), s.act("same form"), ref, drive.KitReturn{Sewn: 3}, time.Time{})
	require.True(t, apperr.Is(err, apperr.KindConflict), "another wish under the same key: %v", err)
	balanced(t, s, 6)
}

// inParallel runs fn(0) to fn(n-1) at once and waits for all.
func inParallel(n int, fn func(i int)) {
	var all sync.WaitGroup
	start := make(chan struct{})
	for i := range n {
		all.Go(func() {
			<-start
			fn(i)
		})
	}
	close(start)
	all.Wait()
}
