// Package paper draws what is printed from the program as PDF: labels for
// fabric, and letters. Places and sizes are length.Length from the top left of a
// sheet, and what is drawn lies there to a thousandth of a millimetre. The same
// contents at the same moment give the same bytes. Nothing here asks a store or
// reads a clock.
package paper

import (
	"embed"
	"fmt"
	"io"
	"strings"
	"time"

	"boltward/internal/length"
	"boltward/web"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"
)

//go:embed fonts/DejaVuSans.ttf
var fonts embed.FS

// face is one of the typefaces that text is set in.
type face struct {
	family, style string
	file          func() ([]byte, error)
	glyphs        *sfnt.Font
}

// document is a PDF that is being drawn.
type document struct {
	pdf             *fpdf.Fpdf
	regular, bold   *face
	fallback        *face
	fallbackIsThere bool
	boxes           bool // this sheet has a box where a letter belongs
	labels          bool // it is parted into labels, with no room beside them
	buffer          sfnt.Buffer
}

// newDocument begins a PDF that says it was made at a moment.
func newDocument(title string, at time.Time) (*document, error) {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: 210, Ht: 297}})
	pdf.SetCreationDate(at.UTC())
	pdf.SetModificationDate(at.UTC())
	pdf.SetCatalogSort(true)
	pdf.SetTitle(title, true)
	pdf.SetCreator("Boltward", true)
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetCellMargin(0)
	d := &document{pdf: pdf}
	d.regular = &face{family: "atkinson", file: func() ([]byte, error) { return web.Files.ReadFile("vendor/atkinson/Regular.ttf") }}
	d.bold = &face{family: "atkinson", style: "B", file: func() ([]byte, error) { return web.Files.ReadFile("vendor/atkinson/Bold.ttf") }}
	d.fallback = &face{family: "dejavu", file: func() ([]byte, error) { return fonts.ReadFile("fonts/DejaVuSans.ttf") }}
	for _, f := range []*face{d.regular, d.bold, d.fallback} {
		file, err := f.file()
		if err != nil {
			return nil, fmt.Errorf("typeface %s: %w", f.family, err)
		}
		if f.glyphs, err = sfnt.Parse(file); err != nil {
			return nil, fmt.Errorf("typeface %s: %w", f.family, err)
		}
		if f != d.fallback {
			pdf.AddUTF8FontFromBytes(f.family, f.style, file)
		}
	}
	return d, nil
}

// write gives the whole PDF to w.
func (d *document) write(w io.Writer) error {
	d.tellOfBoxes()
	if err := d.pdf.Output(w); err != nil {
		return fmt.Errorf("write the PDF: %w", err)
	}
	return nil
}

// sheet begins a new sheet of paper.
func (d *document) sheet(width, height length.Length) {
	d.tellOfBoxes()
	d.pdf.AddPageFormat("P", fpdf.SizeType{Wd: mm(width), Ht: mm(height)})
}

// text is how words are set: their size in points, their weight.
type text struct {
	points float64
	bold   bool
}

// aPoint is 1/72 in, in millimetres.
const aPoint = 25.4 / 72

// line is the height of a line of text in millimetres.
func (t text) line() float64 { return t.points * aPoint * 1.25 }

// run is a stretch of text in one typeface.
type run struct {
	face  *face
	words string
	boxes bool
}

// lacking is what a sheet says of its boxes, below what else stands on it.
const lacking = "□ stands for a letter or sign that cannot be printed here: write it in by hand."

// tellOfBoxes says on the sheet that ends what its boxes are.
func (d *document) tellOfBoxes() {
	if !d.boxes || d.labels {
		return
	}
	d.boxes = false
	wide, high := d.pdf.GetPageSize()
	t := text{points: 7}
	d.pdf.SetTextColor(0, 0, 0)
	d.say((wide-d.width(t, lacking))/2, high-5, t, lacking)
}

// say writes words with their baseline at y, and gives how wide they are. Letters
// that the typeface lacks come from another that has most; what neither has is an
// empty box, which the sheet tells of at its foot. Hebrew and Arabic letters stand in
// the order they are read, the latter joined.
func (d *document) say(x, y float64, t text, words string) float64 {
	from := x
	for _, r := range d.runs(t, words) {
		d.boxes = d.boxes || r.boxes
		d.use(r.face, t)
		d.pdf.Text(x, y, r.words)
		x += d.pdf.GetStringWidth(r.words)
	}
	return x - from
}

// width is how wide words are, in millimetres.
func (d *document) width(t text, words string) float64 {
	var w float64
	for _, r := range d.runs(t, words) {
		d.use(r.face, t)
		w += d.pdf.GetStringWidth(r.words)
	}
	return w
}

func (d *document) use(f *face, t text) {
	if f == d.fallback && !d.fallbackIsThere {
		file, _ := f.file() // it was read before
		d.pdf.AddUTF8FontFromBytes(f.family, f.style, file)
		d.fallbackIsThere = true
	}
	d.pdf.SetFont(f.family, f.style, t.points)
}

// runs parts words by the typeface that has their letters: a word that has letters of
// both is set in the second, for a name in two faces is hard to read.
func (d *document) runs(t text, words string) []run {
	var runs []run
	first := d.regular
	if t.bold {
		first = d.bold
	}
	add := func(f *face, letters string, boxes bool) {
		if n := len(runs); n > 0 && runs[n-1].face == f {
			runs[n-1].words += letters
			runs[n-1].boxes = runs[n-1].boxes || boxes
			return
		}
		runs = append(runs, run{f, letters, boxes})
	}
	for _, word := range strings.SplitAfter(inReadingOrder(words), " ") {
		if word == "" {
			continue
		}
		if d.hasAll(first, word) {
			add(first, word, false)
			continue
		}
		var b strings.Builder
		boxes := false
		for _, r := range word {
			if r > 0xFFFF || !d.has(d.fallback, r) {
				r, boxes = '□', true
			}
			b.WriteRune(r)
		}
		add(d.fallback, b.String(), boxes)
	}
	return runs
}

func (d *document) hasAll(f *face, word string) bool {
	for _, r := range word {
		if !d.has(f, r) {
			return false
		}
	}
	return true
}

func (d *document) has(f *face, r rune) bool {
	glyph, err := f.glyphs.GlyphIndex(&d.buffer, r)
	return err == nil && glyph != 0
}

// fitted gives words cut to a width, with an ellipsis where something is left out.
func (d *document) fitted(t text, words string, width float64) string {
	if d.width(t, words) <= width {
		return words
	}
	letters := []rune(words)
	for len(letters) > 0 {
		letters = letters[:len(letters)-1]
		if shorter := strings.TrimRight(string(letters), " ,;") + "…"; d.width(t, shorter) <= width {
			return shorter
		}
	}
	return ""
}

// fittedOf gives what something is after the name that it is of: "Spring drive: kits taken". Of what
// does not fit the name is cut, since it stands on every sheet and the rest tells them apart.
func (d *document) fittedOf(t text, name, what string, width float64) string {
	what = ": " + what
	if d.width(t, name+what) <= width {
		return name + what
	}
	return d.fitted(t, name, width-d.width(t, what)) + what
}

// wrapped breaks words into lines of a width; a word that is too long by itself
// is broken too.
func (d *document) wrapped(t text, words string, width float64) []string {
	var lines []string
	for _, paragraph := range strings.Split(words, "\n") {
		line := ""
		for _, word := range strings.Fields(paragraph) {
			next := strings.TrimSpace(line + " " + word)
			if d.width(t, next) <= width {
				line = next
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			for line = word; d.width(t, line) > width; {
				head := d.head(t, line, width)
				lines, line = append(lines, head), line[len(head):]
			}
		}
		lines = append(lines, line)
	}
	return lines
}

// head gives as much of a word as fits, one letter at least.
func (d *document) head(t text, word string, width float64) string {
	end := 0
	for i, r := range word {
		next := i + len(string(r))
		if end > 0 && d.width(t, word[:next]) > width {
			break
		}
		end = next
	}
	return word[:end]
}

// mm gives a length in millimetres, as the PDF counts.
func mm(l length.Length) float64 { return float64(l) / float64(length.Millimetre) }
