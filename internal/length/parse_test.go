package length_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/length"
)

func TestParse(t *testing.T) {
	const in, yd = length.Inch, length.Yard
	tests := []struct {
		typed string
		def   length.Unit
		want  length.Length
	}{
		{"3 1/2 yd", "", 126 * in},
		{"3½yd", "", 126 * in},
		{"3-1/2 yds.", "", 126 * in},
		{"3 – 1/2 yds", "", 126 * in},
		{"3 and 1/2 yards", "", 126 * in},
		{"2.5m", "", 2500 * length.Millimetre},
		{"2,5 m", "", 2500 * length.Millimetre},
		{"0,125 m", "", 125 * length.Millimetre},
		{"1.250 m", "", 1250 * length.Millimetre},
		{"12345,678 mm", "", 12345*length.Millimetre + 1084}, // 1084.8 rounds down
		{"1,200,000 mm", "", 1200 * length.Metre},
		{"1.200.000 mm", "", 1200 * length.Metre},
		{"1,200.5 mm", "", 1200*length.Millimetre + 800},
		{"1.200,5 mm", "", 1200*length.Millimetre + 800},
		{`27½"`, "", 27*in + in/2},
		{"27½", length.In, 27*in + in/2},
		{"27 1⁄2″", "", 27*in + in/2},
		{"27.5”", "", 27*in + in/2},
		{"1 yd 9 in", "", 45 * in},
		{"1 yd. 9 in.", "", 45 * in},
		{"1 yd, 9 in", "", 45 * in},
		{"1 yard and 9 inches", "", 45 * in},
		{"1yd9in", "", 45 * in},
		{"2 1/2 yd 4 1/2 in", "", 94*in + in/2},
		{`5'3"`, "", 63 * in},
		{"5′ 3″", "", 63 * in},
		{"5’3’’", "", 63 * in},
		{"5'3", length.Yd, 63 * in},
		{"5 ft", "", 60 * in},
		{`44"`, "", 44 * in},
		{"44''", "", 44 * in},
		{"44 inches", "", 44 * in},
		{"1 Inch", "", in},
		{"1-1/2 YD", "", 54 * in},
		{"110cm", "", 1100 * length.Millimetre},
		{"110\u00a0cm", "", 1100 * length.Millimetre},
		{"1 m 50 cm", "", 1500 * length.Millimetre},
		{"3 Meters", "", 3 * length.Metre},
		{"⅛ in", "", in / 8},
		{"⅜ in", "", 3 * in / 8},
		{"⅝ in", "", 5 * in / 8},
		{"⅞", length.In, 7 * in / 8},
		{"⅔ yd", "", 24 * in},
		{"1 ⅓ yd", "", 48 * in},
		{"3/2 yd", "", 54 * in},
		{"-0", "", -1},
		{".5 yd", "", 18 * in},
		{"0", length.CM, 0},
		{"10 km", length.M, -1},
		{"10000 m", "", length.Max},
		{"3", length.Yd, 3 * yd},
	}
	for _, tt := range tests {
		got, err := length.Parse(tt.typed, tt.def, length.Down)
		if tt.want < 0 {
			require.Error(t, err, "Parse(%q)", tt.typed)
			continue
		}
		require.NoError(t, err, "Parse(%q)", tt.typed)
		require.Equal(t, tt.want, got, "Parse(%q) = %v, want %v", tt.typed, got, tt.want)
	}
}

func TestParseRounds(t *testing.T) {
	// A third of an inch is 13546 2/3 of a 1600th of a millimetre.
	for r, want := range map[length.Rounding]length.Length{length.Down: 13546, length.Up: 13547, length.Nearest: 13547} {
		got, err := length.Parse("1/3 in", "", r)
		require.NoError(t, err)
		require.Equal(t, want, got, "rounding %d", r)
	}
	// The parts are added before anything is rounded: 1/3 yd and 2/3 in are 12 2/3 in.
	got, err := length.Parse("1/3 yd 2/3 in", "", length.Up)
	require.NoError(t, err)
	require.Equal(t, 12*length.Inch+27094, got)
}

func TestParseRefuses(t *testing.T) {
	tests := []struct{ typed, why string }{
		{"", "A length is missing"},
		{" \t ", "A length is missing"},
		{"44", `44 has no unit; write it like 44 in or 44 cm`},
		{"1,200 in", "1,200 can mean 1200 or 1.200; write it without the comma, or with a full stop"},
		{"2,500 m", "can mean 2500 or 2.500"},
		{"12,34,567 mm", "12,34,567 is not a number"},
		{"1.2.3 mm", "1.2.3 is not a number"},
		{"1,2.3,4 mm", "is not a number"},
		{"-3 in", `"-3 in" is less than nothing`},
		{"−3 in", "is less than nothing"},
		{"44-45 in", "reads like from–to"},
		{"1 200 mm", "two numbers side by side"},
		{"3 4", "two numbers side by side"},
		{"3 yd 9", "9 has no unit"},
		{"3 9 in", "two numbers side by side"},
		{"1 yd 50 cm", "1yd and 50cm are of two systems"},
		{"9 in 1 yd", "write the larger unit first"},
		{"1 in 1 in", "each once"},
		{"3 ells", `"ells" is not a unit known here; use in, ft, yd, mm, cm or m`},
		{"approx 3 yd", `has "approx" where a number belongs`},
		{"inches", "has a unit without a number before it"},
		{"1/0 yd", "divides by nothing"},
		{"1/ yd", "unfinished fraction"},
		{"1/2/3 yd", "fraction in a fraction"},
		{"2.5 1/2 in", `"2.5" before a fraction is not a whole number`},
		{"2.5/2 in", "a fraction that is not of whole numbers"},
		{"3 3/2 in", "fraction of one or more after a whole number"},
		{"2½ 3/4 in", "is not a number"},
		{"18 x 22 in", "gives two sides where one length is wanted"},
		{"fat quarter", "they come in several sizes; measure it"},
		{"2 FQ", "measure it"},
		{"4 km", `"4 km" is too long for cloth`},
		{"2 miles", "check the number and its unit"},
		{"10000.001 m", "more than 10 km"},
		{"99999999999999999999999999999999 yd", "more than 10 km"},
		{strings.Repeat("9", 81), "too long to be a length"},
		{"1e9 m", "is not a unit known here"},
		{"NaN", "where a number belongs"},
		{"٣ in", "where a number belongs"},
		{"3 in,", "is not a length"},
		{"\xff", "where a number belongs"},
	}
	for _, tt := range tests {
		_, err := length.Parse(tt.typed, "", length.Down)
		var refused *length.Error
		require.True(t, errors.As(err, &refused), "Parse(%q) gave %v", tt.typed, err)
		if tt.typed == "2½ 3/4 in" {
			continue // any refusal will do: it has no one reading
		}
		require.Contains(t, err.Error(), tt.why, "Parse(%q)", tt.typed)
	}
}

func TestParseWritten(t *testing.T) {
	for typed, want := range map[string]length.Unit{"3 yd 2 in": length.Yd, "5": length.MM, `4"`: length.In, "2,5 m": length.M} {
		_, u, err := length.ParseWritten(typed, length.MM, length.Down)
		require.NoError(t, err)
		require.Equal(t, want, u, "ParseWritten(%q)", typed)
	}
}

func TestParseRect(t *testing.T) {
	const in, mm = length.Inch, length.Millimetre
	tests := []struct {
		typed         string
		def           length.Unit
		first, second length.Length
		unit          length.Unit
	}{
		{"18 x 22 in", "", 18 * in, 22 * in, length.In},
		{`18"x22"`, "", 18 * in, 22 * in, length.In},
		{`18"x22`, length.CM, 18 * in, 22 * in, length.In},
		{"18x22", length.In, 18 * in, 22 * in, length.In},
		{"46 × 56 cm", "", 460 * mm, 560 * mm, length.CM},
		{"18inx22in", "", 18 * in, 22 * in, length.In},
		{"18 in by 1 yd 9 in", "", 18 * in, 45 * in, length.In},
		{"20.5x30.5in", "", 20*in + in/2, 30*in + in/2, length.In},
		{"20½ X 30½ in", "", 20*in + in/2, 30*in + in/2, length.In},
		{"1,5 * 2,5 m", "", 1500 * mm, 2500 * mm, length.M},
	}
	for _, tt := range tests {
		require.True(t, length.IsRect(tt.typed), "IsRect(%q)", tt.typed)
		a, b, u, err := length.ParseRectWritten(tt.typed, tt.def, length.Down)
		require.NoError(t, err, "ParseRect(%q)", tt.typed)
		require.Equal(t, tt.first, a, "ParseRect(%q) first", tt.typed)
		require.Equal(t, tt.second, b, "ParseRect(%q) second", tt.typed)
		require.Equal(t, tt.unit, u, "ParseRect(%q) unit", tt.typed)
	}
	for typed, why := range map[string]string{
		"18 in":            "does not give two sides",
		"18 x 22 x 3 in":   "does not give two sides",
		"18 x in":          "The second side: ",
		"x 22 in":          "The first side: a length is missing",
		"18 x 22":          "The first side: 18 has no unit",
		"18 in x 22 ells":  "The second side: ",
		"-18 x 22 in":      "The first side: ",
		"20000 m x 22 in":  "The first side: that is more than 10 km",
		"22 in x 20000 m ": "The second side: that is more than 10 km",
	} {
		_, _, err := length.ParseRect(typed, "", length.Down)
		require.ErrorContains(t, err, why, "ParseRect(%q)", typed)
	}
	require.False(t, length.IsRect("3 1/2 yd"))
	require.False(t, length.IsRect("3 boxes"), "an x inside a word parts nothing")
}

func TestParseUnit(t *testing.T) {
	for s, want := range map[string]length.Unit{"in": length.In, " Inches ": length.In, "″": length.In, "YD.": length.Yd, "m": length.M, "centimeters": length.CM, "'": length.Ft} {
		u, err := length.ParseUnit(s)
		require.NoError(t, err)
		require.Equal(t, want, u, "ParseUnit(%q)", s)
	}
	_, err := length.ParseUnit("ell")
	require.ErrorContains(t, err, "use in, ft, yd, mm, cm or m")
	_, err = length.ParseUnit("")
	require.ErrorContains(t, err, "Say the unit")
}

var units = []length.Unit{length.In, length.Ft, length.Yd, length.MM, length.CM, length.M}

func TestParseUndoesFormat(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		u := rapid.SampledFrom(units).Draw(rt, "unit")
		l := length.Length(rapid.Int64Range(0, int64(length.Max)).Draw(rt, "length"))
		if rapid.Bool().Draw(rt, "on a mark") {
			l = l.Round(u.Fine(), length.Down)
		}
		shown := length.Format(l, u)
		back, err := length.Parse(strings.TrimPrefix(shown, "about "), "", length.Down)
		require.NoError(rt, err, "Parse(Format(%v) = %q)", l, shown)
		if strings.HasPrefix(shown, "about ") {
			require.NotEqual(rt, l.Round(u.Fine(), length.Nearest), l)
			require.Equal(rt, l.Round(u.Fine(), length.Nearest), back)
			return
		}
		require.Equal(rt, l, back, "Format(%v) = %q", l, shown)
	})
}

func TestParseUndoesDecimal(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		u := rapid.SampledFrom(units).Draw(rt, "unit")
		l := length.Length(rapid.Int64Range(0, int64(length.Max-length.Inch)).Draw(rt, "length"))
		if rapid.Bool().Draw(rt, "whole units") {
			l = l.Round(u.Size(), length.Down)
		}
		s, exact := length.Decimal(l, u)
		back, err := length.Parse(s, u, length.Nearest)
		require.NoError(rt, err)
		if exact {
			require.Equal(rt, l, back, "Decimal(%v, %s) = %q", l, u, s)
			return
		}
		require.False(rt, u.Metric(), "metric decimals always end")
		off := back - l
		if off < 0 {
			off = -off
		}
		require.LessOrEqual(rt, off, length.Inch/64, "Decimal(%v, %s) = %q", l, u, s)
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"3 1/2 yd", "2,5 m", `27½"`, "1 yd 9 in", `5'3"`, "1,200 in", "1-1/2", "44-45 in", "18 x 22 in", "1/0", "fat quarter", "٣", "\xff"} {
		f.Add(s, "in")
	}
	f.Fuzz(func(t *testing.T, s, def string) {
		u, err := length.ParseUnit(def)
		if err != nil {
			u = ""
		}
		down, errDown := length.Parse(s, u, length.Down)
		up, errUp := length.Parse(s, u, length.Up)
		require.Equal(t, errDown == nil, errUp == nil)
		if errDown != nil {
			var refused *length.Error
			require.True(t, errors.As(errDown, &refused))
			require.True(t, strings.HasSuffix(refused.Why, "."), "a sentence: %s", refused.Why)
			return
		}
		require.True(t, 0 <= down && down <= up && up <= down+1 && up <= length.Max, "Parse(%q) = %d to %d", s, down, up)
	})
}

func FuzzParseRect(f *testing.F) {
	for _, s := range []string{"18 x 22 in", `18"x22"`, "46 × 56 cm", "by", "x", "1 by 2 by 3", "18inx22in"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, b, err := length.ParseRect(s, length.In, length.Down)
		if err != nil {
			var refused *length.Error
			require.True(t, errors.As(err, &refused))
			return
		}
		require.True(t, length.IsRect(s))
		require.True(t, 0 <= a && a <= length.Max && 0 <= b && b <= length.Max)
	})
}
