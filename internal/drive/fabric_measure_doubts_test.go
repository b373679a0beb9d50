package drive

import (
	"testing"

	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

func TestDoubtsOfAMeasuring(t *testing.T) {
	inches, metric := NewDrive("a", "A", "UTC", length.In), NewDrive("b", "B", "UTC", length.CM)
	cut := func(long, wide length.Length) Measured {
		return Measured{Cuts: []Cuttings{{Pieces: 1, Length: long, Width: wide}}}
	}
	yd := 36 * length.Inch
	for name, tt := range map[string]struct {
		d    Drive
		m    Measured
		want string // empty: nothing is said
	}{
		"quilting cotton":            {inches, cut(3*yd, 44*length.Inch), ""},
		"furnishing cloth":           {inches, cut(3*yd, 60*length.Inch), ""},
		"150 cm in a field of in":    {inches, cut(3*yd, 150*length.Inch), "150 in wide is the width of backing"},
		"110 cm, or wide backing":    {inches, cut(3*yd, 110*length.Inch), "or were those centimetres?"},
		"a whole bolt":               {inches, cut(100*yd, 44*length.Inch), ""},
		"the inches of a cut in yd":  {inches, cut(150*yd, 44*length.Inch), "in another unit than yd?"},
		"metric cotton":              {metric, cut(3*length.Metre, 110*length.Centimetre), ""},
		"a fat quarter":              {metric, cut(50*length.Centimetre, 55*length.Centimetre), ""},
		"44 in in a field of cm":     {metric, cut(3*length.Metre, 44*length.Centimetre), "44 cm wide is narrow for so long a piece"},
		"centimetres in one of m":    {metric, cut(150*length.Metre, 110*length.Centimetre), "in another unit than m?"},
		"a border of no known depth": {inches, Measured{Make: Make{Border: BorderOne}, Cuts: cut(3*yd, 44*length.Inch).Cuts}, "The border stays on"},
		"a border strip":             {inches, Measured{Make: Make{Border: BorderOne}, BorderDepth: yd, Cuts: cut(3*yd, 44*length.Inch).Cuts}, ""},
	} {
		said := tt.m.Doubts(tt.d)
		if tt.want == "" {
			require.Empty(t, said, name)
			continue
		}
		require.Len(t, said, 1, name)
		require.Contains(t, said[0], tt.want, name)
	}
}
