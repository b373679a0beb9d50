package workbook

import (
	"bytes"
	"fmt"
	"testing"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// tenThousand is a list of 10,000 lots as a workbook, twelve columns wide.
func tenThousand(t testing.TB) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	w, err := f.NewStreamWriter("Sheet1")
	require.NoError(t, err)
	require.NoError(t, w.SetRow("A1", []any{"Code", "Yardage", "Width", "Given by", "Date in", "What is it", "Print", "Fibre", "Colours", "Themes", "Shelf", "Notes"}))
	for i := range 10_000 {
		require.NoError(t, w.SetRow(fmt.Sprintf("A%d", i+2), []any{
			fmt.Sprintf("L%05d", i), fmt.Sprintf("%d 1/2 yd", 1+i%6), 44, fmt.Sprintf("Donor %d", i%300), "2026-10-24", "quilting cotton", "feature", "cotton",
			"navy, white", "space; sea", fmt.Sprintf("B%d", i%40), "folded once, as it came through the door",
		}))
	}
	require.NoError(t, w.Flush())
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	return out.Bytes()
}

// Reading alone; what the whole of bringing 10,000 lots in takes is measured with
// the real program, in cmd/boltward.
func BenchmarkReadXLSX(b *testing.B) {
	file := tenThousand(b)
	d, today := spring()
	for b.Loop() {
		got, err := Read(drive.BringFabric, file, Terms{Drive: d, Today: today, BorderDepth: 27 * length.Inch})
		require.NoError(b, err)
		require.Len(b, got.Fabric, 10_000)
	}
}
