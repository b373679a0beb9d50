package postgres

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

// readBooks is the books with every list read to its end.
type readBooks struct {
	Asked         []drive.BookLine
	Changes       []drive.BookAskedChange
	Laundry       []drive.BookWash
	Fabric        []drive.BookLot
	FabricEntries []drive.BookFabricEntry
	Kits          []drive.BookKit
	KitEntries    []drive.BookKitEntry
	Cases         []drive.BookCases
	States        []drive.BookCaseState
	CaseEntries   []drive.BookCaseEntry
	Checks        []drive.BookCheck
	Reasons       []drive.BookReason
	Deliveries    []drive.BookDelivery
	Boxes         []drive.BookBox
	Gifts         []drive.BookGift
	People        []drive.BookPerson
	Hours         []drive.BookHours
}

// booksIn reads the books of the drive "spring".
func booksIn(t testing.TB, s *Store, from, to time.Time) readBooks {
	t.Helper()
	var got readBooks
	require.NoError(t, s.Books(t.Context(), BooksOf{Drive: "spring", From: from, To: to, Contacts: true, Whole: true}, func(b drive.Books) error {
		got.Asked, got.Changes = allRows(t, b.Asked), allRows(t, b.AskedChanges)
		got.Fabric, got.FabricEntries = allRows(t, b.Fabric), allRows(t, b.FabricEntries)
		got.Kits, got.KitEntries = allRows(t, b.Kits), allRows(t, b.KitEntries)
		got.Cases, got.States, got.CaseEntries = allRows(t, b.Cases), allRows(t, b.CaseStates), allRows(t, b.CaseEntries)
		got.Checks, got.Reasons, got.Laundry = allRows(t, b.Checks), allRows(t, b.Reasons), allRows(t, b.Laundry)
		got.Deliveries, got.Boxes = allRows(t, b.Deliveries), allRows(t, b.Boxes)
		got.Gifts, got.People, got.Hours = allRows(t, b.Gifts), allRows(t, b.People), allRows(t, b.Hours)
		return nil
	}))
	return got
}

// TestBooksOfAnyHistory: whatever happened in a drive over some weeks, some of it
// written down days later and some of it undone, the books of every period add up,
// go on from each other, and end at what the balances say.
func TestBooksOfAnyHistory(t *testing.T) {
	acts := 220
	if long() {
		acts = 500
	}
	inRounds(t, 1, 25, func(t *testing.T, _ int, seed uint64) {
		h := newHall(t)
		h.behind = 3
		r := handAt(seed, 0)
		for range acts {
			require.NoError(t, h.do(t.Context(), r))
			if r.IntN(6) == 0 {
				h.clock.forward(time.Duration(r.IntN(30)) * time.Hour)
			}
		}
		t.Logf("done: %v", h.done)
		agrees(t, h.testStore)
		b := bookkeeper{h, map[[2]int]readBooks{}, t}
		dublin, err := time.LoadLocation("Europe/Dublin") // whose days are the drive's
		require.NoError(t, err)
		last := int(drive.Day(h.clock.now, dublin).Sub(dayIn(0)).Hours() / 24)
		require.Greater(t, last, 10)
		for day := -4; day <= last; day++ {
			b.stands(day)
		}
		for range 40 {
			from := r.IntN(last+5) - 4
			to := from + r.IntN(last+1-from)
			b.goesOn(from, from+r.IntN(to+1-from), to)
		}
		b.endsAtTheBalances(last)
	})
}

// bookkeeper reads the books of periods, by days since the beginning.
type bookkeeper struct {
	*hall
	read map[[2]int]readBooks
	t    *testing.T
}

func (b bookkeeper) books(from, to int) readBooks {
	if got, known := b.read[[2]int{from, to}]; known {
		return got
	}
	got := booksIn(b.t, b.Store, dayIn(from), dayIn(to))
	b.read[[2]int{from, to}] = got
	return got
}

// stands holds what stands at the end of a day: nothing below zero, and kits and
// pillowcases telling the same.
func (b bookkeeper) stands(day int) {
	books := b.books(day, day)
	all := drive.Counts{}
	for _, l := range books.Cases {
		for state, n := range l.Counts {
			require.GreaterOrEqual(b.t, n, 0, "day %d, line %d: %s", day, l.Number, state)
			all[state] += n
		}
	}
	kits := map[drive.KitState]int{}
	for _, k := range books.Kits {
		kits[k.State] += k.Cases
	}
	require.Equal(b.t, all[drive.CasePlanned], kits[drive.KitPlanned]+kits[drive.KitOnTable], "planned at the end of day %d", day)
	require.Equal(b.t, all[drive.CaseCut], kits[drive.KitCut]+kits[drive.KitReady]+kits[drive.KitFound], "cut at the end of day %d", day)
	require.Equal(b.t, all[drive.CaseLost], kits[drive.KitLost], "lost at the end of day %d", day)
	require.GreaterOrEqual(b.t, kits[drive.KitOut], all[drive.CaseOut], "out at the end of day %d", day)
	require.LessOrEqual(b.t, kits[drive.KitOut], all[drive.CaseOut]+all[drive.CaseToMend], "out at the end of day %d", day)
	for _, d := range books.Deliveries {
		require.GreaterOrEqual(b.t, d.Open(), 0, "open of delivery %d on day %d", d.Number, day)
	}
}

// flows are what moved in a period, by lot and by line and size.
func flows(books readBooks) (map[int64][9]length.Area, map[string][13]int) {
	lots, lines := map[int64][9]length.Area{}, map[string][13]int{}
	for _, l := range books.Fabric {
		lots[l.Lot] = [9]length.Area{l.Measured, l.SquaredOff, l.PutBack, l.Recounted, l.Cut, l.Offcuts, l.Wash, l.GivenAway, l.Discarded}
	}
	for _, l := range books.Cases {
		lines[fmt.Sprintf("%d %s", l.Number, l.Size)] = [13]int{
			l.CameIn, l.FoundGood, l.Sent, l.Confirmed, l.Planned, l.Brought, l.FoundAgain, l.MovedIn, l.MovedOut, l.NotUsable, l.Lost, l.Withdrawn, l.NotReceived,
		}
	}
	return lots, lines
}

// goesOn holds that a period adds up, and is its two parts together.
func (b bookkeeper) goesOn(from, middle, to int) {
	whole, first, second := b.books(from, to), b.books(from, middle), readBooks{}
	opens := map[int64]length.Area{}
	if middle < to {
		second = b.books(middle+1, to)
		for _, l := range second.Fabric {
			opens[l.Lot] = l.Opening
		}
		for _, l := range first.Fabric {
			require.Equal(b.t, l.Closing(), opens[l.Lot], "lot %d closes day %d as it opens the next", l.Lot, middle)
		}
	}
	for _, books := range []readBooks{whole, first, second} {
		b.agree(books, fmt.Sprintf("days %d to %d", from, to))
	}
	lots, lines := flows(whole)
	lotsFirst, linesFirst := flows(first)
	lotsSecond, linesSecond := flows(second)
	for lot, all := range lots {
		for i := range all {
			require.Equal(b.t, all[i], lotsFirst[lot][i]+lotsSecond[lot][i], "lot %d, days %d to %d and to %d", lot, from, middle, to)
		}
	}
	for line, all := range lines {
		for i := range all {
			require.Equal(b.t, all[i], linesFirst[line][i]+linesSecond[line][i], "line %s, days %d to %d and to %d", line, from, middle, to)
		}
	}
}

// agree holds the lists of one period against one another: what one sums up, another
// lists entry by entry.
func (b bookkeeper) agree(books readBooks, when string) {
	shelf, here := map[int64]length.Area{}, map[int64]length.Area{}
	for _, e := range books.FabricEntries {
		shelf[e.Lot] += e.Shelf
	}
	for _, l := range books.Fabric {
		require.Equal(b.t, l.OnShelf, l.Closing(), "%s: opening + in − out = closing in %+v", when, l)
		require.GreaterOrEqual(b.t, l.OnShelf, l.Promised)
		require.GreaterOrEqual(b.t, l.Promised, length.Area(0))
		here[l.Lot] = l.Closing() - l.Opening
		require.Equal(b.t, here[l.Lot], shelf[l.Lot], "%s: lot %d by its entries", when, l.Lot)
	}
	for lot := range shelf {
		require.Contains(b.t, here, lot, when)
	}
	lines, states := drive.Counts{}, drive.Counts{}
	var cameIn, sent, sewn, good int
	for _, l := range books.Cases {
		require.Equal(b.t, l.Counts.Alive(), l.Closing(), "%s: opening + born − ended = closing in %+v", when, l)
		for state, n := range l.Counts {
			lines[state] += n
		}
		cameIn, sent, good = cameIn+l.CameIn, sent+l.Sent, good+l.FoundGood
	}
	for _, c := range books.States {
		require.Equal(b.t, c.Closing, c.Opening+c.Came-c.Left, "%s: %+v", when, c)
		states[c.State] += c.Closing
	}
	for _, e := range books.CaseEntries {
		switch {
		case e.To == drive.CaseDelivered && e.From == drive.CasePacked:
			sent -= e.N
		case e.To == drive.CasePacked && e.From == drive.CaseDelivered:
			sent += e.N
		}
		if e.To == drive.CaseSewn && (e.From == drive.CaseBorn || e.From == drive.CaseOut || e.From == drive.CaseLost) {
			cameIn -= e.N
			if e.SewnBy() != "" {
				sewn += e.N
			}
		}
	}
	require.Zero(b.t, cameIn, "%s: came in by lines and by entries", when)
	require.Zero(b.t, sent, "%s: sent by lines and by entries", when)
	for _, state := range drive.CaseStates() {
		require.Equal(b.t, lines[state], states[state], "%s: %s by lines and by states", when, state)
	}
	out, held := 0, 0
	for _, k := range books.Kits {
		if k.State == drive.KitOut {
			out++
		}
	}
	for _, p := range books.People {
		held, sewn = held+p.Kits, sewn-p.Sewn
	}
	require.Equal(b.t, out, held, "%s: kits out and kits that people have", when)
	require.Zero(b.t, sewn, "%s: sewn by people and by entries", when)
	for _, c := range books.Checks {
		if c.Result == drive.CaseGood {
			good -= c.N
		}
	}
	require.Zero(b.t, good, "%s: found good by lines and by checks", when)
	open := 0
	for _, x := range books.Boxes {
		sent, open = sent+x.Sent, open+x.Open()
	}
	for _, d := range books.Deliveries {
		sent, open = sent-d.Sent, open-d.Open()
	}
	require.Zero(b.t, sent, "%s: sent by boxes and by deliveries", when)
	require.Zero(b.t, open, "%s: open by boxes and by deliveries", when)
}

// endsAtTheBalances holds the books of everything against what stands now.
func (b bookkeeper) endsAtTheBalances(last int) {
	books := b.books(-4, last)
	found, err := b.CheckBalances(b.t.Context())
	require.NoError(b.t, err)
	sums := found.Drives["spring"].Sums
	var closing, promised length.Area
	counts, moved := drive.Counts{}, [4]int{}
	for _, l := range books.Fabric {
		require.Zero(b.t, l.Opening)
		closing += l.Closing()
		promised += l.Promised
	}
	for _, l := range books.Cases {
		for state, n := range l.Counts {
			counts[state] += n
		}
		for i, n := range []int{l.CameIn, l.FoundGood, l.Sent, l.Confirmed} {
			moved[i] += n
		}
	}
	number := func(what string) int64 {
		if sums[what] == "" {
			return 0
		}
		n, err := sums[what].Int64()
		require.NoError(b.t, err)
		return n
	}
	require.Equal(b.t, number("fabric free")+number("fabric promised"), int64(closing))
	require.Equal(b.t, number("fabric promised"), int64(promised))
	for _, state := range drive.CaseStates() {
		require.Equal(b.t, number("pillowcases "+string(state)), int64(counts[state]), state)
	}
	sent := counts.Sum(drive.CaseDelivered, drive.CaseConfirmed, drive.CaseNotReceived)
	// What came back has been sent already, and is found good once more where it is checked again;
	// what lay in a box above its count was never checked.
	back, again, above := b.net("delivered", "good", "sewn"), b.net("delivered", "sewn"), b.net("born", "packed")
	good := counts.Sum(drive.CaseGood, drive.CasePacked) + sent
	require.Equal(b.t, []int{good + again - above, sent + back, counts[drive.CaseConfirmed]}, moved[1:], "found good, sent, confirmed")
	require.Len(b.t, books.Kits, int(found.Drives["spring"].Counts["kits"]))
	b.sinceAsTheKits(books)
	kits := map[drive.KitState]int{}
	for _, k := range books.Kits {
		kits[k.State] += k.Cases
	}
	for state, n := range kits {
		require.Equal(b.t, number("pillowcases in kits "+string(state)), int64(n), state)
	}
}

// net tells how many pillowcases went from one state to others, without what was undone.
func (b bookkeeper) net(from string, to ...string) (n int) {
	const q = `SELECT coalesce(sum(CASE WHEN from_state = $1 AND to_state = ANY($2) AND undoes IS NULL THEN n
			WHEN to_state = $1 AND from_state = ANY($2) AND undoes IS NOT NULL THEN -n END), 0) FROM case_entries WHERE drive_id = 'spring'`
	require.NoError(b.t, b.pool.QueryRow(b.t.Context(), q, from, to).Scan(&n))
	return n
}

func TestBooksOfNoPeriod(t *testing.T) {
	s, _ := wardOf(t, 4)
	unread := func(drive.Books) error { return errors.New("nobody should read these books") }
	for _, tt := range []struct {
		from, to time.Time
		field    string
	}{
		{dayIn(1), dayIn(0), "to"},
		{dayIn(0), dayIn(0).AddDate(51, 0, 0), "from"},
		{time.Date(1850, 1, 1, 0, 0, 0, 0, time.UTC), dayIn(0), "from"},
		{dayIn(0), time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC), "to"},
	} {
		err := s.Books(t.Context(), BooksOf{Drive: "spring", From: tt.from, To: tt.to}, unread)
		require.NotEmpty(t, apperr.Fields(err)[tt.field], "%v to %v: %v", tt.from, tt.to, err)
	}
	err := s.Books(t.Context(), BooksOf{Drive: "elsewhere", From: dayIn(0), To: dayIn(0)}, unread)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
}

// TestBooksReadAhead: whoever stops in the midst of a list, takes one alone, takes them in
// another order or loses the database gets an answer, never a wait without end.
func TestBooksReadAhead(t *testing.T) {
	s, a := wardOf(t, 400)
	for range 3 {
		bringGood(t, s, a, 4)
	}
	wash(t, s, a, 5)
	a.Wanted = 500
	_, err := s.UpdateAsked(t.Context(), s.fresh(), a)
	require.NoError(t, err)
	of := BooksOf{Drive: "spring", From: dayIn(0), To: dayIn(0)}
	got := booksIn(t, s.Store, of.From, of.To)
	require.Equal(t, []any{int64(1), 5, "EN", "Ward 4"}, []any{got.Laundry[0].Batch, got.Laundry[0].N, got.Laundry[0].DoneBy, got.Laundry[0].Recipient})
	last := got.Changes[len(got.Changes)-1]
	require.Equal(t, []string{"asked", "Ward 4", "wanted", "400", "500"}, []string{last.Kind, last.Recipient, last.Field, last.From, last.To})

	given := errors.New("given up")
	for _, whole := range []bool{true, false} {
		of.Whole = whole
		require.ErrorIs(t, s.Books(t.Context(), of, func(b drive.Books) error {
			for _, err := range b.Asked {
				require.NoError(t, err)
				return given
			}
			return nil
		}), given)
	}
	of.Whole = true
	require.ErrorIs(t, s.Books(t.Context(), of, func(b drive.Books) error {
		for range b.Asked {
			break
		}
		for _, err := range b.AskedChanges {
			return err
		}
		return nil
	}), errGivenUp)
	of.Whole = false
	require.NoError(t, s.Books(t.Context(), of, func(b drive.Books) error {
		require.Len(t, allRows(t, b.CaseEntries), 6)
		require.Len(t, allRows(t, b.Asked), 1, "one after the other, in any order")
		return nil
	}))
	of.Whole = true
	require.ErrorContains(t, s.Books(t.Context(), of, func(b drive.Books) error {
		for _, err := range b.Kits {
			return err
		}
		return nil
	}), "in their order")
	gone, cancel := context.WithCancel(t.Context())
	err = s.Books(gone, of, func(b drive.Books) error {
		cancel()
		var failed error
		for range 2 {
			for _, err := range b.Asked {
				failed = err
			}
			for _, err := range b.AskedChanges {
				failed = err
			}
		}
		return failed
	})
	require.Error(t, err)
}
