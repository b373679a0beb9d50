package workbook

import (
	"slices"
	"sort"
)

// merge gives what stands in a merged cell to each of its lines: a donor written
// once beside five lots gave all five. Which lines those are stays with them, for
// a length so written would be counted five times. Sideways nothing is filled in:
// merged headings are read by their spans.
func (x *xlsx) merge(g *Grid, spans []span) error {
	for _, s := range spans {
		if s.top <= g.lineNumber(headingWithin)+1 {
			if x.merged += min(s.right, maxColumns) - min(s.left, maxColumns) + 1; x.merged > maxMerged {
				return errBroken
			}
			g.spans = append(g.spans, s)
		}
		first := sort.Search(len(g.Lines), func(i int) bool { return g.Lines[i].Number >= s.top })
		if s.top == s.bottom || first == len(g.Lines) || g.Lines[first].Number != s.top || g.Lines[first].cell(s.left) == "" {
			continue
		}
		value := g.Lines[first].cell(s.left)
		for i := first; i < len(g.Lines) && g.Lines[i].Number <= s.bottom; i++ {
			if x.merged++; x.merged > maxMerged {
				return errBroken
			}
			if err := x.hold(max(s.left+1-len(g.Lines[i].Cells), 0), len(value)); err != nil {
				return err
			}
			g.Lines[i].fill(s, value)
		}
	}
	return nil
}

func (l *Line) fill(s span, value string) {
	for len(l.Cells) <= s.left {
		l.Cells = append(l.Cells, "")
	}
	l.Cells[s.left] = value
	if l.merged == nil {
		l.merged = map[int]span{}
	}
	l.merged[s.left] = s
}

// lineNumber is the number in the file of the i-th line, or of the last.
func (g *Grid) lineNumber(i int) int {
	if len(g.Lines) == 0 {
		return 0
	}
	return g.Lines[min(i, len(g.Lines)-1)].Number
}

// headings gives the cells of the i-th line as headings. Where a heading stands on
// two lines, as below merged cells, it is the upper word before the lower, or the
// one there is.
func (g *Grid) headings(i int, known func(string) bool) []string {
	cells := slices.Clone(g.Lines[i].Cells)
	if i == 0 || g.Lines[i-1].Number != g.Lines[i].Number-1 {
		return cells
	}
	above, merged := g.spread(i - 1)
	for len(cells) < len(above) {
		cells = append(cells, "")
	}
	said, strange := 0, 0
	for col, upper := range above {
		switch lower := cells[col]; {
		case lower == "":
			// A title over the whole table is no heading of a column without one.
			if known(upper) || g.Lines[i-1].cell(col) == upper {
				cells[col] = upper
			}
		case known(lower):
			said++
		case upper != lower && known(upper+" "+lower):
			cells[col] = upper + " " + lower
			said++
		default:
			strange++
		}
	}
	// Without merged cells to show it, only a line of nothing but headings is one.
	if !merged && (said < 2 || strange > 0) {
		return g.Lines[i].Cells
	}
	return cells
}

// spread gives the cells of a line with merged ones spread over their columns, and
// says whether there are any.
func (g *Grid) spread(i int) (cells []string, merged bool) {
	line := g.Lines[i]
	cells = slices.Clone(line.Cells)
	for _, s := range g.spans {
		if s.top > line.Number || s.bottom < line.Number {
			continue
		}
		merged = true
		last := min(s.right, maxColumns-1)
		for len(cells) <= last {
			cells = append(cells, "")
		}
		for col := s.left; col <= last; col++ {
			cells[col] = line.cell(s.left)
		}
	}
	return cells, merged
}
