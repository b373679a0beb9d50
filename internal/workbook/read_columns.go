package workbook

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// Match says how a column of the file was understood.
type Match struct {
	Key     string // under which a choice about it is kept
	Heading string
	Field   string // what it holds, as Columns names it; empty where the column is left aside
	Means   string // the same in words
	Sample  string // the first cells below the heading
	Chosen  bool   // somebody said so
}

// Choice is what somebody said about how a file is to be read.
type Choice struct {
	Sheet   string            // the sheet; empty for the one that fits
	Heading int               // the line of headings, as numbered in the file; 0 for the one that fits
	Means   map[string]string // what columns hold, by Match.Key; empty for one to leave aside
}

// Reading is a table as it was understood: rows in the order of the file, and
// beside each the line it came from.
type Reading[T any] struct {
	Sheet   string   // the sheet it was found on; empty for CSV
	Sheets  []string // all that hold something
	Heading Line
	Matches []Match
	Rows    []drive.Incoming[T]
	Lines   []Line
}

// field is something a table may hold, with the headings people write over it.
// The first is the one to use in a new file; where several columns could hold it, the one whose
// heading comes first here does.
type field struct {
	name  string
	heads []string
	sized bool // lengths: the heading may end with a unit
	once  bool // a merged cell cannot count for several lines
}

// listOf is what a list may hold, and what it must.
type listOf struct {
	what   string
	fields []field
	need   []string
}

// found is a grid whose headings were matched with fields.
type found struct {
	grid    Grid
	heading Line
	rows    []Line
	at      map[string]int         // column by field
	columns map[string]string      // heading by field
	units   map[string]length.Unit // unit by field, where the heading names one
	matches []Match
}

// match reads the i-th line as headings: first what somebody said about them, then
// what they are called.
func (g Grid) match(i int, l listOf, choice Choice) found {
	heading := g.Lines[i]
	heading.Cells = g.headings(i, func(text string) bool {
		name, _, _ := meaning(text, l.fields)
		return name != ""
	})
	t := found{grid: g, heading: heading, rows: g.Lines[i+1:], at: map[string]int{}, columns: map[string]string{}, units: map[string]length.Unit{}}
	t.matches = t.columnsOf()
	for col := range t.matches {
		m := &t.matches[col]
		name, said := choice.Means[m.Key]
		if f := l.field(name); said && (f != nil || name == "") {
			m.Chosen = true
			if f != nil {
				t.take(col, *f, unitIn(plainWords(short(m.Heading, longestHeading))))
			}
		}
	}
	type guess struct {
		col, rank int
		f         field
		unit      length.Unit
	}
	var guesses []guess
	for col, m := range t.matches {
		name, unit, rank := meaning(m.Heading, l.fields)
		if f := l.field(name); f != nil && !m.Chosen {
			guesses = append(guesses, guess{col, rank, *f, unit})
		}
	}
	slices.SortStableFunc(guesses, func(a, b guess) int { return a.rank - b.rank })
	for _, g := range guesses {
		t.take(g.col, g.f, g.unit)
	}
	t.matches = slices.DeleteFunc(t.matches, func(m Match) bool { return m.Heading == "" && m.Sample == "" })
	return t
}

// take lets a column stand for a field, unless another does already.
func (t *found) take(col int, f field, unit length.Unit) {
	if _, taken := t.at[f.name]; taken {
		return
	}
	m := &t.matches[col]
	m.Field, m.Means = f.name, f.heads[0]
	t.at[f.name], t.columns[f.name] = col, m.Heading
	if m.Heading == "" {
		t.columns[f.name] = capital(m.Key)
	}
	if f.sized && unit != "" {
		t.units[f.name] = unit
	}
}

// columnsOf names every column that has a heading or something below it.
func (t found) columnsOf() []Match {
	first := t.rows[:min(len(t.rows), headingWithin)]
	width := len(t.heading.Cells)
	for _, line := range first {
		width = max(width, len(line.Cells))
	}
	columns := make([]Match, width)
	seen := map[string]int{}
	for col := range columns {
		m := Match{Heading: t.heading.cell(col)}
		var below []string
		for _, line := range first {
			if c := line.cell(col); c != "" && len(below) < 3 {
				below = append(below, short(c, 24))
			}
		}
		m.Sample = strings.Join(below, "; ")
		m.Key = headingKey(m.Heading, col)
		if seen[m.Key]++; seen[m.Key] > 1 {
			m.Key = fmt.Sprintf("%s %d", m.Key, seen[m.Key])
		}
		columns[col] = m
	}
	return columns
}

// longestHeading is how many bytes a heading may have to mean anything.
const longestHeading = 400

// headingKey is a heading as it is compared: the same however it is written. A
// column without one goes by its letter.
func headingKey(heading string, col int) string {
	switch {
	case heading == "":
		return "column " + columnLetter(col)
	case len(heading) > longestHeading:
		return short(heading, 100)
	}
	if key := strings.Join(plainWords(heading), " "); key != "" {
		return short(key, 100)
	}
	return short(heading, 100)
}

func columnLetter(col int) string {
	if col < 26 {
		return string(rune('a' + col))
	}
	return columnLetter(col/26-1) + string(rune('a'+col%26))
}

// meaning finds the field of a heading, the unit that a heading such as
// Length (yd), Width in inches or Yardage names, and where among the field's headings it stands.
func meaning(heading string, fields []field) (name string, unit length.Unit, rank int) {
	if len(heading) > longestHeading {
		return "", "", 0
	}
	words := plainWords(heading)
	if name, rank = fieldNamed(words, fields, false); name != "" {
		return name, bareUnit(words), rank
	}
	last := len(words) - 1
	if last < 0 {
		return "", "", 0
	}
	unit, err := length.ParseUnit(words[last])
	if err != nil {
		return "", "", 0
	}
	words = words[:last]
	if n := len(words); n > 0 && words[n-1] == "in" {
		words = words[:n-1]
	}
	if name, rank = fieldNamed(words, fields, true); name != "" {
		return name, unit, rank
	}
	return "", "", 0
}

func fieldNamed(words []string, fields []field, sized bool) (name string, rank int) {
	text := strings.Join(words, " ")
	if text == "" {
		return "", 0
	}
	for _, f := range fields {
		if sized && !f.sized {
			continue
		}
		for i, head := range f.heads {
			if strings.ToLower(head) == text {
				return f.name, i
			}
		}
	}
	return "", 0
}

// unitIn is the unit that the words of a heading end with.
func unitIn(words []string) length.Unit {
	if unit := bareUnit(words); unit != "" || len(words) == 0 {
		return unit
	}
	unit, err := length.ParseUnit(words[len(words)-1])
	if err != nil {
		return ""
	}
	return unit
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
	var r []rune
	for word := range strings.FieldsSeq(s) {
		if len(r) > 0 {
			r = append(r, ' ')
		}
		for _, letter := range word {
			if r = append(r, letter); len(r) > n {
				return string(r[:n-1]) + "…"
			}
		}
	}
	return string(r)
}
