package forecast

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSameFactsSameFigures: with many people the figures do not depend on the order in which a map gives them.
func TestSameFactsSameFigures(t *testing.T) {
	in := Input{Today: 150, Found: Checked{Good: 400}, Lines: []Line{{ID: 1, Group: 1, Need: 60, Ready: 40, ToCut: 20}}}
	for who := int64(1); who <= 60; who++ {
		for from := int(who); from < 130; from += 20 + int(who)%7 {
			in.Held = append(in.Held, Spell{Who: who, From: from, To: from + 6 + int(who)%5, N: 2 + int(who)%3, Line: 1, Fate: Ended})
		}
	}
	in.Held = append(in.Held, Spell{Who: 1, From: 148, N: 4, Line: 1})
	for d := 0; d < 150; d += 7 {
		in.Cut = append(in.Cut, Event{Day: d, N: 30, Line: 1})
	}
	first, ends := gaps(measure(in).workers), Of(in).Ends()
	require.Greater(t, len(first.own), 50, "people who came again")
	for range 50 {
		require.Equal(t, first, gaps(measure(in).workers))
	}
	for range 3 {
		require.Equal(t, ends, Of(in).Ends())
	}
}

// TestRest: what is left of a spell goes by somebody's own pace, not by everybody's.
func TestRest(t *testing.T) {
	p := pace{mean: 2, sigma: 0.3}
	r := rand.New(rand.NewPCG(1, 2))
	rest := func(mean float64) float64 {
		const n = 4000
		sum := 0.0
		for range n {
			days, ends := p.rest(mean, 8, r)
			require.True(t, ends)
			sum += days
		}
		return sum / n
	}
	// By the inverse Mills ratio at z = 2 and z = −2: roots of 2.11 and 2.62 in the mean.
	require.InDelta(t, 1.5, rest(1.4), 0.4)
	require.InDelta(t, 10.6, rest(2.6), 0.8)
}
