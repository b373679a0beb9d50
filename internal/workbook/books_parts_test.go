package workbook

import (
	"archive/zip"
	"bytes"
	"io"
	"strings"
	"testing"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

func utf16Of(s string) []uint16 { return utf16.Encode([]rune(s)) }

// partsOf gives the parts of a workbook as they lie in the file.
func partsOf(t *testing.T, data []byte) map[string]string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	found := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		require.NoError(t, err)
		part, err := io.ReadAll(r)
		require.NoError(t, err)
		require.NoError(t, r.Close())
		found[f.Name] = string(part)
	}
	return found
}

// The file holds three native charts over the sheets' cells, a table that filters for
// every list under a frozen line of headings, and says how each sheet is printed.
func TestBooksHoldChartsAndTables(t *testing.T) {
	data := written(t, sampleBooks())
	parts := partsOf(t, data)
	charts, tables := 0, 0
	all := ""
	for name, part := range parts {
		switch {
		case strings.HasPrefix(name, "xl/charts/chart"):
			charts++
			all += part
		case strings.HasPrefix(name, "xl/tables/table"):
			tables++
			require.Contains(t, part, "<autoFilter ref=", name)
		}
	}
	require.Equal(t, 3, charts)
	for _, want := range []string{
		"How far it has come, by recipient", "Recipients!$B$2:$B$4", "Recipients!$J$2:$J$4", `<grouping val="stacked"`,
		"Pillowcases by month", "Months!$D$2:$D$2", "Where the cloth went, yd²", "Summary!$B$",
	} {
		require.Contains(t, all, want)
	}
	lists := len(Lists()) + 2
	require.Equal(t, lists, tables, "every list, recipients and months")
	x := opened(t, data)
	require.Equal(t, lists+2, len(x.GetSheetList()))
	require.Equal(t, sheetSummary, x.GetSheetList()[0])
	for _, sheet := range x.GetSheetList() {
		layout, err := x.GetPageLayout(sheet)
		require.NoError(t, err)
		require.Equal(t, "landscape", *layout.Orientation, sheet)
		require.Equal(t, 0, *layout.FitToHeight, sheet)
		names := map[string]bool{}
		for _, n := range x.GetDefinedName() {
			if n.Scope == sheet {
				names[n.Name] = true
			}
		}
		require.True(t, names["_xlnm.Print_Area"], sheet)
		if sheet == sheetSummary || sheet == sheetNotes {
			continue
		}
		require.True(t, names["_xlnm.Print_Titles"], sheet)
		panes, err := x.GetPanes(sheet)
		require.NoError(t, err)
		require.True(t, panes.Freeze && panes.YSplit == 1, sheet)
		filters, err := x.GetTables(sheet)
		require.NoError(t, err)
		require.Len(t, filters, 1, sheet)
	}
	// Days are days, and areas numbers: as a spreadsheet shows them.
	for at, want := range map[string]string{"Fabric!F2": "2026-10-24", "Fabric!Q2": "4.00", "Fabric!W2": "3.60", "Asked!E2": "2026-12-14", "People!L2": "1.58", "Months!B2": "2026-11-01", "Months!C2": "2026-11-25"} {
		sheet, cell, _ := strings.Cut(at, "!")
		shown, err := x.GetCellValue(sheet, cell)
		require.NoError(t, err)
		require.Equal(t, want, shown, at)
	}
}

// A second program opens the books, works every formula out anew and finds the same in
// every cell; no text becomes a formula there, nor in a CSV.
func TestBooksInLibreOffice(t *testing.T) {
	second := newOffice(t)
	data := written(t, sampleBooks())
	ours := opened(t, data)
	saved := second.saves("books.xlsx", data, "xlsx", "xlsx")
	theirs := opened(t, saved)
	formulas := 0
	for _, sheet := range ours.GetSheetList() {
		want, err := ours.GetRows(sheet, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		got, err := theirs.GetRows(sheet, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		for r, row := range want {
			for c, cell := range row {
				at, err := excelize.CoordinatesToCellName(c+1, r+1)
				require.NoError(t, err)
				there := ""
				if r < len(got) && c < len(got[r]) {
					there = got[r][c]
				}
				same(t, cell, there, "%s!%s", sheet, at)
				f, err := ours.GetCellFormula(sheet, at)
				require.NoError(t, err)
				again, err := theirs.GetCellFormula(sheet, at)
				require.NoError(t, err)
				require.Equal(t, f == "", again == "", "%s!%s: =%s and =%s", sheet, at, f, again)
				if f != "" {
					formulas++
				}
			}
		}
	}
	require.Greater(t, formulas, 150)
	charts := 0
	for name := range partsOf(t, saved) {
		if strings.HasPrefix(name, "xl/charts/chart") {
			charts++
		}
	}
	require.Equal(t, 3, charts, "the charts are understood and kept")

	var list bytes.Buffer
	require.NoError(t, WriteList(&list, sampleBooks(), "fabric"))
	read := opened(t, second.saves("fabric.csv", list.Bytes(), "xlsx", "xlsx", "--infilter=Text - txt - csv (StarCalc):44,34,76,1"))
	for _, at := range []string{"C2", "D2"} {
		f, err := read.GetCellFormula("fabric", at)
		require.NoError(t, err)
		require.Empty(t, f, at)
		v, err := read.GetCellValue("fabric", at)
		require.NoError(t, err)
		require.Contains(t, []string{"'+cmd|' /C calc'!A0", "+cmd|' /C calc'!A0", "'@SUM(1)", "@SUM(1)"}, v)
	}
}

// A long name in the footer leaves room for the days in its middle, and a name that is cut at an
// ampersand leaves no half of one, which would be the code of something else.
func TestNamesInFooters(t *testing.T) {
	require.Equal(t, "Spring && Sons", printed("Spring & Sons"))
	for n := range 60 {
		name := strings.Repeat("a", n) + "&&&Combined Charitable Pillowcase Sewing Drive of Winter"
		got := printed(name)
		require.LessOrEqual(t, utf8.RuneCountInString(strings.ReplaceAll(got, "&&", "&")), mostPrinted)
		require.NotContains(t, strings.ReplaceAll(got, "&&", ""), "&", got)
	}
}
