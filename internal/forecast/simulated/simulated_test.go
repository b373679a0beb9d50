package simulated

import (
	"os"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestTrueDaysFallIntoTheRange: the range of a forecast is meant to hold the true day four times of
// five. Four drives of each character here, fifty of each in the long round: 500 drives, of which
// 75 to 85 in 100 have to lie inside.
func TestTrueDaysFallIntoTheRange(t *testing.T) {
	each, low, high := 4, 67.0, 93.0 // two standard deviations of 40 drives
	if os.Getenv("BOLTWARD_LONG") != "" {
		each, low, high = 50, 75, 85
	}
	characters := Characters()
	scores := make([]Score, len(characters))
	var wg sync.WaitGroup
	for i, c := range characters {
		wg.Go(func() {
			for seed := range each {
				scores[i] = scores[i].Plus(Judge(c, uint64(seed+1), 0))
			}
		})
	}
	wg.Wait()
	var all Score
	for i, s := range scores {
		t.Logf("%-20s %3d said, %2d too early: %3.0f %% inside, range %5.1f days, %5.1f days ahead", characters[i].Name, s.Said, s.TooEarly, s.Share(), s.Mean(s.Width), s.Mean(s.Ahead))
		all = all.Plus(s)
	}
	t.Logf("all: %d said, %d too early, %.0f %% inside, mean range %.1f days, %.1f days ahead, likely by off by %.1f", all.Said, all.TooEarly, all.Share(), all.Mean(all.Width), all.Mean(all.Ahead), all.Mean(all.Off))
	require.GreaterOrEqual(t, all.Share(), low)
	require.LessOrEqual(t, all.Share(), high)
	require.Greater(t, all.Said, 9*all.Drives/10, "it is said of nearly all of them")
	require.Less(t, all.Mean(all.Width), 1.5*all.Mean(all.Ahead), "a range as wide as everything tells nothing")
}

// TestBooksOfADay: what a snapshot holds adds up, and knows nothing of the days after it.
func TestBooksOfADay(t *testing.T) {
	for _, c := range Characters() {
		d := Play(c, 3)
		s := d.At(0.4)
		require.NotNil(t, s, c.Name)
		for i, l := range s.Input.Lines {
			out := 0
			for _, h := range s.Input.Held {
				require.LessOrEqual(t, h.From, s.Input.Today)
				require.LessOrEqual(t, h.To, s.Input.Today)
				if h.Line == l.ID && h.Fate == 0 {
					out += h.N
				}
			}
			stands := out + l.Ready + l.ToCut + l.ToCheck + l.ToMend + l.Good
			require.LessOrEqual(t, stands, d.Wanted[i]+3, "%s: no more than is asked for", c.Name)
			require.Equal(t, d.Wanted[i], l.Need+l.Good, c.Name)
		}
		require.GreaterOrEqual(t, s.All, s.Input.Today)
		require.Equal(t, d.end, PlayOn(c, 3, mostDays, 9).end, "the same chance, the same end")
	}
}
