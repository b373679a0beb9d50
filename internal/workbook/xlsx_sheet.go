package workbook

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// sheetRows reads one sheet, row by row.
type sheetRows struct {
	x      *xlsx
	g      *Grid
	row    int
	col    int // of the cell, from 0
	cells  []string
	wrong  map[int]string
	kind   string
	style  int
	value  strings.Builder
	inline bool // the value stands in the cell itself
	made   bool // by a formula
	aloud  bool
	merged []span
}

// span is a merged cell: columns from 0, rows as in the file, both ends counted.
type span struct{ left, top, right, bottom int }

// readSheet reads a sheet. What goes over a limit of the grid is kept as the
// grid's own trouble, since nobody may want that sheet.
func (x *xlsx) readSheet(g *Grid, part string) error {
	s := &sheetRows{x: x, g: g}
	err := x.each(part, s.visit)
	if g.trouble != nil && errors.Is(err, g.trouble) {
		return nil
	}
	if err != nil {
		return err
	}
	return x.merge(g, s.merged)
}

func (s *sheetRows) visit(w *xmlWalk) error {
	switch {
	case w.opens("row"):
		return s.begin(w.attr("r"))
	case w.opens("c"):
		return s.cell(w)
	case w.opens("f"):
		s.made = true
	case w.opens("rPh"):
		s.aloud = true
	case w.closes("rPh"):
		s.aloud = false
	case w.within("v"), w.within("t") && s.inline && !s.aloud:
		if s.value.Len() <= maxCell {
			s.value.Write(w.text())
		}
	case w.closes("c"):
		return s.keep()
	case w.closes("row"):
		return s.end()
	case w.opens("mergeCell"):
		return s.merge(w.attr("ref"))
	}
	return nil
}

func (s *sheetRows) begin(number string) error {
	row := s.row + 1
	if number != "" {
		n, err := strconv.Atoi(number)
		if err != nil || n <= s.row {
			return errBroken
		}
		row = n
	}
	if row > maxXLSXRow {
		return errBroken
	}
	s.row, s.col, s.cells, s.wrong = row, -1, s.cells[:0], nil
	return nil
}

func (s *sheetRows) cell(w *xmlWalk) error {
	if err := s.x.hold(1, 0); err != nil {
		return err
	}
	s.col++
	if ref := w.attr("r"); ref != "" {
		col, row, ok := cellRef(ref)
		if !ok || row != s.row || col < s.col {
			return errBroken
		}
		s.col = col
	}
	s.kind, s.style, s.made, s.aloud = w.attr("t"), -1, false, false
	s.inline = s.kind == "inlineStr"
	s.value.Reset()
	if style := w.attr("s"); style != "" {
		n, err := strconv.Atoi(style)
		if err != nil {
			return errBroken
		}
		s.style = n
	}
	return nil
}

// keep puts the value of a cell into the row.
func (s *sheetRows) keep() error {
	value, err := s.text()
	if err != nil {
		return err
	}
	switch {
	case s.made && value == "" && s.kind != "str":
		s.fault("A formula stands here and not what it comes to. Save the file in the spreadsheet program once more, or type the value.")
		value = "="
	case value == "":
		return nil
	}
	if s.col > maxColumns {
		// One more than may be is enough to be told of.
		s.col = maxColumns
	}
	if err := s.x.hold(max(s.col-len(s.cells), 0), len(value)); err != nil {
		return err
	}
	for len(s.cells) < s.col {
		s.cells = append(s.cells, "")
	}
	if len(s.cells) == s.col {
		s.cells = append(s.cells, value)
	}
	return nil
}

func (s *sheetRows) fault(why string) {
	if s.wrong == nil {
		s.wrong = map[int]string{}
	}
	s.wrong[s.col] = why
}

func (s *sheetRows) text() (string, error) {
	value := s.value.String()
	switch s.kind {
	case "s":
		n, err := strconv.Atoi(strings.TrimSpace(value))
		if value == "" {
			return "", nil
		}
		if err != nil || n < 0 || n >= len(s.x.texts) {
			return "", errBroken
		}
		return s.x.texts[n], nil
	case "inlineStr", "str":
		return unescaped(value), nil
	case "b":
		return map[string]string{"1": "TRUE", "0": "FALSE"}[value], nil
	case "d":
		return strings.TrimSuffix(value, "T00:00:00"), nil
	case "", "n":
		if s.style >= 0 && s.style < len(s.x.dates) && s.x.dates[s.style] {
			return dayOfSerial(value, s.x.days1904), nil
		}
		return tidyNumber(value), nil
	}
	return value, nil
}

func (s *sheetRows) end() error {
	line := Line{Number: s.row, Cells: slices.Clone(s.cells), wrong: s.wrong}
	if err := s.g.add(line); err != nil {
		s.g.trouble = err
		return err
	}
	return nil
}

func (s *sheetRows) merge(ref string) error {
	from, to, ok := strings.Cut(ref, ":")
	left, top, ok1 := cellRef(from)
	right, bottom, ok2 := cellRef(to)
	if !ok || !ok1 || !ok2 || right < left || bottom < top {
		return errBroken
	}
	s.merged = append(s.merged, span{left, top, right, bottom})
	return nil
}

// cellRef reads AB12 as column 27, counted from 0, and row 12.
func cellRef(ref string) (col, row int, ok bool) {
	i := 0
	for i < len(ref) && i < 3 && ref[i]|0x20 >= 'a' && ref[i]|0x20 <= 'z' {
		col = col*26 + int(ref[i]|0x20-'a') + 1
		i++
	}
	row, err := strconv.Atoi(ref[i:])
	return col - 1, row, i > 0 && err == nil && row > 0 && row <= maxXLSXRow
}

// dayOfSerial gives the day, or below one the time, that a number stands for:
// day 1 is 1 January 1900, and a 29 February 1900 that never was is counted; of days
// from 1904 it is 2 January of that year.
func dayOfSerial(value string, days1904 bool) string {
	n, err := strconv.ParseFloat(value, 64)
	if err != nil || n < 0 || n >= 2_958_466 {
		return value
	}
	if n < 1 {
		return time.Time{}.Add(time.Duration(n * 24 * float64(time.Hour)).Round(time.Minute)).Format("15:04")
	}
	if days1904 {
		n += 1462
	}
	epoch := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if n < 60 {
		epoch = epoch.AddDate(0, 0, 1)
	}
	return epoch.AddDate(0, 0, int(n)).Format(time.DateOnly)
}

// tidyNumber gives a number as it was typed: spreadsheets keep 2.3 as
// 2.2999999999999998, which holds 15 digits truly and no more.
func tidyNumber(cell string) string {
	if strings.Trim(cell, "0123456789.eE+-") != "" || len(cell) < 16 && !strings.ContainsAny(cell, "eE") || !strings.ContainsAny(cell, ".eE") {
		return cell
	}
	n, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return cell
	}
	short, err := strconv.ParseFloat(strconv.FormatFloat(n, 'g', 15, 64), 64)
	if err != nil {
		return cell
	}
	return strconv.FormatFloat(short, 'f', -1, 64)
}

// unescaped gives the characters that a workbook writes as _x000D_.
func unescaped(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	var out strings.Builder
	for i := 0; i < len(s); i++ {
		if i+7 <= len(s) && s[i] == '_' && s[i+1] == 'x' && s[i+6] == '_' {
			if n, err := strconv.ParseUint(s[i+2:i+6], 16, 16); err == nil {
				if utf8.ValidRune(rune(n)) {
					out.WriteRune(rune(n))
				}
				i += 6
				continue
			}
		}
		out.WriteByte(s[i])
	}
	return out.String()
}
