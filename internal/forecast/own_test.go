package forecast

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What people bring of their own cloth counts over all the time in which they did, also before the first kit
// was handed out.
func TestOwnClothBeforeTheFirstHandOut(t *testing.T) {
	in := going()
	// The first kit is handed out on day 1; five are brought each week from so many days on.
	for first, want := range map[int]float64{-140: 5, 0: 5, 40: 25 / (69. / 7)} {
		in.Own = nil
		for d := first; d < 70; d += 7 {
			in.Own = append(in.Own, Event{Day: d, N: 5, Line: 1})
		}
		m := measure(in)
		require.InDelta(t, want, m.OwnAWeek, 0.1, "from day %d on", first)
		rate := 0.0
		const runs = 300
		for i := range uint64(runs) {
			rate += m.newRun(in, i, func(*lineRun, float64, int) {}).lines[0].ownRate / runs
		}
		require.InDelta(t, want/5/week, rate, 0.02, "times a day, from day %d on", first)
	}
}

// A long past costs a run nothing but what still waits of it: each of many lines looks for its own.
func TestALongPastIsNotReadForEachLine(t *testing.T) {
	took := func(ended int) time.Duration {
		in := going()
		for i := range int64(60) {
			in.Lines = append(in.Lines, Line{ID: 2 + i, Group: 6, Need: 2, ToCheck: 2})
		}
		for i := range ended {
			in.Checks = append(in.Checks, Spell{From: i % 60, To: i%60 + 2, N: 1, Line: 1, Fate: Ended})
		}
		m := measure(in)
		began := time.Now()
		for i := range uint64(100) {
			m.play(in, i, func(*lineRun, float64, int) {})
		}
		return time.Since(began)
	}
	took(0)
	short, long := took(0), took(20_000)
	require.Less(t, long, 4*short, "%v with a short past", short)
}
