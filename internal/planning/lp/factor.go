package lp

import "math"

// vector is a sparse vector over a dense array: at most len(idx) entries differ from 0.
type vector struct {
	val []float64
	idx []int32
	in  []bool
}

func (w *vector) grow(n int) {
	for len(w.val) < n {
		w.val = append(w.val, 0)
		w.in = append(w.in, false)
	}
}

func (w *vector) clear() {
	for _, i := range w.idx {
		w.val[i] = 0
		w.in[i] = false
	}
	w.idx = w.idx[:0]
}

func (w *vector) add(i int32, v float64) {
	if !w.in[i] {
		w.in[i] = true
		w.idx = append(w.idx, i)
	}
	w.val[i] += v
}

// collect lists the entries of a dense array that are not tiny.
func (w *vector) collect(n int) {
	w.idx = w.idx[:0]
	for i := 0; i < n; i++ {
		if v := w.val[i]; v != 0 {
			if math.Abs(v) < zeroTol {
				w.val[i] = 0
				w.in[i] = false
				continue
			}
			w.in[i] = true
			w.idx = append(w.idx, int32(i))
		} else {
			w.in[i] = false
		}
	}
}

// factor is the basis matrix as a product: L U E1 … Ek. Rows are numbered as in the
// programme, columns by their position in the basis.
type factor struct {
	m                  int
	pivRow, pivCol     []int32 // by pivot step
	pivVal             []float64
	lStart, uStart     []int32 // by step into the arrays below
	lIdx, uIdx         []int32
	lVal, uVal         []float64 // L: (row, multiplier); U by row: (position, value)
	ucStart, ucIdx     []int32   // U by column: (row, value)
	ucVal              []float64
	stepOfCol          []int32
	etas               []eta
	etaIdx             []int32
	etaVal             []float64
	work               []float64
	rowIdx, colRow     [][]int32
	rowVal             [][]float64
	rowDone, colDone   []bool
	colCount           []int32
	rowQueue, colQueue []int32
	mark               []int32
	byCount            [][]int32
}

type eta struct {
	pos        int32
	start, end int32
	pivot      float64
}

// size tells how many numbers a solve may touch.
func (f *factor) size() int64 {
	return int64(3*f.m + len(f.lIdx) + len(f.uIdx) + len(f.etaIdx))
}

// update records that the column alpha (by position) has replaced the one at pos.
func (f *factor) update(pos int32, alpha *vector) {
	e := eta{pos: pos, start: int32(len(f.etaIdx)), pivot: alpha.val[pos]}
	for _, i := range alpha.idx {
		if v := alpha.val[i]; i != pos && v != 0 {
			f.etaIdx = append(f.etaIdx, i)
			f.etaVal = append(f.etaVal, v)
		}
	}
	e.end = int32(len(f.etaIdx))
	f.etas = append(f.etas, e)
}

// solve replaces a (by row) by B⁻¹a (by position).
func (f *factor) solve(a *vector) {
	row := a.val
	for t := 0; t < f.m; t++ {
		if f.lStart[t] == f.lStart[t+1] {
			continue
		}
		p := row[f.pivRow[t]]
		if p == 0 {
			continue
		}
		for k := f.lStart[t]; k < f.lStart[t+1]; k++ {
			row[f.lIdx[k]] -= float64(f.lVal[k] * p)
		}
	}
	out := f.work[:f.m]
	for t := f.m - 1; t >= 0; t-- {
		q := f.pivCol[t]
		p := row[f.pivRow[t]]
		if p == 0 {
			out[q] = 0
			continue
		}
		v := p / f.pivVal[t]
		out[q] = v
		for k := f.ucStart[t]; k < f.ucStart[t+1]; k++ {
			row[f.ucIdx[k]] -= float64(f.ucVal[k] * v)
		}
	}
	copy(row, out)
	for i := range f.etas {
		e := &f.etas[i]
		v := row[e.pos]
		if v == 0 {
			continue
		}
		v /= e.pivot
		row[e.pos] = v
		for k := e.start; k < e.end; k++ {
			row[f.etaIdx[k]] -= float64(f.etaVal[k] * v)
		}
	}
	a.collect(f.m)
}

// solveT replaces c (by position) by the y (by row) with Bᵀy = c.
func (f *factor) solveT(c *vector) {
	pos := c.val
	for i := len(f.etas) - 1; i >= 0; i-- {
		e := &f.etas[i]
		v := pos[e.pos]
		for k := e.start; k < e.end; k++ {
			if p := pos[f.etaIdx[k]]; p != 0 {
				v -= float64(f.etaVal[k] * p)
			}
		}
		pos[e.pos] = v / e.pivot
	}
	out := f.work[:f.m]
	for t := 0; t < f.m; t++ {
		v := pos[f.pivCol[t]]
		if v == 0 {
			out[f.pivRow[t]] = 0
			continue
		}
		v /= f.pivVal[t]
		out[f.pivRow[t]] = v
		for k := f.uStart[t]; k < f.uStart[t+1]; k++ {
			pos[f.uIdx[k]] -= float64(f.uVal[k] * v)
		}
	}
	for t := f.m - 1; t >= 0; t-- {
		if f.lStart[t] == f.lStart[t+1] {
			continue
		}
		v := out[f.pivRow[t]]
		for k := f.lStart[t]; k < f.lStart[t+1]; k++ {
			if p := out[f.lIdx[k]]; p != 0 {
				v -= float64(f.lVal[k] * p)
			}
		}
		out[f.pivRow[t]] = v
	}
	copy(pos, out)
	c.collect(f.m)
}
