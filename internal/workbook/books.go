package workbook

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/xuri/excelize/v2"
)

// The sheets of the books that are no lists.
const (
	sheetSummary    = "Summary"
	sheetRecipients = "Recipients"
	sheetMonths     = "Months"
	sheetNotes      = "Notes"
)

// WriteBooks writes the books as a workbook: a sheet for each list, and before them a
// summary whose figures are formulas over the lists, with charts and with the sheets
// held against one another. Every formula carries its value, so that a reader that does
// not calculate shows the same; programs that do are asked to. Areas are square yards
// for a drive in inches, else square metres. What people wrote is text, never a
// formula. Rows go through as they come: long sheets lie in temporary files, not in
// memory. A list longer than a sheet is an invalid "from".
func WriteBooks(w io.Writer, b drive.Books) error { return writeBooks(w, b, mostRows) }

func writeBooks(w io.Writer, b drive.Books, most int) error {
	file, err := newBook()
	if err != nil {
		return err
	}
	defer file.close()
	if b.Drive.LetterPaper() {
		file.paper = paperLetter
	}
	period := b.From.Format(time.DateOnly) + " to " + b.To.Format(time.DateOnly)
	file.footer = "&L" + printed(b.Drive.Name) + "&C" + period + "&R&P / &N"
	out := book{file: file, books: b, units: unitsOf(b.Drive), tables: map[string]*table{}, tally: newTally()}
	// The summary stands first and is written last, when the lists are known.
	summary, err := file.sheet(sheetSummary)
	if err != nil {
		return err
	}
	for _, name := range []string{sheetRecipients, sheetMonths} {
		if _, err := file.x.NewSheet(name); err != nil {
			return fmt.Errorf("sheet %s: %w", name, err)
		}
	}
	for _, list := range Lists() {
		t := out.table(list.Sheet, most)
		if err := list.write(t, b, out.tally); err != nil {
			return err
		}
	}
	if err := out.recipients(most); err != nil {
		return err
	}
	if err := out.months(most); err != nil {
		return err
	}
	if err := out.summary(summary); err != nil {
		return err
	}
	if err := out.notes(); err != nil {
		return err
	}
	if err := file.x.SetDocProps(&excelize.DocProperties{Title: "The books, " + period, Creator: b.Drive.Name, Created: b.MadeAt.UTC().Format(time.RFC3339)}); err != nil {
		return fmt.Errorf("books: %w", err)
	}
	return file.write(w)
}

// mostPrinted is how many letters of a name stand at the left of a footer: more run into what
// stands in its middle.
const mostPrinted = 40

// printed keeps a name in a footer from being taken for its codes, and cuts what has no room there.
func printed(name string) string {
	if r := []rune(name); len(r) > mostPrinted {
		name = strings.TrimSpace(string(r[:mostPrinted-1])) + "…"
	}
	return strings.ReplaceAll(name, "&", "&&")
}

// book is the books being written: the lists' tables, and what was counted on the way.
type book struct {
	file   *bookFile
	books  drive.Books
	units  bookUnits
	tables map[string]*table
	tally  *tally
}

func (b book) table(name string, most int) *table {
	t := &table{file: b.file, name: name, units: b.units, most: most}
	b.tables[name] = t
	return t
}

// over gives the cells of a column of a list, as formulas of other sheets name them.
// A list or column that is not there is a mistake of ours, and panics.
func (b book) over(sheet, heading string) string {
	t := b.tables[sheet]
	letter, err := letterOf(t.columns, heading)
	if err != nil {
		panic(err)
	}
	return fmt.Sprintf("'%s'!$%s$2:$%s$%d", sheet, letter, letter, t.last())
}

// total is a column's sum as a formula with its value.
func (b book) total(sheet, heading string) formula {
	t := b.tables[sheet]
	for i, c := range t.columns {
		if c.heading == heading {
			return formula{"SUM(" + b.over(sheet, heading) + ")", t.sum(i)}
		}
	}
	panic("books: there is no column " + heading + " in " + sheet)
}

// plus adds formulas and their values.
func plus(fs ...formula) formula {
	texts, sum, whole := make([]string, len(fs)), 0.0, true
	for i, f := range fs {
		texts[i] = f.text
		n, fraction := f.number()
		sum, whole = sum+n, whole && !fraction
	}
	if whole {
		return formula{strings.Join(texts, "+"), int64(sum)}
	}
	return formula{strings.Join(texts, "+"), sum}
}

// minus takes others from the first.
func (f formula) minus(others ...formula) formula {
	o := plus(others...)
	n, fraction := f.number()
	m, other := o.number()
	if fraction || other {
		return formula{f.text + "-(" + o.text + ")", n - m}
	}
	return formula{f.text + "-(" + o.text + ")", int64(n - m)}
}

// number gives what a formula comes to, and whether it is more than a whole number.
func (f formula) number() (n float64, fraction bool) {
	switch v := f.value.(type) {
	case int:
		return float64(v), false
	case int64:
		return float64(v), false
	case float64:
		return v, true
	}
	panic(fmt.Sprintf("books: %s comes to %v, no number", f.text, f.value))
}

// verdict says in words whether two sides agree that differ by this much, in units of per.
func verdict(differ int64, per float64) string { return saysOf(float64(differ) / per) }

func saysOf(differ float64) string {
	if math.Abs(differ) < 0.000001 {
		return agrees
	}
	return "differs by " + strconv.FormatFloat(math.Round(differ*10_000)/10_000, 'f', -1, 64)
}

const agrees = "agrees"

// running is the formula for how long a strip of the lot's width an area is.
func running(area string, d drive.Drive) string {
	per := 36
	if d.Unit.Metric() {
		per = 100
	}
	return fmt.Sprintf(`IF({Usable width}>0,{%s}*%d/{Usable width},"")`, area, per)
}

func runningOf(area length.Area, width length.Length) length.Length {
	return length.Length(int64(area) / int64(width))
}
