package workbook

import (
	"bytes"
	"net/http"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// What a file may hold at most.
const (
	MaxBytes   = 10 << 20
	MaxLines   = 50_000
	maxColumns = 200
	maxCell    = 32_767
	maxUnzip   = 64 << 20
)

// Book is a file as text: one grid for a CSV file, one for each sheet of an xlsx.
type Book struct {
	Grids []Grid
	Note  string // what a person should look at before trusting the text; mostly empty
}

// Grid is one sheet. Lines without anything in them are left out.
type Grid struct {
	Name  string // the sheet's name; empty for CSV
	Lines []Line

	spans   []span // merged cells near the top, where the headings are
	trouble error  // why the sheet cannot be read to its end
}

// Line is one row of cells, with its number in the file from 1. Spaces around
// a cell and empty cells at the end are dropped.
type Line struct {
	Number int
	Cells  []string

	wrong  map[int]string // why a cell cannot be read, by column
	merged map[int]span   // the merged cell that a cell belongs to, by column
}

// cell gives a cell, empty where the line has none.
func (l Line) cell(i int) string {
	if i < 0 || i >= len(l.Cells) {
		return ""
	}
	return l.Cells[i]
}

// Open reads a file by what it holds, not by its name. It refuses, on the field
// "file", what is no spreadsheet, what is too large and what is broken, saying
// where.
func Open(content []byte) (*Book, error) {
	switch {
	case len(content) == 0:
		return nil, refuse("The file is empty.")
	case len(content) > MaxBytes:
		return nil, refuse("The file is larger than 10 MiB. Keep one table of it, without pictures, and save that as CSV.")
	case bytes.HasPrefix(content, []byte("PK\x03\x04")):
		return openXLSX(content)
	case bytes.HasPrefix(content, []byte("\xd0\xcf\x11\xe0")):
		return nil, refuse("This is a spreadsheet in an old form, or one with a password. Save it as .xlsx without a password, or as CSV.")
	}
	if bytes.HasPrefix(content, []byte("%PDF-")) { // which may begin with lines of text
		return nil, notText(content)
	}
	text, guessed, err := decode(content)
	if err != nil {
		return nil, err
	}
	book, err := openCSV(text)
	if err == nil && guessed {
		book.Note = guessNote(text)
	}
	return book, err
}

func refuse(format string, args ...any) error { return apperr.Invalid("file", format, args...) }

// notText names what a file is that is no text.
func notText(content []byte) error {
	kind, _, _ := strings.Cut(http.DetectContentType(content), ";")
	switch {
	case strings.HasPrefix(kind, "image/"):
		return refuse("This is a picture, not a table. Type the figures into a spreadsheet first.")
	case kind == "application/pdf" || bytes.HasPrefix(content, []byte("%PDF")):
		return refuse("This is a PDF, not a table. Ask for the spreadsheet it was made from.")
	}
	return refuse("This is no spreadsheet that can be read here. Save it as .xlsx or as CSV.")
}

// add puts a line into the grid, tidied; it refuses what goes over a limit.
func (g *Grid) add(line Line) error {
	cells := line.Cells
	for i, c := range cells {
		if len(c) > maxCell {
			return refuse("Line %d holds more than 32,767 characters in one cell.", line.Number)
		}
		cells[i] = tidyCell(c)
	}
	for len(cells) > 0 && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	switch {
	case len(cells) == 0:
		return nil
	case len(cells) > maxColumns:
		return refuse("Line %d has more than %d columns. Keep the columns that matter and try again.", line.Number, maxColumns)
	case len(g.Lines) > MaxLines:
		return refuse("There are more than 50,000 lines. Bring them in parts.")
	}
	line.Cells = cells
	g.Lines = append(g.Lines, line)
	return nil
}

// tidyCell drops spaces around a text, and inside it what no keyboard makes:
// control characters, and marks that would turn the writing of a whole page.
func tidyCell(s string) string {
	for i := 0; i < len(s); i++ {
		if s[i] < ' ' || s[i] >= 0x7f {
			s = strings.Map(keyboard, strings.ToValidUTF8(s, "�"))
			break
		}
	}
	return strings.TrimSpace(s)
}

func keyboard(r rune) rune {
	switch {
	case r == '\n' || r == '\t':
		return r
	case r == '\r':
		return '\n'
	case r == '\u00a0' || r == '\u202f' || r == '\u2007':
		return ' '
	case drive.Unseen(r):
		return -1
	}
	return r
}

// Short gives the first cells of a line that hold something, fit for one row of a list.
func (l Line) Short() string {
	var parts []string
	for _, c := range l.Cells {
		if c != "" && len(parts) < 6 {
			parts = append(parts, short(c, 30))
		}
	}
	return strings.Join(parts, " · ")
}
