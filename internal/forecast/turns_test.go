package forecast

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestLostIsNotTheEnd: what was booked as lost and brought after all ends a turn on the day on which it was brought; who had
// everything booked as lost may still bring it, and is asked nothing more of what their line lacks.
func TestLostIsNotTheEnd(t *testing.T) {
	in := going()
	in.Held = append(in.Held,
		Spell{Who: 20, From: 5, To: 40, N: 4, Line: 1, Fate: Late, Back: 50},
		Spell{Who: 21, From: 30, To: 66, N: 4, Line: 1, Fate: Lost},
		Spell{Who: 22, From: 30, To: 50, N: 4, Line: 1, Fate: Lost},
		Spell{Who: 22, From: 52, To: 60, N: 4, Line: 1, Fate: Ended},
	)
	m := measure(in)
	of := func(who int64) *worker {
		for _, w := range m.workers {
			if w.who == who {
				return w
			}
		}
		return nil
	}
	require.Equal(t, []turn{{days: 45, n: 4, ended: true}}, of(20).turns)
	require.True(t, of(20).idle, "and may take more")
	require.Equal(t, []turn{{days: 40}}, of(21).turns, "it goes on")
	require.Equal(t, 4, of(21).holds)
	require.Zero(t, of(22).holds, "who took something since has it no more")
	require.Equal(t, Spell{Who: 21, From: 30, To: 66, N: 4, Line: 1, Fate: Lost}, of(21).held[0])

	missed := func(s *run) (n int) {
		for _, e := range s.events {
			if e.what == missed && s.batches[e.batch].by == s.person[21] {
				n++
			}
		}
		return n
	}
	brought := 0
	for draw := range uint64(200) {
		s := m.newRun(in, draw, func(*lineRun, float64, int) {})
		require.Zero(t, missed(s), "it is booked once")
		require.Equal(t, m.newRun(going(), draw, func(*lineRun, float64, int) {}).lines[0].missing, s.lines[0].missing, "what it lacks was missing before")
		if s.person[21].gone {
			continue
		}
		s.through()
		if s.person[21].turn > 1 {
			brought++
		}
	}
	require.Greater(t, brought, 20, "of 200 runs")
}
