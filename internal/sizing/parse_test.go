package sizing_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

func TestParseSeam(t *testing.T) {
	q, mm := length.Inch/4, length.Millimetre
	for typed, want := range map[string]sizing.Seam{
		"french:1/4in+1/4in":   {Kind: sizing.French, First: q, Second: q},
		"French: 1/4 + 1/4 in": {Kind: sizing.French, First: q, Second: q},
		"french:1/4in+1/4":     {Kind: sizing.French, First: q, Second: q},
		"french:1/4+1/4":       {Kind: sizing.French, First: q, Second: q},
		"french:5mm+6mm":       {Kind: sizing.French, First: 5 * mm, Second: 6 * mm},
		"plain:1/2in":          {Kind: sizing.Plain, First: 2 * q},
		"plain:½":              {Kind: sizing.Plain, First: 2 * q},
		"plain:1,5cm":          {Kind: sizing.Plain, First: 15 * mm},
	} {
		got, err := sizing.ParseSeam("seam", typed, length.In)
		require.NoError(t, err, typed)
		require.Equal(t, want, got, typed)
	}
	for typed, why := range map[string]string{
		"":                     `"" is not a seam: write plain:1/2in or french:1/4in+1/4in.`,
		"1/4in":                "is not a seam",
		"flat:1/4in":           "is not a seam",
		"french:1/4in":         "A French seam has a first and a second width",
		"french:1/4in+":        "The second French seam: A length is missing",
		"french:x+1/4in":       "The first French seam: ",
		"french:1/4+1/4+1/4in": "A French seam has a first and a second width",
		"plain:1/4in+1/4in":    "A plain seam has one width",
		"plain:":               "The plain seam: A length is missing",
	} {
		_, err := sizing.ParseSeam("seam", typed, length.In)
		require.ErrorContains(t, err, why, typed)
		require.Contains(t, apperr.Fields(err), "seam")
	}
	_, err := sizing.ParseSeam("seam", "french:1/4+1/4", "")
	require.ErrorContains(t, err, "The first French seam: 1/4 has no unit")
}

func TestParseHem(t *testing.T) {
	for typed, want := range map[string]sizing.Hem{
		"1in+1/4in": {Depth: length.Inch, Turn: length.Inch / 4},
		"1 + 1/4":   {Depth: length.Inch, Turn: length.Inch / 4},
		"3 in":      {Depth: 3 * length.Inch},
	} {
		got, err := sizing.ParseHem("hem", typed, length.In)
		require.NoError(t, err, typed)
		require.Equal(t, want, got, typed)
	}
	for typed, why := range map[string]string{"1+1+1": "A hem has a depth and a turn-under", "1in+": "The hem's turn-under: ", "deep": "The hem's depth: "} {
		_, err := sizing.ParseHem("hem", typed, length.In)
		require.ErrorContains(t, err, why, typed)
	}
}

func TestParsePillow(t *testing.T) {
	for typed, want := range map[string]sizing.Rect{
		"20x26in":  {Width: 20 * length.Inch, Length: 26 * length.Inch},
		"20 x 26":  {Width: 20 * length.Inch, Length: 26 * length.Inch},
		"Queen":    {Width: 20 * length.Inch, Length: 30 * length.Inch},
		"40 by 80": {Width: 40 * length.Centimetre, Length: 80 * length.Centimetre},
	} {
		got, err := sizing.ParsePillow("pillow", typed, length.In)
		require.NoError(t, err, typed)
		require.Equal(t, want, got, typed)
	}
	_, err := sizing.ParsePillow("pillow", "sofa", length.In)
	require.ErrorContains(t, err, `"sofa" is no pillow known here: write its size like 20x26in, or one of standard, queen, king`)
	_, err = sizing.ParsePillow("pillow", "20in", length.In)
	require.ErrorContains(t, err, "does not give two sides")
}

func TestParseCuts(t *testing.T) {
	in, mm := length.Inch, length.Millimetre
	want := []sizing.Cut{{sizing.Body, 42 * in, 27 * in}, {sizing.Cuff, 42 * in, 9 * in}, {sizing.Accent, 42 * in, 2 * in}}
	for _, typed := range []string{
		"body=42x27in,cuff=42x9in,accent=42x2in",
		"Body = 42 x 27 in; cuff = 42 x 9 in; accent = 42 x 2 in",
		`body=42"x27", cuff=42"x9", accent=1yd 6in x 2in`,
	} {
		got, _, err := sizing.ParseCuts("cut", typed, "")
		require.NoError(t, err, typed)
		require.Equal(t, want, got, typed)
	}
	got, unit, err := sizing.ParseCuts("cut", "body=106,5x68,5cm,cuff=106,5x23", length.CM)
	require.NoError(t, err)
	require.Equal(t, length.CM, unit)
	require.Equal(t, []sizing.Cut{{sizing.Body, 1065 * mm, 685 * mm}, {sizing.Cuff, 1065 * mm, 230 * mm}}, got)
	for typed, why := range map[string]string{
		"":                        `"" is not a cut: write it like body=42x27in,cuff=42x9in.`,
		"42x27in":                 `"42x27in" is not a cut`,
		"=42x27in":                "is not a cut",
		"body=42in":               "The body: ",
		"body=42x27in,cuff=9in":   "The cuff: ",
		"body=42x27":              "The body: The first side: 42 has no unit",
		"body=42x27in,":           "The body: The second side: ",
		"body=42x27in;":           `"" is not a cut`,
		"body=42 x 27 x 3 in":     "does not give two sides",
		strings.Repeat(",", 1001): "too long for a list of cuts",
		"body=1,200x27in,cuff=3":  "The body: The first side: 1,200 can mean 1200 or 1.200",
	} {
		_, _, err := sizing.ParseCuts("cut", typed, "")
		require.ErrorContains(t, err, why, typed)
	}
}

func FuzzParts(f *testing.F) {
	for _, s := range []string{
		"body=42x27in,cuff=42x9in,accent=42x2in", "french:1/4in+1/4in", "plain:1/2in", "1in+1/4in", "20x26in", "queen", "5,3", "5%", "body=106,5x68,5cm;cuff=1x1",
		"=", ",", "+", ":", "\xff", "french:", "body==", "5.25%,0",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		refused := func(err error) {
			require.True(t, err == nil || apperr.Is(err, apperr.KindInvalid), "%q: %v", s, err)
		}
		positive := func(ls ...length.Length) {
			for _, l := range ls {
				require.True(t, 0 <= l && l <= length.Max, "%q gives %v", s, l)
			}
		}
		seam, err := sizing.ParseSeam("seam", s, length.In)
		refused(err)
		positive(seam.First, seam.Second)
		hem, err := sizing.ParseHem("hem", s, length.CM)
		refused(err)
		positive(hem.Depth, hem.Turn)
		pillow, err := sizing.ParsePillow("pillow", s, length.In)
		refused(err)
		positive(pillow.Width, pillow.Length)
		shrink, err := sizing.ParseShrink("shrink", s, length.In)
		refused(err)
		require.True(t, 0 <= shrink.Along && shrink.Along <= 5000 && 0 <= shrink.Across && shrink.Across <= 5000)
		cuts, _, err := sizing.ParseCuts("cut", s, "")
		refused(err)
		if err != nil {
			return
		}
		for _, c := range cuts {
			positive(c.Around, c.Along)
		}
		join, seam := sizing.DefaultSeams(length.In)
		spec, err := sizing.FromCuts(cuts, sizing.Spec{Unit: length.In, Join: join, Seam: seam, Body: sizing.Folded})
		refused(err)
		if err == nil {
			panels, _, err := sizing.Cuts(spec)
			require.NoError(t, err)
			require.ElementsMatch(t, cuts, sizing.CutsOf(panels))
		}
	})
}
