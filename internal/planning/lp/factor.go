package lp

import "math"

// vector is a sparse vector over a dense array. Between solves idx lists the entries that differ
// from 0; what a solve is to begin with is written into val alone.
type vector struct {
	val []float64
	idx []int32
}

func (w *vector) grow(n int) {
	for len(w.val) < n {
		w.val = append(w.val, 0)
	}
	if cap(w.idx) < n {
		w.idx = append(make([]int32, 0, 2*n), w.idx...)
	}
}

func (w *vector) clear() {
	for _, i := range w.idx {
		w.val[i] = 0
	}
	w.idx = w.idx[:0]
}

var tinyBits = math.Float64bits(zeroTol)

// collect lists the first n entries that are not tiny. Which those are is as good as random, so
// it counts without branching.
func (w *vector) collect(n int) {
	val, idx := w.val[:n], w.idx[:n]
	k := 0
	for i, v := range val {
		size := math.Float64bits(v) &^ (1 << 63)
		if size-1 < tinyBits-1 {
			val[i] = 0
		}
		idx[k] = int32(i)
		k += int((tinyBits - 1 - size) >> 63)
	}
	w.idx = idx[:k]
}

// factor is the basis matrix as a product: L U E1 … Ek. Rows are numbered as in the
// programme, columns by their position in the basis.
type factor struct {
	m         int
	steps     []step    // one a pivot
	lower     []stretch // those pivots that took their row from others
	l         []nonzero // rows and multipliers
	u         []nonzero // U by row, without the pivots: positions and values
	uc        []nonzero // U by column, without the pivots: rows and values
	stepOfCol []int32
	etas      []stretch
	builds    int // how often it was made anew
	updates   int // since ever
	eta       []nonzero
	work      []float64

	rowIdx, colRow     [][]int32
	rowVal             [][]float64
	rowDone, colDone   []bool
	colCount           []int32
	rowQueue, colQueue []int32
	place              []int32
	rest               []int32 // columns that searchPivot looks through
	byCount            [][]int32
}

type nonzero struct {
	at  int32
	val float64
}

// step is a pivot of the elimination: where, its value, and where its entries in u and uc end.
type step struct {
	row, col    int32
	val         float64
	uEnd, ucEnd int32
}

// stretch is a part of a list of entries that belongs to one row or position.
type stretch struct {
	at         int32
	start, end int32
	pivot      float64
	number     int // of an update, among all there ever were
}

// size tells how many numbers a solve may touch.
func (f *factor) size() int64 {
	return int64(3*f.m + len(f.l) + len(f.u) + len(f.eta))
}

// update records that the column alpha (by position) has replaced the one at pos.
func (f *factor) update(pos int32, alpha *vector) {
	f.updates++
	e := stretch{at: pos, start: int32(len(f.eta)), pivot: alpha.val[pos], number: f.updates}
	for _, i := range alpha.idx {
		if i != pos {
			f.eta = append(f.eta, nonzero{i, alpha.val[i]})
		}
	}
	e.end = int32(len(f.eta))
	f.etas = append(f.etas, e)
}

// mark is a state of the factorisation that it can go back to until it is made anew or the last of
// its updates is taken away.
type mark struct {
	builds, etas int
	last         int // number of the last update, 0 for none
}

func (f *factor) mark(fits bool) mark {
	if !fits {
		return mark{builds: -1}
	}
	m := mark{builds: f.builds, etas: len(f.etas)}
	if m.etas > 0 {
		m.last = f.etas[m.etas-1].number
	}
	return m
}

// back takes the updates since then away, and reports whether that was still possible.
func (f *factor) back(to mark) bool {
	if f.builds != to.builds || to.etas > len(f.etas) || to.etas > 0 && f.etas[to.etas-1].number != to.last {
		return false
	}
	if to.etas < len(f.etas) {
		f.eta = f.eta[:f.etas[to.etas].start]
		f.etas = f.etas[:to.etas]
	}
	return true
}

// solve replaces a (by row) by B⁻¹a (by position).
func (f *factor) solve(a *vector) {
	f.solveDense(a.val[:f.m])
	a.collect(f.m)
}

// solveDense is solve where no list of what differs from 0 is needed.
func (f *factor) solveDense(row []float64) {
	for i := range f.lower {
		s := &f.lower[i]
		if p := row[s.at]; p != 0 {
			take(row, f.l[s.start:s.end], p)
		}
	}
	out := f.work[:f.m]
	for t := len(f.steps) - 1; t >= 0; t-- {
		s := &f.steps[t]
		p := row[s.row]
		if p == 0 {
			out[s.col] = 0
			continue
		}
		v := p / s.val
		out[s.col] = v
		take(row, f.uc[f.ucStart(t):s.ucEnd], v)
	}
	copy(row, out)
	for i := range f.etas {
		e := &f.etas[i]
		v := row[e.at]
		if v == 0 {
			continue
		}
		v /= e.pivot
		row[e.at] = v
		take(row, f.eta[e.start:e.end], v)
	}
}

// solveT replaces c (by position) by the y (by row) with Bᵀy = c.
func (f *factor) solveT(c *vector) {
	pos := c.val[:f.m]
	for i := len(f.etas) - 1; i >= 0; i-- {
		e := &f.etas[i]
		pos[e.at] = less(pos[e.at], pos, f.eta[e.start:e.end]) / e.pivot
	}
	out := f.work[:f.m]
	start := int32(0)
	for t := range f.steps {
		s := &f.steps[t]
		v := pos[s.col]
		if v != 0 {
			v /= s.val
			take(pos, f.u[start:s.uEnd], v)
		}
		out[s.row] = v
		start = s.uEnd
	}
	for i := len(f.lower) - 1; i >= 0; i-- {
		s := &f.lower[i]
		out[s.at] = less(out[s.at], out, f.l[s.start:s.end])
	}
	copy(pos, out)
	c.collect(f.m)
}

func (f *factor) ucStart(t int) int32 {
	if t == 0 {
		return 0
	}
	return f.steps[t-1].ucEnd
}

// take subtracts by times the entries of list from w.
func take(w []float64, list []nonzero, by float64) {
	for _, e := range list {
		w[e.at] -= float64(e.val * by)
	}
}

// less gives v less the product of w with list.
func less(v float64, w []float64, list []nonzero) float64 {
	var a, b, c, d float64
	for len(list) >= 4 {
		e, f, g, h := list[0], list[1], list[2], list[3]
		a += float64(e.val * w[e.at])
		b += float64(f.val * w[f.at])
		c += float64(g.val * w[g.at])
		d += float64(h.val * w[h.at])
		list = list[4:]
	}
	for _, e := range list {
		a += float64(e.val * w[e.at])
	}
	if v -= (a + b) + (c + d); math.Abs(v) < zeroTol {
		return 0
	}
	return v
}
