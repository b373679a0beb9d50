package sizing_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/length"
	"boltward/internal/sizing"
)

func TestReport(t *testing.T) {
	r, err := sizing.NewReport(standard(t), length.In)
	require.NoError(t, err)
	require.Equal(t, sizing.ReportFinished{Width: "20.5", Length: "30.5", Cuff: "4.25", Accent: "0.75"}, r.Finished)
	require.Equal(t, []sizing.ReportCut{
		{"body", 1, "42", "27", "44"}, {"cuff", 1, "42", "9", "44"}, {"accent", 1, "42", "2", "44"},
	}, r.Cuts)
	require.False(t, r.Rounded)
	kept, err := json.Marshal(r)
	require.NoError(t, err)
	require.NotContains(t, string(kept), "rounded")

	r, err = sizing.NewReport(standard(t), length.MM)
	require.NoError(t, err)
	require.Equal(t, sizing.ReportFinished{Width: "520.7", Length: "774.7", Cuff: "108", Accent: "19.1"}, r.Finished, "19.05 and 107.95 mm are rounded")
	require.True(t, r.Rounded)

	r, err = sizing.NewReport(standard(t), length.Yd)
	require.NoError(t, err)
	require.Equal(t, length.In, r.Unit)

	s := standard(t)
	s.Cuff = 10 * length.Centimetre
	r, err = sizing.NewReport(s, length.In)
	require.NoError(t, err)
	require.Equal(t, "3.9375", r.Finished.Cuff, "10 cm has no end in inches")
	require.True(t, r.Rounded)
}

func TestReportIsExactUnlessItSaysRounded(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := someSpec(rt, true)
		u := rapid.SampledFrom([]length.Unit{length.In, length.CM, length.MM}).Draw(rt, "report unit")
		r, err := sizing.NewReport(s, u)
		require.NoError(rt, err)
		width, err := length.Parse(r.Finished.Width, u, length.Nearest)
		require.NoError(rt, err)
		if !r.Rounded {
			require.Equal(rt, s.Width, width)
		}
		require.LessOrEqual(rt, max(width-s.Width, s.Width-width), u.Fine()/2+1)
	})
}

func TestDescribe(t *testing.T) {
	text, err := sizing.Describe(standard(t))
	require.NoError(t, err)
	require.Equal(t, strings.TrimLeft(`
Finished, laid flat: 20 1/2 in wide, 30 1/2 in long (about 52.1 cm × about 77.5 cm)

From the open end to the closed end:
  cuff     4 1/4 in, double
  accent   3/4 in, folded, lying on the body
  body     25 1/2 in, folded, with one side seam

Cut, around × along:
  1 × body    42 in × 27 in (about 106.7 cm × about 68.6 cm)
  1 × cuff    42 in × 9 in (about 106.7 cm × about 22.9 cm)
  1 × accent  42 in × 2 in (about 106.7 cm × about 5.1 cm)

Lost in the seams: 1/4 in of each edge where cuff and body join; 1/2 in (French: 1/4 in, then 1/4 in) at the side and the closed end
Note: Around is the least that gives this size. Where the cloth is wider, cut its full width, up to 44 in for the body, and trim body, cuff and accent to the narrowest; the case then comes out up to 1 in wider.
Note: French seam: trim the first seam to 1/8 in before sewing the second.
Note: The cuff is sewn as a tube: it lies double, with both raw edges in the joining seam.
Note: The accent is folded, lies on the body and adds no length.
`, "\n"), text)

	hem := sizing.Spec{Unit: length.CM, Width: 50 * length.Centimetre, Length: 81 * length.Centimetre, Body: 2, Hem: sizing.Hem{Depth: 2 * length.Centimetre, Turn: length.Centimetre}}
	_, hem.Seam = sizing.DefaultSeams(length.CM)
	text, err = sizing.Describe(hem)
	require.NoError(t, err)
	require.Contains(t, text, "  hem      2 cm deep, turned under by 1 cm\n  body     81 cm in all, front and back, with two side seams\n")
	require.Contains(t, text, "2 × body    52 cm × 85 cm (about 20 1/2 in × about 33 1/2 in)")

	flap, _ := sizing.CaseNamed("square 80")
	text, err = sizing.Describe(flap.Spec)
	require.NoError(t, err)
	require.Contains(t, text, "  flap     20 cm deep, folded in over the pillow\n")
	require.Contains(t, text, "1 × body    82 cm × 186 cm")
}
