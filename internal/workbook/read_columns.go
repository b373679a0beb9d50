package workbook

import (
	"fmt"
	"strings"
	"unicode"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// Match says how a heading of the file was understood.
type Match struct {
	Heading string
	Means   string // what it stands for; empty where the column is left aside
}

// Reading is a table as it was understood: rows in the order of the file, and
// beside each the line it came from.
type Reading[T any] struct {
	Sheet   string // the sheet it was found on; empty for CSV
	Heading Line
	Matches []Match
	Rows    []drive.Incoming[T]
	Lines   []Line
}

// field is something a table may hold, with the headings people write over it.
// The first is the one to use in a new file.
type field struct {
	name  string
	heads []string
	sized bool // lengths: the heading may end with a unit
}

// found is a grid whose headings were matched with fields.
type found struct {
	grid    Grid
	heading Line
	rows    []Line
	at      map[string]int         // column by field
	columns map[string]string      // heading by field
	units   map[string]length.Unit // unit by field, where the heading names one
}

// headingWithin is how many lines may stand above the headings: titles, dates, notes.
const headingWithin = 15

// find looks on every sheet for the line of headings: the one that names most
// fields. It refuses a file that does not name the fields in need.
func (b *Book) find(what string, fields []field, need ...string) (found, error) {
	var best found
	for _, g := range b.Grids {
		for i := 0; i < len(g.Lines) && i < headingWithin; i++ {
			t := matchHeadings(g, i, fields)
			if len(t.at) > len(best.at) {
				best = t
			}
		}
	}
	var missing []string
	for _, f := range fields {
		for _, n := range need {
			if _, ok := best.at[n]; !ok && f.name == n {
				missing = append(missing, fmt.Sprintf("%q", f.heads[0]))
			}
		}
	}
	if len(best.at) == 0 {
		return found{}, refuse("No line of headings was found for %s. The first line names the columns, such as %s.", what, someHeads(fields))
	}
	if len(missing) > 0 {
		return found{}, refuse("No column is headed %s. Line %d was read as the headings: %s.",
			strings.Join(missing, " or "), best.heading.Number, strings.Join(shown(best.heading.Cells), ", "))
	}
	if len(best.rows) == 0 {
		return found{}, refuse("There is nothing below the headings on line %d.", best.heading.Number)
	}
	return best, nil
}

func someHeads(fields []field) string {
	var heads []string
	for _, f := range fields[:min(5, len(fields))] {
		heads = append(heads, f.heads[0])
	}
	return strings.Join(heads, ", ")
}

// shown keeps a list of headings fit to be repeated in a message.
func shown(cells []string) []string {
	var out []string
	for _, c := range cells {
		if len(out) == 12 {
			return append(out, "…")
		}
		if c != "" {
			out = append(out, short(c, 30))
		}
	}
	return out
}

func matchHeadings(g Grid, i int, fields []field) found {
	t := found{grid: g, heading: g.Lines[i], rows: g.Lines[i+1:], at: map[string]int{}, columns: map[string]string{}, units: map[string]length.Unit{}}
	for col, cell := range t.heading.Cells {
		name, unit := meaning(cell, fields)
		if _, taken := t.at[name]; name == "" || taken {
			continue
		}
		t.at[name], t.columns[name] = col, cell
		if unit != "" {
			t.units[name] = unit
		}
	}
	return t
}

// matches says for every heading what it was taken for.
func (t found) matches(fields []field) []Match {
	names := map[int]string{}
	for _, f := range fields {
		if col, ok := t.at[f.name]; ok {
			names[col] = f.heads[0]
		}
	}
	var out []Match
	for col, cell := range t.heading.Cells {
		if cell != "" {
			out = append(out, Match{Heading: cell, Means: names[col]})
		}
	}
	return out
}

// meaning finds the field of a heading, and the unit that a heading such as
// Length (yd), Width in inches or Yardage names.
func meaning(heading string, fields []field) (string, length.Unit) {
	words := plainWords(heading)
	if name := fieldNamed(words, fields, false); name != "" {
		return name, bareUnit(words)
	}
	last := len(words) - 1
	if last < 0 {
		return "", ""
	}
	unit, err := length.ParseUnit(words[last])
	if err != nil {
		return "", ""
	}
	words = words[:last]
	if n := len(words); n > 0 && words[n-1] == "in" {
		words = words[:n-1]
	}
	if name := fieldNamed(words, fields, true); name != "" {
		return name, unit
	}
	return "", ""
}

func fieldNamed(words []string, fields []field, sized bool) string {
	text := strings.Join(words, " ")
	if text == "" {
		return ""
	}
	for _, f := range fields {
		if sized && !f.sized {
			continue
		}
		for _, head := range f.heads {
			if strings.ToLower(head) == text {
				return f.name
			}
		}
	}
	return ""
}

// bareUnit is the unit of a heading that is one: Yards, Metres, Yardage.
func bareUnit(words []string) length.Unit {
	if len(words) != 1 {
		return ""
	}
	if words[0] == "yardage" {
		return length.Yd
	}
	unit, err := length.ParseUnit(words[0])
	if err != nil {
		return ""
	}
	return unit
}

// plainWords are the words of a heading in lower case, without signs.
func plainWords(s string) []string {
	s = strings.NewReplacer(`"`, " in ", "″", " in ").Replace(strings.ToLower(s))
	return strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'' })
}

// short cuts a text to n characters for a message.
func short(s string, n int) string {
	r := []rune(strings.Join(strings.Fields(s), " "))
	if len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return string(r)
}
