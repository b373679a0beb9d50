package simulated

import (
	"os"
	"slices"
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
				scores[i] = scores[i].Plus(Judge(c, uint64(seed+1), 0).Forecast)
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
	require.Less(t, all.Mean(all.Width), 0.9*all.Mean(all.Ahead), "a range as wide as everything tells nothing")
}

// TestBooksOfADay: what a snapshot holds adds up, and knows nothing of the days after it.
func TestBooksOfADay(t *testing.T) {
	for _, c := range slices.Concat(Characters(), Strangers()) {
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

// TestWhoKnowsMore: who knows the character foretells better than who knows the books alone, and who knows what no book shows
// better still; the oracle's ranges hold the true day about as often as they are meant to.
func TestWhoKnowsMore(t *testing.T) {
	var v Verdict
	for seed := range uint64(12) {
		v = v.Plus(Judge(Characters()[0], seed+1, 40))
	}
	t.Logf("CRPS %.1f, %.1f, %.1f days; the oracle's share %.0f %%", v.Forecast.Each(v.Forecast.CRPS), v.Oracle.Each(v.Oracle.CRPS), v.Hidden.Each(v.Hidden.CRPS), v.Oracle.Share())
	require.Equal(t, v.Forecast.Said, v.Oracle.Said, "of the same drives")
	require.Equal(t, v.Forecast.Played, v.Hidden.Played)
	require.Less(t, v.Oracle.Each(v.Oracle.CRPS), v.Forecast.Each(v.Forecast.CRPS))
	require.Less(t, v.Hidden.Each(v.Hidden.CRPS), v.Oracle.Each(v.Oracle.CRPS))
	require.Less(t, v.Oracle.Mean(v.Oracle.Width), v.Forecast.Mean(v.Forecast.Width))
	require.Greater(t, v.Oracle.Share(), 50.0, "two and a half deviations below 80")
}

// TestScore: scores of one forecast, reckoned by hand.
func TestScore(t *testing.T) {
	s := judge([]float64{30, 10, 20, 40}, 25, true)
	require.Equal(t, 1, s.In)
	require.Equal(t, 30.0, s.Width)
	require.InDelta(t, 10-25.0/3, s.CRPS, 1e-9, "mean distance from 25 less half the mean difference of two of them")
	require.InDeltaSlice(t, []float64{1.5, 2.5, 1.5}, s.Pinball[:], 1e-9, "quantiles 10, 30, 40")
	require.Equal(t, 30.0, s.Interval)
	require.Equal(t, 1, s.PIT[5])
	late := judge([]float64{30, 10, 20, 40}, 45, true)
	require.Equal(t, 1, late.After)
	require.Equal(t, 80.0, late.Interval)
	far := judge([]float64{400, 500, 380}, 420, true)
	require.Equal(t, 1, far.In, "what lies beyond the year counts as its end, on both sides")
	require.Zero(t, far.CRPS)
	require.Equal(t, 364.0, far.Ahead)
	require.Equal(t, 5.0, judge([]float64{20}, 25, true).CRPS, "of one draw, how far it is off")
	require.Equal(t, 1, judge([]float64{0, 0}, 5, false).TooEarly)
}

// TestHistoriesAreTheSame: of lines that are due on one day, what the desk handed out is read in the same order each time.
func TestHistoriesAreTheSame(t *testing.T) {
	var d *Drive
	for seed := uint64(1); d == nil || len(d.Wanted) < 3; seed++ {
		d = Play(Characters()[0], seed)
	}
	for i := range d.Due {
		d.Due[i] = 90
	}
	kits := func() (lines []int) {
		o := oracle{Drive: d, today: d.end}
		for _, h := range o.histories() {
			for day := range d.end + 1 {
				for _, k := range h.takes[day] {
					lines = append(lines, k.cases[0].line)
				}
			}
		}
		return lines
	}
	first := kits()
	for range 20 {
		require.Equal(t, first, kits())
	}
}
