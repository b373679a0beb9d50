package main

import (
	"bytes"
	"encoding/csv"
	"mime"
	"net/http"
	"path"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"boltward/internal/workbook"
)

// hostileExports opens every file that goes out once hostile text is in every field: no cell
// of any begins what a spreadsheet would work out, and none has a name that leads elsewhere.
func hostileExports(t *testing.T, b *besieged) {
	now := time.Now()
	all := "?from=" + now.AddDate(-2, 0, 0).Format(time.DateOnly) + "&to=" + now.AddDate(0, 0, 1).Format(time.DateOnly)
	opened, hostile := map[string]int{}, 0
	held := func(where, cell string) {
		if cell == "" || !strings.ContainsAny(cell[:1], "=+-@\t\r") {
			return
		}
		_, err := strconv.ParseFloat(cell, 64)
		require.NoError(t, err, "%s begins a formula: %q", where, cell)
	}
	for _, r := range b.routes {
		if r.method != http.MethodGet {
			continue
		}
		paths := []string{b.address(r.path, nil)}
		if strings.HasSuffix(r.path, "/lists/:list") {
			paths = nil
			for _, l := range workbook.Lists() {
				paths = append(paths, b.address(r.path, map[string]string{"list": l.Name + ".csv"}))
			}
		}
		if strings.HasPrefix(r.path, "/drives/:drive/books/") {
			for i := range paths {
				paths[i] += all
			}
		}
		for _, at := range paths {
			a := b.organiser.get(at)
			said := a.Header.Get("Content-Disposition")
			if a.Code != http.StatusOK || said == "" {
				continue
			}
			_, params, err := mime.ParseMediaType(said)
			require.NoError(t, err, at)
			name := params["filename"]
			require.NotEmpty(t, name, at)
			require.Equal(t, path.Base(name), name, at)
			require.False(t, strings.ContainsAny(name, "\\\"<>:|?*\x00\r\n") || strings.HasPrefix(name, "."), "%s is called %q", at, name)
			opened[path.Ext(name)]++
			switch path.Ext(name) {
			case ".csv":
				rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(a.Body, "\ufeff"))).ReadAll()
				require.NoError(t, err, at)
				for _, row := range rows {
					for _, cell := range row {
						held(at, cell)
						if strings.Contains(cell, "alert(311)") {
							hostile++
						}
					}
				}
			case ".xlsx":
				hostile += heldCells(t, at, a.Body)
			}
		}
	}
	t.Logf("opened %v, %d cells with what was typed to do harm", opened, hostile)
	require.GreaterOrEqual(t, opened[".csv"], 10+len(workbook.Lists()))
	require.Positive(t, opened[".xlsx"])
	require.Greater(t, hostile, 5)
}

// heldCells holds that every cell of a workbook with hostile text is text, whatever it begins
// with, and counts them.
func heldCells(t *testing.T, at, file string) int {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader([]byte(file)))
	require.NoError(t, err, at)
	defer f.Close()
	hostile := 0
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
		require.NoError(t, err, at)
		for i, row := range rows {
			for j, cell := range row {
				if !strings.Contains(cell, "alert(311)") {
					continue
				}
				hostile++
				name, err := excelize.CoordinatesToCellName(j+1, i+1)
				require.NoError(t, err)
				formula, err := f.GetCellFormula(sheet, name)
				require.NoError(t, err)
				require.Empty(t, formula, "%s %s %s", at, sheet, name)
				kind, err := f.GetCellType(sheet, name)
				require.NoError(t, err)
				require.Contains(t, []excelize.CellType{excelize.CellTypeSharedString, excelize.CellTypeInlineString}, kind, "%s %s %s", at, sheet, name)
			}
		}
	}
	return hostile
}
