package length_test

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/length"
)

// NBS Circular 572 addendum (1960), the 1959 yard and pound agreement; NIST SP
// 811 appendix B.8: 1 in = 25.4 mm and 1 yd = 0.9144 m, exact.
func TestInchAndYard(t *testing.T) {
	for _, tt := range []struct{ imperial, metric string }{{"1 in", "25.4 mm"}, {"1 yd", "0.9144 m"}, {"1 ft", "304.8 mm"}} {
		a, err := length.Parse(tt.imperial, "", length.Down)
		require.NoError(t, err)
		b, err := length.Parse(tt.metric, "", length.Up)
		require.NoError(t, err)
		require.Equal(t, b, a, "%s = %s", tt.imperial, tt.metric)
	}
	s, exact := length.Decimal(length.Yard, length.M)
	require.True(t, exact)
	require.Equal(t, "0.9144", s)
}

// NIST SP 811 appendix B.8: 1 yd² = 0.83612736 m² (computed from the yard), and
// 1 oz/yd² = 0.03390575 kg/m² with the ounce of 28.349523125 g.
func TestSquareYard(t *testing.T) {
	yd, err := length.Yard.Times(length.Yard)
	require.NoError(t, err)
	require.Equal(t, length.SquareYard, yd)
	m, err := length.Metre.Times(length.Metre)
	require.NoError(t, err)
	ratio := big.NewRat(int64(yd), int64(m))
	require.Equal(t, "0.83612736", ratio.FloatString(8))
	require.Zero(t, ratio.Cmp(new(big.Rat).SetFrac64(83612736, 100000000)), "the decimals end there")
	ounce, _ := new(big.Rat).SetString("0.028349523125")
	require.Equal(t, "0.03390575", new(big.Rat).Quo(ounce, ratio).FloatString(8))
}

// Common practice (two published glossaries disagree, so measure, never
// assume): a fat quarter is half the width, 18 × 22 in from 44 in cloth and 18 ×
// 21 from 42 in; a fat eighth is 9 × 21.
func TestFatQuarterIsHalfTheWidth(t *testing.T) {
	for _, tt := range []struct {
		cut, cloth string
		yards      length.Length
	}{{"18 x 22 in", `44"`, length.Yard / 2}, {"18 x 21 in", `42"`, length.Yard / 2}, {"9 x 21 in", "42 in", length.Yard / 4}} {
		along, across, err := length.ParseRect(tt.cut, "", length.Down)
		require.NoError(t, err)
		width, err := length.Parse(tt.cloth, "", length.Down)
		require.NoError(t, err)
		require.Equal(t, width/2, across)
		require.Equal(t, tt.yards, along)
	}
	_, err := length.Parse("fat quarter", length.In, length.Down)
	require.ErrorContains(t, err, "measure it")
}

// 1/64 in, 0.1 in and 1 mm are all whole (by definition of the unit).
func TestMarksAreWhole(t *testing.T) {
	require.Equal(t, length.Length(635), length.In.Fine())
	require.Equal(t, length.Length(4064), length.Inch/10)
	require.Equal(t, length.Length(160), length.MM.Fine())
	require.Zero(t, length.Inch%64)
}

func TestSumsThatDoNotFit(t *testing.T) {
	const most = length.Length(math.MaxInt64)
	for _, tt := range []struct {
		a, b length.Length
		fits bool
	}{
		{most, 1, false}, {most, 0, true}, {most - 1, 1, true}, {-most - 1, -1, false}, {-most - 1, most, true}, {1, most, false}, {0, 0, true},
	} {
		got, err := tt.a.Add(tt.b)
		require.Equal(t, tt.fits, err == nil, "%d + %d", tt.a, tt.b)
		if tt.fits {
			require.Equal(t, tt.a+tt.b, got)
		}
		_, err = length.Area(tt.a).Add(length.Area(tt.b))
		require.Equal(t, tt.fits, err == nil, "areas %d + %d", tt.a, tt.b)
	}
	_, err := length.Sum(most, -1, 2)
	require.ErrorIs(t, err, length.ErrOverflow)
	_, err = most.Repeat(2)
	require.ErrorIs(t, err, length.ErrOverflow)
	_, err = length.Max.Times(length.Max)
	require.ErrorIs(t, err, length.ErrOverflow)
}

func TestProductsAgreeWithBigNumbers(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a, b := rapid.Int64().Draw(rt, "a"), rapid.Int64().Draw(rt, "b")
		want := new(big.Int).Mul(big.NewInt(a), big.NewInt(b))
		got, err := length.Length(a).Times(length.Length(b))
		if err != nil {
			require.True(rt, !want.IsInt64() || want.Int64() == math.MinInt64)
			return
		}
		require.Equal(rt, want.String(), big.NewInt(int64(got)).String())
	})
}

func TestRound(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		l := length.Length(rapid.Int64Range(-int64(length.Max), int64(length.Max)).Draw(rt, "l"))
		step := length.Length(rapid.Int64Range(1, int64(length.Metre)).Draw(rt, "step"))
		down, up, near := l.Round(step, length.Down), l.Round(step, length.Up), l.Round(step, length.Nearest)
		require.Zero(rt, down%step)
		require.Zero(rt, up%step)
		require.True(rt, down <= l && l < down+step)
		require.True(rt, up >= l && l > up-step)
		require.True(rt, near == down || near == up)
		require.LessOrEqual(rt, max(near-l, l-near)*2, step)
		require.Equal(rt, -near, (-l).Round(step, length.Nearest), "symmetric about nothing")
	})
	require.Panics(t, func() { length.Inch.Round(0, length.Up) })
}

func TestWithin(t *testing.T) {
	const in = length.Inch
	require.NoError(t, length.Within(2*in, in, 3*in, length.In))
	require.EqualError(t, length.Within(in/2, in, 3*in, length.In), "1/2 in is too short: at least 1 in.")
	require.EqualError(t, length.Within(4000*length.Metre, in, 3*length.Yard, length.Yd), "About 4374 yd 16 5/16 in is too long: at most 3 yd; check the number and its unit.")
	require.EqualError(t, length.Within(0, 1, in, length.In), "It must be more than nothing.")
}
