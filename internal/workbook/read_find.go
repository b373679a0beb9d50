package workbook

import (
	"slices"
	"strconv"
	"strings"

	"boltward/internal/apperr"
)

// headingWithin is how many lines may stand above the headings: titles, dates, notes.
const headingWithin = 15

// find looks for the line of headings: the one that names most fields, on
// whichever sheet. It refuses a file that does not name the fields in need, and
// asks where several sheets do; what it understood it gives all the same, so that
// somebody can correct it.
func (b *Book) find(l listOf, choice Choice) (found, error) {
	grids, err := b.chosen(choice.Sheet)
	if err != nil {
		return found{}, err
	}
	var best found
	var all []found
	for _, g := range grids {
		t := g.find(l, choice)
		all = append(all, t)
		if best.grid.Name == "" && best.heading.Number == 0 || len(t.at) > len(best.at) {
			best = t
		}
	}
	var fit []string
	for _, t := range all {
		// A sheet that names half as much may hold as much that matters.
		if len(l.missing(t)) == 0 && len(t.rows) > 0 && 2*len(t.at) >= len(best.at) {
			fit = append(fit, strconv.Quote(t.grid.Name))
		}
	}
	switch missing := l.missing(best); {
	case len(fit) > 1:
		return best, apperr.Invalid("sheet", "Several sheets could be meant: %s. Say which.", strings.Join(fit, ", "))
	case best.grid.trouble != nil:
		return best, best.grid.trouble
	case len(best.at) == 0:
		return best, refuse("No line of headings was found for %s. The first line names the columns, such as %s.", l.what, l.someHeads())
	case len(missing) > 0:
		return best, refuse("No column is headed %s. Line %d was read as the headings: %s.",
			strings.Join(missing, " or "), best.heading.Number, strings.Join(shown(best.heading.Cells), ", "))
	case len(best.rows) == 0:
		return best, refuse("There is nothing below the headings on line %d.", best.heading.Number)
	}
	return best, nil
}

// chosen gives the sheets to look at.
func (b *Book) chosen(sheet string) ([]Grid, error) {
	if sheet == "" {
		return b.Grids, nil
	}
	var names []string
	for _, g := range b.Grids {
		if strings.EqualFold(g.Name, sheet) {
			return []Grid{g}, nil
		}
		names = append(names, strconv.Quote(g.Name))
	}
	return nil, apperr.Invalid("sheet", "There is no sheet called %q. The file has %s.", short(sheet, 40), strings.Join(names, ", "))
}

// find looks for the headings of one sheet.
func (g Grid) find(l listOf, choice Choice) found {
	best := found{grid: g}
	for i := 0; i < len(g.Lines); i++ {
		if choice.Heading == 0 && i == headingWithin {
			break
		}
		if choice.Heading > 0 && g.Lines[i].Number != choice.Heading {
			continue
		}
		t := g.match(i, l, choice)
		if best.heading.Number == 0 || len(t.at) > len(best.at) {
			best = t
		}
	}
	if best.heading.Number == 0 && choice.Heading > 0 {
		return g.find(l, Choice{Means: choice.Means})
	}
	return best
}

// missing names the fields in need that no column holds.
func (l listOf) missing(t found) []string {
	var names []string
	for _, f := range l.fields {
		if _, ok := t.at[f.name]; !ok && slices.Contains(l.need, f.name) {
			names = append(names, strconv.Quote(f.heads[0]))
		}
	}
	return names
}

func (l listOf) someHeads() string {
	var heads []string
	for _, f := range l.fields[:min(5, len(l.fields))] {
		heads = append(heads, f.heads[0])
	}
	return strings.Join(heads, ", ")
}

// field gives a field by its name; nil where there is none.
func (l listOf) field(name string) *field {
	for i := range l.fields {
		if l.fields[i].name == name {
			return &l.fields[i]
		}
	}
	return nil
}

// shown keeps a list of headings fit to be repeated in a message.
func shown(cells []string) []string {
	var out []string
	for _, c := range cells {
		if len(out) == 12 {
			return append(out, "…")
		}
		if c != "" {
			out = append(out, short(c, 30))
		}
	}
	return out
}
