package workbook

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// office is a second spreadsheet program with a profile of its own.
type office struct {
	t    *testing.T
	path string
	dir  string
}

func newOffice(t *testing.T) office {
	t.Helper()
	path, err := exec.LookPath("soffice")
	if err != nil {
		t.Skip("LEFT OUT: soffice is not here, so no second program opens and saves spreadsheets")
	}
	return office{t, path, t.TempDir()}
}

// saves opens a file and saves it in another form, as somebody would.
func (o office) saves(name string, content []byte, to, ending string, options ...string) []byte {
	o.t.Helper()
	in, out := filepath.Join(o.dir, name), filepath.Join(o.dir, "out")
	require.NoError(o.t, os.WriteFile(in, content, 0o600))
	args := append([]string{"-env:UserInstallation=file://" + filepath.Join(o.dir, "profile"), "--headless", "--convert-to", to, "--outdir", out}, options...)
	said, err := exec.Command(o.path, append(args, in)...).CombinedOutput()
	require.NoError(o.t, err, string(said))
	saved, err := os.ReadFile(filepath.Join(out, strings.TrimSuffix(name, filepath.Ext(name))+"."+ending))
	require.NoError(o.t, err, string(said))
	return saved
}

// filledBlank is a blank table with what a hall might write into it.
func filledBlank(t *testing.T) []byte {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(blank(t, drive.BringFabric)))
	require.NoError(t, err)
	defer f.Close()
	for cell, value := range map[string]any{
		"A2": "A-01", "B2": "2 1/2", "C2": "44", "D2": 2, "E2": "Käthe Möller", "F2": time.Date(2026, 10, 24, 0, 0, 0, 0, time.UTC), "G2": "quilting cotton, \"stars\"; small",
		"A3": "A-02", "B3": "2,5 m", "C3": `44"`, "E3": "Orla", "F3": time.Date(2026, 10, 25, 0, 0, 0, 0, time.UTC), "I3": "cotton",
		"A4": "A-03", "B4": 3.25, "C4": 42.5, "E4": "Orla", "I4": "linen",
		"A5": "A-04", "B5": "18 x 21 in", "E5": "Orla",
		"A6": "A-05", "B6": time.Date(2026, 1, 2, 0, 0, 0, 0, time.UTC), "C6": "44",
	} {
		require.NoError(t, f.SetCellValue("Fabric", cell, value))
	}
	day := dayFormat
	style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &day})
	require.NoError(t, err)
	require.NoError(t, f.SetCellStyle("Fabric", "B6", "B6", style))
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	return out.Bytes()
}

// What a second spreadsheet program saves, as a workbook or as CSV in three
// dialects, comes in the same as what it opened.
func TestSavedByAnotherProgram(t *testing.T) {
	d, today := spring()
	terms := Terms{Drive: d, Today: today, BorderDepth: 27 * length.Inch}
	second, filled := newOffice(t), filledBlank(t)
	want, err := Read(drive.BringFabric, filled, terms)
	require.NoError(t, err)
	require.Len(t, want.Fabric, 5)
	for i, row := range want.Fabric {
		require.Equal(t, i == 4, len(row.Faults) > 0, "line %d: %v", row.Line, row.Faults)
	}
	require.Contains(t, want.Fabric[4].Faults[0].Why, "is a date", "a length that became a day")
	for _, tt := range []struct{ what, to, ending string }{
		{"xlsx", "xlsx", "xlsx"},
		{"comma, UTF-8", "csv:Text - txt - csv (StarCalc):44,34,76,1", "csv"},
		{"semicolon, Windows-1252", "csv:Text - txt - csv (StarCalc):59,34,1,1", "csv"},
		{"tab, UTF-8", "csv:Text - txt - csv (StarCalc):9,34,76,1", "csv"},
	} {
		saved := second.saves("filled.xlsx", filled, tt.to, tt.ending)
		got, err := Read(drive.BringFabric, saved, terms)
		require.NoError(t, err, tt.what)
		require.Equal(t, meant(want.Matches), meant(got.Matches), tt.what)
		require.Len(t, got.Fabric, len(want.Fabric), tt.what)
		for i := range want.Fabric[:4] {
			require.Equal(t, want.Fabric[i], got.Fabric[i], "%s, line %d", tt.what, i+2)
		}
		require.Contains(t, got.Fabric[4].Faults[0].Why, "is a date", tt.what)
		if tt.ending == "xlsx" {
			f, err := excelize.OpenReader(bytes.NewReader(saved))
			require.NoError(t, err)
			rules, err := f.GetDataValidations("Fabric")
			require.NoError(t, err)
			require.NotEmpty(t, rules, "what the blank table checks is understood and kept")
			require.NoError(t, f.Close())
		}
	}
}

// Refused rows are opened by a second program with every cell as it stood, and no
// formula among them.
func TestRefusedRowsInAnotherProgram(t *testing.T) {
	d, today := spring()
	terms := Terms{Drive: d, Today: today}
	file := []byte("Code,Yardage,Width,Notes\nX1,4000 m,44\",=1+1\nX2,1/2/2026,44,שלום 🧵\nX3,,44,-5\n")
	list, err := Read(drive.BringFabric, file, terms)
	require.NoError(t, err)
	fates, _ := drive.JudgeFabric(d, today, list.Fabric, nil, nil)
	second := newOffice(t)
	var book, text bytes.Buffer
	require.NoError(t, WriteRefusedXLSX(&book, list, fates))
	require.NoError(t, WriteRefused(&text, list, fates))
	for name, saved := range map[string][]byte{
		"workbook": second.saves("book.xlsx", book.Bytes(), "xlsx", "xlsx"),
		// Without a person to ask, the program wants to be told that it is UTF-8.
		"CSV": second.saves("text.csv", text.Bytes(), "xlsx", "xlsx", "--infilter=Text - txt - csv (StarCalc):44,34,76,1"),
	} {
		got, err := Open(saved)
		require.NoError(t, err, name)
		lines := got.Grids[0].Lines
		require.Len(t, lines, 4, name)
		require.Equal(t, []string{"Code", "Yardage", "Width", "Notes", whyRefused}, lines[0].Cells)
		require.Equal(t, "4000 m", lines[1].Cells[1], name)
		require.Equal(t, `44"`, lines[1].Cells[2], name)
		require.Contains(t, []string{"=1+1", "'=1+1"}, lines[1].Cells[3], "text, never what it comes to")
		require.Equal(t, "שלום 🧵", lines[2].Cells[3], name)
		for _, line := range lines[1:] {
			require.Contains(t, line.Cells[4], "Yardage: ", name)
		}
	}
}
