package workbook

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// Whatever was written stands in the file as it was written, read by excelize, whose writer
// these rows do without; what XML cannot hold is marked.
func TestRowsAreReadAsWritten(t *testing.T) {
	said := []string{
		"plain", "a & b <c> \"d\" 'e'", " space before", "behind ", "two\nlines\tand a tab", "ünï 🧵 cöde", "_", "_x", "_x0041_", "_x0041_x0042_", "_x005F_x0041_", "a_xZZZZ_",
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

// Rows that lie in a file come in their order, and the file is gone afterwards.
func TestLongListsGoByTheDisk(t *testing.T) {
	folder := t.TempDir()
	t.Setenv("TMPDIR", folder)
	const many = 30_000
	b := sampleBooks()
	b.Hours = func(yield func(drive.BookHours, error) bool) {
		for i := range many {
			if !yield(drive.BookHours{Number: int64(i + 1), Name: "Somebody who sews"}, nil) {
				return
			}
		}
	}
	x := opened(t, written(t, b))
	rows, err := x.GetRows("Hours")
	require.NoError(t, err)
	require.Len(t, rows, many+2)
	for i, row := range rows[1 : many+1] {
		require.Contains(t, row, "Somebody who sews", "row %d", i+2)
	}
	left, err := filepath.Glob(filepath.Join(folder, "boltward-*"))
	require.NoError(t, err)
	require.Empty(t, left)
}

// What is packed in blocks side by side is unpacked by the standard library as it was.
func TestPackedInBlocks(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, size := range []int{0, 1, packedAtOnce - 1, packedAtOnce, packedAtOnce + 1, 5*packedAtOnce + 17} {
		want := make([]byte, size)
		for i := range want {
			want[i] = byte('a' + r.IntN(4))
		}
		var file bytes.Buffer
		z := zip.NewWriter(&file)
		z.RegisterCompressor(zip.Deflate, newPacker)
		w, err := z.Create("part")
		require.NoError(t, err)
		for rest := want; len(rest) > 0; {
			n := min(len(rest), 1+r.IntN(300_000))
			wrote, err := w.Write(rest[:n])
			require.NoError(t, err)
			require.Equal(t, n, wrote)
			rest = rest[n:]
		}
		require.NoError(t, z.Close())
		back, err := zip.NewReader(bytes.NewReader(file.Bytes()), int64(file.Len()))
		require.NoError(t, err)
		part, err := back.Open("part")
		require.NoError(t, err)
		got, err := io.ReadAll(part) // checks the sum of the part, too
		require.NoError(t, err)
		require.True(t, bytes.Equal(want, got), "%d bytes", size)
		require.LessOrEqual(t, file.Len(), 200+size/2)
	}
	p, err := newPacker(full{})
	require.NoError(t, err)
	_, err = p.Write(make([]byte, 8*packedAtOnce))
	require.ErrorIs(t, err, errFull)
	require.ErrorIs(t, p.Close(), errFull)
}
