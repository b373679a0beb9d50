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

// Who took something before the first day that is looked at does not come new when they next do.
func TestWhoCameBeforeIsNotNew(t *testing.T) {
	in := going()
	for _, s := range going().Held {
		if s.Who <= 2 {
			s.Who, s.From, s.To = s.Who+20, s.From+30, s.To+30 // two who come new after a month
			if s.To > 70 || s.Fate == Open {
				s.To, s.Fate = 0, Open
			}
			if s.From < 70 {
				in.Held = append(in.Held, s)
			}
		}
	}
	began := measure(in)
	in.Before = []int64{1, 2, 3, 4, 5, 6, 7, 8}
	went := measure(in)
	require.Equal(t, 3.0, began.coming.people, "the drive began with seven, in its first week")
	require.Equal(t, 2.0, went.coming.people)
	require.Equal(t, began.coming.weeks, went.coming.weeks)
	require.Less(t, went.NewAWeek, began.NewAWeek+1e-9)
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
