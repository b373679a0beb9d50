package sizing_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// Every refusal names its field, its reason and the nearest size that works, and that
// size does work.
func TestRefusedWithTheNearestThatWorks(t *testing.T) {
	in := func(s string) length.Length { return one(t, s) }
	tests := []struct {
		name, field, why string
		spoil, mend      func(*sizing.Spec)
	}{
		{
			"second French seam does not clear the first", "seam",
			"The second French seam of 1/8 in does not clear the first one, which is trimmed to 1/8 in: make the second at least 3/16 in.",
			func(s *sizing.Spec) { s.Seam = seam(t, "french:3/8+1/8") },
			func(s *sizing.Spec) { s.Seam.Second = in("3/16") },
		},
		{
			"a narrow first seam is not trimmed", "seam",
			"The second French seam of 1/8 in does not clear the first one, which is trimmed to 3/32 in: make the second at least 5/32 in.",
			func(s *sizing.Spec) { s.Seam = seam(t, "french:3/32+1/8") },
			func(s *sizing.Spec) { s.Seam.Second = in("5/32") },
		},
		{
			"accent deeper than the body", "accent",
			"An accent of 27 in is deeper than the 26 1/4 in of the body that show: at most 26 1/4 in.",
			func(s *sizing.Spec) { s.Accent = in("27") },
			func(s *sizing.Spec) { s.Accent = in("26 1/4") },
		},
		{
			"cuff longer than the case", "cuff",
			"A cuff of 31 in is as long as the case or longer: at most 29 3/4 in.",
			func(s *sizing.Spec) { s.Cuff = in("31") },
			func(s *sizing.Spec) { s.Cuff = in("29 3/4") },
		},
		{
			"cuff as long as the case, no accent", "cuff",
			"A cuff of 30 1/2 in is as long as the case or longer: at most 30 31/64 in.",
			func(s *sizing.Spec) { s.Cuff, s.Accent = in("30 1/2"), 0 },
			func(s *sizing.Spec) { s.Cuff = in("30 31/64") },
		},
		{
			"flap longer than the case", "flap",
			"A flap of 31 in is longer than the case: at most 30 1/2 in.",
			func(s *sizing.Spec) { s.Cuff, s.Accent, s.Flap = 0, 0, in("31") },
			func(s *sizing.Spec) { s.Flap = in("30 1/2") },
		},
		{
			"no width", "width", "The finished width is nothing: give a length.",
			func(s *sizing.Spec) { s.Width = 0 },
			func(s *sizing.Spec) { s.Width = 1 },
		},
		{
			"width below nothing", "width", "The finished width is less than nothing: give a length.",
			func(s *sizing.Spec) { s.Width = -1 },
			func(s *sizing.Spec) { s.Width = in("20") },
		},
		{
			"4 km of width", "width", "about 157480 5/16 in is too much: at most 118 7/64 in; check the number and its unit.",
			func(s *sizing.Spec) { s.Width = 4000 * length.Metre },
			func(s *sizing.Spec) { s.Width = in("118 7/64") },
		},
		{
			"no length", "length", "The finished length is nothing",
			func(s *sizing.Spec) { s.Length = 0 },
			func(s *sizing.Spec) { s.Length = in("30") },
		},
		{
			"no join", "join", "The seam that joins the cuff is nothing",
			func(s *sizing.Spec) { s.Join = 0 },
			func(s *sizing.Spec) { s.Join = in("1/4") },
		},
		{
			"no seam", "seam", "Choose a plain or a French seam.",
			func(s *sizing.Spec) { s.Seam = sizing.Seam{} },
			func(s *sizing.Spec) { s.Seam = seam(t, "plain:1/4") },
		},
		{
			"French seam of one width", "seam", "The second of the French seams is nothing",
			func(s *sizing.Spec) { s.Seam.Second = 0 },
			func(s *sizing.Spec) { s.Seam.Second = in("1/4") },
		},
		{
			"plain seam of two widths", "seam", "A plain seam is sewn once",
			func(s *sizing.Spec) { s.Seam.Kind = sizing.Plain },
			func(s *sizing.Spec) { s.Seam.Second = 0 },
		},
		{
			"three bodies", "body", "The body is cut in 1 piece, folded, or in 2, a front and a back.",
			func(s *sizing.Spec) { s.Body = 3 },
			func(s *sizing.Spec) { s.Body = 2 },
		},
		{
			"cuff and hem", "hem", "A case with a cuff has no hem",
			func(s *sizing.Spec) { s.Hem.Depth = in("1") },
			func(s *sizing.Spec) { s.Hem = sizing.Hem{} },
		},
		{
			"cuff and flap", "flap", "A case with a flap has no cuff",
			func(s *sizing.Spec) { s.Flap, s.Accent = in("6"), 0 },
			func(s *sizing.Spec) { s.Cuff = 0 },
		},
		{
			"flap in two", "body", "A case with a flap is cut in one piece",
			func(s *sizing.Spec) { s.Flap, s.Accent, s.Cuff, s.Body = in("6"), 0, 0, 2 },
			func(s *sizing.Spec) { s.Body = 1 },
		},
		{
			"nothing at the open end", "cuff", "Say how the open end is made: with a cuff, a hem or a flap.",
			func(s *sizing.Spec) { s.Cuff, s.Accent = 0, 0 },
			func(s *sizing.Spec) { s.Hem.Depth = in("1") },
		},
		{
			"accent without a cuff", "accent", "An accent lies between cuff and body",
			func(s *sizing.Spec) { s.Cuff, s.Hem.Depth = 0, in("1") },
			func(s *sizing.Spec) { s.Accent = 0 },
		},
		{
			"turn-under alone", "hem", "The hem has a turn-under but no depth",
			func(s *sizing.Spec) { s.Cuff, s.Accent, s.Hem.Turn = 0, 0, in("1/4") },
			func(s *sizing.Spec) { s.Hem.Depth = in("1") },
		},
		{
			"a pieced hem", "cuff", "Only a cuff or an accent is pieced",
			func(s *sizing.Spec) { s.Cuff, s.Accent, s.Hem.Depth, s.PiecedCuff = 0, 0, in("1"), true },
			func(s *sizing.Spec) { s.PiecedCuff = false },
		},
		{
			"no accent to piece", "accent", "There is no accent to piece.",
			func(s *sizing.Spec) { s.Accent, s.PiecedAccent = 0, true },
			func(s *sizing.Spec) { s.PiecedAccent = false },
		},
		{
			"half a pillow", "pillow", "The pillow's length is nothing",
			func(s *sizing.Spec) { s.Pillow.Width = in("20") },
			func(s *sizing.Spec) { s.Pillow.Length = in("26") },
		},
		{
			"cloth that shrinks to nothing", "shrink", "Shrinkage of more than 50 %",
			func(s *sizing.Spec) { s.Shrink.Along = 10000 },
			func(s *sizing.Spec) { s.Shrink.Along = 500 },
		},
		{
			"cloth that grows", "shrink", "Shrinkage is less than nothing",
			func(s *sizing.Spec) { s.Shrink.Across = -1 },
			func(s *sizing.Spec) { s.Shrink.Across = 0 },
		},
		{
			"a spare that eats the panel", "cut", "The cuff would have no size",
			func(s *sizing.Spec) { s.Spare = map[string]sizing.Spare{"cuff": {Along: -in("9")}} },
			func(s *sizing.Spec) { s.Spare = map[string]sizing.Spare{"cuff": {Along: -in("1")}} },
		},
		{
			"a spare beyond any cloth", "cut", "The cuff is cut far beyond what the size needs",
			func(s *sizing.Spec) { s.Spare = map[string]sizing.Spare{"cuff": {Around: 4 * length.Metre}} },
			func(s *sizing.Spec) { s.Spare = map[string]sizing.Spare{"cuff": {Around: in("1")}} },
		},
		{
			"an unknown unit", "unit", "Choose inches or centimetres.",
			func(s *sizing.Spec) { s.Unit = "ell" },
			func(s *sizing.Spec) { s.Unit = length.CM },
		},
	}
	for _, tt := range tests {
		s := standard(t)
		tt.spoil(&s)
		_, _, err := sizing.Cuts(s)
		require.True(t, apperr.Is(err, apperr.KindInvalid), "%s: %v", tt.name, err)
		require.Contains(t, apperr.Fields(err)[tt.field], tt.why, tt.name)
		tt.mend(&s)
		_, _, err = sizing.Cuts(s)
		require.NoError(t, err, "%s, mended", tt.name)
	}
}

func TestEveryFaultIsListed(t *testing.T) {
	s := sizing.Spec{Unit: length.In, Width: -1}
	fields := apperr.Fields(s.Check())
	for _, name := range []string{"width", "length", "seam", "body", "cuff"} {
		require.Contains(t, fields, name)
	}
}

func TestFit(t *testing.T) {
	s := standard(t)
	p, _ := sizing.PillowNamed("standard")
	require.Empty(t, s.Fit(p.Size))
	p, _ = sizing.PillowNamed("queen")
	notes := s.Fit(p.Size)
	require.Len(t, notes, 1)
	require.Equal(t, "The case is 30 1/2 in long, too short for a pillow of 30 in: make it at least 32 in long, 2 in more than the pillow.", notes[0].Text)
	s.Width = one(t, "19 7/8")
	s.Length = one(t, "32")
	notes = s.Fit(p.Size)
	require.Len(t, notes, 1)
	require.Equal(t, "The case is 19 7/8 in wide, narrower than the pillow's 20 in: make it at least 20 in wide.", notes[0].Text)
}

// 50 × 70 cm is a usual pillow in Denmark and 75 cm a usual length for it: from memory, no source.
func TestFitInCentimetres(t *testing.T) {
	s := sizing.Spec{Unit: length.CM, Width: 51 * length.Centimetre, Length: 75 * length.Centimetre}
	pillow := sizing.Rect{Width: 50 * length.Centimetre, Length: 70 * length.Centimetre}
	require.Empty(t, s.Fit(pillow))
	s.Length = 74 * length.Centimetre
	notes := s.Fit(pillow)
	require.Len(t, notes, 1)
	require.Equal(t, "The case is 74 cm long, too short for a pillow of 70 cm: make it at least 75 cm long, 5 cm more than the pillow.", notes[0].Text)
}

func TestFromCutsRefuses(t *testing.T) {
	how := standard(t)
	for cuts, why := range map[string]string{
		"cuff=42x9in":                              "A body is missing",
		"body=42x27in,body=42x27in,cuff=42x9in":    "The body is given twice",
		"body=42x27in,lining=42x27in,cuff=42x9in":  `"lining" is no panel known here`,
		"body=42x27in,accent=42x2in":               "An accent lies between cuff and body",
		"body=42x27in":                             "Say how the open end is made",
		"body=1x27in,cuff=42x9in":                  "The body, cut 1 in around, is lost in the seams: cut it more than 1 in.",
		"body=42x27in,cuff=42x1/2in":               "The cuff, cut 1/2 in along, is lost in the seams: cut it more than 1/2 in.",
		"body=42x27in,cuff=42x9in,accent=42x1/4in": "The accent, cut 1/4 in along, is lost in the seams",
		"body=42x3/4in,cuff=42x9in":                "The body, cut 3/4 in along, is lost in the seams: cut it more than 3/4 in.",
		"body=0x27in,cuff=42x9in":                  "The body has a side of nothing",
		"body=4000mx27in,cuff=42x9in":              "The body has a side of about 157480 5/16 in: at most",
		"body=42x27in,cuff=400x9in":                "The cuff is cut far beyond what the size needs",
		"body=42x5in,cuff=42x9in,accent=42x12in":   "An accent of 5 3/4 in is deeper than the 4 1/4 in of the body that show: at most 4 1/4 in.",
	} {
		list, _, err := sizing.ParseCuts("cut", cuts, "")
		if err == nil {
			_, err = sizing.FromCuts(list, how)
		}
		require.True(t, apperr.Is(err, apperr.KindInvalid), "%s: %v", cuts, err)
		require.ErrorContains(t, err, why, cuts)
	}
}

func TestNarrowestPanelDecides(t *testing.T) {
	cuts, _, err := sizing.ParseCuts("cut", "body=43x27in,cuff=42x9in,accent=42 1/2x2in", "")
	require.NoError(t, err)
	s, err := sizing.FromCuts(cuts, standard(t))
	require.NoError(t, err)
	require.Equal(t, one(t, "20 1/2"), s.Width)
	panels, notes, err := sizing.Cuts(s)
	require.NoError(t, err)
	require.Equal(t, cuts, sizing.CutsOf(panels))
	require.Equal(t, "The body is cut 1 in wider around than the narrowest panel needs: trim it to match.", notes[0].Text)
	require.Equal(t, "The accent is cut 1/2 in wider around than the narrowest panel needs: trim it to match.", notes[1].Text)
}
