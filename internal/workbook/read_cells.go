package workbook

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// entry is one line of a table while it is read; it collects what is wrong with it.
type entry struct {
	found
	line   Line
	d      drive.Drive
	faults []drive.Fault
	notes  []string
}

// text gives the cell of a field, empty where the file has no such column.
func (r *entry) text(name string) string {
	col, ok := r.at[name]
	if !ok {
		return ""
	}
	return r.line.cell(col)
}

// fault notes what is wrong with the cell of a field.
func (r *entry) fault(name, format string, args ...any) {
	column := r.columns[name]
	if column == "" {
		column = name
	}
	r.faults = append(r.faults, drive.Fault{Column: column, Why: fmt.Sprintf(format, args...)})
}

func (r *entry) note(format string, args ...any) {
	r.notes = append(r.notes, fmt.Sprintf(format, args...))
}

// count reads a whole number; none where the cell is empty.
func (r *entry) count(name string) (n int, said bool) {
	cell := r.text(name)
	if cell == "" {
		return 0, false
	}
	plain := strings.TrimSuffix(strings.ReplaceAll(cell, " ", ""), ".0")
	n, err := strconv.Atoi(plain)
	if err != nil || n < 0 || len(plain) > 7 {
		r.fault(name, "%q is no whole number; write one like 3.", short(cell, 40))
		return 0, false
	}
	return n, true
}

// yes reads yes or no; none where the cell is empty.
func (r *entry) yes(name string) (yes, said bool) {
	cell := strings.ToLower(strings.Trim(r.text(name), ". "))
	switch cell {
	case "":
		return false, false
	case "yes", "y", "x", "✓", "✔", "true", "1", "ja", "oui", "done":
		return true, true
	case "no", "n", "-", "–", "false", "0", "nein", "non", "not yet":
		return false, true
	}
	r.fault(name, "%q is neither yes nor no; write one of the two.", short(cell, 40))
	return false, false
}

// words reads a list in lower case, parted by comma, semicolon, slash, plus or "and".
func (r *entry) words(name string) []string {
	cell := r.text(name)
	for _, sign := range []string{"/", "+", "&", " and "} {
		cell = strings.ReplaceAll(cell, sign, ";")
	}
	return drive.Words(cell)
}

// size reads a length; def is the unit of a bare number where the heading names none.
func (r *entry) size(name string, def length.Unit) (length.Length, bool) {
	cell := r.text(name)
	if cell == "" {
		return 0, false
	}
	if unit, ok := r.units[name]; ok {
		def = unit
	}
	l, err := length.Parse(cell, def, length.Down)
	switch {
	case looksLikeDate(cell):
		r.fault(name, "%s looks like a date that the spreadsheet made of what was typed, such as 1-1/2. Make the cell text and type it again.", short(cell, 20))
	case err != nil:
		r.fault(name, "%s", sentence(err))
	case l == 0:
		r.fault(name, "Nothing is no length; leave the cell empty until it is measured.")
	default:
		return l, true
	}
	return 0, false
}

// looksLikeDate says whether a bare number is a day as spreadsheets count them,
// from 2009 to 2064: no cloth is that long in any unit but mm.
func looksLikeDate(cell string) bool {
	n, err := strconv.Atoi(cell)
	return err == nil && n >= 40_000 && n < 60_000
}

// sentence makes an error read as a sentence.
func sentence(err error) string {
	text := err.Error()
	if text == "" {
		return text
	}
	r := []rune(text)
	text = strings.ToUpper(string(r[:1])) + string(r[1:])
	if strings.ContainsRune(".!?", rune(text[len(text)-1])) {
		return text
	}
	return text + "."
}

// day reads a date in the drive's custom; none where the cell is empty.
func (r *entry) day(name string) (*time.Time, bool) {
	cell := r.text(name)
	if cell == "" {
		return nil, false
	}
	day, ok := parseDay(cell, r.d.MonthFirst())
	if !ok {
		r.fault(name, "%q is no date that can be read; write it like 2026-10-24.", short(cell, 40))
		return nil, false
	}
	return &day, true
}

// parseDay reads a date: year first, or in words, or with the day first unless
// monthFirst; or the number by which a spreadsheet counts its days.
func parseDay(s string, monthFirst bool) (time.Time, bool) {
	s = strings.TrimSpace(s)
	if n, err := strconv.ParseFloat(s, 64); err == nil && n >= 20_000 && n < 80_000 {
		// Day 1 is 1 January 1900, and a 29 February 1900 that never was is counted.
		return time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(n)), true
	}
	if i := strings.IndexAny(s, "T"); i == 10 {
		s = s[:10]
	}
	s = strings.TrimSuffix(s, " 00:00:00")
	numbers := []string{"2.1.2006", "2/1/2006", "2-1-2006", "2.1.06", "2/1/06"}
	if monthFirst {
		numbers = []string{"1/2/2006", "1-2-2006", "1/2/06", "2.1.2006", "2.1.06"}
	}
	words := []string{"2006-1-2", "2006/1/2", "2006.1.2", "2 Jan 2006", "2 January 2006", "Jan 2 2006", "January 2 2006", "2-Jan-2006", "2-Jan-06", "2 Jan 06"}
	plain := strings.Join(strings.Fields(strings.ReplaceAll(s, ",", " ")), " ")
	for _, layout := range append(words, numbers...) {
		if day, err := time.Parse(layout, plain); err == nil {
			return day, true
		}
	}
	return time.Time{}, false
}
