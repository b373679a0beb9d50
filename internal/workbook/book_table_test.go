package workbook

import (
	"fmt"
	"strings"
	"testing"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// Whatever was written is read as it was written; what XML cannot hold is marked.
func TestRowsAreReadAsWritten(t *testing.T) {
	said := []string{
		"plain", "a & b <c> \"d\" 'e'", " space before", "behind ", "two\nlines\tand a tab", "ünï 🧵 cöde", "_", "_x", "_x0041_", "_x005F_x0041_", "a_xZZZZ_",
		"]]>", "&amp;", "=1+1", "</row>", "bell \a", "broken \xff",
	}
	b := sampleBooks()
	b.Hours = func(yield func(drive.BookHours, error) bool) {
		for i, name := range said {
			if !yield(drive.BookHours{Number: int64(i), Name: name}, nil) {
				return
			}
		}
	}
	x := opened(t, written(t, b))
	for i, want := range said {
		want = strings.ToValidUTF8(strings.ReplaceAll(want, "\a", "\ufffd"), "\ufffd")
		got, err := x.GetCellValue("Hours", fmt.Sprintf("D%d", i+2))
		require.NoError(t, err)
		require.Equal(t, want, got, "row %d", i+2)
	}
}
