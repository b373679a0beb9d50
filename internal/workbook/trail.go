package workbook

import (
	"io"
	"iter"
	"time"
)

// TrailLine is one line of the audit trail, in words.
type TrailLine struct {
	At       time.Time // in the zone it is told in
	Who      string
	Initials string
	Act      string
	Thing    string // the kind of thing
	Which    string // its number
	Name     string
	Changes  string
	Request  string
}

// WriteTrail writes the audit trail as CSV (RFC 4180), line by line as they come.
// Moments are written with their offset (RFC 3339). It fails with the first error
// among the lines.
func WriteTrail(w io.Writer, lines iter.Seq2[TrailLine, error]) error {
	head := []string{"When", "Who", "Initials", "What was done", "To what", "Which", "Name", "What changed", "Request"}
	return writeCSV(w, head, func(yield func([]string, error) bool) {
		for l, err := range lines {
			if !yield([]string{l.At.Format(time.RFC3339), l.Who, l.Initials, l.Act, l.Thing, l.Which, l.Name, l.Changes, l.Request}, err) || err != nil {
				return
			}
		}
	})
}
