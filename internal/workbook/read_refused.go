package workbook

import (
	"encoding/csv"
	"fmt"
	"io"
	"strings"

	"boltward/internal/drive"
)

// WriteRefused writes the rows that were refused as they stood, with what is
// wrong in a last column, so that they can be mended and brought again. Text that
// a spreadsheet could take for a formula gets a leading apostrophe (OWASP, CSV
// injection); numbers never do.
func WriteRefused(w io.Writer, b Brought, fates []drive.RowFate) error {
	// A byte order mark tells spreadsheets that this is UTF-8.
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return fmt.Errorf("refused rows: %w", err)
	}
	out := csv.NewWriter(w)
	width := len(b.Heading.Cells)
	write := func(line Line, last string) error {
		cells := make([]string, width, width+1)
		for i := range cells {
			cells[i] = safeCell(line.cell(i))
		}
		return out.Write(append(cells, safeCell(last)))
	}
	if err := write(b.Heading, "Why it was refused"); err != nil {
		return fmt.Errorf("refused rows: %w", err)
	}
	for i, f := range fates {
		if f.Fate != drive.FateRefused {
			continue
		}
		why := f.Faults[0].Column + ": " + f.Why()
		if err := write(b.Lines[i], why); err != nil {
			return fmt.Errorf("refused rows: %w", err)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("refused rows: %w", err)
	}
	return nil
}

// safeCell keeps a cell from being taken for a formula.
func safeCell(s string) string {
	if s == "" || !strings.ContainsRune("=+-@\t\r\n", rune(s[0])) {
		return s
	}
	if strings.Trim(s, "+-0123456789.,") == "" {
		return s // a number
	}
	return "'" + s
}
