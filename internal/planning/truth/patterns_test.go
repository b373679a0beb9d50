package truth

import (
	"slices"
	"strings"

	"boltward/internal/planning"
)

// panelKind is what makes two panels the same: the role and the cut size.
type panelKind struct {
	role          string
	around, along int
}

func kindOf(l planning.Panel) panelKind {
	return panelKind{l.Role, whole(l.Around), whole(l.Along)}
}

func whole(d planning.Decimal) int { return int(d.Rat().Num().Int64()) }

func kindsOf(p *planning.Problem) []panelKind {
	var kinds []panelKind
	for _, c := range p.Cases {
		for _, l := range c.Panels {
			if k := kindOf(l); !slices.Contains(kinds, k) {
				kinds = append(kinds, k)
			}
		}
	}
	return kinds
}

// cutter lists what a piece of cloth can be cut into, by trying every way: stacks, columns and
// strips on every unit of length. It shares nothing with the planner. Vectors of panel counts are
// strings of bytes, one a kind.
type cutter struct {
	kinds []panelKind
	work  int // vectors that may still be formed; below 0 it took too long
}

// patterns lists the vectors of one piece that no other covers.
func (c *cutter) patterns(f *planning.Fabric) []string {
	length, width := whole(f.Length), whole(f.Width)
	type form struct{ w, h, kind int }
	var forms []form
	for i, k := range c.kinds {
		if !slices.Contains(f.Roles, k.role) {
			continue
		}
		if f.Turn != planning.Along {
			forms = append(forms, form{k.around, k.along, i})
		}
		if f.Turn != planning.Across {
			forms = append(forms, form{k.along, k.around, i})
		}
	}
	none := string(make([]byte, len(c.kinds)))
	stack := make([][][]string, width+1)
	for w := range stack {
		stack[w] = make([][]string, length+1)
		for h := range stack[w] {
			list := []string{none}
			for _, x := range forms {
				if x.w <= w && x.h <= h {
					unit := []byte(none)
					unit[x.kind] = 1
					list = c.sums(list, stack[w][h-x.h], []string{string(unit)})
				}
			}
			stack[w][h] = c.uncovered(list)
		}
	}
	strip := make([][]string, length+1)
	for h := range strip {
		row := make([][]string, width+1)
		for w := range row {
			list := []string{none}
			for col := 1; col <= w; col++ {
				list = c.sums(list, row[w-col], stack[col][h])
			}
			row[w] = c.uncovered(list)
		}
		strip[h] = row[width]
	}
	all := make([][]string, length+1)
	for l := range all {
		list := []string{none}
		for h := 1; h <= l; h++ {
			list = c.sums(list, all[l-h], strip[h])
		}
		all[l] = c.uncovered(list)
	}
	return all[length]
}

// sums adds every one of some vectors to every one of others.
func (c *cutter) sums(list, some, others []string) []string {
	if c.work -= len(some) * len(others); c.work < 0 {
		return list
	}
	for _, a := range some {
		for _, b := range others {
			sum := []byte(a)
			for i := range sum {
				sum[i] += b[i]
			}
			list = append(list, string(sum))
		}
	}
	return list
}

// uncovered keeps the vectors that no other covers.
func (c *cutter) uncovered(list []string) []string {
	slices.SortFunc(list, func(a, b string) int { return strings.Compare(b, a) })
	list = slices.Compact(list)
	var out []string
	for _, v := range list {
		if c.work -= len(out); c.work < 0 {
			return list[:1]
		}
		if !slices.ContainsFunc(out, func(u string) bool { return covers(u, v) }) {
			out = append(out, v)
		}
	}
	return out
}

func covers(u, v string) bool {
	for i := range u {
		if u[i] < v[i] {
			return false
		}
	}
	return true
}
