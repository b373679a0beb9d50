package workbook

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

func TestShelfAsCSV(t *testing.T) {
	d := drive.NewDrive("spring", "Spring", "Europe/Dublin", length.In)
	tag := "=1+1"
	at := time.Date(2026, 10, 3, 0, 0, 0, 0, time.UTC)
	lines := []ShelfLine{{
		Lot:       drive.Lot{Number: 7, Tag: &tag, ReceivedOn: at, Kind: "+bolt", Make: drive.Make{Fibre: "cotton", Weight: "quilting", Washed: true, Colours: []string{"navy", "white"}}, MeasuredAt: &at},
		DonorName: "@Orla \"the mill\"\nBrandt", Pieces: 2, Width: 41 * length.Inch, Length: 90 * length.Inch, Whole: 117 * length.Inch,
		Free: length.Area(41*117) * length.SquareInch, Makes: drive.InRows{Cases: 2, Bodies: 1},
	}, {Lot: drive.Lot{Number: 8, ReceivedOn: at, PiecesTold: 3}}}
	var file bytes.Buffer
	require.NoError(t, WriteShelf(&file, d, "standard", lines))
	require.True(t, strings.HasPrefix(file.String(), "\ufeffLot,Tag"))
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(file.String(), "\ufeff"))).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 3)
	got := map[string]string{}
	for i, head := range rows[0] {
		got[head] = rows[1][i]
	}
	for head, want := range map[string]string{
		"Lot": "7", "Tag": "'=1+1", "What it is": "'+bolt", "Given by": "'@Orla \"the mill\"\nBrandt", "Measured": "yes", "Colours": "navy, white",
		"Free pieces": "2", "Width of the largest (in)": "41", "Length of the largest (yd)": "2.5", "Free, all pieces (yd)": "3.25",
		"Code": "'=1+1", "Free (yd²)": "3.701", "Promised (yd²)": "0", "Makes standard": "2", "Makes bodies of standard": "1",
	} {
		require.Equal(t, want, got[head], head)
	}
	for i, head := range rows[0] {
		got[head] = rows[2][i]
	}
	require.Equal(t, []string{"", "spring lot 8", "no", "3"}, []string{got["Tag"], got["Code"], got["Measured"], got["Free pieces"]}, "a lot that waits to be measured, without a tag")
	d.ID = "the-longest-of-names-that-a-drive-has-40"
	require.Equal(t, "the-longest-of-names-that-a-drive- lot 8", lines[1].code(d), "fits on a tag")
	file.Reset()
	require.NoError(t, WriteShelf(&file, d, "", nil))
	require.NotContains(t, file.String(), "Makes")
}

// A phone number with dashes is a sum to a spreadsheet; a number is left to be one.
func TestNoCellIsWorkedOut(t *testing.T) {
	for cell, want := range map[string]string{
		"+1-555-0101": "'+1-555-0101", "-1+2": "'-1+2", "=1": "'=1", "@a": "'@a", "+1 555 0101": "'+1 555 0101",
		"-2.5": "-2.5", "+44": "+44", "-1,250.5": "-1,250.5", "555-0101": "555-0101", "": "",
	} {
		require.Equal(t, want, safeCell(cell), "safeCell(%q)", cell)
	}
	for _, cell := range []string{"=1", "'=1", "''-5", "'-5", "-5", "'tis", "'", "''", "@a", "\tx", "'\tx", "\rx", "+1-555", ""} {
		require.Equal(t, cell, unquoted(safeCell(cell)), "unquoted(safeCell(%q))", cell)
	}
}
