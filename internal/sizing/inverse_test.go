package sizing_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// someHow draws everything of a spec but its sizes.
func someHow(rt *rapid.T, shrink bool) sizing.Spec {
	l := func(lo, hi length.Length, name string) length.Length {
		return length.Length(rapid.Int64Range(int64(lo), int64(hi)).Draw(rt, name))
	}
	s := sizing.Spec{Unit: rapid.SampledFrom([]length.Unit{length.In, length.CM}).Draw(rt, "unit"), Body: rapid.IntRange(1, 2).Draw(rt, "body")}
	s.Join = l(1, length.Inch, "join")
	s.Seam = sizing.Seam{Kind: sizing.Plain, First: l(1, length.Inch, "seam")}
	if rapid.Bool().Draw(rt, "french") {
		s.Seam = sizing.Seam{Kind: sizing.French, First: l(1, length.Inch, "first"), Second: l(3*length.Inch/16, length.Inch, "second")}
	}
	if shrink && rapid.Bool().Draw(rt, "shrinks") {
		s.Shrink = sizing.Shrink{
			Along:  sizing.Percent(rapid.Int64Range(0, 2000).Draw(rt, "shrinks along")),
			Across: sizing.Percent(rapid.Int64Range(0, 2000).Draw(rt, "shrinks across")),
			Step:   l(0, length.Inch, "step"),
		}
	}
	return s
}

// someSpec draws a spec that passes Check.
func someSpec(rt *rapid.T, shrink bool) sizing.Spec {
	l := func(lo, hi length.Length, name string) length.Length {
		return length.Length(rapid.Int64Range(int64(lo), int64(hi)).Draw(rt, name))
	}
	s := someHow(rt, shrink)
	s.Width = l(1, 2*length.Metre, "width")
	s.Length = l(length.Inch, 2*length.Metre, "length")
	switch rapid.SampledFrom([]sizing.Opening{sizing.ByCuff, sizing.ByHem, sizing.ByFlap}).Draw(rt, "opening") {
	case sizing.ByCuff:
		s.Cuff = l(1, s.Length-s.Unit.Fine(), "cuff")
		s.Accent = l(0, s.Length-s.Cuff, "accent")
		s.PiecedCuff = s.Body == 1 && rapid.Bool().Draw(rt, "pieced cuff")
		s.PiecedAccent = s.Body == 1 && s.Accent > 0 && rapid.Bool().Draw(rt, "pieced accent")
	case sizing.ByHem:
		s.Hem = sizing.Hem{Depth: l(1, 10*length.Inch, "depth"), Turn: l(0, length.Inch, "turn")}
	case sizing.ByFlap:
		s.Body = 1
		s.Flap = l(1, s.Length, "flap")
		s.Hem = sizing.Hem{Depth: l(0, 2*length.Inch, "depth")}
	}
	require.NoError(rt, s.Check())
	return s
}

func TestFromCutsUndoesCuts(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := someSpec(rt, false)
		panels, _, err := sizing.Cuts(s)
		require.NoError(rt, err)
		back, err := sizing.FromCuts(sizing.CutsOf(panels), s)
		require.NoError(rt, err)
		require.Equal(rt, s, back)
	})
}

func TestCutsUndoesFromCuts(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		// Real cuts are not of one width, nor on any mark of a ruler.
		s := someSpec(rt, true)
		panels, _, err := sizing.Cuts(s)
		require.NoError(rt, err)
		cuts := sizing.CutsOf(panels)
		for i := range cuts {
			cuts[i].Around += length.Length(rapid.Int64Range(0, int64(4*length.Inch)).Draw(rt, "more around"))
			cuts[i].Along += length.Length(rapid.Int64Range(0, 3).Draw(rt, "more along"))
		}
		got, err := sizing.FromCuts(cuts, s)
		if err != nil {
			require.True(rt, apperr.Is(err, apperr.KindInvalid))
			rt.Skip("cut to something that cannot be sewn")
		}
		panels, _, err = sizing.Cuts(got)
		require.NoError(rt, err)
		require.Equal(rt, cuts, sizing.CutsOf(panels), "cuts give %+v", got)
		for _, p := range panels {
			require.LessOrEqual(rt, p.Around, p.MostAround)
		}
	})
}

func TestSpecIsKeptExactly(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := someSpec(rt, true)
		if rapid.Bool().Draw(rt, "spare") {
			s.Spare = map[string]sizing.Spare{"body": {Around: 1, Along: 9007199254740993}}
		}
		kept, err := json.Marshal(s)
		require.NoError(rt, err)
		var back sizing.Spec
		require.NoError(rt, json.Unmarshal(kept, &back))
		require.Equal(rt, s, back, "%s", kept)
	})
}
