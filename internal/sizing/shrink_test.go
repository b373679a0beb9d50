package sizing_test

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/length"
	"boltward/internal/sizing"
)

// Change % = 100 · (after − before) / before (AATCC TM135, ISO 5077; formula from
// memory). 36 × 42 → 35 × 41: −2.78 %, −2.38 %, area −5.09 % (computed).
func TestChange(t *testing.T) {
	in := func(n int64) length.Length { return length.Length(n) * length.Inch }
	require.Equal(t, "-2.78 %", sizing.Change(in(36), in(35)).String())
	require.Equal(t, "-2.38 %", sizing.Change(in(42), in(41)).String())
	area, err := sizing.ChangeOfArea(in(36), in(35), in(42), in(41))
	require.NoError(t, err)
	require.Equal(t, "-5.09 %", area.String())
	require.Equal(t, "2.5 %", sizing.Change(in(40), in(41)).String())
	require.Equal(t, "0 %", sizing.Change(in(40), in(40)).String())
	_, err = sizing.ChangeOfArea(length.Max, 1, length.Max, 1)
	require.ErrorIs(t, err, length.ErrOverflow)
}

// Cut for unwashed cloth = size / (1 − s): 30 in at 5 % → 31.579, not 31.5 (computed).
func TestCutLargerDividesByWhatIsLeft(t *testing.T) {
	got := sizing.CutLarger(30*length.Inch, 500, 0)
	inches := big.NewRat(int64(got), int64(length.Inch))
	require.Equal(t, "31.579", inches.FloatString(3))
	require.Equal(t, one(t, "31 3/4"), sizing.CutLarger(30*length.Inch, 500, sizing.DefaultStep(length.In)))
	require.Equal(t, 80*length.Centimetre, sizing.CutLarger(76*length.Centimetre, 500, sizing.DefaultStep(length.CM)))
}

// "Preshrunk" is under 3 %; cotton shrinks by 2 to 5 % (common practice, no source):
// none of it is refused, and a slip is.
func TestUsualShrinkageIsTaken(t *testing.T) {
	for typed, want := range map[string]sizing.Shrink{
		"3":         {Along: 300, Across: 300, Step: length.Inch / 4},
		"5,2":       {Along: 500, Across: 200, Step: length.Inch / 4},
		"5%, 2.5 %": {Along: 500, Across: 250, Step: length.Inch / 4},
		"2.75,0":    {Along: 275, Step: length.Inch / 4},
		"0,0":       {},
	} {
		got, err := sizing.ParseShrink("shrink", typed, length.In)
		require.NoError(t, err, typed)
		require.Equal(t, want, got, typed)
	}
	for typed, why := range map[string]string{
		"":        "Along the cloth: ",
		"5,":      "Across the cloth: ",
		"-5,3":    "is not a share: write 5 for cloth that becomes 5 % shorter",
		"5,3,1":   "Give percent along and across",
		"60":      "more than 50 %",
		"5..1":    "is not a share",
		"2.125":   "is not a share",
		"1e3":     "is not a share",
		"9999999": "is not a share",
	} {
		_, err := sizing.ParseShrink("shrink", typed, length.In)
		require.ErrorContains(t, err, why, typed)
	}
}

func TestCutLargerIsEnoughAndNoMore(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		wanted := length.Length(rapid.Int64Range(0, int64(length.Max)).Draw(rt, "wanted"))
		s := sizing.Percent(rapid.Int64Range(0, 5000).Draw(rt, "shrinks"))
		step := length.Length(rapid.Int64Range(1, int64(length.Metre)).Draw(rt, "step"))
		cut := sizing.CutLarger(wanted, s, step)
		require.Zero(rt, cut%step)
		require.GreaterOrEqual(rt, sizing.AfterWash(cut, s), wanted)
		if cut > 0 {
			left := new(big.Rat).Mul(big.NewRat(int64(cut-step), 1), big.NewRat(int64(10000-s), 10000))
			require.Negative(rt, left.Cmp(big.NewRat(int64(wanted), 1)), "a step less would do")
		}
	})
	require.Panics(t, func() { sizing.CutLarger(1, 10000, 1) })
	require.Panics(t, func() { sizing.AfterWash(1, -1) })
	require.Panics(t, func() { sizing.Change(0, 1) })
}

func TestUnwashedClothIsCutLarger(t *testing.T) {
	s := standard(t)
	shrink, err := sizing.ParseShrink("shrink", "5,2.5", length.In)
	require.NoError(t, err)
	s.Shrink = shrink
	panels, notes, err := sizing.Cuts(s)
	require.NoError(t, err)
	// Around lies across the cloth: 42 / 0.975 = 43.08, 27 / 0.95 = 28.42 (computed).
	require.Equal(t, one(t, "43 1/4"), panels[0].Around)
	require.Equal(t, one(t, "28 1/2"), panels[0].Along)
	last := notes[len(notes)-1]
	require.Equal(t, "shrink", last.Code)
	require.Equal(t, "Cut larger for unwashed cloth that shrinks by 5 % along and 2.5 % across, rounded up to 1/4 in, for panels that lie across the cloth. "+
		"Washed and unwashed cloth never meet in one pillowcase, flannel and plain weave neither.", last.Text)
}
