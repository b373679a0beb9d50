package site

import (
	"errors"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/outlook"

	"github.com/stretchr/testify/require"
)

// A large drive that no worker has come to is played once for many pages, a small one for each.
func TestPlayedOnceForManyPages(t *testing.T) {
	today := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	at := today.Add(9 * time.Hour)
	now := func() time.Time { return at }
	facts := func(people int) drive.OutlookFacts {
		f := drive.OutlookFacts{Today: today, Flow: going(today), Lines: []drive.AskedLine{{
			Asked: drive.Asked{Number: 1, Recipient: 1, Wanted: 90 * people}, Counts: drive.Counts{drive.CaseGood: 40, drive.CaseCut: 50 * people},
		}}}
		held := f.Flow.Held
		for n := range people {
			for _, s := range held {
				s.Who += int64(100 * (n + 1))
				f.Flow.Held = append(f.Flow.Held, s)
			}
		}
		return f
	}
	n := 0
	play := func(people int) func() (*outlook.Player, error) {
		return func() (*outlook.Player, error) { n++; return outlook.Play(facts(people)), nil }
	}
	m := drivesPlayed{}
	open := func(id string, day time.Time, people, times int, before bool) played {
		t.Helper()
		p, had, err := m.of(id, day, now, play(people))
		require.NoError(t, err)
		require.Equal(t, before, had)
		require.Equal(t, times, n)
		return p
	}
	first := open("large", today, 20, 1, false)
	require.True(t, first.player.Outlook().Large())
	at = at.Add(9 * time.Second)
	require.Equal(t, first, open("large", today, 20, 1, true))
	open("large", today.AddDate(0, 0, 1), 20, 2, false) // tomorrow it is another
	open("large", today, 20, 3, false)
	at = at.Add(keptFor + time.Second)
	open("large", today, 20, 4, false) // it has become old

	open("small", today, 0, 5, false)
	open("small", today, 0, 6, false)
	require.Len(t, m, 1)
	for _, id := range []string{"a", "b", "c", "d", "e", "f", "g", "h", "i"} {
		m[id] = first
	}
	open("another", today, 20, 7, false)
	require.LessOrEqual(t, len(m), mostPlayed)

	cut := errors.New("cut off")
	_, _, err := m.of("large", today.AddDate(0, 0, 2), now, func() (*outlook.Player, error) { return nil, cut })
	require.ErrorIs(t, err, cut)
}
