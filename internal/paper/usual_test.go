package paper

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// One rule says what paper lies in the printer, for sheets as for the books and letters.
func TestUsualSheet(t *testing.T) {
	for _, c := range []struct {
		unit length.Unit
		zone string
		want Sheet
	}{
		{length.In, "America/Chicago", Letter},
		{length.In, "Europe/London", A4},
		{length.CM, "America/Sao_Paulo", A4},
		{length.CM, "Europe/Berlin", A4},
	} {
		d := drive.NewDrive("spring", "Spring drive", c.zone, c.unit)
		require.Equal(t, c.want, UsualSheet(d), "UsualSheet(%s in %s)", c.unit, c.zone)
	}
}
