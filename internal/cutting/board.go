package cutting

import (
	"slices"
	"sort"
)

// board holds the best value of every size of part of a sheet.
//
// A size that is worth more than any cut of it in one direction (a panel, or made by a cut in
// the other direction) is called whole in that direction. Every row of parts side by side can
// be taken as a row of whole ones, and the densest of them is worth at least as much for its
// width as the row is for all of its width. So it is enough to try whole parts, densest first,
// until their density falls to what is reached already.
type board[V int32 | int64] struct {
	*sheet
	byY, byX []V    // best by (y, x) and by (x, y); one table where turning the sheet changes nothing
	rows     []line // for each height the widths that are whole
	columns  []line // for each width the heights that are whole; the same lines where turning changes nothing
	turned   bool   // turning the sheet changes nothing
}

// line lists whole parts of one height (or of one width), densest first.
type line []whole

type whole struct {
	density float32 // value for each unit of side, never below the true one
	at      uint16
}

// block is how many widths are filled together, so that their columns stay in the cache.
const block = 48

// newBoard lays out a board with the value of each form at the least size it fits.
func newBoard[V int32 | int64](s *sheet) *board[V] {
	n, m := len(s.x.sizes), len(s.y.sizes)
	b := &board[V]{sheet: s, byY: make([]V, n*m), rows: newLines(m)}
	for i, f := range s.forms {
		at := &b.byY[s.y.fitting(f.H)*n+s.x.fitting(f.W)]
		*at = max(*at, V(s.value[i]))
	}
	if b.turned = slices.Equal(s.x.sizes, s.y.sizes) && symmetric(b.byY, n); b.turned {
		b.byX, b.columns = b.byY, b.rows
		return b
	}
	b.byX, b.columns = make([]V, n*m), newLines(n)
	return b
}

// solve gives the best value of the whole sheet and the tree of its cuts.
func (b *board[V]) solve() (int64, *Cut) {
	b.fill()
	n, m := len(b.x.sizes)-1, len(b.y.sizes)-1
	return int64(b.byY[len(b.byY)-1]), b.rebuild(n, m, 0, 0)
}

// newLines gives short lines room in one piece of memory.
func newLines(n int) []line {
	const room = 8
	all, lines := make([]whole, n*room), make([]line, n)
	for k := range lines {
		lines[k] = all[k*room : k*room : (k+1)*room]
	}
	return lines
}

func symmetric[V int32 | int64](table []V, n int) bool {
	for j := range n {
		for i := range j {
			if table[j*n+i] != table[i*n+j] {
				return false
			}
		}
	}
	return true
}

// fill goes through the sizes, a block of widths at a time, heights ascending in each. Where
// turning changes nothing only sizes no wider than high are worked out.
func (b *board[V]) fill() {
	n, m := len(b.x.sizes), len(b.y.sizes)
	for from := 1; from < n; from += block {
		j := 1
		if b.turned {
			j = from
		}
		for ; j < m; j++ {
			to := min(from+block, n)
			if b.turned {
				to = min(to, j+1)
			}
			for i := from; i < to; i++ {
				b.fillSize(i, j)
			}
		}
	}
}

func (b *board[V]) fillSize(i, j int) {
	n, m := len(b.x.sizes), len(b.y.sizes)
	row, column := b.byY[j*n:(j+1)*n], b.byX[i*m:(i+1)*m]
	w, h := b.x.each[i], b.y.each[j]
	twice := b.turned && i == j
	across, partedAcross := reach(b.rows[j], row, b.x.less[i*n:(i+1)*n], max(row[i], row[i-1], column[j-1]), w)
	best, partedAlong := across, partedAcross
	if !twice {
		best, partedAlong = reach(b.columns[i], column, b.y.less[j*m:(j+1)*m], across, h)
	}
	row[i], column[j] = best, best
	if best > row[i-1] && !(partedAcross && across == best) {
		b.rows[j] = insert(b.rows[j], best, w, i)
	}
	if best > column[j-1] && !partedAlong && !twice {
		b.columns[i] = insert(b.columns[i], best, h, j)
	}
}

// reach raises best to the most that cuts of a side make of two parts of one line, and says
// whether a cut reaches it.
func reach[V int32 | int64](l line, values []V, less []uint16, best V, each float64) (V, bool) {
	parted, enough := false, least(best, each)
	for _, p := range l {
		if p.density <= enough {
			break
		}
		if v := values[p.at] + values[less[p.at]]; v >= best {
			if v > best {
				best, enough = v, least(v, each)
			}
			parted = true
		}
	}
	return best, parted
}

// A density kept is a little too great, one compared with a little too small, so that
// rounding never drops a part that would have won.
const slack = 1e-6

func least[V int32 | int64](value V, each float64) float32 {
	return float32(float64(value) * each * (1 - slack))
}

// insert puts a part into its place.
func insert[V int32 | int64](l line, value V, each float64, at int) line {
	d := float32(float64(value) * each * (1 + slack))
	k := sort.Search(len(l), func(k int) bool { return l[k].density < d })
	return slices.Insert(l, k, whole{d, uint16(at)})
}

// rebuild gives the cuts of the part of a size at x, y.
func (b *board[V]) rebuild(i, j int, x, y int64) *Cut {
	n, m := len(b.x.sizes), len(b.y.sizes)
	best := b.byY[j*n+i]
	for i > 0 && b.byY[j*n+i-1] == best {
		i--
	}
	for j > 0 && b.byY[(j-1)*n+i] == best {
		j--
	}
	c := &Cut{Rect: Rect{x, y, b.x.sizes[i], b.y.sizes[j]}, Form: -1}
	for k, f := range b.forms {
		if V(b.value[k]) == best && f.W <= c.W && f.H <= c.H {
			c.Form, c.W, c.H = b.index[k], f.W, f.H
			return c
		}
	}
	row, less := b.byY[j*n:(j+1)*n], b.x.less[i*n:(i+1)*n]
	for k := 1; k < i; k++ {
		if row[k]+row[less[k]] == best {
			c.Parts = []*Cut{b.rebuild(k, j, x, y), b.rebuild(int(less[k]), j, x+b.x.sizes[k], y)}
			return c
		}
	}
	column, less := b.byX[i*m:(i+1)*m], b.y.less[j*m:(j+1)*m]
	for k := 1; k < j; k++ {
		if column[k]+column[less[k]] == best {
			c.Parts = []*Cut{b.rebuild(i, k, x, y), b.rebuild(i, int(less[k]), x, y+b.y.sizes[k])}
			return c
		}
	}
	return c
}
