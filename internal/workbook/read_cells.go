package workbook

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

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

// longestCell is how many bytes a cell may have to be read: notes of 2,000
// characters in any writing, which are the longest there are. What is longer costs
// time and memory at every row that refers to it.
const longestCell = 8_000

// text gives the cell of a field, empty where the file has no such column and
// where it is too long to be read, which judgeCells says.
func (r *entry) text(name string) string {
	col, ok := r.at[name]
	if !ok {
		return ""
	}
	cell := r.line.cell(col)
	if len(cell) > longestCell {
		return ""
	}
	return cell
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

// inThousands is a number with spaces between its thousands, as people and spreadsheets write it. Any other
// space stands between two numbers.
var inThousands = regexp.MustCompile(`^[0-9]{1,3}( [0-9]{3})+(\.0)?$`)

// count reads a whole number; none where the cell is empty.
func (r *entry) count(name string) (n int, said bool) {
	cell := r.text(name)
	if cell == "" {
		return 0, false
	}
	plain := strings.TrimSuffix(cell, ".0")
	if inThousands.MatchString(cell) {
		plain = strings.ReplaceAll(plain, " ", "")
	}
	n, err := strconv.Atoi(plain)
	if err != nil || n < 0 || len(plain) > 7 {
		r.fault(name, "%q is no whole number; write one like 3.", short(cell, 40))
		return 0, false
	}
	return n, true
}

// judgeCells finds what is wrong with the cells themselves: errors of the
// spreadsheet, formulas without a value, one cell merged over several lots.
func (r *entry) judgeCells(l listOf) {
	for _, f := range l.fields {
		col, ok := r.at[f.name]
		if !ok {
			continue
		}
		why, cell := r.line.wrong[col], r.line.cell(col)
		if why == "" && len(cell) > longestCell {
			why = "This is longer than anything that belongs here. Write 2,000 characters at most."
		}
		if why == "" && spreadsheetError(cell) {
			why = cell + " is an error of the spreadsheet. Mend the cell, or type what belongs there."
		}
		if s, ok := r.line.merged[col]; ok && why == "" {
			if f.once {
				why = fmt.Sprintf("One merged cell stands beside lines %d to %d. Give each line its own, for it cannot be told whether it is meant for one or for all.", s.top, s.bottom)
			} else {
				r.note("%s: the merged cell beside lines %d to %d counts for each of them.", r.columns[f.name], s.top, s.bottom)
			}
		}
		if why != "" {
			column := r.columns[f.name]
			others := slices.DeleteFunc(r.faults, func(f drive.Fault) bool { return f.Column == column })
			r.faults = append([]drive.Fault{{Column: column, Why: why}}, others...)
		}
	}
}

// spreadsheetError says whether a cell holds what spreadsheets show where they
// could not calculate.
func spreadsheetError(cell string) bool {
	switch cell {
	case "#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!":
		return true
	}
	return strings.HasPrefix(cell, "Err:5")
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

// words reads a list as drive.Words does.
func (r *entry) words(name string) []string { return drive.Words(r.text(name)) }

// size reads a length; def is the unit of a bare number where the heading names none.
func (r *entry) size(name string, def length.Unit) (length.Length, bool) {
	cell := r.text(name)
	if cell == "" {
		return 0, false
	}
	if unit, ok := r.units[name]; ok {
		def = unit
	}
	if why, is := looksLikeDay(cell, def, r.d.MonthFirst()); is {
		r.fault(name, "%s", why)
		return 0, false
	}
	l, err := length.Parse(cell, def, length.Down)
	switch {
	case err != nil:
		r.fault(name, "%s", sentence(err))
	case l == 0:
		r.fault(name, "Nothing is no length; leave the cell empty until it is measured.")
	default:
		return l, true
	}
	return 0, false
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
