package workbook

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// keptOfRows is how much of a list's rows lies in memory before it goes to a file.
const keptOfRows = 1 << 20

// listRows is the rows of a list as SpreadsheetML (ECMA-376, sheetData). excelize makes
// everything else of the sheet; its own rows cost twice the time, and hold 16 MiB a sheet.
type listRows struct {
	begins []string // of a cell, by column, up to the row's number
	styled []string // of a cell, by column, after it
	xml    []byte
	file   *os.File // nil while nothing had to go there
	placed bool
}

func newListRows(styles []int) (*listRows, error) {
	r := &listRows{}
	for i, style := range styles {
		letter, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return nil, err
		}
		r.begins = append(r.begins, `<c r="`+letter)
		r.styled = append(r.styled, `" s="`+strconv.Itoa(style)+`"`)
	}
	return r, nil
}

func (r *listRows) begin(row string) {
	r.xml = append(append(append(r.xml, `<row r="`...), row...), `">`...)
}

func (r *listRows) end() error {
	r.xml = append(r.xml, `</row>`...)
	if len(r.xml) < keptOfRows {
		return nil
	}
	if r.file == nil {
		file, err := os.CreateTemp("", "boltward-books-")
		if err != nil {
			return err
		}
		r.file = file
	}
	_, err := r.file.Write(r.xml)
	r.xml = r.xml[:0]
	return err
}

// cell writes a cell: a whole number, a number, a text, or nothing, as the value of a
// formula where one is given, which is XML by now.
func (r *listRows) cell(column int, row, formula string, value any) {
	r.xml = append(append(append(r.xml, r.begins[column]...), row...), r.styled[column]...)
	words, said := value.(string)
	switch {
	case formula == "" && said:
		r.xml = append(r.xml, ` t="inlineStr"><is><t`...)
		if said := strings.TrimSpace(words); len(said) != len(words) {
			r.xml = append(r.xml, ` xml:space="preserve"`...)
		}
		r.xml = append(appendText(append(r.xml, '>'), words), `</t></is></c>`...)
		return
	case formula == "":
		r.xml = append(r.xml, '>')
	case said, value == nil:
		r.xml = append(append(append(r.xml, ` t="str"><f>`...), formula...), `</f>`...)
	default:
		r.xml = append(append(append(r.xml, `><f>`...), formula...), `</f>`...)
	}
	switch v := value.(type) {
	case int64:
		r.xml = append(strconv.AppendInt(append(r.xml, `<v>`...), v, 10), `</v>`...)
	case float64:
		r.xml = append(strconv.AppendFloat(append(r.xml, `<v>`...), v, 'f', -1, 64), `</v>`...)
	case string:
		r.xml = append(appendText(append(r.xml, `<v>`...), v), `</v>`...)
	}
	r.xml = append(r.xml, `</c>`...)
}

// appendText adds what people wrote as the text of an element. What XML cannot hold becomes
// U+FFFD, and what looks like a spreadsheet's escape of a character (ECMA-376, ST_Xstring) is
// escaped itself, so that it is read as it was written.
func appendText(to []byte, s string) []byte {
	plain := 0
	for plain < len(s) && s[plain] >= ' ' && s[plain] < utf8.RuneSelf && !strings.ContainsRune(`&<>"'_`, rune(s[plain])) {
		plain++
	}
	to, s = append(to, s[:plain]...), s[plain:]
	if s == "" {
		return to
	}
	var out bytes.Buffer
	for from, i := 0, 0; ; i++ {
		if i == len(s) || escaped(s[i:]) {
			// Nothing can fail that is written to memory.
			_ = xml.EscapeText(&out, []byte(s[from:i]))
			if i == len(s) {
				return append(to, out.Bytes()...)
			}
			out.WriteString("_x005F_")
			from = i + 1
		}
	}
}

// escaped says whether a text begins with _xHHHH_.
func escaped(s string) bool {
	if len(s) < 7 || s[0] != '_' || s[1] != 'x' || s[6] != '_' {
		return false
	}
	_, err := strconv.ParseUint(s[2:6], 16, 16)
	return err == nil
}

// writeTo gives the rows; once, since they are read from the file's begin.
func (r *listRows) writeTo(w io.Writer) error {
	r.placed = true
	if r.file != nil {
		if _, err := r.file.Seek(0, io.SeekStart); err != nil {
			return err
		}
		if _, err := io.Copy(w, r.file); err != nil {
			return err
		}
	}
	_, err := w.Write(r.xml)
	return err
}

func (r *listRows) close() {
	if r.file != nil {
		// A temporary file that stays is swept with the others of its folder.
		_ = r.file.Close()
		_ = os.Remove(r.file.Name())
	}
}

// bookZip is the workbook's file, in which the rows of lists go into their sheets.
type bookZip struct {
	*zip.Writer
	rows map[string]*listRows // by the part of their sheet
}

func (z bookZip) Create(part string) (io.Writer, error) {
	w, err := z.Writer.Create(part)
	if rows := z.rows[part]; rows != nil && err == nil {
		return &rowsPlaced{to: w, rows: rows}, nil
	}
	return w, err
}

func (z bookZip) Close() error {
	for part, rows := range z.rows {
		if !rows.placed {
			return fmt.Errorf("books: there is no room for rows in %s", part)
		}
	}
	return z.Writer.Close()
}

// rowsPlaced puts rows into a sheet behind its first row, the headings.
type rowsPlaced struct {
	to     io.Writer
	rows   *listRows
	before []byte // what came of the sheet until the headings end
}

func (p *rowsPlaced) Write(some []byte) (int, error) {
	if p.rows.placed {
		return p.to.Write(some)
	}
	const ends = "</row>"
	p.before = append(p.before, some...)
	at := bytes.Index(p.before, []byte(ends))
	if at < 0 {
		return len(some), nil
	}
	at += len(ends)
	if _, err := p.to.Write(p.before[:at]); err != nil {
		return 0, err
	}
	if err := p.rows.writeTo(p.to); err != nil {
		return 0, err
	}
	if _, err := p.to.Write(p.before[at:]); err != nil {
		return 0, err
	}
	p.before = nil
	return len(some), nil
}
