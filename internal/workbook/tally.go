package workbook

import (
	"slices"
	"strings"
	"unicode/utf8"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// TallyColumns are the columns of a paper tally in the order they stand on it.
func TallyColumns() []Column {
	return []Column{
		{Field: "tag", Name: "Tag"},
		{Field: "donor", Name: "Given by"},
		{Field: "pieces", Name: "Pieces"},
		{Field: "kind", Name: "What it is"},
		{Field: "length", Name: "Length"},
		{Field: "width", Name: "Width"},
		{Field: "print", Name: "Print"},
		{Field: "turn", Name: "How it lies"},
		{Field: "colours", Name: "Colours"},
		{Field: "themes", Name: "Themes"},
		{Field: "fibre", Name: "Fibre"},
		{Field: "washed", Name: "Washed"},
		{Field: "flaws", Name: "Flaws"},
		{Field: "shelf", Name: "Shelf"},
		{Field: "set_aside", Name: "Set aside"},
		{Field: "note", Name: "Note"},
	}
}

// TallyRow is one row of a tally: its number on the sheet and its cells by field.
type TallyRow struct {
	Number int
	Cells  map[string]string
}

// Tally reads rows typed in from paper as Read reads a list of fabric: lengths as
// people write them, words by any of their usual names. Columns in the faults are
// the fields themselves. S, T and F stand for the kinds of print.
func Tally(rows []TallyRow, t Terms) []drive.Incoming[drive.LotIn] {
	at, columns := map[string]int{}, map[string]string{}
	for i, c := range TallyColumns() {
		at[c.Field], columns[c.Field] = i, c.Field
	}
	out := make([]drive.Incoming[drive.LotIn], 0, len(rows))
	for _, row := range rows {
		line := Line{Number: row.Number}
		for _, c := range TallyColumns() {
			cell := strings.Join(strings.Fields(row.Cells[c.Field]), " ")
			if c.Field == "print" {
				cell = printLetter(cell)
			}
			line.Cells = append(line.Cells, cell)
		}
		r := entry{found: found{at: at, columns: columns}, line: line, d: t.Drive}
		in := drive.LotIn{Columns: columns, Tagging: r.tagging(t.Today)}
		in.Measured = r.measured(&in.Tagging, t.BorderDepth)
		r.judgeCells(fabricList())
		out = append(out, drive.Incoming[drive.LotIn]{Line: row.Number, Value: in, Faults: r.faults, Notes: r.notes})
	}
	return out
}

func printLetter(cell string) string {
	switch strings.ToLower(cell) {
	case "s":
		return drive.PrintSolid
	case "t":
		return drive.PrintTonal
	case "f":
		return drive.PrintFeature
	}
	return cell
}

// Pasted reads rows copied from a spreadsheet, with a line of headings or in the
// order of a tally, and gives their cells by field. It refuses, on the field paste,
// what is no text, what a tally has no room for, and cells under headings that
// nobody knows: nothing is left out silently.
func Pasted(text string) ([]map[string]string, error) {
	if !utf8.ValidString(text) {
		return nil, apperr.Invalid("paste", "This is no text. Copy the cells in the spreadsheet and paste them here.")
	}
	lines := splitPasted(text)
	if len(lines) == 0 {
		return nil, nil
	}
	var fields []string
	for _, c := range TallyColumns() {
		fields = append(fields, c.Field)
	}
	if named := pastedHeadings(lines[0]); named != nil {
		fields, lines = named, lines[1:]
	}
	rows := make([]map[string]string, 0, len(lines))
	for _, line := range lines {
		row := map[string]string{}
		for i, cell := range line {
			switch {
			case cell == "":
			case i >= len(fields) || fields[i] == "":
				return nil, apperr.Invalid("paste", "It is not known where %q belongs: a tally has no such column. Take that column away, or bring the list as a spreadsheet.", short(cell, 40))
			default:
				row[fields[i]] = cell
			}
		}
		rows = append(rows, row)
	}
	if len(rows) > drive.MostTally {
		return nil, apperr.Invalid("paste", "These are %d rows; up to %d are typed in at once. Paste fewer, or bring the list as a spreadsheet.", len(rows), drive.MostTally)
	}
	return rows, nil
}

// pastedHeadings gives the fields of a line of headings; nil where it is none. A
// heading that a tally has no column for is left empty.
func pastedHeadings(line []string) []string {
	list := fabricList()
	fields, known := make([]string, len(line)), 0
	for i, cell := range line {
		name, _, _ := meaning(cell, list.fields)
		if name != "" && slices.ContainsFunc(TallyColumns(), func(c Column) bool { return c.Field == name }) && !slices.Contains(fields, name) {
			fields[i] = name
			known++
		}
	}
	if known < 2 {
		return nil
	}
	return fields
}

// splitPasted parts what a spreadsheet puts on the clipboard: a line a row, a tab
// between cells, and quotes round cells that hold either.
func splitPasted(text string) [][]string {
	var rows [][]string
	var row []string
	var cell strings.Builder
	quoted := false
	endCell := func() {
		row = append(row, strings.Join(strings.Fields(cell.String()), " "))
		cell.Reset()
	}
	endRow := func() {
		endCell()
		if strings.Join(row, "") != "" {
			rows = append(rows, row)
		}
		row = nil
	}
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	for i, c := range text {
		switch {
		case quoted && c == '"':
			// A quote inside is written twice; the second adds it and opens again.
			quoted = false
		case quoted:
			cell.WriteRune(c)
		case c == '"' && cell.Len() == 0 && closes(text[i+1:]):
			quoted = true
		case c == '"' && i > 0 && text[i-1] == '"' && cell.Len() > 0:
			cell.WriteByte('"')
			quoted = closes(text[i+1:])
		case c == '\t':
			endCell()
		case c == '\n':
			endRow()
		default:
			cell.WriteRune(c)
		}
	}
	endRow()
	return rows
}

// closes says whether a quoted cell that begins here ends properly: with a quote
// before a tab, a line's end or the end of it all. Else the quote is part of what
// is written, as inches are.
func closes(rest string) bool {
	for i := 0; i < len(rest); i++ {
		if rest[i] != '"' {
			continue
		}
		if i+1 < len(rest) && rest[i+1] == '"' {
			i++
			continue
		}
		return i+1 == len(rest) || rest[i+1] == '\t' || rest[i+1] == '\n'
	}
	return false
}
