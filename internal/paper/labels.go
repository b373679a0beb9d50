package paper

import (
	"fmt"
	"io"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
)

// Label is one label: what it says and the address its code opens.
type Label struct {
	Number  string // in large type: 42, or 42/3 for a piece
	Address string
	Size    string // usable; empty where it waits to be measured
	Look    string // cloth and print
	Shelf   string
	Copy    string // which of several alike it is: 2 of 5
}

// LotLabel writes the label of a lot, or of one of its pieces where piece is not 0.
// base is the start of every address, such as https://drive.example.org.
func LotLabel(d drive.Drive, base string, lot drive.Lot, pieces []drive.Piece, piece int) Label {
	label := Label{
		Number:  fmt.Sprint(lot.Number),
		Address: Address(base, d.ID, drive.CodeLot, fmt.Sprint(lot.Number)),
		Shelf:   lot.Shelf,
	}
	if piece != 0 {
		label.Number = fmt.Sprintf("%d/%d", lot.Number, piece)
		label.Address = Address(base, d.ID, drive.CodePiece, fmt.Sprintf("%d-%d", lot.Number, piece))
	}
	label.Size = usable(d, pieces, piece)
	var look []string
	for _, words := range []string{lot.Kind, strings.TrimSpace(lot.Weight + " " + fibre(lot)), lot.Print, strings.Join(lot.Colours, ", "), strings.Join(lot.Themes, ", ")} {
		if words != "" {
			look = append(look, words)
		}
	}
	label.Look = strings.Join(look, "; ")
	if lot.Measured() && d.Washing == drive.WashedFirst && !lot.Washed {
		label.Look += "; not washed"
	}
	return label
}

// Of gives the label as one of several that are alike.
func (l Label) Of(copy, copies int) Label {
	if copies > 1 {
		l.Copy = fmt.Sprintf("%d of %d", copy, copies)
	}
	return l
}

func fibre(l drive.Lot) string {
	if l.Fibre == drive.FibreNotSure {
		return ""
	}
	return l.Fibre
}

// usable writes what lies on the shelf, free or promised; pieces that are alike
// together, the first two kinds of them.
func usable(d drive.Drive, pieces []drive.Piece, only int) string {
	type kind struct{ width, long length.Length }
	var kinds []kind
	count := map[kind]int{}
	for _, p := range pieces {
		k := kind{p.Width, length.Length((p.Free + p.Promised) / length.Area(p.Width))}
		if k.long == 0 || only != 0 && p.Piece != only {
			continue
		}
		if count[k] == 0 {
			kinds = append(kinds, k)
		}
		count[k]++
	}
	var words []string
	for i, k := range kinds {
		if i == 2 {
			words = append(words, "and more")
			break
		}
		size := drive.OnTape(k.width, d.Unit) + " × " + drive.OnTape(k.long, d.Yardage())
		if count[k] > 1 {
			size = fmt.Sprintf("%d of %s", count[k], size)
		}
		words = append(words, size)
	}
	return strings.Join(words, ", ")
}

// Labels draws labels on sheets of a paper, beginning at the start-th label of the
// first sheet, from 1; those before it are gone from the sheet. It refuses by
// field a start that the paper does not have and labels too small for their codes.
func Labels(w io.Writer, title string, p drive.LabelPaper, start int, labels []Label, at time.Time) error {
	return labelSheets(w, title, p, start, len(labels), at, func(d *document, i int, x, y, w, h float64) error {
		return d.label(labels[i], x, y, w, h)
	})
}

// labelSheets draws n labels of any kind on sheets of a paper.
func labelSheets(w io.Writer, title string, p drive.LabelPaper, start, n int, at time.Time, draw func(d *document, i int, x, y, w, h float64) error) error {
	if start < 1 || start > p.PerSheet() {
		return apperr.Invalid("start", "This paper has labels 1 to %d.", p.PerSheet())
	}
	d, err := newDocument(title, at)
	if err != nil {
		return err
	}
	d.labels = true
	for i := range n {
		at := (start - 1 + i) % p.PerSheet()
		if i == 0 || at == 0 {
			d.sheet(p.PaperWidth, p.PaperHeight)
		}
		x, y := p.At(at)
		if p.Lines {
			d.cutLines(mm(x), mm(y), mm(p.LabelWidth), mm(p.LabelHeight))
		}
		if err := draw(d, i, mm(x), mm(y), mm(p.LabelWidth), mm(p.LabelHeight)); err != nil {
			return err
		}
	}
	return d.write(w)
}

// Trial draws the outlines of a paper's labels, to print on plain paper and hold
// against the sheet.
func Trial(w io.Writer, p drive.LabelPaper, u length.Unit, at time.Time) error {
	d, err := newDocument("Trial of "+p.Name, at)
	if err != nil {
		return err
	}
	d.sheet(p.PaperWidth, p.PaperHeight)
	d.pdf.SetLineWidth(0.2)
	for i := range p.PerSheet() {
		x, y := p.At(i)
		d.pdf.Rect(mm(x), mm(y), mm(p.LabelWidth), mm(p.LabelHeight), "D")
		t := text{points: min(11, mm(p.LabelHeight)/aPoint/4)}
		d.say(mm(x)+2, mm(y)+2+t.line(), t, fmt.Sprint(i+1))
		if i == 0 {
			size := length.Format(p.LabelWidth, u) + " × " + length.Format(p.LabelHeight, u)
			d.say(mm(x)+2, mm(y)+2+2*t.line(), t, d.fitted(t, "Measure me: "+size, mm(p.LabelWidth)-4))
		}
	}
	return d.write(w)
}

// cutLines draws the outline of a label faintly, to cut along.
func (d *document) cutLines(x, y, w, h float64) {
	d.pdf.SetLineWidth(0.1)
	d.pdf.SetDrawColor(140, 131, 115)
	d.pdf.SetDashPattern([]float64{1.5, 1}, 0)
	d.pdf.Line(x, y, x+w, y)
	d.pdf.Line(x, y+h, x+w, y+h)
	d.pdf.Line(x, y, x, y+h)
	d.pdf.Line(x+w, y, x+w, y+h)
}

// label draws one label into its place: the code on the right, or below where the
// label stands upright; the number as large as it goes; then size, shelf and look,
// as much of them as there is room for.
func (d *document) label(l Label, x, y, w, h float64) error {
	parts := partsOf(w, h)
	x, y, textWidth, textHeight := x+parts.pad, y+parts.pad, parts.width, parts.height
	c, err := codeFor(l.Address, parts.side)
	if err != nil {
		return err
	}
	d.draw(c, x+parts.codeX, y+parts.codeY)
	d.pdf.SetTextColor(0, 0, 0)

	number := d.largest(l.Number, textWidth, min(textHeight*0.42, 22))
	small := text{points: clamp(textHeight/aPoint/8.5, 5.5, 10)}
	baseline := y + number.points*aPoint*0.74
	used := d.say(x, baseline, number, l.Number)
	if l.Copy != "" && used+2+d.width(small, l.Copy) <= textWidth {
		d.say(x+used+2, baseline, small, l.Copy)
	}
	baseline += number.points * aPoint * 0.12
	room := int((y + textHeight - baseline) / small.line())
	for _, line := range d.labelLines(l, small, textWidth, room) {
		baseline += small.line()
		d.say(x, baseline, line.text, line.words)
	}
	return nil
}

// labelParts says how a label is parted: a rim, room for text at the top left
// within it, and the square of the code, measured from the rim.
type labelParts struct{ pad, width, height, side, codeX, codeY float64 }

func partsOf(w, h float64) labelParts {
	pad := min(2.5, h/10)
	w, h = w-2*pad, h-2*pad
	if h > w*1.2 {
		side := min(w, h*0.45, 34)
		return labelParts{pad, w, h - side - pad/2, side, (w - side) / 2, h - side}
	}
	side := min(h, w*0.45, 34)
	return labelParts{pad, w - side - pad/2, h, side, w - side, (h - side) / 2}
}

// Readable refuses, as an invalid "paper", labels on which the code of an address
// would be too fine to scan.
func Readable(p drive.LabelPaper, address string) error {
	_, err := codeFor(address, partsOf(mm(p.LabelWidth), mm(p.LabelHeight)).side)
	return err
}

type labelLine struct {
	text  text
	words string
}

// labelLines gives what stands under the number in as many lines as there are.
// Where room is short, the size goes before the shelf and both before the look.
func (d *document) labelLines(l Label, t text, width float64, room int) []labelLine {
	bold := text{points: t.points, bold: true}
	var lines []labelLine
	size := []string{"Not measured yet"}
	if l.Size != "" {
		size = d.wrapped(bold, l.Size, width)
	}
	for _, words := range size {
		lines = append(lines, labelLine{bold, words})
	}
	if l.Shelf != "" {
		lines = append(lines, labelLine{t, d.fitted(t, "Shelf "+l.Shelf, width)})
	}
	if len(lines) > room {
		return lines[:max(room, 0)]
	}
	if l.Look == "" || len(lines) == room {
		return lines
	}
	look := d.wrapped(t, l.Look, width)
	if left := room - len(lines); len(look) > left {
		look[left-1] = d.fitted(t, strings.Join(look[left-1:], " "), width)
		look = look[:left]
	}
	for _, words := range look {
		lines = append(lines, labelLine{t, words})
	}
	return lines
}

// largest gives bold type for a number to fill a width and a height.
func (d *document) largest(number string, width, height float64) text {
	t := text{points: height / aPoint / 0.74, bold: true}
	if w := d.width(t, number); w > width {
		t.points *= width / w
	}
	return t
}

func clamp(v, least, most float64) float64 { return max(least, min(v, most)) }
