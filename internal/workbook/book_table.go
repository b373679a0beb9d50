package workbook

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"

	"github.com/xuri/excelize/v2"
)

// formula is a cell that calculates, with the value it comes to.
type formula struct {
	text  string
	value any
}

// table is a sheet of rows under a frozen heading that filters, closed by totals.
type table struct {
	file    *bookFile
	name    string
	units   bookUnits
	most    int // rows, besides headings and totals
	stream  *excelize.StreamWriter
	columns []column
	made    []rowFormula // by column, nil where it holds no formula
	styles  []int
	per     []float64
	sums    []int64
	rows    int
	pages   int // side by side, on paper
	cells   []excelize.Cell
	put     []any
}

// mostRows is what a sheet holds beside its headings and totals.
const mostRows = excelize.TotalRows - 2

// readable is how many characters a page holds side by side that can still be read.
const readable = 240

func (t *table) begin(columns []column) error {
	t.columns, t.made, t.styles = columns, make([]rowFormula, len(columns)), make([]int, len(columns))
	t.per, t.sums, t.cells, t.put = make([]float64, len(columns)), make([]int64, len(columns)), make([]excelize.Cell, len(columns)), make([]any, len(columns))
	var err error
	if t.stream, err = t.file.sheet(t.name); err != nil {
		return err
	}
	if err := t.stream.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	head, wide := make([]any, len(columns)), 0.0
	for i, c := range columns {
		wide += c.width
		if err := t.stream.SetColWidth(i+1, i+1, c.width); err != nil {
			return fmt.Errorf("sheet %s: %w", t.name, err)
		}
		head[i] = excelize.Cell{StyleID: t.file.headOfWords, Value: t.units.title(c)}
		if c.kind.right() {
			head[i] = excelize.Cell{StyleID: t.file.headOfCounts, Value: t.units.title(c)}
		}
		if c.formula != "" {
			if t.made[i], err = compile(c.formula, columns); err != nil {
				return fmt.Errorf("sheet %s: %w", t.name, err)
			}
		}
		if t.styles[i], err = t.file.style(styleOf{format: c.kind.format(), right: c.kind.right(), indent: !c.kind.right()}); err != nil {
			return err
		}
		t.per[i] = t.units.per(c.kind)
	}
	t.pages = 1 + int(wide/readable)
	if err := t.file.x.SetPageLayout(t.name, &excelize.PageLayoutOptions{FitToWidth: &t.pages}); err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	if err := t.stream.SetRow("A1", head, excelize.RowOpts{Height: 48}); err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	return nil
}

func (t *table) row(cells []any) error {
	if t.rows >= t.most {
		return apperr.Invalid("from", "%s: one sheet holds %d rows and there are more in this period. Take a shorter period, or that list as CSV.", t.name, t.most)
	}
	t.rows++
	row := strconv.Itoa(t.rows + 1)
	for i, c := range cells {
		cell := excelize.Cell{StyleID: t.styles[i]}
		t.put[i] = nil
		if n, ok := amount(c); ok {
			t.sums[i] += n
			cell.Value = n
			if t.per[i] != 1 {
				cell.Value = float64(n) / t.per[i]
			}
		} else {
			switch v := c.(type) {
			case string:
				if v == "" && t.made[i] == nil {
					continue
				}
				cell.Value = text(v)
			case time.Time:
				cell.Value = serial(v)
			case *time.Time:
				if v == nil {
					continue
				}
				cell.Value = serial(*v)
			default:
				if t.made[i] == nil {
					continue
				}
			}
		}
		if t.made[i] != nil {
			cell.Formula = t.made[i].at(row)
		}
		t.cells[i] = cell
		t.put[i] = &t.cells[i]
	}
	if err := t.stream.SetRow("A"+row, t.put); err != nil {
		return fmt.Errorf("sheet %s, row %s: %w", t.name, row, err)
	}
	return nil
}

// last is the last row that formulas over the table cover; an empty table covers
// its first, empty row.
func (t *table) last() int { return max(2, t.rows+1) }

// end writes the totals, which follow the filter, the table, and what is printed.
func (t *table) end() error {
	at := t.last() + 1
	for i, c := range t.columns {
		style, err := t.file.style(styleOf{format: c.kind.format(), right: c.kind.right(), total: true, indent: !c.kind.right()})
		if err != nil {
			return err
		}
		cell := excelize.Cell{StyleID: style}
		if i == 0 && slices.ContainsFunc(t.columns, func(c column) bool { return c.total }) {
			cell.Value = "Together"
		}
		if c.total {
			letter, err := excelize.ColumnNumberToName(i + 1)
			if err != nil {
				return fmt.Errorf("sheet %s: %w", t.name, err)
			}
			cell.Formula, cell.Value = fmt.Sprintf("SUBTOTAL(109,%s2:%s%d)", letter, letter, t.last()), t.sum(i)
		}
		t.cells[i] = cell
		t.put[i] = &t.cells[i]
	}
	if err := t.stream.SetRow("A"+strconv.Itoa(at), t.put); err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	letter, err := excelize.ColumnNumberToName(len(t.columns))
	if err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	striped := false
	if err := t.stream.AddTable(&excelize.Table{
		Range: fmt.Sprintf("A1:%s%d", letter, t.last()), Name: "List_" + strings.ReplaceAll(t.name, " ", "_"), StyleName: "TableStyleLight1", ShowRowStripes: &striped,
	}); err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	if err := t.stream.Flush(); err != nil {
		return fmt.Errorf("sheet %s: %w", t.name, err)
	}
	titles := "'%[1]s'!$1:$1"
	if t.pages > 1 {
		titles = "'%[1]s'!$A:$B,'%[1]s'!$1:$1"
	}
	return t.file.prints(t.name, letter, at, fmt.Sprintf(titles, t.name))
}

// prints names what of a sheet is printed, to this cell, and what stands on every page.
func (f *bookFile) prints(sheet, letter string, row int, titles string) error {
	names := map[string]string{"_xlnm.Print_Area": fmt.Sprintf("'%s'!$A$1:$%s$%d", sheet, letter, row)}
	if titles != "" {
		names["_xlnm.Print_Titles"] = titles
	}
	for name, refers := range names {
		if err := f.x.SetDefinedName(&excelize.DefinedName{Name: name, RefersTo: refers, Scope: sheet}); err != nil {
			return fmt.Errorf("sheet %s: %w", sheet, err)
		}
	}
	return nil
}

// sum is the total of a column as its cells are written.
func (t *table) sum(i int) any {
	if t.per[i] == 1 {
		return t.sums[i]
	}
	return float64(t.sums[i]) / t.per[i]
}
