package proof

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// What is judged by the cloth left over comes out as when every part is tried.
func TestScarceAgainstEveryPart(t *testing.T) {
	can, cannot := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		g := &cloth{name: "g", pieces: map[[2]int64]int64{}}
		kinds := rapid.IntRange(1, 4).Draw(t, "kinds")
		var panels []int
		var need []int64
		for k := range kinds {
			w, h := rapid.Int64Range(1, 5).Draw(t, "w"), rapid.Int64Range(1, 5).Draw(t, "h")
			g.forms = append(g.forms, form{w, h, k})
			if rapid.Bool().Draw(t, "turns") {
				g.forms = append(g.forms, form{h, w, k})
			}
			panels, need = append(panels, k), append(need, rapid.Int64Range(0, 4).Draw(t, "need"))
		}
		for range rapid.IntRange(1, 3).Draw(t, "sizes") {
			w, l := rapid.Int64Range(1, 8).Draw(t, "width"), rapid.Int64Range(1, 10).Draw(t, "length")
			g.pieces[[2]int64{w, l}] += rapid.Int64Range(1, 2).Draw(t, "pieces")
			g.widest, g.long = max(g.widest, w), max(g.long, l)
		}
		judge := func() *together {
			c := &casework{meter: meter{ctx: context.Background(), left: mostWork, asked: mostWork}}
			return &together{c: c, g: g, panels: panels, high: map[[2]int64]int64{}, long: map[[2]int64]int64{}, dealt: map[[2]int]bool{}}
		}
		every := judge()
		every.takeParts(need)
		every.takeStacks()
		every.takeAreas()
		want := every.deal(len(every.parts)-1, every.pieces())
		require.NoError(t, every.err)
		got, err := judge().scarcely(need)
		require.NoError(t, err)
		require.Equal(t, want, got, "%v of %v from %v", need, g.forms, g.pieces)
		if got {
			can++
		} else {
			cannot++
		}
	})
	require.Positive(t, can)
	require.Positive(t, cannot)
}

// Work is counted, and ends the judgement where it is too much.
func TestScarceGivesUp(t *testing.T) {
	g := &cloth{forms: []form{{3, 2, 0}, {2, 3, 0}, {1, 1, 1}}, pieces: map[[2]int64]int64{{20, 90}: 1}, widest: 20, long: 90}
	c := &casework{meter: meter{ctx: context.Background(), left: 100_000, asked: 100_000}}
	_, err := (&together{c: c, g: g, panels: []int{0, 1}}).scarcely([]int64{90, 90})
	require.ErrorIs(t, err, errTooMuch)
}
