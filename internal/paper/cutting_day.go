package paper

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"time"

	"boltward/internal/drive"
)

// PullList draws what to fetch from the shelves for cut sheets, to tick off, in the
// order of the shelves.
func PullList(w io.Writer, d drive.Drive, s Sheet, sheets []drive.CutSheet, at time.Time) error {
	doc, err := newDocument(d.Name+": pull list", at)
	if err != nil {
		return err
	}
	l := listSheet{document: doc, paper: s, of: d.Name, title: "fabric to pull from the shelves", columns: []listColumn{
		{"", 5}, {"Shelf", 13}, {"Fabric", 34}, {"What it looks like", 50}, {"To cut", 24}, {"Stays", 24}, {"Sheets", 24},
	}}
	l.begin()
	for _, p := range drive.PullList(sheets) {
		name := p.Name
		if p.Tag != "" {
			name += ", tag " + p.Tag
		}
		stays := "nothing"
		if p.Left > 0 {
			stays = drive.OnTape(p.Left, d.Unit)
		}
		l.row(orDash(p.Shelf) != "–", "□", orDash(p.Shelf), name, p.Looks, drive.OnTape(p.Takes, d.Unit), stays, refs(p.Sheets))
	}
	l.end(fmt.Sprintf("%d cut sheets in all. Bring each with its sheet; what stays of a piece goes back with its label.", len(sheets)))
	return doc.write(w)
}

// SortByKit draws the page by which bundles are sorted into kits: each kit with what
// belongs to it, to tick off.
func SortByKit(w io.Writer, d drive.Drive, s Sheet, sheets []drive.CutSheet, at time.Time) error {
	doc, err := newDocument(d.Name+": bundles by kit", at)
	if err != nil {
		return err
	}
	l := listSheet{document: doc, paper: s, of: d.Name, title: "bundles by kit", columns: []listColumn{
		{"Kit", 14}, {"For", 56}, {"", 5}, {"Bundle", 32}, {"From sheet", 20}, {"Cloth", 47},
	}}
	l.begin()
	for _, kit := range drive.BundlesByKit(sheets) {
		for i, b := range kit {
			number, whom := "", ""
			if i == 0 {
				number, whom = b.Kit.String(), forWhom(b)
				l.again = []string{number, whom}
			}
			sheet := b.Sheet.String()
			if b.Cut {
				sheet += ", cut"
			}
			l.row(i == 0, number, whom, "□", bundleWords(b), sheet, "Lot "+b.Cloth+", "+b.Looks)
		}
	}
	l.end("Bundles of a sheet that is cut lie ready. A kit is whole when every box is ticked: count the panels, then bag and label it.")
	return doc.write(w)
}

func forWhom(b drive.Bundle) string {
	if b.ForWhom == "" {
		return "not promised yet, " + b.Size
	}
	return b.ForWhom + ", " + b.Size
}

// bundleWords says what is in a bundle: 6 cuff panels.
func bundleWords(b drive.Bundle) string {
	if len(b.Panels) == 1 {
		return "1 " + b.Role + " panel"
	}
	return fmt.Sprintf("%d %s panels", len(b.Panels), b.Role)
}

func refs(list []drive.SheetRef) string {
	words := make([]string, len(list))
	for i, r := range list {
		words[i] = r.String()
	}
	return strings.Join(words, ", ")
}

func orDash(words string) string {
	if words == "" {
		return "–"
	}
	return words
}

// listColumn is a column of a list with its share of the width.
type listColumn struct {
	name  string
	share float64
}

// listSheet is a list that goes on over as many sheets as it needs, each with its
// headings.
type listSheet struct {
	*document
	paper   Sheet
	of      string // the drive, where the title is of it
	title   string
	columns []listColumn
	again   []string // what the first cells of a row that goes on with another say at the top of a page
	y       float64
	pages   int
}

func (l *listSheet) begin() {
	l.pages++
	l.sheet(l.paper.Width, l.paper.Height)
	l.pdf.SetTextColor(0, 0, 0)
	l.pdf.SetDrawColor(0, 0, 0)
	wide := mm(l.paper.Width) - 2*sheetEdge
	title := l.fitted(sheetHeading, l.title, wide-25)
	if l.of != "" {
		title = l.fittedOf(sheetHeading, l.of, l.title, wide-25)
	}
	l.say(sheetEdge, sheetEdge+5, sheetHeading, title)
	page := fmt.Sprintf("page %d", l.pages)
	l.say(sheetEdge+wide-l.width(sheetSmall, page), sheetEdge+5, sheetSmall, page)
	l.y = sheetEdge + 12
	l.heads()
}

// heads writes the headings of the columns.
func (l *listSheet) heads() {
	l.each(func(i int, x, _ float64) { l.say(x, l.y, sheetBold, l.columns[i].name) })
	l.y += 2
	l.rule(0.4)
}

func (l *listSheet) rule(thick float64) {
	l.pdf.SetLineWidth(thick)
	l.pdf.Line(sheetEdge, l.y, mm(l.paper.Width)-sheetEdge, l.y)
}

func (l *listSheet) each(do func(i int, x, width float64)) {
	var all float64
	for _, c := range l.columns {
		all += c.share
	}
	x, wide := sheetEdge, mm(l.paper.Width)-2*sheetEdge
	for i, c := range l.columns {
		width := wide * c.share / all
		do(i, x, width-1.5)
		x += width
	}
}

// row writes one line of cells, each over as many lines as it needs; ruled says that a
// line is drawn above it.
func (l *listSheet) row(ruled bool, cells ...string) {
	lines, high := l.measured(cells)
	if l.y+high > mm(l.paper.Height)-sheetEdge-8 {
		l.begin()
		if !ruled { // what an earlier row says for this one is said again at the top of a page
			for i, cell := range l.again {
				cells[i] = cmp.Or(cells[i], cell)
			}
			lines, high = l.measured(cells)
		}
	} else if ruled && l.y > sheetEdge+14.5 {
		l.rule(0.1)
	}
	l.each(func(i int, x, _ float64) {
		t := sheetBody
		if i == 0 {
			t = sheetBold
		}
		for k, line := range lines[i] {
			l.say(x, l.y+0.8+float64(k+1)*sheetBody.line(), t, line)
		}
	})
	l.y += high
}

// measured wraps the cells of a row and says how high it is.
func (l *listSheet) measured(cells []string) (lines [][]string, high float64) {
	lines, most := make([][]string, len(cells)), 1
	l.each(func(i int, _, width float64) {
		lines[i] = l.wrapped(sheetBody, cells[i], width)
		most = max(most, len(lines[i]))
	})
	return lines, float64(most)*sheetBody.line() + 2.2
}

func (l *listSheet) end(words string) {
	l.rule(0.4)
	for _, line := range l.wrapped(sheetSmall, words, mm(l.paper.Width)-2*sheetEdge) {
		l.y += sheetSmall.line()
		l.say(sheetEdge, l.y, sheetSmall, line)
	}
}
