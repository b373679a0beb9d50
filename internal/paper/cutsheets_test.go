package paper

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/papertest"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const in = length.Inch

// laidOut is a sheet of two kits with every kind of panel, a remnant and a one-way print.
func laidOut() drive.CutSheet {
	s := drive.WholeSheet{
		Sheet:    drive.Sheet{Number: 17, Revision: 2, Plan: 3, Lot: 42, Piece: 1, State: drive.SheetWaiting, Used: 99 * in, Width: 43 * in},
		SheetLot: drive.SheetLot{Shelf: "B2", Tag: "A07", Print: "feature", Turn: "across", Ends: "cut", Colours: []string{"blue", "green"}, Themes: []string{"foxes"}},
		Left:     20 * in,
	}
	add := func(role string, kit int64, x, y, w, h length.Length) {
		s.Panels = append(s.Panels, drive.SheetPanel{
			Panel:    drive.Panel{Panel: len(s.Panels) + 1, Role: role, Size: 1, Place: drive.Place{X: x, Y: y, W: w, H: h}, Kit: drive.KitRef{Number: kit, Part: 1}, Pillowcase: 1},
			SizeName: "standard", ForWhom: "Larkspur ward", Around: 42 * in,
		})
	}
	add("body", 107, 0, 0, 42*in, 27*in)
	add("body", 108, 0, 27*in, 42*in, 27*in)
	add("cuff", 107, 0, 54*in, 9*in, 42*in)
	add("cuff", 108, 9*in, 54*in, 9*in, 42*in)
	add("accent", 107, 0, 96*in, 42*in, in*3/2)
	add("accent", 108, 0, 96*in+in*3/2, 42*in, in*3/2)
	s.Remnants = []drive.Remnant{{Remnant: 1, Label: 4, Place: drive.Place{X: 18 * in, Y: 54 * in, W: 25 * in, H: 42 * in}}}
	return s.CutSheet(length.In)
}

// drawnOp is a rectangle or a line in the order in which it is drawn, in millimetres
// from the top left; how is S for an outline, B for a filled one, f for filled alone,
// and l for a line, whose ends are x, y and x+w, y+h.
type drawnOp struct {
	box
	how string
}

var anyOp = regexp.MustCompile(`(-?[\d.]+) (-?[\d.]+) (-?[\d.]+) (-?[\d.]+) re (S|B|f)|(-?[\d.]+) (-?[\d.]+) m (-?[\d.]+) (-?[\d.]+) l S`)

// drawnOps gives what is drawn on each sheet of a PDF by its own operators.
func drawnOps(t *testing.T, pdf []byte) [][]drawnOp {
	t.Helper()
	var all [][]drawnOp
	read := readSheets(t, pdf)
	for i, ops := range plainSheets(pdf) {
		high := read[i].height
		var list []drawnOp
		at := func(text string) float64 { return float(t, text) / pointsInMM }
		for _, m := range anyOp.FindAllStringSubmatch(ops, -1) {
			if m[5] == "" {
				x, y := at(m[6]), high-at(m[7])
				list = append(list, drawnOp{box{x, y, at(m[8]) - x, high - at(m[9]) - y}, "l"})
				continue
			}
			list = append(list, drawnOp{box{at(m[1]), high - at(m[2]), at(m[3]), -at(m[4])}, m[5]})
		}
		all = append(all, list)
	}
	return all
}

// misdrawn compares the panels and remnants that a PDF draws with where a sheet says they
// lie, to a 32nd of an inch of cloth, and says what is elsewhere. It reads the scale off
// the paper and nothing from the code that drew it.
func misdrawn(t *testing.T, pdf []byte, sheet drive.CutSheet) []string {
	t.Helper()
	scale := 0.0
	for _, m := range regexp.MustCompile(`Drawn 1 to (\d+)\.`).FindAllStringSubmatch(readSheets(t, pdf)[0].words(), -1) {
		scale = float(t, m[1])
	}
	require.NotZero(t, scale, "the paper says its scale")
	var wrong []string
	cloth, begins, left := box{}, 0.0, sheet.Laid()
	keep := sheet.Remnants
	inches := func(l float64) float64 { return l * scale / 25.4 }
	for _, op := range drawnOps(t, pdf)[0] {
		if op.how == "S" { // the cloth of a row
			begins += inches(cloth.w)
			cloth = op.box
		}
		if op.how != "B" {
			continue
		}
		x, y, w, h := inches(op.y-cloth.y), begins+inches(op.x-cloth.x), inches(op.h), inches(op.w)
		at := func(p drive.Place) bool {
			for _, d := range []float64{x - per(p.X), y - per(p.Y), w - per(p.W), h - per(p.H)} {
				if math.Abs(d) > 1.0/32 {
					return false
				}
			}
			return true
		}
		found := false
		for i, p := range left {
			if at(p.Place) {
				left, found = append(left[:i:i], left[i+1:]...), true
				break
			}
		}
		for i, r := range keep {
			if !found && at(r.Place) {
				keep, found = append(keep[:i:i], keep[i+1:]...), true
			}
		}
		if !found {
			wrong = append(wrong, fmt.Sprintf("drawn at %.3f, %.3f in, %.3f × %.3f", x, y, w, h))
		}
	}
	for _, p := range left {
		wrong = append(wrong, fmt.Sprintf("panel %d is not drawn where it lies", p.Panel))
	}
	for _, r := range keep {
		wrong = append(wrong, fmt.Sprintf("remnant %d is not drawn where it lies", r.Remnant))
	}
	if math.Abs(begins+inches(cloth.w)-per(sheet.Used)) > 1.0/32 {
		wrong = append(wrong, "the cloth is not as long as it is used")
	}
	return wrong
}

func per(l length.Length) float64 { return float64(l) / float64(in) }

func drawnSheet(t testing.TB, sheet drive.CutSheet, on Sheet, d drive.Drive) []byte {
	t.Helper()
	var pdf bytes.Buffer
	require.NoError(t, CutSheets(&pdf, d, "https://drive.example.org", on, []drive.CutSheet{sheet}, made))
	return pdf.Bytes()
}

// A drawing that is wrong by 1/8 in is found by the PDF's own coordinates.
func TestCutSheetIsDrawnToScale(t *testing.T) {
	sheet := laidOut()
	pdf := drawnSheet(t, sheet, Letter, spring())
	require.Empty(t, misdrawn(t, pdf, sheet))
	for i := range sheet.Panels {
		for _, move := range []func(*drive.Place){
			func(p *drive.Place) { p.X += in / 8 }, func(p *drive.Place) { p.Y -= in / 8 },
			func(p *drive.Place) { p.W -= in / 8 }, func(p *drive.Place) { p.H += in / 8 },
		} {
			off := laidOut()
			move(&off.Panels[i].Place)
			require.NotEmpty(t, misdrawn(t, pdf, off), "panel %d is wrong by 1/8 in", i+1)
		}
	}
	off := laidOut()
	off.Remnants[0].W -= in / 8
	require.NotEmpty(t, misdrawn(t, pdf, off), "the remnant is wrong by 1/8 in")
}

// Whatever the cloth and however long, panels are drawn where they lie, on the paper.
func TestAnyLayoutIsDrawnToScale(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := drive.WholeSheet{Sheet: drive.Sheet{Number: 1, Revision: 1, Plan: 1, Lot: 1, Piece: 1, State: drive.SheetWaiting, Width: length.Length(rapid.IntRange(80, 900).Draw(rt, "width")) * in / 8}}
		for range rapid.IntRange(1, 30).Draw(rt, "strips") {
			high := length.Length(rapid.IntRange(8, 600).Draw(rt, "strip")) * in / 8
			wide := length.Length(rapid.IntRange(16, int(s.Width/(in/8))).Draw(rt, "panel")) * in / 8
			role := rapid.SampledFrom([]string{"body", "cuff", "accent"}).Draw(rt, "role")
			s.Panels = append(s.Panels, drive.SheetPanel{Panel: drive.Panel{Panel: len(s.Panels) + 1, Role: role, Place: drive.Place{Y: s.Used, W: wide, H: high}, Kit: drive.KitRef{Number: 1, Part: 1}}})
			s.Used += high
		}
		sheet := s.CutSheet(length.In)
		pdf := drawnSheet(t, sheet, A4, spring())
		require.Empty(rt, misdrawn(t, pdf, sheet))
		for _, page := range drawnOps(t, pdf) {
			for _, b := range page {
				// The ground of words that stand upright is drawn before it is turned.
				require.True(rt, b.how == "f" || min(b.x, b.x+b.w) > 5 && max(b.x, b.x+b.w) < 205 && min(b.y, b.y+b.h) > 5 && max(b.y, b.y+b.h) < 292, "%+v is off the paper", b)
			}
		}
	})
}

// The ruler has a mark every inch, every centimetre in another drive.
func TestRulerAlongTheSelvedge(t *testing.T) {
	metric := drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.CM)
	for _, c := range []struct {
		of   drive.Drive
		step float64
		says string
	}{{spring(), 25.4, "in inches"}, {metric, 10, "in centimetres"}} {
		sheet := laidOut()
		pdf := drawnSheet(t, sheet, A4, c.of)
		words := readSheets(t, pdf)[0].words()
		require.Contains(t, words, c.says)
		scale := float(t, regexp.MustCompile(`Drawn 1 to (\d+)\.`).FindStringSubmatch(words)[1])
		ops := drawnOps(t, pdf)[0]
		var cloth box
		marks := map[int]bool{}
		for _, op := range ops {
			if op.how == "S" {
				cloth = op.box
			}
			if op.how == "l" && op.w == 0 && math.Abs(op.y-(cloth.y+cloth.h)) < 0.01 {
				at := (op.x - cloth.x) * scale / c.step
				require.InDelta(t, math.Round(at), at, 0.02, "a mark of the ruler is off")
				marks[int(math.Round(at))] = true
			}
		}
		for n := range int(mm(sheet.Used)/c.step) + 1 {
			require.True(t, marks[n], "mark %d is missing", n)
		}
	}
}

// Roles are told apart without colour: bodies plain, cuffs hatched, accents crossed.
func TestRolesInBlackAndWhite(t *testing.T) {
	ops := drawnOps(t, drawnSheet(t, laidOut(), Letter, spring()))[0]
	hatching := []string{}
	for i, op := range ops {
		if op.how != "B" || len(hatching) == 6 {
			continue
		}
		one, other := false, false
		for _, l := range ops[i+1:] {
			if l.how == "B" || l.how == "S" {
				break
			}
			if l.how == "l" && math.Abs(math.Abs(l.w)-math.Abs(l.h)) < 0.02 && math.Abs(l.w) > 0.5 {
				require.True(t, min(l.x, l.x+l.w) > op.x-0.02 && max(l.x, l.x+l.w) < op.x+op.w+0.02, "hatching stays in its panel")
				one, other = one || (l.w < 0) == (l.h < 0), other || (l.w < 0) != (l.h < 0)
			}
		}
		kind := "plain"
		if one && other {
			kind = "crossed"
		} else if one || other {
			kind = "hatched"
		}
		hatching = append(hatching, kind)
	}
	// Drawn in the order of cutting; the remnant beside the cuffs is plain too.
	require.Equal(t, []string{"plain", "plain", "hatched", "hatched", "plain", "crossed"}, hatching)
}

func TestGoldenCuttingDay(t *testing.T) {
	sheets := []drive.CutSheet{laidOut(), laidOut()}
	sheets[1].Number, sheets[1].Revision, sheets[1].State, sheets[1].Shelf, sheets[1].Lot = 18, 1, drive.SheetCut, "", 51
	for name, draw := range map[string]func(*bytes.Buffer) error{
		"cut-sheets": func(b *bytes.Buffer) error {
			return CutSheets(b, spring(), "https://drive.example.org", A4, sheets, made)
		},
		"pull-list": func(b *bytes.Buffer) error { return PullList(b, spring(), A4, sheets, made) },
		"bundle-slips": func(b *bytes.Buffer) error {
			return BundleSlips(b, spring(), "https://drive.example.org", A4, sheets, made)
		},
		"sort-by-kit": func(b *bytes.Buffer) error { return SortByKit(b, spring(), A4, sheets, made) },
		"large-tags": func(b *bytes.Buffer) error {
			return LargeTags(b, spring(), "https://drive.example.org", A4, sheets, made)
		},
	} {
		var pdf bytes.Buffer
		require.NoError(t, draw(&pdf))
		golden(t, name, pdf.Bytes())
	}
}

// Every code is read back as the address of what it stands beside.
func TestCuttingDayCodesAreReadBack(t *testing.T) {
	papertest.Needs(t, "zbarimg")
	sheets := []drive.CutSheet{laidOut()}
	read := func(draw func(*bytes.Buffer) error) string {
		var pdf bytes.Buffer
		require.NoError(t, draw(&pdf))
		page := papertest.Drawn(t, pdf.Bytes(), t.TempDir(), "page", 300)[0]
		out, err := exec.Command("zbarimg", "--nodbus", "-q", "--raw", page).Output()
		require.NoError(t, err)
		return string(out)
	}
	const base = "https://drive.example.org"
	require.Equal(t, base+"/l/spring/sheet/17-2\n", read(func(b *bytes.Buffer) error { return CutSheets(b, spring(), base, A4, sheets, made) }))
	slips := read(func(b *bytes.Buffer) error { return BundleSlips(b, spring(), base+"/", A4, sheets, made) })
	require.Equal(t, 3, strings.Count(slips, base+"/l/spring/kit/107\n"), "body, cuff and accent of kit 107: %s", slips)
	require.Equal(t, 3, strings.Count(slips, base+"/l/spring/kit/108\n"))
	tags := read(func(b *bytes.Buffer) error { return LargeTags(b, spring(), base, A4, sheets, made) })
	require.ElementsMatch(t, []string{base + "/l/spring/kit/107", base + "/l/spring/kit/108", base + "/l/spring/piece/42-4"}, strings.Fields(tags))
	sheets[0].Revision = 1
	require.Equal(t, base+"/l/spring/sheet/17\n", read(func(b *bytes.Buffer) error { return CutSheets(b, spring(), base, A4, sheets, made) }))
}

// The largest numbers reach over the code, on either paper.
func TestLargeTagsOfLongNumbersAreReadBack(t *testing.T) {
	papertest.Needs(t, "zbarimg")
	const base = "https://drive.example.org"
	for name, paper := range map[string]Sheet{"a4": A4, "letter": Letter} {
		sheet := laidOut()
		sheet.Lot = 108
		var want []string
		for i := range 5 {
			sheet.Remnants = append(sheet.Remnants, sheet.Remnants[0])
			sheet.Remnants[i].Label = 20 + i
			want = append(want, fmt.Sprintf("%s/l/spring/piece/108-%d", base, 20+i))
		}
		sheet.Remnants = sheet.Remnants[:5]
		var pdf bytes.Buffer
		require.NoError(t, LargeTags(&pdf, spring(), base, paper, []drive.CutSheet{sheet}, made))
		page := papertest.Drawn(t, pdf.Bytes(), t.TempDir(), "page", 300)[0]
		out, err := exec.Command("zbarimg", "--nodbus", "-q", "--raw", page).Output()
		require.NoError(t, err)
		require.ElementsMatch(t, append(want, base+"/l/spring/kit/107", base+"/l/spring/kit/108"), strings.Fields(string(out)), name)
	}
}

// What is told in words is all there, over as many pages as it takes.
func TestLongCutSheetGoesOn(t *testing.T) {
	s := drive.WholeSheet{Sheet: drive.Sheet{Number: 9, Revision: 1, Plan: 1, Lot: 1, Piece: 1, State: drive.SheetWaiting, Width: 43 * in}}
	for i := range 60 {
		s.Panels = append(s.Panels, drive.SheetPanel{
			Panel:    drive.Panel{Panel: i + 1, Role: "cuff", Place: drive.Place{Y: s.Used, W: 40 * in, H: 9 * in}, Kit: drive.KitRef{Number: int64(100 + i), Part: 1}},
			SizeName: "standard", ForWhom: "Larkspur ward",
		})
		s.Used += 9 * in
	}
	pdf := drawnSheet(t, s.CutSheet(length.In), Letter, spring())
	pages := readSheets(t, pdf)
	require.Greater(t, len(pages), 1)
	all := ""
	for _, p := range pages {
		all += p.words()
	}
	for i := range 60 {
		require.Contains(t, all, fmt.Sprintf("Kit %d: cuff %d\n", 100+i, i+1))
	}
	require.Contains(t, all, "Sheet 9, goes on")
	if kept := os.Getenv("BOLTWARD_PICTURES"); kept != "" {
		require.NoError(t, os.WriteFile(filepath.Join(kept, "long-sheet.pdf"), pdf, 0o644))
	}
}

// A step and what it gives stand on one page: a page that began with the panels of a step before
// it said nothing to whoever cuts.
func TestStepsAreNotTorn(t *testing.T) {
	entry := func(n int) []flowLine {
		lines := make([]flowLine, n)
		for i := range lines {
			lines[i] = flowLine{t: sheetBody, words: "a line"}
		}
		lines[0].gap = 1.2
		return lines
	}
	lines := append([]flowLine{{t: sheetHeading, words: "In this order"}}, entry(2)...)
	lines = append(lines, entry(3)...)
	room := sheetHeading.line() + 4*sheetBody.line() + 2*1.2
	fit, rest := fill(lines, room)
	require.Len(t, fit, 3, "the second step does not fit whole")
	require.Len(t, rest, 3)
	lines = append(append([]flowLine{{t: sheetHeading}}, entry(2)...), append([]flowLine{{gap: 3, t: sheetHeading, words: "What is left"}}, entry(2)...)...)
	fit, rest = fill(lines, 2*sheetHeading.line()+3*sheetBody.line()+3+2*1.2)
	require.Len(t, fit, 3, "a heading goes with what it heads")
	require.Equal(t, "What is left", rest[0].words)
	fit, rest = fill(entry(5), 3.5*sheetBody.line())
	require.Len(t, fit, 3, "what is higher than a page is parted all the same")
	require.Len(t, rest, 2)
}
