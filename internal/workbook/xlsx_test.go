package workbook

import (
	"archive/zip"
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// parts are the least a workbook needs around its sheets.
func parts(sheet, texts string) map[string]string {
	const relations = `http://schemas.openxmlformats.org/officeDocument/2006/relationships`
	return map[string]string{
		"_rels/.rels":     `<Relationships><Relationship Id="r1" Type="` + relations + `/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml": `<workbook xmlns:r="r"><sheets><sheet name="Lots" sheetId="1" r:id="r1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="r1" Type="` + relations + `/worksheet" Target="worksheets/sheet1.xml"/>` +
			`<Relationship Id="r2" Type="` + relations + `/sharedStrings" Target="sharedStrings.xml"/>` +
			`<Relationship Id="r3" Type="` + relations + `/styles" Target="/xl/styles.xml"/></Relationships>`,
		"xl/worksheets/sheet1.xml": sheet,
		"xl/sharedStrings.xml":     texts,
		"xl/styles.xml": `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="0.00 &quot;yd&quot;"/><numFmt numFmtId="165" formatCode="[$-407]d. mmm"/></numFmts>` +
			`<cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/><xf numFmtId="165"/></cellXfs></styleSheet>`,
	}
}

func packed(t testing.TB, parts map[string]string) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, name := range slices.Sorted(maps.Keys(parts)) {
		w, err := z.Create(name)
		require.NoError(t, err)
		_, err = w.Write([]byte(parts[name]))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return out.Bytes()
}

const noTexts = "<sst/>"

func TestXLSXCells(t *testing.T) {
	const texts = `<sst><si><t>Code</t></si><si><r><t>rich</t></r><r><t xml:space="preserve"> text</t></r><rPh sb="0" eb="1"><t>aloud</t></rPh></si><si><t>a_x000D__x005F_b_x0000_c</t></si></sst>`
	for _, tt := range []struct {
		name, cells string
		want        []string
	}{
		{"shared texts", `<c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c><c r="C1" t="s"><v>2</v></c>`, []string{"Code", "rich text", "a\n_bc"}},
		{"texts in the cell", `<c t="inlineStr"><is><t>in</t></is></c><c t="str"><f>A1</f><v>made</v></c>`, []string{"in", "made"}},
		{"numbers as typed", `<c><v>2.2999999999999998</v></c><c><v>44</v></c><c s="2"><v>2.5</v></c><c><v>2.5E-2</v></c>`, []string{"2.3", "44", "2.5", "0.025"}},
		{
			"days", `<c s="1"><v>46319</v></c><c s="3"><v>46024</v></c><c s="1"><v>1</v></c><c s="1"><v>0.5</v></c><c t="d"><v>2026-10-24T00:00:00</v></c>`,
			[]string{"2026-10-24", "2026-01-02", "1900-01-01", "12:00", "2026-10-24"},
		},
		{"truth and errors", `<c t="b"><v>1</v></c><c t="b"><v>0</v></c><c t="e"><v>#REF!</v></c>`, []string{"TRUE", "FALSE", "#REF!"}},
		{"gaps and empty cells", `<c r="B1"><v>1</v></c><c r="D1"/><c r="E1" s="1"/><c r="F1"><v>2</v></c>`, []string{"", "1", "", "", "", "2"}},
		{"a formula without a value", `<c><f>SUM(1)</f></c>`, []string{"="}},
		{"a style that is not there", `<c s="99"><v>46319</v></c>`, []string{"46319"}},
	} {
		book, err := Open(packed(t, parts(`<worksheet><sheetData><row r="1">`+tt.cells+`</row></sheetData></worksheet>`, texts)))
		require.NoError(t, err, tt.name)
		require.Equal(t, tt.want, book.Grids[0].Lines[0].Cells, tt.name)
	}
}

func TestXLSXDaysFrom1904(t *testing.T) {
	p := parts(`<worksheet><sheetData><row r="1"><c s="1"><v>44857</v></c><c s="1"><v>0.5</v></c><c s="1"><v>1</v></c></row></sheetData></worksheet>`, noTexts)
	p["xl/workbook.xml"] = strings.Replace(p["xl/workbook.xml"], "<sheets>", `<workbookPr date1904="1"/><sheets>`, 1)
	book, err := Open(packed(t, p))
	require.NoError(t, err)
	require.Equal(t, []string{"2026-10-24", "12:00", "1904-01-02"}, book.Grids[0].Lines[0].Cells)
}

func TestAFormatShowsADay(t *testing.T) {
	for format, want := range map[string]bool{
		`dd.mm.yyyy`: true, `[$-407]d. mmm yy;@`: true, `""dd.mm.yyyy`: true, `"day "d`: true, `"a""b"d`: true,
		`General`: false, `0.00`: false, `0" days"`: false, `0" days`: false, `0""`: false, `0"`: false, `0.0\d`: false, `[Red]0`: false, `0_d`: false,
	} {
		require.Equal(t, want, showsDay(format), format)
	}
}

// Files that are damaged, cut short or made to do harm are refused in words, and
// nothing of them is taken for the whole.
func TestXLSXRefused(t *testing.T) {
	row := func(cells string) string {
		return `<worksheet><sheetData><row r="1">` + cells + `</row></sheetData></worksheet>`
	}
	const one = `<c><v>1</v></c>`
	for _, tt := range []struct{ name, sheet, texts, says string }{
		{"a sheet that breaks off", `<worksheet><sheetData><row r="1">` + one + `</row><row r="2"><c><v>2`, noTexts, "damaged"},
		{"a sheet without an end", `<worksheet><sheetData><row r="1">` + one + `</row>`, noTexts, "damaged"},
		{"tags that do not match", row(`<c><v>1</c></v>`), noTexts, "damaged"},
		{"no XML", "Code,Length", noTexts, "damaged"},
		{"nested without end", strings.Repeat("<a>", 1_000_000), noTexts, "damaged"},
		{"a tag without end", "<worksheet " + strings.Repeat(`a="" `, 100_000) + "/>", noTexts, "damaged"},
		{"a tag without end behind a quoted sign", `<worksheet x=">" ` + strings.Repeat(`a="" `, 100_000) + "/>", noTexts, "damaged"},
		{"rows that go back", `<worksheet><sheetData><row r="2">` + one + `</row><row r="1">` + one + `</row></sheetData></worksheet>`, noTexts, "damaged"},
		{"a row twice", `<worksheet><sheetData><row r="2">` + one + `</row><row r="2">` + one + `</row></sheetData></worksheet>`, noTexts, "damaged"},
		{"a row too far", `<worksheet><sheetData><row r="1048577">` + one + `</row></sheetData></worksheet>`, noTexts, "damaged"},
		{"cells that go back", row(`<c r="B1"><v>1</v></c><c r="A1"><v>1</v></c>`), noTexts, "damaged"},
		{"a text that is not there", row(`<c t="s"><v>3</v></c>`), noTexts, "damaged"},
		{"a column too far", row(`<c r="XFD1"><v>1</v></c>`), noTexts, "200 columns"},
		{"empty cells without end", row(strings.Repeat(`<c/>`, maxWalked+1)), noTexts, "5 million cells"},
		{"an entity that grows", `<!DOCTYPE a [<!ENTITY b "bbbbbbbb"><!ENTITY c "&b;&b;">]>` + row(`<c t="str"><v>&c;</v></c>`), noTexts, "damaged"},
		{"a merge that is none", `<worksheet><sheetData/><mergeCells><mergeCell ref="B2:A1"/></mergeCells></worksheet>`, noTexts, "damaged"},
		{"a cell without end", row(`<c t="str"><v>` + strings.Repeat("x", maxCell+1) + `</v></c>`), noTexts, "one cell"},
		{"nothing in it", `<worksheet><sheetData><row r="1"><c/></row></sheetData></worksheet>`, noTexts, "nothing in the file"},
	} {
		_, err := Read(drive.BringFabric, packed(t, parts(tt.sheet, tt.texts)), Terms{})
		require.Contains(t, apperr.Fields(err)["file"], tt.says, "%s: %v", tt.name, err)
	}
	p := parts(row(one), noTexts)
	delete(p, "xl/worksheets/sheet1.xml")
	_, err := Open(packed(t, p))
	require.Contains(t, apperr.Fields(err)["file"], "damaged", "a sheet that is not there")
	_, err = Open(packed(t, map[string]string{"content.xml": "", "mimetype": "application/vnd.oasis.opendocument.spreadsheet"}))
	require.Contains(t, apperr.Fields(err)["file"], "OpenDocument")
}

// A bomb that says it is small unpacks no further than it may.
func TestXLSXThatLiesAboutItsSize(t *testing.T) {
	content := packed(t, parts(`<worksheet><sheetData>`+strings.Repeat(" ", 1<<20)+`</sheetData></worksheet>`, noTexts))
	for i := range len(content) - 4 {
		// 1,048,598 in the two places where the archive says how large it is.
		if content[i+1] == 0 && content[i+2] == 0x10 && content[i+3] == 0 {
			copy(content[i:], []byte{9, 0, 0, 0})
		}
	}
	_, err := Open(content)
	require.Contains(t, apperr.Fields(err)["file"], "damaged", "%v", err)
}

func TestGuardCountsWhatIsUnpacked(t *testing.T) {
	left := int64(10)
	w := newXMLWalk(&guard{from: strings.NewReader("<a>" + strings.Repeat(" ", 100) + "</a>"), left: &left})
	var err error
	for err == nil {
		err = w.next()
	}
	require.ErrorIs(t, err, errUnpacksTooFar)
}

// The reader agrees with excelize's on what excelize writes.
func TestXLSXAsExcelizeReadsIt(t *testing.T) {
	f := excelize.NewFile()
	defer f.Close()
	for i := range 60 {
		for j := range 9 {
			cell, err := excelize.CoordinatesToCellName(j+1, i+1)
			require.NoError(t, err)
			values := []any{fmt.Sprintf("text %d", i), i * j, float64(i) / 8, nil, "ערב 🧵 <&>", true, "=not a formula", i%3 == 0, "two\nlines"}
			require.NoError(t, f.SetCellValue("Sheet1", cell, values[(i+j)%len(values)]))
		}
	}
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	book, err := Open(out.Bytes())
	require.NoError(t, err)
	want, err := f.GetRows("Sheet1")
	require.NoError(t, err)
	var got [][]string
	for _, line := range book.Grids[0].Lines {
		got = append(got, line.Cells)
	}
	require.Equal(t, want, got)
}

func filled(t *testing.T, sheets map[string][][]string, merged ...string) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	for _, name := range slices.Sorted(maps.Keys(sheets)) {
		_, err := f.NewSheet(name)
		require.NoError(t, err)
		for i, row := range sheets[name] {
			require.NoError(t, f.SetSheetRow(name, fmt.Sprintf("A%d", i+1), &row))
		}
		for i := 0; i+1 < len(merged); i += 2 {
			require.NoError(t, f.MergeCell(name, merged[i], merged[i+1]))
		}
	}
	require.NoError(t, f.DeleteSheet("Sheet1"))
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	return out.Bytes()
}

func TestMergedHeadings(t *testing.T) {
	d, today := spring()
	file := filled(t, map[string][][]string{"March": {
		{"Drop-off at the hall", "", "", "", ""},
		{"Code", "Size", "", "Given by", "Price"},
		{"", "Length (yd)", "Width", "", ""},
		{"X1", "2 1/2", "44", "Orla", "1"},
	}}, "A1", "E1", "A2", "A3", "B2", "C2", "D2", "D3")
	got, err := Read(drive.BringFabric, file, Terms{Drive: d, Today: today})
	require.NoError(t, err)
	require.Equal(t, [][2]string{{"Code", "Code"}, {"Length (yd)", "Length"}, {"Width", "Width"}, {"Given by", "Given by"}, {"Price", ""}}, meant(got.Matches))
	require.Len(t, got.Fabric, 1)
	require.Empty(t, got.Fabric[0].Faults)
	require.Equal(t, 90*length.Inch, got.Fabric[0].Value.Measured.Cuts[0].Length)

	// The same saved as CSV has lost the merging.
	text := "Code,Size,,Given by\n,Length (yd),Width,\nX1,2 1/2,44,Orla\n"
	got, err = Read(drive.BringFabric, []byte(text), Terms{Drive: d, Today: today})
	require.NoError(t, err)
	require.Len(t, got.Fabric, 1)
	require.Equal(t, "Orla", got.Fabric[0].Value.Donor)
	require.Equal(t, 3, got.Fabric[0].Line)
}

func TestMergedRows(t *testing.T) {
	d, today := spring()
	rows := [][]string{
		{"Code", "Length", "Width", "Given by"},
		{"X1", "2 yd", "44", "Orla"},
		{"X2", "", "44", ""},
		{"X3", "1 yd", "44", "Pim"},
	}
	got, err := Read(drive.BringFabric, filled(t, map[string][][]string{"March": rows}, "D2", "D3"), Terms{Drive: d, Today: today})
	require.NoError(t, err)
	require.Equal(t, "Orla", got.Fabric[1].Value.Donor)
	require.Contains(t, strings.Join(got.Fabric[1].Notes, " "), "Given by: the merged cell beside lines 2 to 3 counts for each of them.")
	require.Equal(t, "Pim", got.Fabric[2].Value.Donor)

	got, err = Read(drive.BringFabric, filled(t, map[string][][]string{"March": rows}, "B2", "B3"), Terms{Drive: d, Today: today})
	require.NoError(t, err)
	for _, row := range got.Fabric[:2] {
		require.Equal(t, "Length", row.Faults[0].Column)
		require.Contains(t, row.Faults[0].Why, "merged cell stands beside lines 2 to 3")
	}
	require.Empty(t, got.Fabric[2].Faults)
}

func TestTwoSheets(t *testing.T) {
	d, today := spring()
	rows := [][]string{{"Code", "Length", "Width"}, {"X1", "2 yd", "44"}}
	file := filled(t, map[string][][]string{"March": rows, "April": rows, "Notes": {{"Who", "What"}, {"Orla", "cake"}}})
	got, err := Read(drive.BringFabric, file, Terms{Drive: d, Today: today})
	require.Contains(t, apperr.Fields(err)["sheet"], `"April", "March". Say which.`)
	require.Equal(t, []string{"April", "March", "Notes"}, got.Sheets)
	got, err = Read(drive.BringFabric, file, Terms{Drive: d, Today: today, Choice: Choice{Sheet: "march"}})
	require.NoError(t, err)
	require.Equal(t, "March", got.Sheet)
	_, err = Read(drive.BringFabric, file, Terms{Drive: d, Today: today, Choice: Choice{Sheet: "May"}})
	require.Contains(t, apperr.Fields(err)["sheet"], "There is no sheet called")
	got, err = Read(drive.BringFabric, file, Terms{Drive: d, Today: today, Choice: Choice{Sheet: "Notes"}})
	require.Contains(t, apperr.Fields(err)["file"], `No column is headed "Code"`)
	require.Equal(t, "Who", got.Matches[0].Heading, "the columns are given all the same, to be corrected")

	// A sheet that is too long troubles nobody who wants the other.
	long := make([][]string, MaxLines+2)
	for i := range long {
		long[i] = []string{"a"}
	}
	got, err = Read(drive.BringFabric, filled(t, map[string][][]string{"March": rows, "Raw": long}), Terms{Drive: d, Today: today})
	require.NoError(t, err)
	require.Len(t, got.Fabric, 1)
}

func TestChosenColumns(t *testing.T) {
	d, today := spring()
	file := []byte("Liste vom Samstag\nStoff-Nr.;Länge in m;Breite cm;von wem;;Code\nX1;2,5;110;Orla;cotton;ignored\n")
	got, err := Read(drive.BringFabric, file, Terms{Drive: d, Today: today})
	require.NoError(t, err, "Code is understood by itself")
	require.Equal(t, "ignored", got.Fabric[0].Value.Tag)
	keys := []string{}
	for _, m := range got.Matches {
		keys = append(keys, m.Key)
	}
	require.Equal(t, []string{"stoff nr", "länge in m", "breite cm", "von wem", "column e", "code"}, keys)
	require.Equal(t, "cotton", got.Matches[4].Sample)

	choice := Choice{Means: map[string]string{"stoff nr": "tag", "länge in m": "length", "breite cm": "width", "von wem": "donor", "column e": "fibre", "code": "", "gone": "note", "x": "no such"}}
	got, err = Read(drive.BringFabric, file, Terms{Drive: d, Today: today, Choice: choice})
	require.NoError(t, err)
	row := got.Fabric[0]
	require.Empty(t, row.Faults)
	require.Equal(t, "X1", row.Value.Tag)
	require.Equal(t, 250*length.Centimetre, row.Value.Measured.Cuts[0].Length)
	require.Equal(t, 110*length.Centimetre, row.Value.Measured.Cuts[0].Width)
	require.Equal(t, "Orla", row.Value.Donor)
	require.Equal(t, "cotton", row.Value.Measured.Fibre)
	require.True(t, got.Matches[0].Chosen)

	got, err = Read(drive.BringFabric, file, Terms{Drive: d, Today: today, Choice: Choice{Heading: 1, Means: map[string]string{"liste vom samstag": "tag"}}})
	require.NoError(t, err, "the line of headings can be said")
	require.Equal(t, []int{2, 3}, []int{got.Fabric[0].Line, got.Fabric[1].Line})
}
