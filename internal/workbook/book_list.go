package workbook

import (
	"encoding/csv"
	"fmt"
	"io"
	"iter"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// sink takes the rows of a list: a sheet of a workbook, or a CSV file.
type sink interface {
	begin(columns []column) error
	row(cells []any) error
	end() error
}

// List is one list of the books, by the name it has in addresses, files and commands.
type List struct {
	Name  string
	Sheet string // its sheet in the workbook
	About string
	write func(sink, drive.Books, *tally) error
}

// Lists gives every list of the books in the order of their sheets.
func Lists() []List {
	return []List{
		{"asked", "Asked", "What each recipient asked for and how far it has come.", putAsked},
		{"asked-changes", "Asked changes", "What changed of what is asked for, of recipients and their rules, field by field.", putAskedChanges},
		{"fabric", "Fabric", "Each lot's account: opening, what came in and went by its kind, closing.", putFabric},
		{"fabric-entries", "Fabric entries", "Every entry of the fabric ledger in the period.", putFabricEntries},
		{"kits", "Kits", "Each kit, where it is and who has it.", putKits},
		{"kit-entries", "Kit entries", "Every move of a kit in the period.", putKitEntries},
		{"pillowcases", "Pillowcases", "Each line's account: opening, born, ended, closing, by size.", putCases},
		{"pillowcase-states", "States", "What came to and left each state, from planned to confirmed.", putCaseStates},
		{"pillowcase-entries", "Pillowcase entries", "Every entry of the pillowcases ledger in the period.", putCaseEntries},
		{"checks", "Checks", "What was found at the checking table, check by check.", putChecks},
		{"check-reasons", "Reasons", "What was wrong with pillowcases, by reason.", putReasons},
		{"laundry", "Laundry", "What was laundered in which batch, and when it was done.", putLaundry},
		{"deliveries", "Deliveries", "What was sent, confirmed, not received, and what is open.", putDeliveries},
		{"boxes", "Boxes", "The boxes of these deliveries, by line and size.", putBoxes},
		{"gifts", "Gifts", "Who gave what on which day, and whether they were thanked.", putGifts},
		{"people", "People", "Who sews: hours given, pillowcases sewn, kits they have.", putPeople},
		{"hours", "Hours", "Every note of hours in the period.", putHours},
	}
}

// WriteList writes one list of the books as CSV (RFC 4180): UTF-8 with a byte order
// mark, no text that could be taken for a formula, nothing cut. A name that is no
// list's is an invalid "list".
func WriteList(w io.Writer, b drive.Books, name string) error {
	for _, l := range Lists() {
		if l.Name != name {
			continue
		}
		out, err := newCSV(w, unitsOf(b.Drive))
		if err != nil {
			return err
		}
		return l.write(out, b, newTally())
	}
	return apperr.Invalid("list", "There is no list %q in the books.", name)
}

// csvSink writes a list as CSV, without totals: they are no rows of it.
type csvSink struct {
	csv     *csv.Writer
	units   bookUnits
	columns []column
	cells   []string
}

func newCSV(w io.Writer, units bookUnits) (*csvSink, error) {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return nil, fmt.Errorf("csv: %w", err)
	}
	out := &csvSink{csv: csv.NewWriter(w), units: units}
	out.csv.UseCRLF = true
	return out, nil
}

func (s *csvSink) begin(columns []column) error {
	s.columns, s.cells = columns, make([]string, len(columns))
	for i, c := range columns {
		s.cells[i] = s.units.title(c)
	}
	return s.csv.Write(s.cells)
}

func (s *csvSink) row(cells []any) error {
	for i, c := range s.columns {
		s.cells[i] = s.units.plain(c.kind, cells[i])
	}
	return s.csv.Write(s.cells)
}

func (s *csvSink) end() error {
	s.csv.Flush()
	return s.csv.Error()
}

// fill writes rows under their columns. cells appends the cells of a row.
func fill[T any](out sink, rows iter.Seq2[T, error], columns []column, cells func([]any, T) []any) error {
	if err := out.begin(columns); err != nil {
		return err
	}
	var kept []any
	for row, err := range rows {
		if err != nil {
			return err
		}
		kept = cells(kept[:0], row)
		if err := out.row(kept); err != nil {
			return err
		}
	}
	return out.end()
}
