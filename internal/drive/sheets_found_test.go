package drive

import (
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

// A flaw gives a sheet up only where it meets something that is cut from it.
func TestAFlawBesideWhatIsCut(t *testing.T) {
	const in = length.Inch
	s := Sheet{Number: 1, Lot: 1, Piece: 1, State: SheetWaiting, Used: 60 * in, Width: 43 * in}
	panels := []Panel{
		{Panel: 1, Role: "body", Place: Place{X: 0, Y: 0, W: 30 * in, H: 27 * in}},
		{Panel: 2, Role: "body", Place: Place{X: 0, Y: 30 * in, W: 30 * in, H: 27 * in}},
	}
	kept := []Remnant{{Remnant: 1, Place: Place{X: 30 * in, Y: 0, W: 13 * in, H: 20 * in}}}
	for _, c := range []struct {
		what string
		flaw sizing.Flaw
		cut  bool
	}{
		{"across a panel", sizing.Flaw{From: 10 * in, To: 12 * in}, false},
		{"between two panels", sizing.Flaw{From: 27 * in, To: 30 * in}, true},
		{"into the second by a little", sizing.Flaw{From: 27 * in, To: 31 * in}, false},
		{"at the far edge beside a panel", sizing.Flaw{From: 32 * in, To: 40 * in, Reach: 13 * in, Far: true}, true},
		{"at the far edge into a panel", sizing.Flaw{From: 32 * in, To: 40 * in, Reach: 14 * in, Far: true}, false},
		{"at the far edge in a remnant", sizing.Flaw{From: 5 * in, To: 6 * in, Reach: 2 * in, Far: true}, false},
		{"at the near edge", sizing.Flaw{From: 5 * in, To: 6 * in, Reach: 2 * in}, false},
		{"beyond the near edge, measured from a selvedge", sizing.Flaw{From: 32 * in, To: 40 * in, Clear: 31 * in, Reach: 35 * in}, false},
		{"behind the sheet", sizing.Flaw{From: 61 * in, To: 62 * in}, true},
	} {
		m, err := s.FoundOtherwise(ClothFound{Flaws: []sizing.Flaw{c.flaw}}, panels, kept, 20*in, length.In, nil)
		if c.cut {
			require.Contains(t, apperr.Fields(err)["flaws"], "cut it as it is drawn", c.what)
			continue
		}
		require.NoError(t, err, c.what)
		require.Equal(t, SheetShort, m.State, c.what)
	}
}
