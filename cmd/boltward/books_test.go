package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// theBooks takes the books by the page's button, and finds in them what the pages
// of the walk said; and again after a second program has worked every formula out.
func theBooks(t *testing.T, h hands) {
	t.Helper()
	h.open(home + "/books")
	file, data := h.download("Take the books")
	today := time.Now().In(dublin(t)).Format(time.DateOnly)
	require.Equal(t, "harbour-pillowcases-books-"+today+"-to-"+today+".xlsx", file)

	x, err := excelize.OpenReader(bytes.NewReader(data))
	require.NoError(t, err)
	defer func() { require.NoError(t, x.Close()) }()
	kept := summary(t, x)
	walked(t, kept)
	calculated := recalculated(t, x)
	if calculated == nil {
		return
	}
	defer func() { require.NoError(t, calculated.Close()) }()
	again := summary(t, calculated)
	walked(t, again)
	for what, value := range kept {
		require.InDelta(t, value, again[what], 1e-6, "%s, worked out anew", what)
	}
}

func dublin(t testing.TB) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	return zone
}

// walked is what the walk comes to.
func walked(t testing.TB, got map[string]float64) {
	t.Helper()
	for what, want := range map[string]float64{
		"Asked for": 6, "On their way or arrived": 7, "Planned or cut": 0, "With volunteers": 1, "Came back, to check or to mend": 1,
		"Good, packed or not": 0, "Delivered, confirmed or not": 5, "Confirmed by the recipient": 5, "Born": 7, "Ended": 0,
		"Came in": 6, "Found good": 5, "Sent": 5, "Confirmed": 5, "Deliveries": 1, "Not confirmed, or counts differ": 0,
		"Kits with people": 1, "Pillowcases in them": 1, "Late": 0, "Opening": 0, "Recounted": 0, "Given away": 0, "of it promised to plans": 0,
	} {
		require.Contains(t, got, what)
		require.InDelta(t, want, got[what], 1e-9, "%s in the books", what)
	}
	// A standard case, 20 × 30 1/2 in, takes 41 × 27, 41 × 9 and 41 × 2 in.
	require.InDelta(t, 6*41*(27+9+2)/(36.0*36), got["Cut for kits"], 1e-6, "square yards in the panels of six")
	require.Positive(t, got["Measured"])
	require.InDelta(t, got["Measured"]+got["Put back"]-got["Squared off"]-got["Cut for kits"]-got["Offcuts"]-got["Lost in the wash"]-got["Discarded"], got["Closing"], 1e-6, "opening + in − out = closing")
}

// summary gives the figures of the books' first sheet by their names.
func summary(t testing.TB, x *excelize.File) map[string]float64 {
	t.Helper()
	rows, err := x.GetRows("Summary", excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	require.Equal(t, "All 16 checks below agree.", rows[3][0])
	found := map[string]float64{}
	for _, row := range rows {
		if len(row) < 2 || row[1] == "" {
			continue
		}
		found[row[0]], err = strconv.ParseFloat(row[1], 64)
		require.NoError(t, err, "%s: %q", row[0], row[1])
	}
	require.Greater(t, len(found), 20)
	return found
}

// recalculated takes every value of a formula out of the workbook and lets
// LibreOffice open it and work them out; nil where there is none on this machine.
func recalculated(t testing.TB, x *excelize.File) *excelize.File {
	t.Helper()
	if _, err := exec.LookPath("soffice"); err != nil {
		t.Log("LEFT OUT: there is no soffice on this machine, so no second program opens the books")
		return nil
	}
	emptied := 0
	for _, sheet := range x.GetSheetList() {
		rows, err := x.GetRows(sheet)
		require.NoError(t, err)
		for r, row := range rows {
			for c := range row {
				at, err := excelize.CoordinatesToCellName(c+1, r+1)
				require.NoError(t, err)
				formula, err := x.GetCellFormula(sheet, at)
				require.NoError(t, err)
				if formula == "" {
					continue
				}
				require.NoError(t, x.SetCellValue(sheet, at, nil))
				require.NoError(t, x.SetCellFormula(sheet, at, formula))
				emptied++
			}
		}
	}
	require.Greater(t, emptied, 30)
	folder := t.TempDir()
	in, out := filepath.Join(folder, "books.xlsx"), filepath.Join(folder, "out")
	require.NoError(t, x.SaveAs(in))
	said, err := exec.Command("soffice", "-env:UserInstallation=file://"+filepath.Join(folder, "profile"), "--headless", "--convert-to", "xlsx", "--outdir", out, in).CombinedOutput()
	require.NoError(t, err, "%s", said)
	data, err := os.ReadFile(filepath.Join(out, "books.xlsx"))
	require.NoError(t, err, "%s", said)
	calculated, err := excelize.OpenReader(bytes.NewReader(data))
	require.NoError(t, err)
	return calculated
}
