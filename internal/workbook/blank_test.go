package workbook

import (
	"bytes"
	"strings"
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

func blank(t testing.TB, kind drive.BringKind) []byte {
	t.Helper()
	d, _ := spring()
	var out bytes.Buffer
	require.NoError(t, WriteBlank(&out, kind, d, []string{"Standard", "Travel"}))
	return out.Bytes()
}

// Filled in with its own examples, a blank table comes back in without a fault, and
// so does each word that it offers.
func TestBlankTablesAreUnderstood(t *testing.T) {
	d, today := spring()
	for _, kind := range drive.BringKinds() {
		_, err := Read(kind, blank(t, kind), Terms{Drive: d, Today: today})
		require.Contains(t, apperr.Fields(err)["file"], "There is nothing below the headings on line 1", "%s, as it is", kind)
		f, err := excelize.OpenReader(bytes.NewReader(blank(t, kind)))
		require.NoError(t, err)
		defer f.Close()
		sheet := f.GetSheetName(0)
		columns := blankColumns(kind, d, []string{"Standard", "Travel"})
		rows := 1
		for _, c := range columns {
			rows = max(rows, len(c.choices))
		}
		for i, c := range columns {
			for row := range rows {
				cell, err := excelize.CoordinatesToCellName(i+1, row+2)
				require.NoError(t, err)
				value := c.example
				if len(c.choices) > 0 {
					value = c.choices[row%len(c.choices)]
				}
				if c.limit == onlyOnce {
					value += strings.Repeat("x", row)
				}
				require.NoError(t, f.SetCellStr(sheet, cell, value))
			}
		}
		var out bytes.Buffer
		require.NoError(t, f.Write(&out))
		got, err := Read(kind, out.Bytes(), Terms{Drive: d, Today: today, BorderDepth: 27 * length.Inch})
		require.NoError(t, err, kind)
		require.Len(t, got.Matches, len(columns))
		for i, m := range got.Matches {
			require.Equal(t, columns[i].name, m.Field, "%s: %s", kind, m.Heading)
		}
		var faults []drive.Fault
		for _, r := range got.Fabric {
			faults = append(faults, r.Faults...)
		}
		for _, r := range got.People {
			faults = append(faults, r.Faults...)
		}
		for _, r := range got.Donors {
			faults = append(faults, r.Faults...)
		}
		for _, r := range got.Asked {
			faults = append(faults, r.Faults...)
		}
		require.Empty(t, faults, kind)
		require.Len(t, got.Lines, rows, kind)
	}
}

func TestBlankTableChecksWhileItIsFilledIn(t *testing.T) {
	f, err := excelize.OpenReader(bytes.NewReader(blank(t, drive.BringFabric)))
	require.NoError(t, err)
	defer f.Close()
	rules, err := f.GetDataValidations("Fabric")
	require.NoError(t, err)
	kinds := map[string]int{}
	for _, r := range rules {
		kinds[r.Type]++
	}
	require.Equal(t, map[string]int{"custom": 1, "whole": 1, "date": 1, "list": 8, "textLength": 5}, kinds)
	style, err := f.GetColStyle("Fabric", "B")
	require.NoError(t, err)
	said, err := f.GetStyle(style)
	require.NoError(t, err)
	require.NotNil(t, said.CustomNumFmt)
	require.Equal(t, "@", *said.CustomNumFmt, "a length stays text")
}

// Every field has its help, but for a unit, which stands in the heading, and a
// direction, which how it lies says better.
func TestHelpIsWhole(t *testing.T) {
	for _, kind := range drive.BringKinds() {
		for _, f := range listFor(kind).fields {
			_, ok := helpFor(kind, f.name)
			require.Equal(t, f.name != "unit" && f.name != "direction", ok, "%s of %s", f.name, kind)
		}
	}
}
