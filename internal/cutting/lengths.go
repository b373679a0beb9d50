package cutting

import (
	"math"
	"slices"
)

// lengths says, for sheets of one width, what every part of some counts takes.
type lengths struct {
	longest int64   // no sheet considered is longer
	ways    [][]way // by part: strips that hold it, the narrower the higher
	height  []int64 // by part: the least height of such a strip
	length  []int64 // by part: the least length of a sheet that gives it
	last    []int   // by part: what the last strip of that sheet gives
}

// way is a strip: its width and height, the part that its last column gives, that column's
// width, and the strip beside it.
type way struct {
	w, h   int64
	column int
	wide   int64
	beside int // among the ways of what the column leaves
}

// upright is a column: a part stacked within a width.
type upright struct {
	part int
	w, h int64
}

const never = math.MaxInt64 / 4

func (c *Counts) lengths(width, longest int64) *lengths {
	t := &lengths{longest: longest, ways: make([][]way, len(c.parts))}
	columns := c.columns(width, longest)
	t.ways[0] = []way{{}}
	t.height = append(t.height, 0)
	for p := 1; p < len(c.parts) && c.Work <= c.end; p++ {
		for _, col := range columns[c.first(p)] {
			if col.part > p {
				break
			}
			if !c.within(col.part, p) {
				continue
			}
			for k, r := range t.ways[p-col.part] {
				if w := r.w + col.w; w <= width {
					t.ways[p] = addWay(t.ways[p], way{w, max(r.h, col.h), col.part, col.w, k})
				}
			}
			c.Work += int64(5 * len(t.ways[p-col.part]))
		}
		least := int64(never)
		for _, r := range t.ways[p] {
			least = min(least, r.h)
		}
		t.height = append(t.height, least)
	}
	if c.Work <= c.end {
		t.stackStrips(c)
	}
	return t
}

// columns lists the columns that fit a sheet by the first place they give something at, in
// order of their parts.
func (c *Counts) columns(width, longest int64) [][]upright {
	var widths []int64
	for _, f := range c.forms {
		if f.W <= width {
			widths = append(widths, f.W)
		}
	}
	slices.Sort(widths)
	widths = slices.Compact(widths)
	out := make([][]upright, len(c.place))
	for p := 1; p < len(c.parts); p++ {
		below := int64(never)
		for _, w := range widths {
			h := c.stacked(p, w)
			if h < below && h <= longest {
				out[c.first(p)] = append(out[c.first(p)], upright{p, w, h})
				below = h
			}
		}
	}
	return out
}

// stacked gives the least height of a part in one column.
func (c *Counts) stacked(p int, w int64) int64 {
	var h int64
	for i, n := range c.parts[p] {
		if n == 0 {
			continue
		}
		f := c.lowest(c.place[i], w)
		if f < 0 {
			return never
		}
		h += int64(n) * c.forms[f].H
	}
	return h
}

// lowest gives the lowest form of a kind that is no wider than w, −1 where there is none.
func (c *Counts) lowest(kind int, w int64) int {
	c.Work += int64(len(c.forms))
	best := -1
	for f, k := range c.kind {
		if k == kind && c.forms[f].W <= w && (best < 0 || c.forms[f].H < c.forms[best].H) {
			best = f
		}
	}
	return best
}

// addWay keeps a way that none is both as narrow and as low as.
func addWay(list []way, r way) []way {
	for _, had := range list {
		if had.w <= r.w && had.h <= r.h {
			return list
		}
	}
	list = slices.DeleteFunc(list, func(had way) bool { return r.w <= had.w && r.h <= had.h })
	return append(list, r)
}

// stackStrips finds least lengths from least heights.
func (t *lengths) stackStrips(c *Counts) {
	strips := make([][]int, len(c.place))
	for p := 1; p < len(c.parts); p++ {
		if t.height[p] >= never {
			continue
		}
		more := false // whether a strip of this height could hold more than this
		for i, n := range c.parts[p] {
			more = more || n < c.need[i] && t.height[p+c.step[i]] <= t.height[p]
		}
		if more {
			continue
		}
		for i, n := range c.parts[p] {
			if n > 0 {
				strips[i] = append(strips[i], p)
			}
		}
	}
	t.length, t.last = make([]int64, len(c.parts)), make([]int, len(c.parts))
	for p := 1; p < len(c.parts) && c.Work <= c.end; p++ {
		t.length[p] = never
		for _, g := range strips[c.first(p)] {
			if l := t.length[c.less(p, g)] + t.height[g]; l < t.length[p] {
				t.length[p], t.last[p] = l, g
			}
		}
	}
}

// pattern rebuilds a sheet that gives a part.
func (t *lengths) pattern(c *Counts, p int) Pattern {
	var out Pattern
	for p > 0 {
		g := t.last[p]
		out = append(out, t.strip(c, g))
		p = c.less(p, g)
	}
	return out
}

func (t *lengths) strip(c *Counts, p int) Strip {
	var out Strip
	k := slices.IndexFunc(t.ways[p], func(r way) bool { return r.h == t.height[p] })
	for p > 0 {
		r := t.ways[p][k]
		var column Column
		for i, n := range c.parts[r.column] {
			for range n {
				column = append(column, int32(c.lowest(c.place[i], r.wide)))
			}
		}
		out = append(out, column)
		p, k = p-r.column, r.beside
	}
	return out
}
