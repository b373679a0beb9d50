package workbook

import (
	"strings"
)

// openCSV reads comma, semicolon or tab separated text by RFC 4180, and what
// people's files hold besides: quotes inside a cell that is not quoted (44"),
// a first line sep=; that some spreadsheets write, any kind of line end.
func openCSV(text string) (*Book, error) {
	c := csvText{text: text, line: 1}
	c.comma = c.hint()
	if c.comma == 0 {
		c.comma = separator(text)
	}
	var g Grid
	for c.at < len(c.text) {
		number := c.line
		cells, err := c.record()
		if err != nil {
			return nil, err
		}
		for i, cell := range cells {
			cells[i] = unquoted(cell)
		}
		if err := g.add(Line{Number: number, Cells: cells}); err != nil {
			return nil, err
		}
	}
	if len(g.Lines) == 0 {
		return nil, refuse("There is nothing in the file.")
	}
	return &Book{Grids: []Grid{g}}, nil
}

// unquoted takes the apostrophe away that keeps a text from being taken for a
// formula, as safeCell writes it.
func unquoted(cell string) string {
	if strings.HasPrefix(cell, "'") && beginsFormula(strings.TrimLeft(cell, "'")) {
		return cell[1:]
	}
	return cell
}

// csvText walks a text, counting its lines as an editor would.
type csvText struct {
	text  string
	at    int
	line  int
	comma byte
}

// hint takes a first line sep=; away and gives its character, or 0.
func (c *csvText) hint() byte {
	if len(c.text) < 5 || !strings.EqualFold(c.text[:4], "sep=") {
		return 0
	}
	comma := c.text[4]
	rest := strings.TrimLeft(c.text[5:], "\r")
	if strings.IndexByte(",;\t|", comma) < 0 || rest != "" && rest[0] != '\n' {
		return 0
	}
	c.at = len(c.text) - len(rest)
	c.newline()
	return comma
}

// record reads one line of cells, which may cover several lines of text.
func (c *csvText) record() ([]string, error) {
	var cells []string
	for {
		cell, err := c.cell()
		if err != nil {
			return nil, err
		}
		if len(cells) < maxColumns+1 {
			cells = append(cells, cell)
		}
		if c.at < len(c.text) && c.text[c.at] == c.comma {
			c.at++
			continue
		}
		c.newline()
		return cells, nil
	}
}

// cell reads up to the next separator or the end of the line.
func (c *csvText) cell() (string, error) {
	begin := c.at
	for c.at < len(c.text) && c.text[c.at] == ' ' {
		c.at++
	}
	if c.at < len(c.text) && c.text[c.at] == '"' {
		return c.quoted()
	}
	c.at = begin
	for c.at < len(c.text) && !c.ends(c.at) {
		c.at++
	}
	return c.text[begin:c.at], nil
}

// quoted reads a cell in quotes. A doubled quote stands for one; a single one
// closes the cell where the cell ends there and is part of the text elsewhere.
func (c *csvText) quoted() (string, error) {
	opened := c.line
	c.at++
	var b strings.Builder
	for c.at < len(c.text) && b.Len() <= maxCell {
		ch := c.text[c.at]
		c.at++
		switch {
		case ch != '"':
			// A carriage return alone ends a line as well; before a line feed it is the same end.
			if ch == '\n' || ch == '\r' && (c.at == len(c.text) || c.text[c.at] != '\n') {
				c.line++
			}
			b.WriteByte(ch)
		case c.at < len(c.text) && c.text[c.at] == '"':
			c.at++
			b.WriteByte('"')
		default:
			end := c.at
			for end < len(c.text) && c.text[end] == ' ' {
				end++
			}
			if c.ends(end) {
				c.at = end
				return b.String(), nil
			}
			b.WriteByte('"')
		}
	}
	return "", refuse("The quote that opens a cell on line %d is never closed. Close it, or take it away.", opened)
}

// ends says whether a cell ends at i: at the separator, the end of the line or of the text.
func (c *csvText) ends(i int) bool {
	return i >= len(c.text) || c.text[i] == c.comma || c.text[i] == '\n' || c.text[i] == '\r'
}

// newline passes one end of line of any kind.
func (c *csvText) newline() {
	if c.at < len(c.text) && c.text[c.at] == '\r' {
		c.at++
		if c.at < len(c.text) && c.text[c.at] == '\n' {
			c.at++
		}
		c.line++
		return
	}
	if c.at < len(c.text) && c.text[c.at] == '\n' {
		c.at++
		c.line++
	}
}

// separator finds what parts the cells: whichever of tab, semicolon and comma
// stands equally often, outside quotes, in most of the first lines; among those,
// the one that makes most columns.
func separator(text string) byte {
	var counts [3][]int
	const signs = "\t;,"
	line, inside, blank := [3]int{}, false, true
	end := func() {
		for i := range counts {
			if !blank {
				counts[i] = append(counts[i], line[i])
			}
		}
		line, inside, blank = [3]int{}, false, true
	}
	for i := 0; i < len(text) && len(counts[0]) < 20; i++ {
		b := text[i]
		if b == '\n' || b == '\r' {
			end()
			continue
		}
		blank = false
		if b == '"' {
			inside = !inside
		}
		if at := strings.IndexByte(signs, b); at >= 0 && !inside {
			line[at]++
		}
	}
	end()
	best, most, columns := byte(','), 0, 0
	for i, list := range counts {
		lines, n := usual(list)
		if lines > most || lines == most && n > columns {
			best, most, columns = signs[i], lines, n
		}
	}
	return best
}

// usual gives the count above 0 that most lines share, and how many do.
func usual(counts []int) (lines, n int) {
	seen := map[int]int{}
	for _, c := range counts {
		if c > 0 {
			seen[c]++
			if seen[c] > lines || seen[c] == lines && c > n {
				lines, n = seen[c], c
			}
		}
	}
	return lines, n
}
