package drive

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// LabelPaper is a sheet or roll that labels are printed on: the paper and the
// grid of labels on it, row by row from the top left. A roll is paper of one
// label, printed over and over.
type LabelPaper struct {
	Number      int64         `db:"number"`
	Name        string        `db:"name"`
	PaperWidth  length.Length `db:"paper_width"`
	PaperHeight length.Length `db:"paper_height"`
	Left        length.Length `db:"margin_left"` // from the paper's edge to the first label
	Top         length.Length `db:"margin_top"`
	LabelWidth  length.Length `db:"label_width"`
	LabelHeight length.Length `db:"label_height"`
	Columns     int           `db:"columns"`
	Rows        int           `db:"rows"`
	GapAcross   length.Length `db:"gap_across"` // between two labels side by side
	GapDown     length.Length `db:"gap_down"`
	Lines       bool          `db:"lines"` // plain paper: lines to cut along are printed
	Version     int           `db:"version"`
}

// The least label that holds a number and a code that scans, and the paper that
// printers take.
const (
	leastLabelWidth  = 25 * length.Millimetre
	leastLabelHeight = 12 * length.Millimetre
	mostPaper        = 2 * length.Metre
)

// PerSheet is how many labels one sheet holds.
func (p LabelPaper) PerSheet() int { return p.Columns * p.Rows }

// At gives where the i-th label of a sheet lies, from 0, row by row.
func (p LabelPaper) At(i int) (x, y length.Length) {
	column, row := length.Length(i%p.Columns), length.Length(i/p.Columns)
	return p.Left + column*(p.LabelWidth+p.GapAcross), p.Top + row*(p.LabelHeight+p.GapDown)
}

// Tidy gives the paper with its name as plain words.
func (p LabelPaper) Tidy() LabelPaper {
	p.Name = strings.Join(strings.Fields(p.Name), " ")
	return p
}

// Check says what is wrong with a paper by field, with lengths in u: labels lie
// whole on it and never over each other.
func (p LabelPaper) Check(u length.Unit) error {
	var bad []apperr.Field
	add := func(field, format string, args ...any) {
		bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
	}
	if n := utf8.RuneCountInString(p.Name); n == 0 || n > 80 {
		add("name", "Give it a name to find it by, in up to 80 characters.")
	}
	for _, side := range []struct {
		field string
		l     length.Length
		least length.Length
	}{
		{"paper_width", p.PaperWidth, leastLabelWidth},
		{"paper_height", p.PaperHeight, leastLabelHeight},
		{"label_width", p.LabelWidth, leastLabelWidth},
		{"label_height", p.LabelHeight, leastLabelHeight},
	} {
		if side.l < side.least || side.l > mostPaper {
			add(side.field, "Give a length from %s to %s.", length.Other(side.least, u.Other()), length.Other(mostPaper, u.Other()))
		}
	}
	for _, gap := range []struct {
		field string
		l     length.Length
		why   string
	}{
		{"margin_left", p.Left, "The first label would begin outside the paper: give 0 or more."},
		{"margin_top", p.Top, "The first label would begin outside the paper: give 0 or more."},
		{"gap_across", p.GapAcross, "The labels would lie over each other: give 0 or more."},
		{"gap_down", p.GapDown, "The labels would lie over each other: give 0 or more."},
	} {
		if gap.l < 0 {
			add(gap.field, "%s", gap.why)
		} else if gap.l > mostPaper {
			add(gap.field, "Give a length up to %s.", length.Other(mostPaper, u.Other()))
		}
	}
	if p.Columns < 1 || p.Columns > 40 {
		add("columns", "Give 1 to 40 labels side by side.")
	}
	if p.Rows < 1 || p.Rows > 100 {
		add("rows", "Give 1 to 100 rows of labels.")
	}
	if len(bad) == 0 {
		bad = append(bad, p.overEdge(u, "columns", "label_width", p.Columns, p.Left, p.LabelWidth, p.GapAcross, p.PaperWidth, "wide")...)
		bad = append(bad, p.overEdge(u, "rows", "label_height", p.Rows, p.Top, p.LabelHeight, p.GapDown, p.PaperHeight, "high")...)
	}
	return apperr.InvalidFields(bad)
}

// overEdge refuses labels that leave the paper in one direction: at the field of
// their size where one alone is too large, else at the field of how many there are.
func (p LabelPaper) overEdge(u length.Unit, many, one string, n int, margin, label, gap, paper length.Length, way string) []apperr.Field {
	reach := func(n int) length.Length {
		return margin + length.Length(n)*label + length.Length(n-1)*gap
	}
	switch {
	case reach(1) > paper:
		return []apperr.Field{{Name: one, Why: fmt.Sprintf("The label leaves the paper: with the margin it reaches to %s, the paper is %s %s.", length.Format(reach(1), u), length.Format(paper, u), way)}}
	case reach(n) > paper:
		fit := int((paper - margin + gap) / (label + gap))
		return []apperr.Field{{Name: many, Why: fmt.Sprintf("%d labels reach to %s with margin and gaps, and the paper is %s %s: %d fit.", n, length.Format(reach(n), u), length.Format(paper, u), way, fit)}}
	}
	return nil
}

// ReadyLabelPapers are grids on plain card of public sizes (ISO 216 A4, ANSI/ASME
// Y14.1 A, called Letter), to be cut apart; numbers below zero tell them from the
// drive's own. Those of the drive's custom come first.
func ReadyLabelPapers(u length.Unit) []LabelPaper {
	const half = length.Inch / 2
	a4, letter := [2]length.Length{210 * length.Millimetre, 297 * length.Millimetre}, [2]length.Length{17 * half, 11 * length.Inch}
	iso := []LabelPaper{
		grid(-1, "A4, 8 large tags", a4, 95*length.Millimetre, 66*length.Millimetre, 2, 4),
		grid(-2, "A4, 21 tags", a4, 63*length.Millimetre, 38*length.Millimetre, 3, 7),
	}
	ansi := []LabelPaper{
		grid(-3, "Letter, 8 large tags", letter, 7*half, 5*half, 2, 4),
		grid(-4, "Letter, 18 tags", letter, 5*half, 3*half, 3, 6),
	}
	if u.Metric() {
		return append(iso, ansi...)
	}
	return append(ansi, iso...)
}

// grid lays labels without gaps in the middle of a paper.
func grid(number int64, name string, paper [2]length.Length, w, h length.Length, columns, rows int) LabelPaper {
	return LabelPaper{
		Number: number, Name: name, PaperWidth: paper[0], PaperHeight: paper[1], LabelWidth: w, LabelHeight: h, Columns: columns, Rows: rows,
		Lines: true, Left: (paper[0] - length.Length(columns)*w) / 2, Top: (paper[1] - length.Length(rows)*h) / 2,
	}
}

// LabelOf is one label to be printed: of a lot, or of a piece that was parted from
// one and lies on the shelf by itself.
type LabelOf struct {
	Lot   int64 `db:"lot"`
	Piece int   `db:"piece"` // 0: the lot
}

// LabelWish says which labels somebody wants, on what.
type LabelWish struct {
	Which LabelWhich
	Day   time.Time // of LabelsOfDay: the day the lots came in
	Named []LabelOf // of LabelsNamed
	Each  bool      // a label for each piece of a lot of several, all alike
	Start int       // the first label of the first sheet that is still there, from 1
	Paper LabelPaper
}

// LabelWhich is a choice of labels.
type LabelWhich string

// The choices. A lot that is used up needs no label, unless it is named.
const (
	LabelsMissing LabelWhich = "without a label"
	LabelsSince   LabelWhich = "measured since"
	LabelsOfDay   LabelWhich = "a drop-off"
	LabelsNamed   LabelWhich = "lots"
	LabelsShelf   LabelWhich = "all on the shelf"
)

// MostLabels is how many labels are printed in one go.
const MostLabels = 5000

// Check says what is wrong with a wish by field.
func (w LabelWish) Check() error {
	var bad []apperr.Field
	switch w.Which {
	case LabelsMissing, LabelsSince, LabelsShelf:
	case LabelsOfDay:
		if w.Day.IsZero() {
			bad = append(bad, apperr.Field{Name: "day", Why: "Say on which day the fabric came in."})
		}
	case LabelsNamed:
		if len(w.Named) == 0 {
			bad = append(bad, apperr.Field{Name: "lots", Why: "Name the lots, such as 42, 45-52."})
		}
	default:
		bad = append(bad, apperr.Field{Name: "which", Why: "Choose which labels to print."})
	}
	if per := w.Paper.PerSheet(); w.Start < 1 || w.Start > per {
		bad = append(bad, apperr.Field{Name: "start", Why: fmt.Sprintf("This paper has labels 1 to %d.", per)})
	}
	return apperr.InvalidFields(bad)
}

// ParseLabelNames reads which lots somebody names: 42, 45-52, and 42/3 for piece 3
// of lot 42. It refuses the field "lots".
func ParseLabelNames(typed string) ([]LabelOf, error) {
	var names []LabelOf
	seen := map[LabelOf]bool{}
	add := func(l LabelOf) {
		if !seen[l] {
			seen[l] = true
			names = append(names, l)
		}
	}
	for _, word := range strings.FieldsFunc(typed, func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '\n' || r == '\t' }) {
		word = strings.ReplaceAll(word, "–", "-")
		from, to, isRange := strings.Cut(word, "-")
		lot, piece, isPiece := strings.Cut(word, "/")
		switch {
		case isPiece:
			n, m := plainNumber(lot), plainNumber(piece)
			if n == 0 || m == 0 || m > mostPieces {
				return nil, apperr.Invalid("lots", "%q is no piece of a lot; one is written 42/3.", word)
			}
			add(LabelOf{Lot: n, Piece: int(m)})
		case isRange:
			first, last := plainNumber(from), plainNumber(to)
			if first == 0 || last < first || last-first >= MostLabels {
				return nil, apperr.Invalid("lots", "%q is no row of lots; one is written 45-52.", word)
			}
			for n := first; n <= last; n++ {
				add(LabelOf{Lot: n})
			}
		default:
			n := plainNumber(word)
			if n == 0 {
				return nil, apperr.Invalid("lots", "%q is no number of a lot; they are written 42, 45-52.", word)
			}
			add(LabelOf{Lot: n})
		}
		if len(names) > MostLabels {
			return nil, apperr.Invalid("lots", "Print up to %d labels in one go.", MostLabels)
		}
	}
	return names, nil
}

// plainNumber reads a number above zero; 0 for anything else.
func plainNumber(text string) int64 {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 1 || n > 1_000_000_000 || text[0] == '+' {
		return 0
	}
	return n
}
