package forecast

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestNeverBrought: somebody who took kits and never brought any back is reckoned slower than the rest, or gone.
func TestNeverBrought(t *testing.T) {
	in := going()
	for d := 5; d < 40; d += 10 {
		in.Held = append(in.Held, Spell{Who: 99, From: d, N: 4, Line: 1})
	}
	m := measure(in)
	slower := func(who int64) float64 {
		sum := 0.0
		for j, p := range m.folk.own[who].p {
			sum += p * m.folk.own[who].off[j]
		}
		return sum
	}
	require.Greater(t, slower(99), slower(8)+m.folk.sigma)
	gone := 0
	for draw := range uint64(400) {
		if m.newRun(in, draw, func(*lineRun, float64, int) {}).person[99].gone {
			gone++
		}
	}
	require.Greater(t, gone, 40, "of 400 runs")
	require.Empty(t, Of(in).All.Why)
}

// TestFitFolk: how people sew is found again although a third of them hold something still, and some have dropped out; the mean of
// the turns that ended is too short.
func TestFitFolk(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	var list []*worker
	short, ended, dropped, watched := 0.0, 0.0, 0.0, 0.0
	for who := range int64(600) {
		w := &worker{who: who + 1, levels: []int{4}}
		mean := 2.0 + 0.3*r.NormFloat64()
		for left := 60 * r.Float64(); left > 0 && w.holds == 0; {
			days := cube(mean+0.3*r.NormFloat64()) * w0.share(4)
			if out := r.ExpFloat64() / 0.004; out < math.Min(days, left) {
				dropped++
				watched += out
				days = math.Inf(1)
			} else {
				watched += math.Min(days, left)
			}
			if days > left {
				w.turns = append(w.turns, turn{days: math.Max(0.5, left)})
				w.holds = 4
				break
			}
			w.turns = append(w.turns, turn{days: days, n: 4, ended: true})
			w.portions = append(w.portions, portion{4, true})
			short += days
			ended++
			left -= days
		}
		list = append(list, w)
	}
	f := fitFolk(list)
	require.InDelta(t, 2.0, f.mean, 0.08)
	require.InDelta(t, 0.3, f.sigma, 0.06)
	require.InDelta(t, 0.3, f.between, 0.08)
	require.InDelta(t, dropped/watched, f.drop, 0.3*dropped/watched)
	require.Less(t, short/ended, 0.95*f.middle())
}

var w0 *worker

// TestSilence: the longer nothing is heard of somebody beyond their usual time, the likelier they have dropped out.
func TestSilence(t *testing.T) {
	last := 0.0
	for _, silent := range []int{5, 20, 40, 80} {
		in := going()
		in.Held = append(in.Held, Spell{Who: 50, From: 70 - silent - 10, To: 70 - silent, N: 4, Line: 1, Fate: Ended}, Spell{Who: 50, From: 70 - silent, N: 4, Line: 1})
		o := measure(in).folk.own[50]
		odds := 0.0
		for j, p := range o.p {
			odds += p * o.out[j] / (1 + o.out[j])
		}
		require.Greater(t, odds, last, "%d days", silent)
		last = odds
	}
	require.Greater(t, last, 0.5)
}

// TestComing: where nobody came new for long, hardly anybody is expected; where as many come each week, about as many
// will come in the next.
func TestComing(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	next := func(series ...float64) float64 {
		sum := 0.0
		for range 2000 {
			rate, fall := comingOf(series).draw(r)
			sum += rate * -math.Expm1(-fall*week) / fall / 2000
		}
		return sum
	}
	require.Less(t, next(6, 3, 1, 0, 0, 0, 0), 0.2)
	more := next(2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2)
	require.Greater(t, more, 1.2, "it may begin to fall off")
	require.Less(t, more, 2.1)
	require.Nil(t, comingOf(nil))
}

// TestWaits: a cutting that had to wait for a plan counts from the plan; a loss waits from its day to the next plan.
func TestWaits(t *testing.T) {
	in := Input{Today: 100, Plans: []int{0, 60}}
	for _, d := range []int{1, 8, 15, 22, 64} {
		in.Cut = append(in.Cut, Event{Day: d, N: 20})
	}
	p, sizes := cuts(in)
	require.InDelta(t, 6.5, p.middle(), 0.6, "7, 7, 7, and 4 from the plan, not 42")
	require.Equal(t, []int{20, 20, 20}, sizes, "the last before a plan cut all there was, or not")
	for from := 40; from < 60; from += 4 {
		in.Held = append(in.Held, Spell{Who: 1, From: from - 30, To: from, N: 4, Fate: Lost})
	}
	require.Greater(t, planWaits(in).middle(), usual.plan.days, "20 days")
}
