package cutting

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// What Counts says can be cut is a valid layout that gives it; what it says cannot be is found
// by no search over all patterns.
func TestCountsAgainstEveryPattern(t *testing.T) {
	can, cannot := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		kinds := rapid.IntRange(1, 3).Draw(t, "kinds")
		var forms []Form
		var kind []int
		for k := range kinds {
			a, b := int64(rapid.IntRange(1, 4).Draw(t, "a")), int64(rapid.IntRange(1, 4).Draw(t, "b"))
			forms, kind = append(forms, Form{a, b}), append(kind, k)
			if rapid.Bool().Draw(t, "turns") && a != b {
				forms, kind = append(forms, Form{b, a}), append(kind, k)
			}
		}
		need := make([]int, kinds)
		for k := range need {
			need[k] = rapid.IntRange(0, 4).Draw(t, "need")
		}
		var sheets []Sheet
		for range rapid.IntRange(1, 2).Draw(t, "sheets") {
			sheets = append(sheets, Sheet{int64(rapid.IntRange(1, 6).Draw(t, "width")), int64(rapid.IntRange(1, 6).Draw(t, "length"))})
		}
		counts := NewCounts(forms, kind)
		if rapid.Bool().Draw(t, "many parts") {
			counts.MostParts, counts.MostSpare = 0, math.Inf(1)
		}
		patterns, answer := counts.Cut(need, sheets)
		require.NotEqual(t, Unknown, answer)
		want := reaches(forms, kind, need, sheets)
		require.Equal(t, want, answer == Can, "Cut(%v of %v %v, %v)", need, forms, kind, sheets)
		if answer != Can {
			cannot++
			return
		}
		can++
		requireGiven(t, forms, kind, need, sheets, patterns)
	})
	require.Positive(t, can)
	require.Positive(t, cannot)
}

// Whatever was asked before, of fewer panels or more, of other sheets, and given up half way or
// not, a question is answered as if it were the first; only Unknown may come sooner or later.
func TestCountsAskedAgainAnswersLikeAFreshOne(t *testing.T) {
	same, gaveUp := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		kinds := rapid.IntRange(1, 4).Draw(t, "kinds")
		var forms []Form
		var kind []int
		for k := range kinds {
			a, b := int64(rapid.IntRange(1, 5).Draw(t, "a")), int64(rapid.IntRange(1, 5).Draw(t, "b"))
			forms, kind = append(forms, Form{a, b}, Form{b, a}), append(kind, k, k)
		}
		asked := NewCounts(forms, kind)
		for range rapid.IntRange(2, 24).Draw(t, "questions") {
			asked.MostParts = rapid.SampledFrom([]int{40, 1000}).Draw(t, "most parts")
			asked.MostSpare = rapid.SampledFrom([]float64{0, 0.2, math.Inf(1)}).Draw(t, "most spare")
			asked.MostWork = rapid.SampledFrom([]int64{20, 1000, 10_000, 1 << 40}).Draw(t, "most work")
			need := make([]int, kinds)
			for k := range need {
				need[k] = rapid.IntRange(0, 4).Draw(t, "need")
			}
			var sheets []Sheet
			for range rapid.IntRange(1, 3).Draw(t, "sheets") {
				sheets = append(sheets, Sheet{rapid.Int64Range(1, 8).Draw(t, "width"), rapid.Int64Range(1, 12).Draw(t, "length")})
			}
			patterns, answer := asked.Cut(need, sheets)
			if answer == Unknown {
				gaveUp++
				continue
			}
			same++
			_, want := NewCounts(forms, kind).Cut(need, sheets)
			require.Equal(t, want, answer, "Cut(%v of %v %v, %v) after other questions", need, forms, kind, sheets)
			if answer == Can {
				requireGiven(t, forms, kind, need, sheets, patterns)
			}
		}
	})
	require.Positive(t, same)
	require.Positive(t, gaveUp)
}

// requireGiven holds patterns to be valid layouts of the sheets that give what is needed.
func requireGiven(t require.TestingT, forms []Form, kind, need []int, sheets []Sheet, patterns []Pattern) {
	got := make([]int, len(need))
	for i, p := range patterns {
		panels, _, used := p.Place(forms, sheets[i].Width)
		require.LessOrEqual(t, used, sheets[i].Length)
		var rects []Rect
		for _, x := range panels {
			rects = append(rects, x.Rect)
			got[kind[x.Form]]++
		}
		_, err := Check(sheets[i].Width, sheets[i].Length, rects, 3)
		require.NoError(t, err)
	}
	for k := range need {
		require.GreaterOrEqual(t, got[k], need[k])
	}
}

// reaches searches all patterns: panel after panel, strip after strip, column after column.
func reaches(forms []Form, kind []int, need []int, sheets []Sheet) bool {
	done := map[string]bool{}
	var try func(s int, length, height, across, wide, up int64) bool
	try = func(s int, length, height, across, wide, up int64) bool {
		open := false
		for _, n := range need {
			open = open || n > 0
		}
		if !open {
			return true
		}
		if s == len(sheets) {
			return false
		}
		key := string([]byte{byte(s), byte(length), byte(height), byte(across), byte(wide), byte(up)})
		for _, n := range need {
			key += string([]byte{byte(n)})
		}
		if done[key] {
			return false
		}
		done[key] = true
		// One more panel in the column, a new column, a new strip, the next sheet.
		for f, x := range forms {
			if need[kind[f]] > 0 && x.W <= wide && up+x.H <= height {
				need[kind[f]]--
				ok := try(s, length, height, across, wide, up+x.H)
				need[kind[f]]++
				if ok {
					return true
				}
			}
		}
		for w := int64(1); w <= sheets[s].Width-across-wide; w++ {
			if height > 0 && try(s, length, height, across+wide, w, 0) {
				return true
			}
		}
		for h := int64(1); h <= sheets[s].Length-length; h++ {
			if try(s, length+h, h, 0, 0, 0) {
				return true
			}
		}
		return try(s+1, 0, 0, 0, 0, 0)
	}
	return try(0, 0, 0, 0, 0, 0)
}
