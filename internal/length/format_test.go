package length_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/length"
)

func TestFormat(t *testing.T) {
	const in, mm = length.Inch, length.Millimetre
	tests := []struct {
		l    length.Length
		u    length.Unit
		want string
	}{
		{27*in + in/2, length.In, "27 1/2 in"},
		{in / 64, length.In, "1/64 in"},
		{5 * in / 8, length.In, "5/8 in"},
		{0, length.In, "0 in"},
		{-in / 4, length.In, "-1/4 in"},
		{in - 1, length.In, "about 1 in"},
		{100 * mm, length.In, "about 3 15/16 in"},
		{126 * in, length.Yd, "3 1/2 yd"},
		{27 * in / 2, length.Yd, "3/8 yd"},
		{46 * in, length.Yd, "1 yd 10 in"},
		{10 * in, length.Yd, "10 in"},
		{46*in + in/8, length.Yd, "1 yd 10 1/8 in"},
		{0, length.Yd, "0 yd"},
		{length.Yard - 1, length.Yd, "about 1 yd"},
		{1, length.Ft, "about 0 ft"},
		{63 * in, length.Ft, "5 ft 3 in"},
		{60 * in, length.Ft, "5 ft"},
		{27*in + in/2, length.CM, "69.85 cm"},
		{2500 * mm, length.M, "2.5 m"},
		{25 * mm / 10, length.MM, "2.5 mm"},
		{in / 64, length.MM, "about 0.4 mm"},
	}
	for _, tt := range tests {
		require.Equal(t, tt.want, length.Format(tt.l, tt.u), "Format(%v, %s)", tt.l, tt.u)
	}
	require.Panics(t, func() { length.Format(1, "ell") })
}

func TestOther(t *testing.T) {
	const in = length.Inch
	for _, tt := range []struct {
		l    length.Length
		u    length.Unit
		want string
	}{
		{27*in + in/2, length.In, "about 69.9 cm"},
		{5 * in, length.In, "12.7 cm"},
		{117 * in, length.Yd, "about 2.97 m"},
		{46 * length.Centimetre, length.CM, "about 18 1/8 in"},
		{5 * length.Metre / 2, length.M, "about 2 yd 26 3/8 in"},
	} {
		require.Equal(t, tt.want, length.Other(tt.l, tt.u), "Other(%v, %s)", tt.l, tt.u)
	}
}

func TestDecimal(t *testing.T) {
	const in = length.Inch
	for _, tt := range []struct {
		l     length.Length
		u     length.Unit
		want  string
		exact bool
	}{
		{27*in + in/2, length.In, "27.5", true},
		{in / 64, length.In, "0.015625", true},
		{in / 10, length.In, "0.1", true},
		{-in / 4, length.In, "-0.25", true},
		{in, length.MM, "25.4", true},
		{1, length.MM, "0.000625", true},
		{1, length.M, "0.000000625", true},
		{length.Max, length.MM, "10000000", true},
		{10 * length.Millimetre, length.In, "0.390625", false},
		{45 * in, length.Yd, "1.25", true},
		{in, length.Yd, "0.0278", false},
		{-in, length.Yd, "-0.0278", false},
		{35 * in, length.Ft, "2.9167", false},
	} {
		s, exact := length.Decimal(tt.l, tt.u)
		require.Equal(t, tt.want, s, "Decimal(%v, %s)", tt.l, tt.u)
		require.Equal(t, tt.exact, exact, "Decimal(%v, %s)", tt.l, tt.u)
	}
}

func TestAreaFormat(t *testing.T) {
	for _, tt := range []struct {
		a    length.Area
		u    length.Unit
		want string
	}{
		{length.SquareYard, length.In, "1 yd²"},
		{length.SquareYard, length.M, "0.84 m²"},
		{5 * length.SquareMetre / 2, length.CM, "2.5 m²"},
		{-length.SquareMetre, length.MM, "-1 m²"},
		{-1, length.MM, "0 m²"},
		{math.MaxInt64, length.M, "3602879.7 m²"},
		{math.MinInt64, length.M, "-3602879.7 m²"},
		{1296 * length.SquareInch, length.Yd, "1 yd²"},
	} {
		require.Equal(t, tt.want, tt.a.Format(tt.u), "%d.Format(%s)", tt.a, tt.u)
	}
}
