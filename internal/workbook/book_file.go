package workbook

import (
	"fmt"
	"io"
	"strings"
	"unicode"

	"github.com/xuri/excelize/v2"
)

// Number formats of the books.
const (
	dayFormat   = "yyyy-mm-dd"
	countFormat = "#,##0"
	areaFormat  = "#,##0.00"
)

// column is one column of a sheet: its heading, its width in characters and
// the format of its numbers.
type column struct {
	heading string
	width   float64
	format  string
}

// formula is a cell that calculates, with the value it comes to.
type formula struct {
	text  string
	value any
}

func calc(text string, value any) formula { return formula{text, value} }

// bookFile is a workbook being written sheet by sheet.
type bookFile struct {
	x            *excelize.File
	styles       map[string]int
	title        int
	head         int
	headOfCounts int
	began        bool
}

func newBook() (*bookFile, error) {
	f := &bookFile{x: excelize.NewFile(), styles: map[string]int{}}
	var err error
	if f.title, err = f.x.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true, Size: 16}}); err != nil {
		return nil, fmt.Errorf("books: %w", err)
	}
	for _, head := range []struct {
		style *int
		side  string
	}{{&f.head, "left"}, {&f.headOfCounts, "right"}} {
		*head.style, err = f.x.NewStyle(&excelize.Style{
			Font:      &excelize.Font{Bold: true},
			Alignment: &excelize.Alignment{WrapText: true, Vertical: "top", Horizontal: head.side},
			Border:    []excelize.Border{{Type: "bottom", Style: 3, Color: "8C8373"}},
		})
		if err != nil {
			return nil, fmt.Errorf("books: %w", err)
		}
	}
	return f, nil
}

// style gives the style of a number format, plain or for a total.
func (f *bookFile) style(format string, total bool) (int, error) {
	key := fmt.Sprint(format, total)
	if id, made := f.styles[key]; made {
		return id, nil
	}
	s := &excelize.Style{}
	if format != "" {
		s.CustomNumFmt = &format
	}
	if !counts(format) {
		s.Alignment = &excelize.Alignment{Horizontal: "left"}
	}
	if total {
		s.Font = &excelize.Font{Bold: true}
		s.Border = []excelize.Border{{Type: "top", Style: 1, Color: "23272C"}}
	}
	id, err := f.x.NewStyle(s)
	if err != nil {
		return 0, fmt.Errorf("books: %w", err)
	}
	f.styles[key] = id
	return id, nil
}

// counts says whether a column of this format holds amounts, which stand at the
// right; days, numbers of things and text stand at the left.
func counts(format string) bool { return format != "" && format != dayFormat }

// sheet adds a sheet; the workbook's first one is there already and is renamed.
func (f *bookFile) sheet(name string) (*excelize.StreamWriter, error) {
	var err error
	if !f.began {
		f.began = true
		err = f.x.SetSheetName("Sheet1", name)
	} else {
		_, err = f.x.NewSheet(name)
	}
	if err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	landscape, wide, tall := "landscape", 1, 0
	if err := f.x.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: &landscape, FitToWidth: &wide, FitToHeight: &tall}); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	fit := true
	if err := f.x.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	stream, err := f.x.NewStreamWriter(name)
	if err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	return stream, nil
}

func (f *bookFile) write(w io.Writer) error {
	full := true
	if err := f.x.SetCalcProps(&excelize.CalcPropsOptions{FullCalcOnLoad: &full}); err != nil {
		return fmt.Errorf("books: %w", err)
	}
	if _, err := f.x.WriteTo(w); err != nil {
		return fmt.Errorf("books: %w", err)
	}
	return nil
}

func (f *bookFile) close() {
	// Only temporary files of long sheets are removed here; the books are written by then.
	_ = f.x.Close()
}

// table is a sheet of rows under a frozen, filtered heading, closed by totals.
type table struct {
	file    *bookFile
	name    string
	stream  *excelize.StreamWriter
	columns []column
	rows    int
}

func (f *bookFile) table(name string, columns []column) (*table, error) {
	stream, err := f.sheet(name)
	if err != nil {
		return nil, err
	}
	t := &table{file: f, name: name, stream: stream, columns: columns}
	if err := stream.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	head := make([]any, len(columns))
	for i, c := range columns {
		if err := stream.SetColWidth(i+1, i+1, c.width); err != nil {
			return nil, fmt.Errorf("sheet %s: %w", name, err)
		}
		head[i] = excelize.Cell{StyleID: f.head, Value: c.heading}
		if counts(c.format) {
			head[i] = excelize.Cell{StyleID: f.headOfCounts, Value: c.heading}
		}
	}
	if err := stream.SetRow("A1", head); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	return t, nil
}

// next is the number of the row that is written next, as formulas name it.
func (t *table) next() int { return t.rows + 2 }

// last is the last row that formulas of the totals cover; an empty table covers
// its first, empty row.
func (t *table) last() int { return max(2, t.rows+1) }

// sum is the total over a column, with the value it comes to.
func (t *table) sum(letter string, value any) formula {
	return calc(fmt.Sprintf("SUM(%s2:%s%d)", letter, letter, t.last()), value)
}

func (t *table) row(cells ...any) error {
	if err := t.put(t.next(), cells, false); err != nil {
		return err
	}
	t.rows++
	return nil
}

// end writes the totals, the filter, the print titles, and closes the sheet.
// The row of the totals has the name SHEET_together, so that formulas elsewhere find it.
func (t *table) end(totals ...any) error {
	at := t.last() + 1
	if err := t.put(at, totals, true); err != nil {
		return err
	}
	if err := t.stream.Flush(); err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	end, err := excelize.CoordinatesToCellName(len(t.columns), t.last())
	if err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	if err := t.file.x.AutoFilter(t.name, "A1:"+end, nil); err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	letter := strings.TrimRightFunc(end, unicode.IsDigit)
	for name, refers := range map[string]string{
		"_xlnm.Print_Titles": t.name + "!$1:$1",
		"_xlnm.Print_Area":   fmt.Sprintf("%s!$A$1:$%s$%d", t.name, letter, at),
	} {
		if err := t.file.x.SetDefinedName(&excelize.DefinedName{Name: name, RefersTo: refers, Scope: t.name}); err != nil {
			return fmt.Errorf("sheet %s: %w", t.name, err)
		}
	}
	return nil
}

func (t *table) put(row int, cells []any, total bool) error {
	out := make([]any, len(cells))
	for i, c := range cells {
		if c == nil && !total {
			continue
		}
		style, err := t.file.style(t.columns[i].format, total)
		if err != nil {
			return err
		}
		cell := excelize.Cell{StyleID: style, Value: c}
		if f, ok := c.(formula); ok {
			cell.Formula, cell.Value = f.text, f.value
		}
		out[i] = cell
	}
	at, err := excelize.CoordinatesToCellName(1, row)
	if err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	if err := t.stream.SetRow(at, out); err != nil {
		return fmt.Errorf("sheet %s, row %d: %w", t.name, row, err)
	}
	return nil
}

// capital gives a word with its first letter large, as headings have it.
func capital(s string) string {
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	r[0] = unicode.ToUpper(r[0])
	return string(r)
}
