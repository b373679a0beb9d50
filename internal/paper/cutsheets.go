package paper

import (
	"fmt"
	"io"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// How a cut sheet is set.
var (
	sheetBody    = text{points: 9.5}
	sheetBold    = text{points: 9.5, bold: true}
	sheetHeading = text{points: 12, bold: true}
	sheetSmall   = text{points: 8}
)

const (
	sheetEdge = 11.0 // the rim of the paper
	sheetCode = 27.0 // the side of the code
	columnGap = 7.0
)

// cutterCaution stands on every sheet.
const cutterCaution = "A rotary cutter is as sharp as a razor: cut away from yourself, close the blade each time you put it down, keep fingers off the edge of the ruler."

// CutSheets draws a sheet for each piece of cloth, beginning on paper of its own: its
// layout to scale, the steps in words, where panels and remnants go, and its code.
// The base is the start of every address.
func CutSheets(w io.Writer, d drive.Drive, base string, s Sheet, sheets []drive.CutSheet, at time.Time) error {
	doc, err := newDocument(d.Name+": cut sheets", at)
	if err != nil {
		return err
	}
	for _, sheet := range sheets {
		if err := doc.cutSheet(d, base, s, sheet); err != nil {
			return err
		}
	}
	return doc.write(w)
}

func (d *document) cutSheet(of drive.Drive, base string, s Sheet, sheet drive.CutSheet) error {
	wide, bottom := mm(s.Width)-2*sheetEdge, mm(s.Height)-sheetEdge-6
	left := (wide - columnGap) * 0.56
	steps, places := d.stepLines(sheet, left), d.placeLines(of, sheet, wide-columnGap-left)
	d.sheet(s.Width, s.Height)
	y, err := d.sheetHead(of, base, sheet, wide)
	if err != nil {
		return err
	}
	drawing := d.layoutOf(sheet, of.Unit, wide)
	y = d.drawLayout(drawing, sheetEdge, y)
	type page struct{ steps, places []flowLine }
	var pages []page
	for top := y; len(pages) == 0 || len(steps)+len(places) > 0; top = sheetEdge + 14 {
		var p page
		p.steps, steps = fill(steps, bottom-top)
		p.places, places = fill(places, bottom-top)
		if len(pages) > 0 && len(p.steps)+len(p.places) == 0 {
			return fmt.Errorf("sheet %d: a line is higher than the paper", sheet.Number)
		}
		pages = append(pages, p)
	}
	for i, p := range pages {
		if i > 0 {
			d.sheet(s.Width, s.Height)
			d.say(sheetEdge, sheetEdge+5, sheetHeading, fmt.Sprintf("Sheet %s, goes on", sheet.Ref()))
			y = sheetEdge + 14
		}
		d.flow(p.steps, sheetEdge, y)
		d.flow(p.places, sheetEdge+left+columnGap, y)
		d.sheetFoot(s, sheet, i+1, len(pages))
	}
	return nil
}

// sheetHead draws the number, where the cloth lies and what it is, and the code; it
// gives where the drawing begins.
func (d *document) sheetHead(of drive.Drive, base string, sheet drive.CutSheet, wide float64) (float64, error) {
	c, err := codeFor(Address(base, of.ID, drive.CodeSheet, sheet.Ref().String()), sheetCode)
	if err != nil {
		return 0, err
	}
	d.draw(c, sheetEdge+wide-sheetCode, sheetEdge)
	d.pdf.SetTextColor(0, 0, 0)
	number := d.largest(sheet.Ref().String(), 38, 13)
	d.say(sheetEdge, sheetEdge+3, sheetSmall, "Sheet")
	d.say(sheetEdge, sheetEdge+18, number, sheet.Ref().String())
	d.say(sheetEdge, sheetEdge+23, sheetSmall, fmt.Sprintf("revision %d, plan %d", sheet.Revision, sheet.Plan))
	x, room := sheetEdge+43, wide-43-sheetCode-3
	y := sheetEdge + 4
	head := text{points: 14, bold: true}
	where := sheet.Name
	if sheet.Shelf != "" {
		where = "Shelf " + sheet.Shelf + ": " + where
	}
	if sheet.Tag != "" {
		where += ", tag " + sheet.Tag
	}
	d.say(x, y, head, d.fitted(head, where, room))
	for _, line := range []struct {
		t     text
		words string
	}{
		{sheetBody, sheet.Looks},
		{sheetBold, fmt.Sprintf("Takes %s of cloth %s wide", length.Format(sheet.Used, of.Unit), drive.OnTape(sheet.Width, of.Unit))},
		{sheetBody, hardWords(sheet.Hard)},
		{sheetSmall, of.Name},
	} {
		if line.words == "" {
			continue
		}
		y += line.t.line() + 0.6
		d.say(x, y, line.t, d.fitted(line.t, line.words, room))
	}
	y = sheetEdge + sheetCode + 2
	if words := stateWords(sheet.Sheet); words != "" {
		t := text{points: 13, bold: true}
		y += t.line()
		d.say(sheetEdge, y, t, words)
	}
	y += sheetSmall.line()
	used := d.say(sheetEdge, y, text{points: sheetSmall.points, bold: true}, "Caution: ")
	d.say(sheetEdge+used, y, sheetSmall, d.fitted(sheetSmall, cutterCaution, wide-used))
	return y + 4, nil
}

func hardWords(h drive.Difficulty) string {
	words := "Cutting is " + h.Words + ": 1 cut"
	if h.Cuts != 1 {
		words = fmt.Sprintf("Cutting is %s: %d cuts", h.Words, h.Cuts)
	}
	return strings.Join(append([]string{words}, h.Why...), "; ")
}

// stateWords warns of a sheet that is not to be cut.
func stateWords(s drive.Sheet) string {
	switch s.State {
	case drive.SheetCut:
		return "Cut already. Do not cut it again."
	case drive.SheetShort:
		return "Came up short. Do not cut it before its plan is changed."
	case drive.SheetWithdrawn:
		return "Withdrawn with its plan. Do not cut it."
	}
	return ""
}

func (d *document) sheetFoot(s Sheet, sheet drive.CutSheet, page, pages int) {
	y := mm(s.Height) - sheetEdge
	if page == pages {
		d.say(sheetEdge, y, sheetBody, "Cut by ________________________  on ______________   Counted by ______________")
	}
	words := fmt.Sprintf("Sheet %s", sheet.Ref())
	if pages > 1 {
		words += fmt.Sprintf(", %d of %d", page, pages)
	}
	d.say(mm(s.Width)-sheetEdge-d.width(sheetSmall, words), y, sheetSmall, words)
}

// flowLine is one line of a column: what goes before it, where it begins, what it says.
type flowLine struct {
	gap   float64
	in    float64
	t     text
	words string
	mark  string // at the column's left: a step's number, a box
}

// fill parts off the lines that fit a height. What begins with a gap, a step with what it gives or
// a kit with whom it is for, goes whole to the next page, and takes along the heading just above it.
func fill(lines []flowLine, height float64) (fit, rest []flowLine) {
	used := 0.0
	for i, l := range lines {
		used += l.t.line()
		if i > 0 {
			used += l.gap
		}
		if used > height {
			if at := beginning(lines, i); at > 0 {
				i = at
			}
			return lines[:i], lines[i:]
		}
	}
	return lines, nil
}

// beginning is where the entry begins that line i is of; 0 where that is the first of all.
func beginning(lines []flowLine, i int) int {
	for i > 0 && lines[i].gap == 0 {
		i--
	}
	if i > 0 && lines[i-1].t == sheetHeading {
		i--
	}
	return i
}

// flow writes lines below each other from y on.
func (d *document) flow(lines []flowLine, x, y float64) {
	for i, l := range lines {
		if i > 0 {
			y += l.gap
		}
		y += l.t.line()
		if l.mark != "" {
			d.say(x, y, sheetBold, l.mark)
		}
		d.say(x+l.in, y, l.t, l.words)
	}
}

// wrappedLines breaks words into lines of a column, the first with a mark and a gap.
func (d *document) wrappedLines(t text, mark string, gap, in, width float64, words string) []flowLine {
	var lines []flowLine
	for i, line := range d.wrapped(t, words, width-in) {
		l := flowLine{in: in, t: t, words: line}
		if i == 0 {
			l.gap, l.mark = gap, mark
		}
		lines = append(lines, l)
	}
	return lines
}

// stepLines are the steps in order, each with what is done after it.
func (d *document) stepLines(sheet drive.CutSheet, width float64) []flowLine {
	lines := []flowLine{{t: sheetHeading, words: "In this order"}}
	for i, step := range sheet.Steps {
		lines = append(lines, d.wrappedLines(sheetBody, fmt.Sprint(i+1), 1.2, 6, width, step.Text)...)
		if done := step.Done(); done != "" {
			lines = append(lines, d.wrappedLines(sheetBold, "", 0, 6, width, "→ "+done)...)
		}
	}
	return lines
}

// placeLines say where panels and remnants go.
func (d *document) placeLines(of drive.Drive, sheet drive.CutSheet, width float64) []flowLine {
	lines := []flowLine{{t: sheetHeading, words: "Where the panels go"}}
	for _, k := range sheet.Kits {
		whom := k.ForWhom
		if whom == "" {
			whom = "not promised yet"
		}
		var roles []string
		for _, p := range k.Panels {
			roles = append(roles, p.Role+" "+drive.Ranges(p.Numbers))
		}
		lines = append(lines, d.wrappedLines(sheetBold, "", 1.2, 0, width, "Kit "+k.Kit.String()+": "+strings.Join(roles, "; "))...)
		lines = append(lines, d.wrappedLines(sheetBody, "", 0, 0, width, whom+", "+k.Size)...)
	}
	lines = append(lines, flowLine{gap: 3, t: sheetHeading, words: "What is left"})
	for _, k := range sheet.Keep {
		size := drive.OnTape(k.W, of.Unit) + " wide by " + drive.OnTape(k.H, of.Unit) + " long"
		words := "Keep " + size + ": label it " + strings.Join(k.Labels, "")
		if k.N > 1 {
			words = fmt.Sprintf("Keep %d pieces of %s: label them %s", k.N, size, strings.Join(k.Labels, ", "))
		}
		lines = append(lines, d.wrappedLines(sheetBody, "□", 1.2, 5, width, words+".")...)
	}
	rest := "Nothing of the piece goes back on the shelf."
	if sheet.Left > 0 {
		rest = "Fold the rest, " + drive.OnTape(sheet.Left, of.Unit) + ", and put it back"
		if sheet.Shelf != "" {
			rest += " on shelf " + sheet.Shelf
		}
		rest += ". Its label stays " + drive.ClothID(sheet.Lot, sheet.Piece) + "."
	}
	lines = append(lines, d.wrappedLines(sheetBody, "□", 1.2, 5, width, rest)...)
	return append(lines, d.wrappedLines(sheetBody, "□", 1.2, 5, width, "Everything else is offcuts.")...)
}
