package workbook

import (
	"encoding/csv"
	"fmt"
	"io"
	"iter"
	"strconv"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// ShelfLine is a lot as the list of the shelf has it. Width and Length are those
// of its largest free piece.
type ShelfLine struct {
	drive.Lot
	DonorName string
	Pieces    int
	Width     length.Length
	Length    length.Length
	Whole     length.Length // of all its free pieces, one after the other
	Free      length.Area
	Promised  length.Area
	Makes     drive.InRows
}

// code is under which the lot is brought into another drive: its tag, or where it lay. Beside tags
// a bare number could be taken for one, and beside the name of a drive no spreadsheet takes it for a day.
func (l ShelfLine) code(d drive.Drive) string {
	if l.Tag != nil {
		return *l.Tag
	}
	of := fmt.Sprintf(" lot %d", l.Number)
	return d.ID[:min(len(d.ID), drive.LongestTag-len(of))] + of
}

// WriteShelf writes the list of the shelf as CSV (RFC 4180), lengths as decimal
// numbers in the drive's units, under headings that a list of fabric is brought in by: with all pieces
// of a lot that waits to be measured, but without sizes, which are of its largest piece alone. size names
// what the last two columns count; they are left out where it is empty.
func WriteShelf(w io.Writer, d drive.Drive, size string, lines []ShelfLine) error {
	unit, yardage := string(d.Unit), string(d.Yardage())
	head := []string{
		"Lot", "Tag", "What it is", "Given by", "Came in", "Shelf", "Measured", "Set aside", "Fibre", "Kind of cloth", "Washed", "Print", "Colours", "Themes",
		"Free pieces", "Width of the largest (" + unit + ")", "Length of the largest (" + yardage + ")", "Free, all pieces (" + yardage + ")",
		"Free (" + yardage + "²)", "Promised (" + yardage + "²)", "Note", "Code",
	}
	if size != "" {
		head = append(head, "Makes "+size, "Makes bodies of "+size)
	}
	rows := make([][]string, 0, len(lines))
	for _, l := range lines {
		pieces := l.Pieces
		if !l.Measured() {
			pieces = l.PiecesTold
		}
		row := []string{
			strconv.FormatInt(l.Number, 10), textOf(l.Tag), l.Kind, l.DonorName, l.ReceivedOn.Format(time.DateOnly), l.Shelf, yesNo(l.Measured()), l.SetAside,
			l.Fibre, l.Weight, yesNo(l.Washed), l.Print, strings.Join(l.Colours, ", "), strings.Join(l.Themes, ", "),
			strconv.Itoa(pieces), inUnit(l.Width, d.Unit), inUnit(l.Length, d.Yardage()), inUnit(l.Whole, d.Yardage()),
			squareOf(l.Free, d.Yardage()), squareOf(l.Promised, d.Yardage()), l.Note, l.code(d),
		}
		if size != "" {
			row = append(row, strconv.Itoa(l.Makes.Cases), strconv.Itoa(l.Makes.Bodies))
		}
		rows = append(rows, row)
	}
	return WriteCSV(w, head, rows)
}

// WriteCSV writes a table as CSV that spreadsheets take as it is: UTF-8 with a
// byte order mark, and no text that could be taken for a formula.
func WriteCSV(w io.Writer, head []string, rows [][]string) error {
	return writeCSV(w, head, func(yield func([]string, error) bool) {
		for _, row := range rows {
			if !yield(row, nil) {
				return
			}
		}
	})
}

// writeCSV is WriteCSV for rows that come one by one; it ends with the first error among them.
func writeCSV(w io.Writer, head []string, rows iter.Seq2[[]string, error]) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return fmt.Errorf("csv: %w", err)
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	write := func(row []string) error {
		safe := make([]string, len(row))
		for i, cell := range row {
			safe[i] = safeCell(cell)
		}
		if err := out.Write(safe); err != nil {
			return fmt.Errorf("csv: %w", err)
		}
		return nil
	}
	if err := write(head); err != nil {
		return err
	}
	for row, err := range rows {
		if err != nil {
			return err
		}
		if err := write(row); err != nil {
			return err
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("csv: %w", err)
	}
	return nil
}

func yesNo(is bool) string {
	if is {
		return "yes"
	}
	return "no"
}

func textOf(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

// inUnit writes a length as a number, to a thousandth; empty where there is none.
func inUnit(l length.Length, u length.Unit) string {
	if l == 0 {
		return ""
	}
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(float64(l)/float64(u.Size()), 'f', 3, 64), "0"), ".")
}

// squareOf writes an area as a number, to a thousandth.
func squareOf(a length.Area, u length.Unit) string {
	one := float64(u.Size()) * float64(u.Size())
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(float64(a)/one, 'f', 3, 64), "0"), ".")
}
