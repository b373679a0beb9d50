package workbook_test

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/workbook"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

func on(day string) time.Time {
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		panic(err)
	}
	return d
}

func sampleBooks() drive.Books {
	due, late := on("2026-12-14"), on("2026-11-10")
	yd := length.Area(length.Yard) * length.Area(length.Yard)
	return drive.Books{
		Drive: drive.Drive{ID: "spring", Name: "=HYPERLINK(\"x\") drive", Zone: "Europe/Dublin", Unit: length.In},
		From:  on("2026-11-01"), To: on("2026-11-25"), MadeAt: on("2026-11-25"),
		Asked: []drive.BookLine{
			{Number: 1, Recipient: "Ward", Size: "standard", Wanted: 60, Due: &due, Matter: "must", Counts: drive.Counts{drive.CasePlanned: 8, drive.CaseOut: 7, drive.CaseGood: 3, drive.CaseConfirmed: 5}, CameIn: 9, FoundGood: 8, Sent: 5, Confirmed: 5},
			{Number: 1, Recipient: "Ward", Size: "queen", Counts: drive.Counts{drive.CaseOut: 2}},
			{Number: 0, Recipient: "not promised yet", Size: "standard", Counts: drive.Counts{drive.CaseSewn: 4}, CameIn: 4},
		},
		Fabric: []drive.BookLot{
			{Lot: 1, Tag: "A01", Donor: "+cmd|' /C calc'!A0", Cloth: strings.Repeat("ä", 40_000), Received: on("2026-10-24"), Opening: 6 * yd, TakenIn: 2 * yd, CutToKits: 3 * yd, Offcuts: yd, Closing: 4 * yd, Promised: 2 * yd},
			{Lot: 2, Received: on("2026-11-02"), TakenIn: 5*yd + 12345, Recounted: -yd, GivenAway: yd, Closing: 3*yd + 12345},
		},
		Kits: []drive.BookKit{
			{KitRef: drive.KitRef{Number: 107, Part: 1}, Cases: 4, State: drive.KitOut, Holder: "Agnes", Due: &late},
			{KitRef: drive.KitRef{Number: 107, Part: 2}, Cases: 5, State: drive.KitBack},
		},
		Deliveries: []drive.BookDelivery{{Number: 1, Recipient: "Ward", SentOn: on("2026-11-20"), Boxes: 1, Sent: 5, Confirmed: 5, ConfirmedBy: "@sister", ConfirmedOn: &due}},
	}
}

func written(t *testing.T, b drive.Books) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, workbook.WriteBooks(&out, b))
	return out.Bytes()
}

// figures gives the summary's figures by their names, as the file carries them.
func figures(t *testing.T, data []byte) map[string]float64 {
	t.Helper()
	x, err := excelize.OpenReader(bytes.NewReader(data))
	require.NoError(t, err)
	defer func() { require.NoError(t, x.Close()) }()
	rows, err := x.GetRows("Summary", excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	found := map[string]float64{}
	for _, r := range rows {
		if len(r) < 2 || r[1] == "" {
			continue
		}
		v, err := parseFloat(r[1])
		require.NoError(t, err, "figure %q", r[0])
		found[r[0]] = v
	}
	return found
}

// TestBooksFormulasComeToTheirValues calculates every formula anew and holds it
// against the value it was written with.
func TestBooksFormulasComeToTheirValues(t *testing.T) {
	for name, b := range map[string]drive.Books{"full": sampleBooks(), "empty": {Drive: sampleBooks().Drive, From: on("2026-01-01"), To: on("2026-12-31")}} {
		t.Run(name, func(t *testing.T) {
			x, err := excelize.OpenReader(bytes.NewReader(written(t, b)))
			require.NoError(t, err)
			defer func() { require.NoError(t, x.Close()) }()
			checked := 0
			for _, sheet := range x.GetSheetList() {
				rows, err := x.GetRows(sheet, excelize.Options{RawCellValue: true})
				require.NoError(t, err)
				for r, row := range rows {
					for c, shown := range row {
						at, err := excelize.CoordinatesToCellName(c+1, r+1)
						require.NoError(t, err)
						f, err := x.GetCellFormula(sheet, at)
						require.NoError(t, err)
						if f == "" {
							continue
						}
						calculated, err := x.CalcCellValue(sheet, at, excelize.Options{RawCellValue: true})
						require.NoError(t, err, "%s!%s =%s", sheet, at, f)
						got, err := parseFloat(calculated)
						require.NoError(t, err, "%s!%s =%s gives %q", sheet, at, f, calculated)
						want, err := parseFloat(shown)
						require.NoError(t, err, "%s!%s holds %q", sheet, at, shown)
						require.InDelta(t, want, got, 1e-6, "%s!%s =%s", sheet, at, f)
						checked++
					}
				}
			}
			require.Greater(t, checked, 50)
		})
	}
}

func TestBooksSummaryTotals(t *testing.T) {
	got := figures(t, written(t, sampleBooks()))
	for name, want := range map[string]float64{
		"Asked for": 60, "On their way or arrived": 29, "Planned or cut": 8, "With volunteers": 9, "Came back, to check or to mend": 4,
		"Good, packed or not": 3, "Delivered, confirmed or not": 5, "Came in": 13, "Opening": 6, "In": 7, "Recounted": -1,
		"Cut for kits": 3, "Closing": 7, "Closing by the lots": 7, "Kits with people": 1, "Pillowcases in them": 4, "Late": 1,
	} {
		require.Contains(t, got, name)
		require.InDelta(t, want, got[name], 1e-6, name)
	}
}

// TestBooksTextIsNeverAFormula: OWASP, CSV and formula injection: what people wrote starts nothing.
func TestBooksTextIsNeverAFormula(t *testing.T) {
	x, err := excelize.OpenReader(bytes.NewReader(written(t, sampleBooks())))
	require.NoError(t, err)
	defer func() { require.NoError(t, x.Close()) }()
	for sheet, cells := range map[string][]string{"Summary": {"A1"}, "Fabric": {"C2"}, "Deliveries": {"K2"}} {
		for _, at := range cells {
			f, err := x.GetCellFormula(sheet, at)
			require.NoError(t, err)
			require.Empty(t, f, "%s!%s", sheet, at)
			v, err := x.GetCellValue(sheet, at)
			require.NoError(t, err)
			require.Contains(t, "=+@", v[:1], "%s!%s = %q keeps what was written", sheet, at, v)
		}
	}
	long, err := x.GetCellValue("Fabric", "D2")
	require.NoError(t, err)
	require.LessOrEqual(t, len([]rune(long)), excelize.TotalCellChars)
	require.Contains(t, long, "the rest is in the program")
}

// TestBooksInLibreOffice lets a second program open the workbook, calculate it
// anew and say the same.
func TestBooksInLibreOffice(t *testing.T) {
	soffice, err := exec.LookPath("soffice")
	if err != nil {
		t.Skip("LEFT OUT: soffice is not here, so no second program opens the workbook")
	}
	dir := t.TempDir()
	data := written(t, sampleBooks())
	in := filepath.Join(dir, "books.xlsx")
	require.NoError(t, os.WriteFile(in, data, 0o600))
	out := filepath.Join(dir, "again")
	cmd := exec.Command(soffice, "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--headless", "--convert-to", "xlsx", "--outdir", out, in)
	said, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", said)
	again, err := os.ReadFile(filepath.Join(out, "books.xlsx"))
	require.NoError(t, err)
	want, got := figures(t, data), figures(t, again)
	require.Equal(t, len(want), len(got))
	for name, v := range want {
		require.InDelta(t, v, got[name], 1e-6, name)
	}
}

func parseFloat(s string) (float64, error) {
	v, err := strconv.ParseFloat(s, 64)
	if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		return 0, os.ErrInvalid
	}
	return v, err
}
