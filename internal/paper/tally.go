package paper

import (
	"fmt"
	"io"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// Sheet is a size of paper, standing upright.
type Sheet struct{ Width, Height length.Length }

// Sheets of common size: ISO 216 and the North American one.
var (
	A4     = Sheet{210 * length.Millimetre, 297 * length.Millimetre}
	Letter = Sheet{length.Length(17) * length.Inch / 2, 11 * length.Inch}
)

// UsualSheet is the paper that is at hand where a drive is.
func UsualSheet(d drive.Drive) Sheet {
	if d.LetterPaper() {
		return Letter
	}
	return A4
}

// tallyRows is how many lots stand on one sheet: with 10 mm each there is room to write.
const tallyRows = 15

// tallyColumn is a column of the sheet with its share of the width.
type tallyColumn struct {
	name  string
	share float64
}

func tallyColumns(d drive.Drive) []tallyColumn {
	return []tallyColumn{
		{"Row", 4},
		{"Tag", 7},
		{"Given by", 17},
		{"Pieces", 6},
		{"What it is", 13},
		{fmt.Sprintf("Length (%s)", d.Yardage()), 9},
		{fmt.Sprintf("Width (%s)", d.Unit), 8},
		{"Print S T F", 8},
		{"Colours, themes", 15},
		{"Washed", 6},
		{"Shelf", 7},
		{"Set aside, flaws, note", 16},
	}
}

// Tally draws sheets to write lots on where there is no network, the rows numbered
// on from sheet to sheet as the page that types them in has them.
func Tally(w io.Writer, d drive.Drive, s Sheet, sheets int, at time.Time) error {
	doc, err := newDocument("Tally of "+d.Name, at)
	if err != nil {
		return err
	}
	for n := range sheets {
		doc.tallySheet(d, s, n, sheets)
	}
	return doc.write(w)
}

func (d *document) tallySheet(of drive.Drive, s Sheet, n, sheets int) {
	// The sheet lies on its side.
	d.sheet(s.Height, s.Width)
	const edge = 11.0
	wide, high := mm(s.Height)-2*edge, mm(s.Width)-2*edge
	d.pdf.SetTextColor(0, 0, 0)
	d.pdf.SetDrawColor(0, 0, 0)
	title := text{points: 15, bold: true}
	d.say(edge, edge+5, title, d.fittedOf(title, of.Name, "fabric that came in", wide*0.62))
	small := text{points: 9.5}
	right := fmt.Sprintf("Sheet %d of %d", n+1, sheets)
	d.say(edge+wide-d.width(small, right), edge+5, small, right)
	d.say(edge, edge+13, small, "Day ____________________   Place ______________________________   Written by ____________________   Typed in by ____________________")
	d.say(edge, edge+19, small, "One lot a row. Leave empty what nobody knows; what has no size is measured another day. Print: S solid, T tonal, F feature. Pin tags, never stick anything to cloth.")

	top, head := edge+23, 7.0
	row := (high - (top - edge) - head) / tallyRows
	var all float64
	columns := tallyColumns(of)
	for _, c := range columns {
		all += c.share
	}
	d.pdf.SetLineWidth(0.2)
	x := edge
	heading := text{points: 8.5, bold: true}
	for i, c := range columns {
		width := wide * c.share / all
		d.say(x+1, top+head-2, heading, d.fitted(heading, c.name, width-1.5))
		for k := range tallyRows {
			if i == 0 {
				d.say(x+1, top+head+float64(k)*row+row/2+1.5, small, fmt.Sprint(n*tallyRows+k+1))
			}
		}
		if i > 0 {
			d.pdf.Line(x, top, x, top+head+tallyRows*row)
		}
		x += width
	}
	for k := range tallyRows + 1 {
		y := top + head + float64(k)*row
		d.pdf.SetLineWidth(0.2)
		if k == 0 || k == tallyRows {
			d.pdf.SetLineWidth(0.5)
		}
		d.pdf.Line(edge, y, edge+wide, y)
	}
}

// tagColumns and tagRows are how many tags one sheet holds.
const (
	tagColumns = 2
	tagRows    = 4
)

// Tags draws numbered tags to cut out and pin to cloth as it comes in, the first
// number first. base is the address that codes begin with: scanned, a tag opens its
// lot, or the form that tags one.
func Tags(w io.Writer, d drive.Drive, base string, s Sheet, first int64, n int, at time.Time) error {
	doc, err := newDocument("Tags of "+d.Name, at)
	if err != nil {
		return err
	}
	const edge = 8.0
	wide, high := (mm(s.Width)-2*edge)/tagColumns, (mm(s.Height)-2*edge)/tagRows
	for i := range n {
		place := i % (tagColumns * tagRows)
		if place == 0 {
			doc.sheet(s.Width, s.Height)
		}
		x, y := edge+float64(place%tagColumns)*wide, edge+float64(place/tagColumns)*high
		doc.cutLines(x, y, wide, high)
		if err := doc.tag(d, base, first+int64(i), x, y, wide, high); err != nil {
			return err
		}
	}
	return doc.write(w)
}

// tag draws one: the number as large as it goes, its code, a hole for the pin and
// lines for what the helper at the door knows.
func (d *document) tag(of drive.Drive, base string, number int64, x, y, w, h float64) error {
	const pad = 5.0
	c, err := codeFor(TagAddress(base, of.ID, number), 30)
	if err != nil {
		return err
	}
	d.draw(c, x+w-30-pad, y+h-30-pad)
	d.pdf.SetTextColor(0, 0, 0)
	d.pdf.SetDrawColor(90, 96, 104)
	d.pdf.SetDashPattern([]float64{}, 0)
	d.pdf.SetLineWidth(0.3)
	d.pdf.Circle(x+w/2, y+pad, 2, "D")
	// Above the white round the code: digits that reach into it make it unreadable.
	high := min(24, h-30-2*pad-5-0.5)
	big := d.largest(fmt.Sprint(number), w-2*pad, high)
	d.say(x+(w-d.width(big, fmt.Sprint(number)))/2, y+pad+5+high, big, fmt.Sprint(number))
	small := text{points: 9}
	left := w - 30 - 2*pad - 3
	line := y + h - 30 - pad + 6
	for _, words := range []string{"Given by", "", "Pieces          Shelf", d.fitted(small, of.Name, left)} {
		d.say(x+pad, line, small, words)
		if words != d.fitted(small, of.Name, left) {
			d.pdf.Line(x+pad, line+1.2, x+pad+left, line+1.2)
		}
		line += 8
	}
	return nil
}

// TagAddress is what the code of a printed tag opens.
func TagAddress(base, driveID string, number int64) string {
	return Address(base, driveID, drive.CodeTag, fmt.Sprint(number))
}
