package workbook

import (
	"bytes"
	"io"
	"os"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

// sound holds what every reader promises of what it gives.
func sound(t *testing.T, book *Book, err error) {
	t.Helper()
	if err != nil {
		require.NotEmpty(t, apperr.Fields(err)["file"], "a file is refused in words: %v", err)
		return
	}
	for _, g := range book.Grids {
		last := 0
		require.LessOrEqual(t, len(g.Lines), MaxLines+1)
		for _, line := range g.Lines {
			require.Greater(t, line.Number, last, "lines are numbered upwards")
			last = line.Number
			require.LessOrEqual(t, len(line.Cells), maxColumns)
			require.NotEmpty(t, strings.Join(line.Cells, ""))
			for _, c := range line.Cells {
				require.True(t, utf8.ValidString(c))
				require.Equal(t, strings.TrimSpace(c), c)
				require.Equal(t, -1, strings.IndexFunc(c, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\t' }), "%q", c)
			}
		}
	}
}

// readEverything gives any file to the readers of every kind of list. What is taken must
// stand up to measuring with every inch accounted for, and what is refused come
// back as it stood.
func readEverything(t *testing.T, content []byte, choice Choice) {
	t.Helper()
	d, today := spring()
	for _, kind := range drive.BringKinds() {
		got, err := Read(kind, content, Terms{Drive: d, Today: today, BorderDepth: 27 * in, Choice: choice})
		if err != nil {
			require.NotNil(t, apperr.As(err), "a file is refused in words: %v", err)
			continue
		}
		var fates []drive.RowFate
		switch kind {
		case drive.BringPeople:
			fates, _ = drive.JudgePeople(today, got.People, nil)
		case drive.BringDonors:
			fates, _ = drive.JudgeDonors(got.Donors, nil)
		case drive.BringAsked:
			fates, _ = drive.JudgeAsked(today, got.Asked, drive.AskedHere{})
		default:
			fates = measured(t, d, got)
		}
		require.Len(t, fates, len(got.Lines))
		refusedComeBack(t, got, fates)
	}
}

func measured(t *testing.T, d drive.Drive, got Brought) []drive.RowFate {
	t.Helper()
	_, today := spring()
	fates, decided := drive.JudgeFabric(d, today, got.Fabric, nil, nil)
	for _, one := range decided {
		if one.Measured == nil {
			continue
		}
		out, err := drive.Measure(d, drive.Lot{Number: 1}, *one.Measured, 1)
		require.NoError(t, err, "what is judged good can be measured")
		require.Equal(t, len(out.Pieces), len(out.Lengths))
	}
	return fates
}

func refusedComeBack(t *testing.T, got Brought, fates []drive.RowFate) {
	t.Helper()
	var want [][]string
	for i, f := range fates {
		if f.Fate == drive.FateRefused {
			want = append(want, got.Lines[i].Cells)
		}
	}
	if len(want) == 0 || len(want) > 50 || len(got.Heading.Cells) >= maxColumns || strings.Contains(strings.ToLower(strings.Join(got.Heading.Cells, "\n")), strings.ToLower(whyRefused)) {
		return
	}
	writers := []func(io.Writer, Brought, []drive.RowFate) error{WriteRefused}
	if len(want)%4 == 3 { // it takes a hundred times as long
		writers = append(writers, WriteRefusedXLSX)
	}
	for i, write := range writers {
		var out bytes.Buffer
		require.NoError(t, write(&out, got, fates))
		book, err := Open(out.Bytes())
		if err != nil {
			require.NotNil(t, apperr.As(err), "%v", err) // reasons may make a line too long
			continue
		}
		lines := book.Grids[0].Lines[1:]
		require.Len(t, lines, len(want), "writer %d", i)
		for j, line := range lines {
			require.Equal(t, want[j], line.Cells[:len(want[j])], "writer %d, line %d", i, line.Number)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, name := range []string{"fabric", "people", "asked"} {
		content, err := os.ReadFile("../../testdata/demo/" + name + ".csv")
		require.NoError(f, err)
		f.Add([]byte(strings.Join(strings.SplitAfter(string(content), "\n")[:6], "")))
	}
	f.Add([]byte("Code;Yardage;Width;Flaws\nA;2,5 m;110 cm;3 to 4 in\nB;\"44\"\";x\n"))
	f.Add([]byte("\xff\xfea\x00\t\x00b\x00\n\x00"))
	f.Add([]byte("sep=\t\nTag\tLength\nA\t18 x 22 in\n"))
	f.Add([]byte("Name,Notes\nA,'=1+1\n'@b,\"a\nb\"\n"))
	f.Fuzz(func(t *testing.T, content []byte) {
		book, err := Open(content)
		sound(t, book, err)
		readEverything(t, content, Choice{})
	})
}

// FuzzXLSX gives the parts of a workbook to its reader: a sheet, the shared texts
// and the styles.
func FuzzXLSX(f *testing.F) {
	whole := parts(`<worksheet><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="inlineStr"><is><t>Yardage</t></is></c></row>`+
		`<row r="3"><c r="A3" t="str"><f>A1</f><v>X1</v></c><c s="1"><v>46024</v></c><c t="e"><v>#REF!</v></c></row></sheetData>`+
		`<mergeCells><mergeCell ref="A1:A2"/></mergeCells></worksheet>`, `<sst><si><t>Code</t></si><si><r><t>a</t></r><rPh><t>b</t></rPh></si></sst>`)
	f.Add(whole["xl/worksheets/sheet1.xml"], whole["xl/sharedStrings.xml"], whole["xl/styles.xml"])
	f.Add(`<worksheet><sheetData><row><c><v>1</v></c></row></sheetData></worksheet>`, noTexts, `<styleSheet/>`)
	f.Fuzz(func(t *testing.T, sheet, texts, styles string) {
		p := parts(sheet, texts)
		p["xl/styles.xml"] = styles
		content := packed(t, p)
		book, err := Open(content)
		sound(t, book, err)
		readEverything(t, content, Choice{})
	})
}

// FuzzWorkbook damages a whole workbook somewhere.
func FuzzWorkbook(f *testing.F) {
	whole := packed(f, parts(`<worksheet><sheetData><row><c t="str"><v>Code</v></c></row><row><c><v>1</v></c></row></sheetData></worksheet>`, noTexts))
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add(blank(f, drive.BringDonors))
	f.Fuzz(func(t *testing.T, content []byte) {
		book, err := Open(content)
		sound(t, book, err)
	})
}

// FuzzChoice says anything about headings of any kind.
func FuzzChoice(f *testing.F) {
	f.Add("Stoff;Laenge (m);;Code", "X1;2,5;cotton;a", "stoff", "tag", 1)
	f.Add(",Size,,\nCode,Length,Width,", "X1,2,3,4", "code 2", "", 2)
	f.Fuzz(func(t *testing.T, headings, row, key, field string, line int) {
		choice := Choice{Heading: line, Means: map[string]string{key: field}}
		content := []byte(headings + "\n" + row + "\n")
		readEverything(t, content, choice)
		d, today := spring()
		got, _ := Read(drive.BringFabric, content, Terms{Drive: d, Today: today, Choice: choice})
		keys, fields := map[string]bool{}, map[string]bool{}
		for _, m := range got.Matches {
			require.False(t, keys[m.Key], "the key %q is one column's alone", m.Key)
			require.False(t, m.Field != "" && fields[m.Field], "%q is held by one column", m.Field)
			require.NotEmpty(t, m.Key)
			require.LessOrEqual(t, len([]rune(m.Key)), 120)
			keys[m.Key], fields[m.Field] = true, true
		}
	})
}

// FuzzParseDay reads any text as a day, and as a length that became one.
func FuzzParseDay(f *testing.F) {
	for _, text := range []string{"2026-10-24", "24.10.26", "10/24/2026", "46319.5", "2-Jan", "Jan-02", "1 1/2", "12:30", "2. Mrz"} {
		f.Add(text, true)
		f.Add(text, false)
	}
	f.Fuzz(func(t *testing.T, text string, monthFirst bool) {
		if day, ok := parseDay(text, monthFirst); ok {
			require.Zero(t, day.Hour(), "parseDay(%q) is a day", text)
			again, ok := parseDay(day.Format("2006-01-02"), monthFirst)
			require.True(t, ok || day.Year() > 9999 || day.Year() < 0)
			require.True(t, !ok || again.Equal(day), "parseDay(%q) = %s, written and read again %s", text, day, again)
		}
		why, is := looksLikeDay(text, length.Yd, monthFirst)
		require.Equal(t, is, why != "")
	})
}

func FuzzParseFlaws(f *testing.F) {
	for _, text := range []string{`stain across at 30 to 33"`, "1-1/2 yd to 2 yd, 4 in in from the edge", "3 – 4; 5 to 6 cm", "½ to ¾ in"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		flaws, _, err := ParseFlaws(text, length.In)
		if err != nil {
			return
		}
		for _, flaw := range flaws {
			require.Less(t, flaw.From, flaw.To)
			require.GreaterOrEqual(t, flaw.From, length.Length(0))
			require.GreaterOrEqual(t, flaw.Reach, length.Length(0))
			require.True(t, flaw.Clear == 0 || 0 < flaw.Clear && flaw.Clear < flaw.Reach, "%+v", flaw)
		}
	})
}
