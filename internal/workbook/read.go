package workbook

import (
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// Brought is a file as it was understood, whatever it is a list of.
type Brought struct {
	drive.Bringing
	Sheet   string // the sheet it was found on; empty for CSV
	Heading Line
	Matches []Match
	Lines   []Line // as they stand in the file, beside the rows
}

// Terms are what reading depends on besides the file.
type Terms struct {
	Drive       drive.Drive
	Today       time.Time     // stands in for a date that is not given
	BorderDepth length.Length // of a border strip where the file says none; 0 leaves borders on
}

// Read opens a file and reads it as a list of this kind. It refuses on the field
// "file"; what is wrong with single rows stands with them.
func Read(kind drive.BringKind, content []byte, t Terms) (Brought, error) {
	book, err := Open(content)
	if err != nil {
		return Brought{}, err
	}
	b := Brought{Bringing: drive.Bringing{Kind: kind}}
	switch kind {
	case drive.BringPeople:
		r, err := book.People(t.Drive)
		b.People = r.Rows
		return about(b, r), err
	case drive.BringAsked:
		r, err := book.Asked(t.Drive)
		b.Asked = r.Rows
		return about(b, r), err
	case drive.BringDonors:
		r, err := book.Donors(t.Drive)
		b.Donors = r.Rows
		return about(b, r), err
	default:
		r, err := book.Fabric(t.Drive, t.Today, t.BorderDepth)
		b.Fabric = r.Rows
		return about(b, r), err
	}
}

func about[T any](b Brought, r Reading[T]) Brought {
	b.Sheet, b.Heading, b.Matches, b.Lines = r.Sheet, r.Heading, r.Matches, r.Lines
	return b
}
