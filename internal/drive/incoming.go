package drive

import (
	"fmt"
	"strings"
)

// Incoming is one row of somebody's spreadsheet as it was understood. A row with
// faults is refused; notes say what was taken for granted.
type Incoming[T any] struct {
	Line   int // in the file, the heading included
	Value  T
	Faults []Fault
	Notes  []string
}

// Fault is what is wrong with a row: under which heading, and what would be right.
type Fault struct {
	Column string
	Why    string
}

// Fate is what becomes of a row.
type Fate string

// The fates of a row. Unchanged is what is here already.
const (
	FateTaken     Fate = "taken"
	FateUnchanged Fate = "unchanged"
	FateRefused   Fate = "refused"
)

// RowFate is the fate of one row and why.
type RowFate struct {
	Line   int
	Fate   Fate
	Faults []Fault
	Notes  []string
}

// ImportReport is what bringing a file in did, or would do.
type ImportReport struct {
	Rows      int       `json:"rows"`
	Taken     int       `json:"taken"`
	Unchanged int       `json:"unchanged"`
	Refused   []Refusal `json:"refused"`
	// Fates has every row in order, for a preview.
	Fates []RowFate `json:"-"`
}

// Refusal is a row that is not taken, under the first column that is wrong.
type Refusal struct {
	Line   int    `json:"line"`
	Column string `json:"column"`
	Why    string `json:"why"`
}

// Good is how many rows are neither refused nor here already: what is taken once
// somebody says "take the good ones".
func (r ImportReport) Good() int { return r.Rows - r.Unchanged - len(r.Refused) }

// WithoutReasons gives the report without what is wrong with the rows.
func (r ImportReport) WithoutReasons() ImportReport {
	refused := make([]Refusal, len(r.Refused))
	for i, f := range r.Refused {
		refused[i] = Refusal{Line: f.Line, Column: f.Column, Why: "This row was refused; look at it in the file."}
	}
	r.Refused = refused
	return r
}

// Report counts fates. With a row refused nothing is taken, unless takeGood.
func Report(fates []RowFate, takeGood bool) ImportReport {
	r := ImportReport{Rows: len(fates), Refused: []Refusal{}, Fates: fates}
	for _, f := range fates {
		switch f.Fate {
		case FateTaken:
			r.Taken++
		case FateUnchanged:
			r.Unchanged++
		case FateRefused:
			r.Refused = append(r.Refused, Refusal{Line: f.Line, Column: f.Faults[0].Column, Why: f.Why()})
		}
	}
	if len(r.Refused) > 0 && !takeGood {
		r.Taken = 0
	}
	return r
}

// Why says in one text what is wrong with a row: the first fault plainly, the
// others under their columns.
func (f RowFate) Why() string {
	var parts []string
	for i, fault := range f.Faults {
		if i == 0 {
			parts = append(parts, fault.Why)
			continue
		}
		parts = append(parts, fault.Column+": "+fault.Why)
	}
	return strings.Join(parts, " ")
}

// judge starts the fate of a row: refused with its faults, else taken until
// something says otherwise.
func judge[T any](row Incoming[T]) RowFate {
	f := RowFate{Line: row.Line, Fate: FateTaken, Notes: row.Notes}
	for _, fault := range row.Faults {
		f.refuse(fault.Column, "%s", fault.Why)
	}
	return f
}

func (f *RowFate) refuse(column, format string, args ...any) {
	f.Fate = FateRefused
	f.Faults = append(f.Faults, Fault{Column: column, Why: fmt.Sprintf(format, args...)})
}

// unchanged leaves what is here as it is. What was taken for granted about the
// row does not matter then; what differs does.
func (f *RowFate) unchanged(differs []string, where string) {
	f.Fate, f.Notes = FateUnchanged, nil
	if len(differs) > 0 {
		f.Notes = []string{fmt.Sprintf("Here already and written otherwise there: %s. What is here stays; change it on the page of %s.", strings.Join(differs, ", "), where)}
	}
}

// seen finds things named twice in one file.
type seen map[string]int

// again says at which line a name stood before, and remembers it.
func (s seen) again(name string, line int) (int, bool) {
	name = strings.ToLower(name)
	if first, ok := s[name]; ok {
		return first, true
	}
	s[name] = line
	return 0, false
}
