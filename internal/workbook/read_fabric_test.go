package workbook

import (
	"os"
	"strings"
	"testing"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

const in = length.Inch

// fabricRow reads one line below these headings, cells parted by a bar, in the drive
// of spring.
func fabricRow(t *testing.T, headings, line string) drive.Incoming[drive.LotIn] {
	t.Helper()
	d, today := spring()
	quote := func(s string) string {
		cells := strings.Split(s, "|")
		for i, c := range cells {
			cells[i] = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
		}
		return strings.Join(cells, ",") + "\n"
	}
	got, err := Read(drive.BringFabric, []byte(quote(headings)+quote(line)), Terms{Drive: d, Today: today, BorderDepth: 27 * in})
	require.NoError(t, err)
	require.Len(t, got.Fabric, 1)
	return got.Fabric[0]
}

func TestFabricSizes(t *testing.T) {
	for _, tt := range []struct {
		headings, line      string
		long, width, usable length.Length
	}{
		{"Code|Yardage|Width", "A|3 1/2 yd|44", 126 * in, 44 * in, 0},
		{"Code|Yardage|Width", "A|3.5|44\"", 126 * in, 44 * in, 0},
		{"Code|Yardage|Width", "A|2 yd 18 in|110cm", 90 * in, 110 * length.Centimetre, 0},
		{"Code|Yardage|Width", "A|2,5 m|112 cm", 250 * length.Centimetre, 112 * length.Centimetre, 0},
		{"Code|Length|Width|Unit", "A|90|44|in", 90 * in, 44 * in, 0},
		{"Code|Length|Width|Unit", "A|2.5|44|yd", 90 * in, 44 * in, 0},
		{"Code|Length|Width|Unit", "A|2.5|110|m", 250 * length.Centimetre, 110 * length.Centimetre, 0},
		{"Code|Length (cm)|Width (cm)", "A|250|110", 250 * length.Centimetre, 110 * length.Centimetre, 0},
		{"Code|Length|Usable width", "A|2 yd|41", 72 * in, 0, 41 * in},
		{"Code|Length|Width|Usable width", "A|2 yd|45|42 1/2", 72 * in, 45 * in, 42*in + in/2},
		{"Code|Length", "A|60 x 44 in", 60 * in, 44 * in, 0},
		// A fat quarter is half the width: 18 × 22 in from 44 in cloth, 18 × 21 from 42
		// in (common practice; two published glossaries disagree, so measure, never assume).
		{"Code|What is it|Yardage|Width", "A|fat quarter|18 x 21 in|", 18 * in, 0, 21 * in},
		{"Code|What is it|Yardage|Width", "A|FQ|17 3/4 × 22\"|", 17*in + 3*in/4, 0, 22 * in},
	} {
		row := fabricRow(t, tt.headings, tt.line)
		require.Empty(t, row.Faults, tt.line)
		require.NotNil(t, row.Value.Measured, tt.line)
		got := row.Value.Measured.Cuts[0]
		require.Equal(t, []length.Length{tt.long, tt.width, tt.usable}, []length.Length{got.Length, got.Width, got.UsableWidth}, tt.line)
	}
}

// The number on a tag is found beside other numbers, wherever its column stands.
func TestFabricCodeAmongNumbers(t *testing.T) {
	for headings, line := range map[string]string{
		"Lot|Tag|What it is": "7|B-12|bolt", "No|What it is|Tag": "7|bolt|B-12", "Lot|Tag|Code": "7|C1|B-12", "Tag|Lot": "B-12|7", "Lot|What it is": "B-12|bolt",
	} {
		require.Equal(t, "B-12", fabricRow(t, headings, line).Value.Tag, headings)
	}
	require.Empty(t, fabricRow(t, "Lot|Tag|What it is", "7||bolt").Value.Tag, "a number in a list is no tag")
	require.Equal(t, 3, fabricRow(t, "Lot|Free pieces", "7|3").Value.Pieces)
}

func TestFabricMake(t *testing.T) {
	for _, tt := range []struct {
		headings, line string
		want           drive.Make
	}{
		{
			"What is it|Print|Which way|Colours|Themes|Washed?", "quilting cotton bolt|feature|one-way lies across|Navy / White|space; sea|yes",
			drive.Make{Fibre: "cotton", Weight: "quilting", Print: "feature", Turn: "across", Colours: []string{"navy", "white"}, Themes: []string{"space", "sea"}, Washed: true},
		},
		{"Fiber|Print|Direction", "100% cotton|tone on tone|none", drive.Make{Fibre: "cotton", Weight: "quilting", Print: "tonal", Turn: "either"}},
		{"What is it|Print|One way", "flannel|stripe|yes", drive.Make{Fibre: "cotton", Weight: "flannel", Print: "feature", Turn: "along"}},
		{"What is it|Print|Border", "quilting cotton|border print|", drive.Make{Fibre: "cotton", Weight: "quilting", Print: "feature", Turn: "along", Border: drive.BorderOne}},
		{"What is it|Print|Border|Turn", "quilting cotton|feature|both selvedges|across", drive.Make{Fibre: "cotton", Weight: "quilting", Print: "feature", Turn: "across", Border: drive.BorderBoth}},
		{"What is it|Print", "old sheeting|plain", drive.Make{Fibre: drive.FibreNotSure, Weight: "sheeting", Print: "solid", Turn: "either"}},
		{"What is it", "polyester lining", drive.Make{Fibre: "other", Weight: "quilting", Print: "feature", Turn: "either"}},
		{"Trim|Print|Fibre", "yes|feature|linen", drive.Make{Fibre: "linen", Weight: "quilting", Print: "feature", Turn: "either", TrimOK: true}},
	} {
		row := fabricRow(t, "Code|Length|Width|"+tt.headings, "A|3 yd|44|"+tt.line)
		require.Empty(t, row.Faults, tt.line)
		got := row.Value.Measured.Make
		if len(got.Colours) == 0 {
			got.Colours = nil
		}
		if len(got.Themes) == 0 {
			got.Themes = nil
		}
		require.Equal(t, tt.want, got, tt.line)
	}
}

// A spreadsheet that has no column for the print says what it is in the name of the lot.
func TestFabricPrintByItsName(t *testing.T) {
	for called, want := range map[string]struct{ print, note string }{
		"solid navy":            {drive.PrintSolid, "Taken for a solid, as it is called."},
		"Navy, Solids":          {drive.PrintSolid, "Taken for a solid, as it is called."},
		"red tonal":             {drive.PrintTonal, "Taken for a tonal print, as it is called."},
		"teal tone on tone":     {drive.PrintTonal, "Taken for a tonal print, as it is called."},
		"cotton print foxes":    {drive.PrintFeature, "The print is not said"},
		"print on solid ground": {drive.PrintFeature, "The print is not said"},
		"solidago flowers":      {drive.PrintFeature, "The print is not said"},
	} {
		row := fabricRow(t, "Code|What is it|Length|Width", "A|"+called+"|3 yd|44")
		require.Empty(t, row.Faults, called)
		require.Equal(t, want.print, row.Value.Measured.Print, called)
		require.Contains(t, strings.Join(row.Notes, " "), want.note, called)
	}
	row := fabricRow(t, "Code|What is it|Length|Width|Print", "A|solid navy|3 yd|44|feature")
	require.Equal(t, drive.PrintFeature, row.Value.Measured.Print, "what the column says goes before")
}

func TestFabricFaults(t *testing.T) {
	for _, tt := range []struct{ headings, line, column, says string }{
		{"Code|Yardage|Width", "A|4 km|44", "Yardage", "km"},
		{"Code|Yardage|Width", "A|-3|44", "Yardage", "less than nothing"},
		{"Code|Yardage|Width", "A|0|44", "Yardage", "Nothing is no length"},
		{"Code|Yardage|Width", "A|FQ|44", "Yardage", "measure it"},
		{"Code|Yardage|Width", "A|46319|44", "Yardage", "stands for 2026-10-24, which is a date"},
		{"Code|Yardage|Width", "A|2-Jan|44", "Yardage", "is a date"},
		{"Code|Yardage|Width", "A|02. Mrz|44", "Yardage", "is a date"},
		{"Code|Yardage|Width", "A|Jan-02|44", "Yardage", "is a date"},
		{"Code|Yardage|Width", "A|1/2/2026|44", "Yardage", "perhaps 1/2."},
		{"Code|Yardage|Width", "A|37257|44", "Yardage", "perhaps 1 1/2."},
		{"Code|Yardage|Width", "A|2002-01-02|44", "Yardage", "perhaps 2 1/2."},
		{"Code|Yardage|Width", "A|38049|44", "Yardage", "perhaps 3 3/4."},
		{"Code|Yardage|Width", "A|12:00|44", "Yardage", "is a time"},
		{"Code|Yardage|Width", "A|#REF!|44", "Yardage", "an error of the spreadsheet"},
		{"Code|Yardage|Width|Given by", "A|3|44|#N/A", "Given by", "an error of the spreadsheet"},
		{"Code|Yardage|Width", "A|lots|44", "Yardage", "lots"},
		{"Code|Yardage|Width", "A|3 yd|", "Width", "Give the width too"},
		{"Code|Yardage|Width", "A||44", "Yardage", "no length"},
		{"Code|Yardage", "A|3 yd", "width", "Give the width too"},
		{"Code|Yardage|Width", "A|18 x 22 in|44", "Width", "Keep one of the two"},
		{"Code|Length|Width|Unit", "A|3|44|ells", "Unit", "ells"},
		{"Code|Length|Width|Print", "A|3|44|loud", "Print", "solid, tonal or feature"},
		{"Code|Length|Width|Fibre", "A|3|44|wood", "Fibre", "cotton, linen"},
		{"Code|Length|Width|Which way", "A|3|44|up and down", "Which way", "any, across or along"},
		{"Code|Length|Width|Washed", "A|3|44|maybe", "Washed", "yes nor no"},
		{"Code|Length|Width|Pieces", "A|3|44|a few", "Pieces", "whole number"},
		{"Code|Length|Width|Date in", "A|3|44|last week", "Date in", "2026-10-24"},
		{"Code|Length|Width|Flaws", "A|3|44|a stain somewhere", "Flaws", "from where to where"},
		{"Code|Length|Width|Flaws", "A|3|44|40 to 30 in", "Flaws", "turn the two round"},
	} {
		row := fabricRow(t, tt.headings, tt.line)
		require.NotEmpty(t, row.Faults, tt.line)
		require.Equal(t, tt.column, row.Faults[0].Column, tt.line)
		require.Contains(t, row.Faults[0].Why, tt.says, tt.line)
	}
}

func TestFabricNotes(t *testing.T) {
	for _, tt := range []struct{ headings, line, says string }{
		{"Code|Yardage|Width|Print|Fibre|Weight", "A|27½|44|solid|cotton|quilting", "If another unit was meant"},
		{"Code|Yardage|Width|Print", "A|3 yd|44|solid", "The fibre is not said"},
		{"Code|Yardage|Width|Fibre", "A|3 yd|44|cotton", "for bodies only"},
		{"Code|Yardage|Width|Border", "A|3 yd|44|one selvedge", "parted 27 in deep"},
		{"Code|Yardage|Width|Border", "A|3 yd|44|both", "too narrow"},
		{"Code|What is it|Yardage", "A|fat quarter|", "It waits to be measured: fat quarters"},
		{"Code|Yardage|Width|Pieces|Flaws", "A|3 yd|44|3|30 to 33 in", "one of the 3 pieces"},
		{"Code|Notes", "2026-04-03|", "The code reads like a date"},
		{"Code|Notes", "4-Mar|", "The code reads like a date"},
		{"Code|Notes", "A|smells of smoke, set aside", "Set aside, as its note says"},
	} {
		row := fabricRow(t, tt.headings, tt.line)
		require.Empty(t, row.Faults, tt.line)
		require.Contains(t, strings.Join(row.Notes, " "), tt.says, tt.line)
	}
}

// Where the list says of each lot whether it is set aside, no word of its note does.
func TestSetAsideIsWhatItsColumnSays(t *testing.T) {
	for _, tt := range []struct{ headings, line, aside, says string }{
		{"Code|Notes", "A|set aside: smells", "set aside: smells", "Set aside, as its note says."},
		{"Code|Set aside|Notes", "A||was set aside, aired since", "", "Its note speaks of setting aside, the column “Set aside” does not: it is not set aside."},
		{"Code|Set aside|Notes", "A|no|never set aside", "", "it is not set aside"},
		{"Code|Set aside|Notes", "A|x|set aside: smells", "set aside: smells", ""},
		{"Code|Set aside|Notes", "A|smells|set aside", "smells", ""},
	} {
		row := fabricRow(t, tt.headings, tt.line)
		require.Empty(t, row.Faults, tt.line)
		require.Equal(t, tt.aside, row.Value.SetAside, tt.line)
		require.Contains(t, strings.Join(row.Notes, " "), tt.says, tt.line)
	}
}

func TestParseFlaws(t *testing.T) {
	for _, tt := range []struct {
		text string
		want []sizing.Flaw
	}{
		{"", nil},
		{"none", nil},
		{"-", nil},
		{`stain across at 30 to 33"`, []sizing.Flaw{{From: 30 * in, To: 33 * in}}},
		{`hole at 12 to 13", edge`, []sizing.Flaw{{From: 12 * in, To: 13 * in}}},
		{"30-33", []sizing.Flaw{{From: 30 * in, To: 33 * in}}},
		{"1-1/2 yd to 2 yd", []sizing.Flaw{{From: 54 * in, To: 72 * in}}},
		{"from 1 yd to 1 yd 3 in, 4 in in from the edge", []sizing.Flaw{{From: 36 * in, To: 39 * in, Reach: 4 * in}}},
		{"40½ to 42 in, 2 in from the far selvedge", []sizing.Flaw{{From: 40*in + in/2, To: 42 * in, Reach: 2 * in, Far: true}}},
		{"fold mark 10 to 12 cm; hole 1 m to 1.1 m", []sizing.Flaw{{From: 10 * length.Centimetre, To: 12 * length.Centimetre}, {From: length.Metre, To: 110 * length.Centimetre}}},
		{"fold from 0 to 3 yd, 20 to 22 in from the edge", []sizing.Flaw{{To: 108 * in, Clear: 20 * in, Reach: 22 * in}}},
		{"3 – 4", []sizing.Flaw{{From: 3 * in, To: 4 * in}}},
	} {
		got, _, err := ParseFlaws(tt.text, length.In)
		require.NoError(t, err, "ParseFlaws(%q)", tt.text)
		require.Equal(t, tt.want, got, "ParseFlaws(%q)", tt.text)
	}
	for _, text := range []string{"a stain", "at 30 in", "33 to 30", "30 to 30 in", "30 to 33 furlongs of"} {
		got, _, err := ParseFlaws(text, length.In)
		if err == nil {
			require.NotEmpty(t, got, "ParseFlaws(%q) = nothing, want flaws or a refusal", text)
		}
	}
}

// Flaws are printed in the words they are read in.
func TestFlawTextIsRead(t *testing.T) {
	for _, f := range []sizing.Flaw{{From: 30 * in, To: 33 * in}, {From: 0, To: in, Reach: 4 * in}, {From: 36 * in, To: 40 * in, Reach: 2 * in, Far: true}, {From: 0, To: 92 * in, Clear: 53 * in, Reach: 55 * in}, {From: 5 * in, To: 9 * in, Clear: in / 2, Reach: 3 * in, Far: true}} {
		got, _, err := ParseFlaws(drive.FlawText(f, length.In), length.In)
		require.NoError(t, err)
		require.Equal(t, []sizing.Flaw{f}, got, "ParseFlaws(%q)", drive.FlawText(f, length.In))
	}
}

// The demo's list is as messy as a real one and comes in whole.
func TestDemoFabric(t *testing.T) {
	content, err := os.ReadFile("../../testdata/demo/fabric.csv")
	require.NoError(t, err)
	d, today := spring()
	got, err := Read(drive.BringFabric, content, Terms{Drive: d, Today: today, BorderDepth: 27 * in})
	require.NoError(t, err)
	for _, m := range got.Matches {
		require.NotEmpty(t, m.Means, "the heading %q is understood", m.Heading)
	}
	fates, decided := drive.JudgeFabric(d, today, got.Fabric, nil, nil)
	for _, f := range fates {
		require.Equal(t, drive.FateTaken, f.Fate, "line %d: %s", f.Line, f.Why())
	}
	require.GreaterOrEqual(t, len(decided), 45)
}

// A metric drive is told in centimetres what to write.
func TestAMetricDriveIsShownMetricExamples(t *testing.T) {
	d, today := spring()
	d.Unit = length.CM
	got, err := Read(drive.BringFabric, []byte("Code,What is it,Length,Width,Flaws\nA,cut,3 m,,\nB,fat quarters,,,\nC,cut,3 m,110,a stain somewhere\nD,bolt,320,112,\n"), Terms{Drive: d, Today: today, BorderDepth: 27 * in})
	require.NoError(t, err)
	require.Len(t, got.Fabric, 4)
	require.Contains(t, got.Fabric[0].Faults[0].Why, "both sides as 46 x 56 cm")
	require.Contains(t, strings.Join(got.Fabric[1].Notes, " "), "Write both sides, such as 46 x 56 cm")
	require.Contains(t, got.Fabric[2].Faults[0].Why, "write it like 75 to 83 cm across")
	notes := strings.Join(got.Fabric[3].Notes, " ")
	require.Contains(t, notes, "320 m is a lot of cloth in one piece. If another unit was meant, write it: 320 cm.")
	require.NotContains(t, notes, "whole bolt", "it is asked once")

	d.Unit = length.In
	got, err = Read(drive.BringFabric, []byte("Code,What is it,Length,Width\nA,bolt,50,112\n"), Terms{Drive: d, Today: today})
	require.NoError(t, err)
	notes = strings.Join(got.Fabric[0].Notes, " ")
	require.Contains(t, notes, "write it: 50 in.")
	require.Contains(t, notes, "112 in wide", "a width that may be in another unit is asked about beside it")
}
