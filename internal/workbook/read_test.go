package workbook

import (
	"archive/zip"
	"bytes"
	"strings"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

func cells(t *testing.T, content string) [][]string {
	t.Helper()
	book, err := Open([]byte(content))
	require.NoError(t, err, "Open(%q)", content)
	require.Len(t, book.Grids, 1)
	var all [][]string
	for _, l := range book.Grids[0].Lines {
		all = append(all, l.Cells)
	}
	return all
}

// RFC 4180, and what people's files hold besides.
func TestOpenCSV(t *testing.T) {
	for _, tt := range []struct {
		name, content string
		want          [][]string
	}{
		{"comma", "a,b\n1,2\n", [][]string{{"a", "b"}, {"1", "2"}}},
		{"semicolon with decimal comma", "a;b\n1,5;2,25\n", [][]string{{"a", "b"}, {"1,5", "2,25"}}},
		{"tab", "a\tb\n1, 2\t3\n", [][]string{{"a", "b"}, {"1, 2", "3"}}},
		{"separator said", "sep=;\r\na;b,c\r\n", [][]string{{"a", "b,c"}}},
		{"carriage returns alone", "a,b\r1,2\r", [][]string{{"a", "b"}, {"1", "2"}}},
		{"no end of line at the end", "a,b\n1,2", [][]string{{"a", "b"}, {"1", "2"}}},
		{"quotes", "\"a,b\",\"say \"\"hi\"\"\"\n", [][]string{{"a,b", `say "hi"`}}},
		{"a line within quotes", "\"one\ntwo\",3\nx,y\n", [][]string{{"one\ntwo", "3"}, {"x", "y"}}},
		{"an inch mark in a plain cell", "w,n\n44\",x\n", [][]string{{"w", "n"}, {`44"`, "x"}}},
		{"an inch mark quoted", "w,n\n\"44\"\"\",x\n", [][]string{{"w", "n"}, {`44"`, "x"}}},
		{"an inch mark quoted badly", "w,n\n\"44\" wide\",x\n", [][]string{{"w", "n"}, {`44" wide`, "x"}}},
		{"empty lines and cells", "a,b,\n\n , ,\n1,,3\n", [][]string{{"a", "b"}, {"1", "", "3"}}},
		{"byte order mark", "\ufeffa,b\n", [][]string{{"a", "b"}}},
		{"Windows-1252", "a,b\n27\xbd,K\xe4the\n", [][]string{{"a", "b"}, {"27½", "Käthe"}}},
		{"UTF-16", "\xff\xfea\x00\t\x00\xbd\x00\n\x00", [][]string{{"a", "½"}}},
		{"spaces that do not break", "a\u00a0,b\n", [][]string{{"a", "b"}}},
		{"right to left and emoji", "שלום,🧵\n", [][]string{{"שלום", "🧵"}}},
	} {
		require.Equal(t, tt.want, cells(t, tt.content), tt.name)
	}
}

func TestLinesAreNumberedAsInTheFile(t *testing.T) {
	book, err := Open([]byte("sep=,\na,b\n\n\"x\ny\",1\nlast,2\n"))
	require.NoError(t, err)
	var numbers []int
	for _, l := range book.Grids[0].Lines {
		numbers = append(numbers, l.Number)
	}
	require.Equal(t, []int{2, 4, 6}, numbers)
	book, err = Open([]byte("a,b\r\"x\ry\",1\r\"u\r\nv\",2\rlast,3\r"))
	require.NoError(t, err)
	require.Equal(t, 6, book.Grids[0].Lines[3].Number, "a carriage return alone ends a line within quotes too")
}

func TestOpenRefused(t *testing.T) {
	for _, tt := range []struct {
		name string
		file []byte
		says string
	}{
		{"nothing", nil, "empty"},
		{"blank", []byte(" \n\n"), "nothing in the file"},
		{"too large", make([]byte, MaxBytes+1), "10 MiB"},
		{"a quote that stays open", []byte("a,b\n\"x,1\ny,2\n"), "opens a cell on line 2"},
		{"a picture", []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"), "picture"},
		{"a PDF", []byte("%PDF-1.7\n\x00\x01"), "PDF"},
		{"a PDF that begins with text", []byte("%PDF-1.7\n1 0 obj\n"), "PDF"},
		{"an old workbook", []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"), "old form"},
		{"some program", append([]byte("MZ"), 0, 1, 2, 3), "no spreadsheet"},
		{"a zip of something else", zipped(t, "notes.txt", []byte("hello")), "no spreadsheet"},
		{"half a workbook", sampleXLSX(t)[:2000], "damaged"},
		{"a bomb", zipped(t, "xl/workbook.xml", make([]byte, maxUnzip+1)), "64 MiB"},
		{"too many lines", []byte(strings.Repeat("a,b\n", MaxLines+2)), "50,000"},
		{"too many columns", []byte(strings.Repeat("a,", maxColumns+1) + "a\n"), "200 columns"},
		{"a cell without end", []byte(strings.Repeat("a", maxCell+1)), "one cell"},
	} {
		_, err := Open(tt.file)
		require.Contains(t, apperr.Fields(err)["file"], tt.says, "%s: %v", tt.name, err)
	}
}

// meant gives headings and what they were taken for.
func meant(matches []Match) [][2]string {
	var all [][2]string
	for _, m := range matches {
		all = append(all, [2]string{m.Heading, m.Means})
	}
	return all
}

func zipped(t *testing.T, name string, content []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	w, err := z.Create(name)
	require.NoError(t, err)
	_, err = w.Write(content)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return out.Bytes()
}

// sampleXLSX is a workbook with a title above the headings, a second sheet, a
// hidden one, a date, and numbers as spreadsheets keep them.
func sampleXLSX(t *testing.T) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	for cell, v := range map[string]any{
		"A1": "Drop-off at the hall", "A3": "Code", "B3": "Length (yd)", "C3": "Width in inches", "D3": "Date in", "E3": "Price",
		"A4": "X1", "B4": 2.3, "C4": 44, "D4": time.Date(2026, 10, 24, 0, 0, 0, 0, time.UTC), "E4": 1,
		"A5": "X2", "B5": "1 1/2", "C5": `43 1/2"`, "D5": "2026-10-25",
	} {
		require.NoError(t, f.SetCellValue("Sheet1", cell, v))
	}
	require.NoError(t, f.MergeCell("Sheet1", "A1", "D1"))
	for _, name := range []string{"Notes", "Secret"} {
		_, err := f.NewSheet(name)
		require.NoError(t, err)
		require.NoError(t, f.SetCellValue(name, "A1", "Code"))
		require.NoError(t, f.SetCellValue(name, "A2", "nothing here"))
	}
	require.NoError(t, f.SetSheetVisible("Secret", false))
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	return out.Bytes()
}

// spring is a drive that measures in inches, and its today.
func spring() (drive.Drive, time.Time) {
	return drive.NewDrive("spring", "Spring", "Europe/Dublin", length.In), time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
}

func TestFabricFromXLSX(t *testing.T) {
	d, today := spring()
	got, err := Read(drive.BringFabric, sampleXLSX(t), Terms{Drive: d, Today: today})
	require.NoError(t, err)
	require.Equal(t, "Sheet1", got.Sheet)
	require.Equal(t, 3, got.Heading.Number)
	require.Equal(t, [][2]string{{"Code", "Code"}, {"Length (yd)", "Length"}, {"Width in inches", "Width"}, {"Date in", "Date in"}, {"Price", ""}}, meant(got.Matches))
	require.Len(t, got.Fabric, 2)
	first := got.Fabric[0]
	require.Empty(t, first.Faults)
	require.Equal(t, 4, first.Line)
	require.Equal(t, length.Yard*23/10, first.Value.Measured.Cuts[0].Length, "2.3 yd, not 2.2999999999999998")
	require.Equal(t, time.Date(2026, 10, 24, 0, 0, 0, 0, time.UTC), first.Value.ReceivedOn)
	require.Equal(t, 43*length.Inch+length.Inch/2, got.Fabric[1].Value.Measured.Cuts[0].Width)
}

func TestTidyNumber(t *testing.T) {
	for in, want := range map[string]string{
		"2.2999999999999998": "2.3", "0.30000000000000004": "0.3", "44": "44", "46319": "46319", "12345678901234567": "12345678901234567",
		"1.1000000000000001E-2": "0.011", "3 1/2 yd and more": "3 1/2 yd and more", "": "",
	} {
		require.Equal(t, want, tidyNumber(in), "tidyNumber(%q)", in)
	}
}

func TestHeadings(t *testing.T) {
	for heading, want := range map[string]struct {
		field string
		unit  length.Unit
	}{
		"Code": {"tag", ""}, "Tag #": {"tag", ""}, "Lot no.": {"tag", ""}, "Yardage": {"length", length.Yd}, "Metres": {"length", length.M},
		"Length (yd)": {"length", length.Yd}, "Length in cm": {"length", length.CM}, `Width "`: {"width", length.In}, "WOF": {"width", ""},
		"Usable width (in)": {"usable", length.In}, "Given by": {"donor", ""}, "Date in": {"received_on", ""}, "Washed?": {"washed", ""},
		"COLORS": {"colours", ""}, "Which way": {"turn", ""}, "Price": {"", ""}, "": {"", ""}, "in": {"", ""},
	} {
		field, unit, _ := meaning(heading, fabricFields())
		require.Equal(t, want.field, field, "meaning(%q)", heading)
		require.Equal(t, want.unit, unit, "unit of %q", heading)
	}
	for _, fields := range [][]field{fabricFields(), peopleFields(), donorFields(), askedFields()} {
		said := map[string]string{}
		for _, f := range fields {
			for _, head := range f.heads {
				text := strings.ToLower(head)
				require.Equal(t, strings.Join(plainWords(head), " "), text, "a heading is written as it is compared")
				require.Empty(t, said[text], "%q stands for %s and %s", head, said[text], f.name)
				said[text] = f.name
			}
		}
	}
}

func TestParseDay(t *testing.T) {
	for _, tt := range []struct {
		in         string
		monthFirst bool
		want       string
	}{
		{"2026-10-24", false, "2026-10-24"},
		{"2026-10-24T00:00:00Z", false, "2026-10-24"},
		{"24/10/2026", false, "2026-10-24"},
		{"10/24/2026", true, "2026-10-24"},
		{"3/4/2026", false, "2026-04-03"},
		{"3/4/2026", true, "2026-03-04"},
		{"24.10.2026", true, "2026-10-24"},
		{"24.10.26", false, "2026-10-24"},
		{"24 Oct 2026", false, "2026-10-24"},
		{"October 24, 2026", true, "2026-10-24"},
		{"46319", false, "2026-10-24"},
		{"46319.5", false, "2026-10-24"},
		{"24/24/2026", false, ""},
		{"soon", false, ""},
		{"2026", false, ""},
	} {
		got, ok := parseDay(tt.in, tt.monthFirst)
		require.Equal(t, tt.want != "", ok, "parseDay(%q, %v)", tt.in, tt.monthFirst)
		if ok {
			require.Equal(t, tt.want, got.Format(time.DateOnly), "parseDay(%q, %v)", tt.in, tt.monthFirst)
		}
	}
}

func TestRefusedRowsComeBack(t *testing.T) {
	d, today := spring()
	file := []byte("Code,Yardage,Width,Notes\nX1,4000 m,44,=HYPERLINK(1)\nX2,1 yd,44,fine\nX3,,44,-5\n")
	b, err := Read(drive.BringFabric, file, Terms{Drive: d, Today: today})
	require.NoError(t, err)
	fates, _ := drive.JudgeFabric(d, today, b.Fabric, nil, nil)
	var out bytes.Buffer
	require.NoError(t, WriteRefused(&out, b, fates))
	require.Equal(t, "\ufeffCode,Yardage,Width,Notes,Why it was refused\n"+
		"X1,4000 m,44,'=HYPERLINK(1),Yardage: "+fates[0].Faults[0].Why+"\n"+
		"X3,,44,-5,\"Yardage: "+fates[2].Faults[0].Why+"\"\n", out.String())
	mended, err := Read(drive.BringFabric, out.Bytes(), Terms{Drive: d, Today: today})
	require.NoError(t, err, "the refused rows can be mended and brought again")
	require.Len(t, mended.Fabric, 2)
}

// A file that does not say how its letters are written is read by guess, and says so.
func TestGuessedLettersAreTold(t *testing.T) {
	d, today := spring()
	for _, tt := range []struct{ what, content, note string }{
		{"plain", "Name\nOrla\n", ""},
		{"UTF-8", "Name\nKäthe Möller\n", ""},
		{"Windows-1252", "Name\nK\xe4the M\xf6ller\nRen\xe9e\n", "Look at Käthe, Möller, Renée: if that is wrong, save the file as CSV in UTF-8"},
		{"another alphabet", "Name\n\xce\xf0\xeb\xe0\n", "Look at Îðëà:"}, // Windows-1251, from memory
		{"marks only", "Name,Notes\nOrla,2\xbd yd\n", "Look at letters such as ä and é:"},
	} {
		got, err := Read(drive.BringDonors, []byte(tt.content), Terms{Drive: d, Today: today})
		require.NoError(t, err, tt.what)
		require.Contains(t, got.Note, tt.note, tt.what)
		require.Equal(t, tt.note == "", got.Note == "", "%s: %s", tt.what, got.Note)
	}
}
