package workbook

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/xuri/excelize/v2"
)

// columnKind is what stands in a column, which decides how it is written.
type columnKind int

const (
	words   columnKind = iota // text, of people or ours
	number                    // of a thing: lot 42
	count                     // how many
	areas                     // length.Area, in square yards or metres
	yardage                   // length.Length, in yards or metres
	widths                    // length.Length, in inches or centimetres
	hours                     // minutes, as hours
	days
)

// column is one column of a list.
type column struct {
	heading string
	width   float64 // in characters
	kind    columnKind
	total   bool
	// formula is worked out in every row from other columns of it, {Heading} each;
	// the row gives the value it comes to.
	formula string
}

// minutes is time given, written in hours.
type minutes int

// bookUnits are the units that a drive's books are written in.
type bookUnits struct {
	unit, yardage length.Unit
}

func unitsOf(d drive.Drive) bookUnits { return bookUnits{d.Unit, d.Yardage()} }

// title gives a column's heading with its unit.
func (u bookUnits) title(c column) string {
	switch c.kind {
	case areas:
		return c.heading + " " + string(u.yardage) + "²"
	case yardage:
		return c.heading + " " + string(u.yardage)
	case widths:
		return c.heading + " " + string(u.unit)
	case hours:
		return c.heading + " h"
	default:
		return c.heading
	}
}

// per is how many of a cell's own units make one of the column's. A cell holds a
// binary number by its nature; nothing is computed back from it.
func (u bookUnits) per(k columnKind) float64 {
	switch k {
	case areas:
		return float64(u.yardage.Size()) * float64(u.yardage.Size())
	case yardage:
		return float64(u.yardage.Size())
	case widths:
		return float64(u.unit.Size())
	case hours:
		return 60
	default:
		return 1
	}
}

// amount gives a cell as a whole number of its own units; no where it is none.
func amount(cell any) (n int64, ok bool) {
	switch v := cell.(type) {
	case int:
		return int64(v), true
	case int64:
		return v, true
	case *int:
		if v != nil {
			return int64(*v), true
		}
	case *int64:
		if v != nil {
			return *v, true
		}
	case *length.Length:
		if v != nil {
			return int64(*v), true
		}
	case length.Area:
		return int64(v), true
	case length.Length:
		return int64(v), true
	case minutes:
		return int64(v), true
	}
	return 0, false
}

// format is the number format of a column, empty for text.
func (k columnKind) format() string {
	switch k {
	case count:
		return "#,##0"
	case areas, hours, yardage, widths:
		return "#,##0.00"
	case days:
		return dayFormat
	default:
		return ""
	}
}

// right says whether a column holds amounts, which stand at the right; days,
// numbers of things and text stand at the left.
func (k columnKind) right() bool { return k != words && k != number && k != days }

// dayZero is the day before spreadsheets begin to count, so that 1 is 1900-01-01
// as they have it from March 1900 on.
func dayZero() time.Time { return time.Date(1899, time.December, 30, 0, 0, 0, 0, time.UTC) }

// serial is a day as a spreadsheet counts it.
func serial(day time.Time) int { return int(day.Sub(dayZero()) / (24 * time.Hour)) }

// text gives a cell for what somebody wrote: no longer than a cell can be, which
// is counted in UTF-16 units, with a mark where it had to be cut.
func text(s string) string {
	if len(s) <= excelize.TotalCellChars {
		return s
	}
	units := 0
	for _, r := range s {
		units += utf16.RuneLen(r)
	}
	if units <= excelize.TotalCellChars {
		return s
	}
	const cut = " … (cut here: a cell holds no more; the same list as CSV has all of it)"
	room := excelize.TotalCellChars - len(utf16.Encode([]rune(cut)))
	for i, r := range s {
		if room -= utf16.RuneLen(r); room < 0 {
			return s[:i] + cut
		}
	}
	return s
}

// rowFormula is a formula over columns of its own row, parted where the row's
// number goes.
type rowFormula []string

// compile turns {Heading} into the letters of columns. A heading that is not there
// is a mistake of ours.
func compile(formula string, columns []column) (rowFormula, error) {
	var parts rowFormula
	part := ""
	for rest := formula; rest != ""; {
		before, after, found := strings.Cut(rest, "{")
		part += before
		if !found {
			break
		}
		heading, behind, _ := strings.Cut(after, "}")
		letter, err := letterOf(columns, heading)
		if err != nil {
			return nil, err
		}
		parts = append(parts, part+letter)
		part, rest = "", behind
	}
	return append(parts, part), nil
}

func (f rowFormula) at(row string) string { return strings.Join(f, row) }

func letterOf(columns []column, heading string) (string, error) {
	for i, c := range columns {
		if c.heading == heading {
			return excelize.ColumnNumberToName(i + 1)
		}
	}
	return "", fmt.Errorf("there is no column %q in this list", heading)
}

// plain writes a cell for CSV: days as ISO 8601, amounts as plain decimal numbers,
// text as it is, however long.
func (u bookUnits) plain(k columnKind, cell any) string {
	if n, ok := amount(cell); ok {
		per := u.per(k)
		if per == 1 {
			return strconv.FormatInt(n, 10)
		}
		s := strconv.FormatFloat(float64(n)/per, 'f', 6, 64)
		return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	switch v := cell.(type) {
	case string:
		return safeCell(v)
	case time.Time:
		return v.Format(time.DateOnly)
	case *time.Time:
		return dayOf(v)
	default:
		return ""
	}
}
