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

// Far more than is booked for a sheet is asked about in what was typed: the sheet's own cloth, whatever
// else its piece holds, by the tape of the drive. Whoever is sure has it booked of the piece.
func TestFarMoreOfASheetsClothIsAskedAbout(t *testing.T) {
	s := Sheet{Number: 7, Lot: 3, Piece: 1, State: SheetOnTable, Used: 40 * length.Inch, Width: 42 * length.Inch}
	free, whole := 20*length.Inch, 300*length.Inch
	for unit, says := range map[length.Unit]string{
		length.In: "220 in is far more than the 60 in that are booked for this sheet. Look at the tape once more.",
		length.CM: "558.8 cm is far more than the 152.4 cm that are booked for this sheet. Look at the tape once more.",
	} {
		d, found := NewDrive("spring", "Spring", "Europe/Dublin", unit), 220*length.Inch
		_, err := s.Longer(d, ClothFound{Length: &found}, free, whole)
		require.Equal(t, says, apperr.Fields(err)["length"])
		require.NotEmpty(t, apperr.Fields(err)["sure"])
		h, err := s.Longer(d, ClothFound{Length: &found, Sure: true}, free, whole)
		require.NoError(t, err)
		require.Equal(t, 460*length.Inch, h.Length)
		require.True(t, h.Sure, "the recount of the piece asks no more")
		found = 90 * length.Inch
		h, err = s.Longer(d, ClothFound{Length: &found}, free, whole)
		require.NoError(t, err, "less than a yard or a metre more")
		require.Equal(t, 330*length.Inch, h.Length)
	}
}

// The tape is in centimetres and bolts are in metres: 4.8 of 5.15 m, typed into a field of cm, is asked about.
func TestHardlyAnyOfASheetsClothIsAskedAbout(t *testing.T) {
	metric, inches := NewDrive("a", "A", "UTC", length.CM), NewDrive("b", "B", "UTC", length.In)
	for _, c := range []struct {
		d                  Drive
		used, free, length length.Length
		sure               bool
		want               string // empty: it is taken
	}{
		{metric, 498 * length.Centimetre, 17 * length.Centimetre, 48 * length.Millimetre, false, "4.8 cm is hardly any of the 515 cm that are booked for this sheet. If another unit was meant, write it beside the figure, such as 4.8 m."},
		{metric, 498 * length.Centimetre, 17 * length.Centimetre, 48 * length.Millimetre, true, ""},
		{metric, 498 * length.Centimetre, 17 * length.Centimetre, 480 * length.Centimetre, false, ""},
		{metric, 498 * length.Centimetre, 17 * length.Centimetre, 20 * length.Centimetre, false, ""},
		{metric, 498 * length.Centimetre, 17 * length.Centimetre, 0, false, ""},
		{inches, 100 * length.Inch, 8 * length.Inch, 2 * length.Inch, false, "such as 2 yd."},
		{inches, 100 * length.Inch, 8 * length.Inch, 9 * length.Inch, false, ""},
	} {
		err := Sheet{Used: c.used}.Hardly(c.d, ClothFound{Length: &c.length, Sure: c.sure}, c.free)
		if c.want == "" {
			require.NoError(t, err, "%+v", c)
			continue
		}
		require.Contains(t, apperr.Fields(err)["length"], c.want)
		require.Contains(t, apperr.Fields(err)["sure"], "Tick it")
	}
}
