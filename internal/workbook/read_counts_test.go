package workbook

import (
	"fmt"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

// Spaces part thousands, in groups of three digits; any other space stands between two numbers, and the
// cell is refused.
func TestSpacesInCounts(t *testing.T) {
	terms := Terms{Today: time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC), Drive: drive.NewDrive("spring", "Spring", "Europe/Dublin", length.In)}
	for cell, want := range map[string]int{
		"25": 25, " 25 ": 25, "1 000": 1000, "12 500": 12500, "1\u00a0000": 1000, "1\u202f000": 1000, "1 000.0": 1000, "7.0": 7,
		"2 5": -1, "25 00": -1, "1 0000": -1, "1000 000": -1, "2 5.0": -1, "1 00": -1, "- 3": -1, "3 to 4": -1,
	} {
		book, err := Open(fmt.Appendf(nil, "Recipient,Size,How many\nWard 4,standard,%s\n", cell))
		require.NoError(t, err)
		read, err := book.asked(terms)
		require.NoError(t, err)
		require.Len(t, read.Rows, 1)
		faults := read.Rows[0].Faults
		if want < 0 {
			require.Len(t, faults, 1, "%q: %+v", cell, faults)
			require.Equal(t, "How many", faults[0].Column, "%q", cell)
			require.Contains(t, faults[0].Why, "is no whole number", "%q", cell)
			continue
		}
		require.Empty(t, faults, "%q", cell)
		require.Equal(t, want, read.Rows[0].Value.Line.Wanted, "%q", cell)
	}
}
