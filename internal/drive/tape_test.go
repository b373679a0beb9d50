package drive_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
)

func TestLengthsAsReadOffATape(t *testing.T) {
	tests := []struct {
		typed              string
		unit               length.Unit
		onTape, asMeasured string
	}{
		{"41in", length.In, "41 in", "41 in"},
		{"110cm", length.In, "43 1/4 in", "110 cm"},
		{"2.5m", length.Yd, "2 yd 26 3/8 in", "2.5 m"},
		{"41 3/16in", length.In, "41 1/8 in", "41 1/8 in"},
		{"44in", length.CM, "111.7 cm", "44 in"},
		{"2 1/2yd", length.M, "2.286 m", "2.286 m"},
	}
	for _, tt := range tests {
		l, err := length.Parse(tt.typed, tt.unit, length.Down)
		require.NoError(t, err, tt.typed)
		require.Equal(t, tt.onTape, drive.OnTape(l, tt.unit), "%s on a tape", tt.typed)
		require.Equal(t, tt.asMeasured, drive.AsMeasured(l, tt.unit), "%s as measured", tt.typed)
	}
}
