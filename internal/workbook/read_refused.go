package workbook

import (
	"encoding/csv"
	"fmt"
	"io"
	"strings"

	"boltward/internal/drive"

	"github.com/xuri/excelize/v2"
)

const whyRefused = "Why it was refused"

// refusedRows gives the headings and the rows that were refused as they stood, with
// what is wrong in a last column, so that they can be mended and brought again. An
// older column of that kind is left out.
func refusedRows(b Brought, fates []drive.RowFate, write func(cells []string) error) error {
	width := len(b.Heading.Cells)
	for i, f := range fates {
		if f.Fate == drive.FateRefused {
			width = max(width, len(b.Lines[i].Cells))
		}
	}
	old := map[int]bool{}
	for col, heading := range b.Heading.Cells {
		old[col] = strings.EqualFold(heading, whyRefused)
	}
	row := func(line Line, last string) error {
		cells := make([]string, 0, width+1)
		for col := range width {
			if !old[col] {
				cells = append(cells, line.cell(col))
			}
		}
		return write(append(cells, last))
	}
	if err := row(b.Heading, whyRefused); err != nil {
		return err
	}
	for i, f := range fates {
		if f.Fate != drive.FateRefused {
			continue
		}
		if err := row(b.Lines[i], f.Faults[0].Column+": "+f.Why()); err != nil {
			return err
		}
	}
	return nil
}

// WriteRefused writes the rows that were refused as CSV. Text that a spreadsheet
// could take for a formula gets a leading apostrophe (OWASP, CSV injection);
// numbers never do.
func WriteRefused(w io.Writer, b Brought, fates []drive.RowFate) error {
	// A byte order mark tells spreadsheets that this is UTF-8.
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return fmt.Errorf("refused rows: %w", err)
	}
	out := csv.NewWriter(w)
	err := refusedRows(b, fates, func(cells []string) error {
		for i := range cells {
			cells[i] = safeCell(cells[i])
		}
		return out.Write(cells)
	})
	out.Flush()
	if err == nil {
		err = out.Error()
	}
	if err != nil {
		return fmt.Errorf("refused rows: %w", err)
	}
	return nil
}

// beginsFormula says whether a spreadsheet could take a text for a formula.
func beginsFormula(s string) bool { return s != "" && strings.IndexByte("=+-@\t\r\n", s[0]) >= 0 }

// safeCell keeps a cell from being taken for a formula. A text that begins with such apostrophes of its
// own gets one more, so that unquoted gives back every text as it was.
func safeCell(s string) string {
	if !beginsFormula(strings.TrimLeft(s, "'")) {
		return s
	}
	// A number has its sign first and no other: +1-555-0101 would be worked out.
	if strings.Trim(s[1:], "0123456789.,") == "" && (s[0] == '+' || s[0] == '-') {
		return s
	}
	return "'" + s
}

// WriteRefusedXLSX writes the rows that were refused as a workbook. Every cell is
// text and stays it, so that no spreadsheet makes a day of a length once more.
func WriteRefusedXLSX(w io.Writer, b Brought, fates []drive.RowFate) error {
	book, err := newBook()
	if err != nil {
		return err
	}
	defer book.close()
	text, why, err := refusedStyles(book)
	if err != nil {
		return err
	}
	sheet, err := book.sheet("Refused")
	if err != nil {
		return err
	}
	if err := sheet.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return fmt.Errorf("refused rows: %w", err)
	}
	at := 0
	err = refusedRows(b, fates, func(cells []string) error {
		at++
		if at == 1 {
			if err := sheet.SetColWidth(1, max(1, len(cells)-1), 16); err != nil {
				return err
			}
			if err := sheet.SetColWidth(len(cells), len(cells), 70); err != nil {
				return err
			}
		}
		row := make([]any, len(cells))
		for i, c := range cells {
			style := text
			switch {
			case at == 1:
				style = book.head
			case i == len(cells)-1:
				style = why
			}
			row[i] = excelize.Cell{StyleID: style, Value: c}
		}
		return sheet.SetRow(fmt.Sprintf("A%d", at), row)
	})
	if err == nil {
		err = sheet.Flush()
	}
	if err != nil {
		return fmt.Errorf("refused rows: %w", err)
	}
	return book.write(w)
}

func refusedStyles(book *bookFile) (text, why int, err error) {
	asText := "@"
	if text, err = book.x.NewStyle(&excelize.Style{CustomNumFmt: &asText}); err != nil {
		return 0, 0, fmt.Errorf("refused rows: %w", err)
	}
	why, err = book.x.NewStyle(&excelize.Style{CustomNumFmt: &asText, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}, Font: &excelize.Font{Color: "A1272B"}})
	if err != nil {
		return 0, 0, fmt.Errorf("refused rows: %w", err)
	}
	return text, why, nil
}
