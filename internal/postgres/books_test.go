package postgres

import (
	"fmt"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

// TestBooksOfAnyHistory: whatever happened in a drive over some weeks, some of it
// written down days later and some of it undone, the books of every period add up,
// go on from each other, and end at what the balances say.
func TestBooksOfAnyHistory(t *testing.T) {
	rounds, acts := 1, 220
	if long() {
		rounds, acts = 25, 500
	}
	for round := range rounds {
		seed := uint64(round + 1)
		if long() {
			seed = uint64(time.Now().UnixNano())
		}
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
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
			b := bookkeeper{h, map[[2]int]drive.Books{}, t}
			last := int(drive.Day(h.clock.now, time.UTC).Sub(dayIn(0)).Hours() / 24)
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
}

// bookkeeper reads the books of periods, by days since the beginning.
type bookkeeper struct {
	*hall
	read map[[2]int]drive.Books
	t    *testing.T
}

func (b bookkeeper) books(from, to int) drive.Books {
	if got, known := b.read[[2]int{from, to}]; known {
		return got
	}
	got, err := b.Books(b.t.Context(), "spring", dayIn(from), dayIn(to))
	require.NoError(b.t, err)
	b.read[[2]int{from, to}] = got
	return got
}

// stands holds what stands at the end of a day: nothing below zero, and kits and
// pillowcases telling the same.
func (b bookkeeper) stands(day int) {
	books := b.books(day, day)
	all := drive.Counts{}
	for _, l := range books.Asked {
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
		require.LessOrEqual(b.t, d.Confirmed+d.Missing, d.Sent, "delivery %d on day %d", d.Number, day)
	}
}

// flows are what moved in a period, by lot and by line and size.
func flows(books drive.Books) (map[int64][5]length.Area, map[string][4]int) {
	lots, lines := map[int64][5]length.Area{}, map[string][4]int{}
	for _, l := range books.Fabric {
		lots[l.Lot] = [5]length.Area{l.TakenIn, l.Recounted, l.CutToKits, l.Offcuts, l.GivenAway}
	}
	for _, l := range books.Asked {
		lines[fmt.Sprintf("%d %s", l.Number, l.Size)] = [4]int{l.CameIn, l.FoundGood, l.Sent, l.Confirmed}
	}
	return lots, lines
}

// goesOn holds that a period adds up, and is its two parts together.
func (b bookkeeper) goesOn(from, middle, to int) {
	whole, first, second := b.books(from, to), b.books(from, middle), drive.Books{}
	opens := map[int64]length.Area{}
	if middle < to {
		second = b.books(middle+1, to)
		for _, l := range second.Fabric {
			opens[l.Lot] = l.Opening
		}
		for _, l := range first.Fabric {
			require.Equal(b.t, l.Closing, opens[l.Lot], "lot %d closes day %d as it opens the next", l.Lot, middle)
		}
	}
	for _, books := range []drive.Books{whole, first, second} {
		for _, l := range books.Fabric {
			require.True(b.t, l.Adds(), "days %d to %d: opening + in − out = closing in %+v", from, to, l)
			require.GreaterOrEqual(b.t, l.Closing, l.Promised)
			require.GreaterOrEqual(b.t, l.Promised, length.Area(0))
		}
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
		closing += l.Closing
		promised += l.Promised
	}
	for _, l := range books.Asked {
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
	for _, state := range []drive.CaseState{
		drive.CasePlanned, drive.CaseCut, drive.CaseOut, drive.CaseSewn, drive.CaseToMend, drive.CaseGood, drive.CasePacked, drive.CaseDelivered,
		drive.CaseConfirmed, drive.CaseNotUsable, drive.CaseLost, drive.CaseWithdrawn, drive.CaseNotReceived,
	} {
		require.Equal(b.t, number("pillowcases "+string(state)), int64(counts[state]), state)
	}
	sent := counts.Sum(drive.CaseDelivered, drive.CaseConfirmed, drive.CaseNotReceived)
	require.Equal(b.t, []int{counts.Sum(drive.CaseGood, drive.CasePacked) + sent, sent, counts[drive.CaseConfirmed]}, moved[1:], "found good, sent, confirmed")
	require.Len(b.t, books.Kits, int(found.Drives["spring"].Counts["kits"]))
	kits := map[drive.KitState]int{}
	for _, k := range books.Kits {
		kits[k.State] += k.Cases
	}
	for state, n := range kits {
		require.Equal(b.t, number("pillowcases in kits "+string(state)), int64(n), state)
	}
}

func TestBooksOfNoPeriod(t *testing.T) {
	s, _ := wardOf(t, 4)
	_, err := s.Books(t.Context(), "spring", dayIn(1), dayIn(0))
	require.NotEmpty(t, apperr.Fields(err)["to"])
	_, err = s.Books(t.Context(), "elsewhere", dayIn(0), dayIn(0))
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
}
