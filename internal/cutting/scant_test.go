package cutting

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// A question of many parts ends soon after the work allowed is done, and whatever it is allowed,
// it has no other answer.
func TestCountsOfManyPartsKeepToTheWorkAllowed(t *testing.T) {
	const soon = mostHad * mostTallied // a look at the longest list
	r := rand.New(rand.NewPCG(1, 2))
	answers := map[Answer]int{}
	for q := range 40 {
		forms, kind, need, sheets := nearlyFull(r)
		cut := func(allowed int64) (int64, Answer) {
			c := NewCounts(forms, kind)
			c.MostParts, c.MostSpare, c.MostWork = 0, 0.3, 2*allowed
			patterns, answer := c.Cut(need, sheets)
			if answers[answer]++; answer == Can {
				requireGiven(t, forms, kind, need, sheets, patterns)
			}
			return c.Work, answer
		}
		begun, _ := cut(0) // what it takes before anything is put together
		all, answer := cut(8_000_000)
		for part := range int64(10) {
			allowed := all * (part + 1) / 10
			work, got := cut(allowed)
			require.LessOrEqual(t, work, max(begun, allowed)+soon, "work of question %d, %d allowed: Cut(%v of %v %v, %v)", q, allowed, need, forms, kind, sheets)
			if got != Unknown || allowed == all {
				require.Equal(t, answer, got, "question %d, %d allowed: Cut(%v of %v %v, %v)", q, allowed, need, forms, kind, sheets)
			}
		}
	}
	for _, a := range []Answer{Unknown, Can, Cannot} {
		require.Positive(t, answers[a], "answers %d", a)
	}
}

// nearlyFull draws sheets and panels of two to six kinds that cover most of them.
func nearlyFull(r *rand.Rand) (forms []Form, kind, need []int, sheets []Sheet) {
	need = make([]int, 2+r.IntN(5))
	scale := []int64{1, 1, 10}[r.IntN(3)]
	area := make([]int64, len(need))
	for k := range need {
		a, b := 10*scale+r.Int64N(50*scale), 10*scale+r.Int64N(50*scale)
		forms, kind, area[k] = append(forms, Form{a, b}), append(kind, k), a*b
		if r.IntN(2) == 0 {
			forms, kind = append(forms, Form{b, a}), append(kind, k)
		}
	}
	var left int64
	for range 1 + r.IntN(4) {
		s := Sheet{80*scale + r.Int64N(80*scale), 60*scale + r.Int64N(200*scale)}
		sheets = append(sheets, s)
		left += s.Width * s.Length
	}
	left -= int64(0.3 * r.Float64() * float64(left))
	for k := r.IntN(len(need)); area[k] <= left && need[k] < mostOfOne; k = r.IntN(len(need)) {
		need[k]++
		left -= area[k]
	}
	return forms, kind, need, sheets
}
