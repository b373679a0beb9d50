package sizing_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/length"
	"boltward/internal/sizing"
)

// What the built-in sizes are cut as: computed by hand from the finished sizes, by the formulas of Cuts.
// Depths of cuffs, flaps and hems are common practice, no source.
func TestCutsOfBuiltInCases(t *testing.T) {
	for name, want := range map[string]struct{ finished, cuts string }{
		"standard":    {"20 x 30 1/2 in", "body=41x27in,cuff=41x9in,accent=41x2in"},
		"queen":       {"20 x 35 in", "body=41x31in,cuff=41x10in,accent=41x2in"},
		"king":        {"20 x 40 in", "body=41x36in,cuff=41x10in,accent=41x2in"},
		"travel":      {"13 1/2 x 19 in", "body=28x16 1/2in,cuff=28x7in"},
		"child":       {"14 x 20 in", "body=29x17 1/2in,cuff=29x7in"},
		"euro":        {"26 x 26 in", "body=27x62 1/2in"},
		"UK standard": {"50 x 81 cm", "body=102x71.7cm,cuff=102x23.4cm,accent=102x5.4cm"},
		"UK king":     {"50 x 96 cm", "body=102x86.7cm,cuff=102x23.4cm,accent=102x5.4cm"},
		"Australian":  {"48 x 79 cm", "body=98x69.7cm,cuff=98x23.4cm,accent=98x5.4cm"},
		"square 65":   {"66 x 66 cm", "body=68x158cm"},
		"square 80":   {"80 x 80 cm", "body=82x186cm"},
		"40 by 80":    {"41 x 80 cm", "body=43x186cm"},
	} {
		c, ok := sizing.CaseNamed(name)
		require.True(t, ok, name)
		w, l, err := length.ParseRect(want.finished, "", length.Down)
		require.NoError(t, err)
		require.Equal(t, sizing.Rect{Width: w, Length: l}, sizing.Rect{Width: c.Spec.Width, Length: c.Spec.Length}, name)
		panels, _, err := sizing.Cuts(c.Spec)
		require.NoError(t, err, name)
		cuts, _, err := sizing.ParseCuts("cut", want.cuts, "")
		require.NoError(t, err, name)
		require.Equal(t, cuts, sizing.CutsOf(panels), name)
	}
	require.Len(t, sizing.Cases(), 12, "no other is built in")
}
