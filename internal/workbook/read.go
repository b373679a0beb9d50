package workbook

import (
	"slices"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// Brought is a file as it was understood, whatever it is a list of.
type Brought struct {
	drive.Bringing
	Sheet   string   // the sheet it was found on; empty for CSV
	Sheets  []string // all that hold something
	Heading Line
	Matches []Match
	Lines   []Line // as they stand in the file, beside the rows
	Note    string // what was taken for granted of the file as a whole; mostly empty
}

// Terms are what reading depends on besides the file.
type Terms struct {
	Drive       drive.Drive
	Today       time.Time     // stands in for a date that is not given
	BorderDepth length.Length // of a border strip where the file says none; 0 leaves borders on
	Choice      Choice
}

// Column is something that a column of a list may hold.
type Column struct {
	Field  string
	Name   string // the heading to use in a new file
	Needed bool
}

// Columns gives what the columns of a list of this kind may hold.
func Columns(kind drive.BringKind) []Column {
	t := listFor(kind)
	var columns []Column
	for _, f := range t.fields {
		columns = append(columns, Column{f.name, f.heads[0], slices.Contains(t.need, f.name)})
	}
	return columns
}

func listFor(kind drive.BringKind) listOf {
	switch kind {
	case drive.BringPeople:
		return peopleList()
	case drive.BringAsked:
		return askedList()
	case drive.BringDonors:
		return donorList()
	}
	return fabricList()
}

// Read opens a file and reads it as a list of this kind. It refuses on the field
// "file" what cannot be read, and where several sheets could be meant, on the field
// "sheet"; what is wrong with single rows stands with them. Where it was only the
// headings that were not understood, the sheets and columns are given beside the
// error, so that somebody can say what they mean.
func Read(kind drive.BringKind, content []byte, t Terms) (Brought, error) {
	book, err := Open(content)
	if err != nil {
		return Brought{}, err
	}
	b := Brought{Bringing: drive.Bringing{Kind: kind}, Note: book.Note}
	switch kind {
	case drive.BringPeople:
		r, err := book.people(t)
		b.People = r.Rows
		return about(b, r), err
	case drive.BringAsked:
		r, err := book.asked(t)
		b.Asked = r.Rows
		return about(b, r), err
	case drive.BringDonors:
		r, err := book.donors(t)
		b.Donors = r.Rows
		return about(b, r), err
	default:
		r, err := book.fabric(t)
		b.Fabric = r.Rows
		return about(b, r), err
	}
}

func about[T any](b Brought, r Reading[T]) Brought {
	b.Sheet, b.Sheets, b.Heading, b.Matches, b.Lines = r.Sheet, r.Sheets, r.Heading, r.Matches, r.Lines
	return b
}

// read finds the headings and reads every line below them.
func read[T any](b *Book, l listOf, terms Terms, line func(*entry) T) (Reading[T], error) {
	t, err := b.find(l, terms.Choice)
	out := Reading[T]{Sheet: t.grid.Name, Heading: t.heading, Matches: t.matches}
	for _, g := range b.Grids {
		if g.Name != "" {
			out.Sheets = append(out.Sheets, g.Name)
		}
	}
	if err != nil {
		return out, err
	}
	out.Lines, out.Rows = t.rows, make([]drive.Incoming[T], 0, len(t.rows))
	for _, row := range t.rows {
		r := entry{found: t, line: row, d: terms.Drive}
		value := line(&r)
		r.judgeCells(l)
		out.Rows = append(out.Rows, drive.Incoming[T]{Line: row.Number, Value: value, Faults: r.faults, Notes: r.notes})
	}
	return out, nil
}
