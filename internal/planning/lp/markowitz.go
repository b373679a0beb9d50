package lp

import "math"

// build factors the matrix whose columns are given. It returns the positions whose
// columns depend on the others and the rows that are left without a pivot, in pairs;
// both are empty when the matrix is regular.
func (f *factor) build(m int, column func(pos int) []Entry) (badCols, badRows []int32) {
	f.load(m, column)
	f.builds++
	steps := 0
	for steps < m {
		p, q := f.nextPivot()
		if p < 0 {
			break
		}
		f.eliminate(p, q)
		steps++
	}
	if steps < m {
		for i := int32(0); i < int32(m); i++ {
			if !f.colDone[i] {
				badCols = append(badCols, i)
			}
			if !f.rowDone[i] {
				badRows = append(badRows, i)
			}
		}
		return badCols, badRows
	}
	f.turnU()
	return nil, nil
}

func (f *factor) load(m int, column func(pos int) []Entry) {
	f.m = m
	f.steps, f.lower, f.etas = f.steps[:0], f.lower[:0], f.etas[:0]
	f.l, f.u, f.eta = f.l[:0], f.u[:0], f.eta[:0]
	f.rowQueue, f.colQueue = f.rowQueue[:0], f.colQueue[:0]
	for len(f.rowIdx) < m {
		f.rowIdx, f.colRow = append(f.rowIdx, nil), append(f.colRow, nil)
		f.rowVal = append(f.rowVal, nil)
		f.rowDone, f.colDone = append(f.rowDone, false), append(f.colDone, false)
		f.colCount, f.work = append(f.colCount, 0), append(f.work, 0)
		f.place, f.stepOfCol = append(f.place, 0), append(f.stepOfCol, 0)
	}
	for i := 0; i < m; i++ {
		f.rowIdx[i], f.rowVal[i], f.colRow[i] = f.rowIdx[i][:0], f.rowVal[i][:0], f.colRow[i][:0]
		f.rowDone[i], f.colDone[i], f.place[i] = false, false, -1
	}
	f.rest = f.rest[:0]
	for c := 0; c < m; c++ {
		f.rest = append(f.rest, int32(c))
		for _, e := range column(c) {
			f.rowIdx[e.Row] = append(f.rowIdx[e.Row], int32(c))
			f.rowVal[e.Row] = append(f.rowVal[e.Row], e.Val)
			f.colRow[c] = append(f.colRow[c], e.Row)
		}
		f.colCount[c] = int32(len(f.colRow[c]))
		if f.colCount[c] == 1 {
			f.colQueue = append(f.colQueue, int32(c))
		}
	}
	for r := 0; r < m; r++ {
		if len(f.rowIdx[r]) == 1 {
			f.rowQueue = append(f.rowQueue, int32(r))
		}
	}
}

// nextPivot gives a row and a column position, or -1 where nothing usable is left.
func (f *factor) nextPivot() (int32, int32) {
	for len(f.colQueue) > 0 {
		q := f.colQueue[len(f.colQueue)-1]
		f.colQueue = f.colQueue[:len(f.colQueue)-1]
		if f.colDone[q] || f.colCount[q] != 1 {
			continue
		}
		for _, r := range f.colRow[q] {
			if !f.rowDone[r] && math.Abs(f.at(r, q)) > pivotTol {
				return r, q
			}
		}
	}
	for len(f.rowQueue) > 0 {
		p := f.rowQueue[len(f.rowQueue)-1]
		f.rowQueue = f.rowQueue[:len(f.rowQueue)-1]
		if !f.rowDone[p] && len(f.rowIdx[p]) == 1 && math.Abs(f.rowVal[p][0]) > pivotTol {
			return p, f.rowIdx[p][0]
		}
	}
	return f.searchPivot()
}

// searchPivot looks through the shortest columns for the entry that would fill in least
// (Markowitz) among those not small beside the largest of their row.
func (f *factor) searchPivot() (int32, int32) {
	var least int32 = math.MaxInt32
	f.byCountReset()
	rest := f.rest[:0]
	for _, c := range f.rest {
		if f.colDone[c] {
			continue
		}
		rest = append(rest, c)
		if n := min(f.colCount[c], 30); n > 0 {
			f.byCount[n] = append(f.byCount[n], c)
			least = min(least, n)
		}
	}
	f.rest = rest
	bp, bq, best, bestVal, tried := int32(-1), int32(-1), int64(math.MaxInt64), 0.0, 0
	for n := least; n < int32(len(f.byCount)) && tried < 8; n++ {
		for _, c := range f.byCount[n] {
			found := false
			for _, r := range f.colRow[c] {
				if f.rowDone[r] {
					continue
				}
				v := math.Abs(f.at(r, c))
				if v <= pivotTol {
					continue
				}
				cost := int64(len(f.rowIdx[r])-1) * int64(f.colCount[c]-1)
				if cost > best || (cost == best && v <= bestVal) {
					continue
				}
				if v < 0.1*f.largest(r) {
					continue
				}
				bp, bq, best, bestVal, found = r, c, cost, v, true
			}
			if found || bp >= 0 {
				if tried++; tried >= 8 {
					break
				}
			}
		}
		if bp >= 0 && best <= int64(n)*int64(n) {
			break
		}
	}
	return bp, bq
}

func (f *factor) byCountReset() {
	for len(f.byCount) < 31 {
		f.byCount = append(f.byCount, nil)
	}
	for i := range f.byCount {
		f.byCount[i] = f.byCount[i][:0]
	}
}

func (f *factor) largest(r int32) float64 {
	var v float64
	for _, x := range f.rowVal[r] {
		v = max(v, math.Abs(x))
	}
	return v
}

func (f *factor) at(r, c int32) float64 {
	for k, j := range f.rowIdx[r] {
		if j == c {
			return f.rowVal[r][k]
		}
	}
	return 0
}

// eliminate pivots on (p, q): row p becomes a row of U, and q is cleared from all other rows.
func (f *factor) eliminate(p, q int32) {
	pv := f.at(p, q)
	f.rowDone[p], f.colDone[q] = true, true
	for k, c := range f.rowIdx[p] {
		if c == q {
			continue
		}
		f.u = append(f.u, nonzero{c, f.rowVal[p][k]})
		if f.colCount[c]--; f.colCount[c] == 1 {
			f.colQueue = append(f.colQueue, c)
		}
	}
	f.steps = append(f.steps, step{row: p, col: q, val: pv, uEnd: int32(len(f.u))})
	start := int32(len(f.l))
	for _, r := range f.colRow[q] {
		if f.rowDone[r] {
			continue
		}
		v := f.take(r, q)
		if v == 0 {
			continue
		}
		mult := v / pv
		f.l = append(f.l, nonzero{r, mult})
		f.subtract(r, p, q, mult)
		if len(f.rowIdx[r]) == 1 {
			f.rowQueue = append(f.rowQueue, r)
		}
	}
	if end := int32(len(f.l)); end > start {
		f.lower = append(f.lower, stretch{at: p, start: start, end: end})
	}
}

// take removes the entry at (r, c) and gives its value.
func (f *factor) take(r, c int32) float64 {
	idx, val := f.rowIdx[r], f.rowVal[r]
	for k, j := range idx {
		if j == c {
			v, n := val[k], len(idx)-1
			idx[k], val[k] = idx[n], val[n]
			f.rowIdx[r], f.rowVal[r] = idx[:n], val[:n]
			return v
		}
	}
	return 0
}

// subtract takes mult times row p, without its pivot column q, from row r.
func (f *factor) subtract(r, p, q int32, mult float64) {
	if len(f.rowIdx[p]) == 1 {
		return
	}
	for k, c := range f.rowIdx[r] {
		f.place[c] = int32(k)
	}
	for k, c := range f.rowIdx[p] {
		if c == q {
			continue
		}
		dv := float64(mult * f.rowVal[p][k])
		if at := f.place[c]; at >= 0 {
			f.rowVal[r][at] -= dv
		} else {
			f.rowIdx[r], f.rowVal[r] = append(f.rowIdx[r], c), append(f.rowVal[r], -dv)
			f.colRow[c] = append(f.colRow[c], r)
			f.colCount[c]++
		}
	}
	keep := 0
	idx, val := f.rowIdx[r], f.rowVal[r]
	for k, c := range idx {
		f.place[c] = -1
		if math.Abs(val[k]) < zeroTol {
			f.dropFromColumn(r, c)
			continue
		}
		idx[keep], val[keep] = c, val[k]
		keep++
	}
	f.rowIdx[r], f.rowVal[r] = idx[:keep], val[:keep]
}

func (f *factor) dropFromColumn(r, c int32) {
	rows := f.colRow[c]
	for k, x := range rows {
		if x == r {
			rows[k] = rows[len(rows)-1]
			f.colRow[c] = rows[:len(rows)-1]
			break
		}
	}
	if f.colCount[c]--; f.colCount[c] == 1 {
		f.colQueue = append(f.colQueue, c)
	}
}

// turnU stores U by columns too.
func (f *factor) turnU() {
	next := f.place[:f.m] // where the next entry of a step's column goes
	clear(next)
	for t := range f.steps {
		f.stepOfCol[f.steps[t].col] = int32(t)
	}
	for _, e := range f.u {
		next[f.stepOfCol[e.at]]++
	}
	end := int32(0)
	for t := range f.steps {
		start := end
		end += next[t]
		f.steps[t].ucEnd, next[t] = end, start
	}
	if n := len(f.u); cap(f.uc) < n {
		f.uc = make([]nonzero, n, 2*n)
	}
	f.uc = f.uc[:len(f.u)]
	start := int32(0)
	for t := range f.steps {
		s := &f.steps[t]
		for _, e := range f.u[start:s.uEnd] {
			c := f.stepOfCol[e.at]
			f.uc[next[c]] = nonzero{s.row, e.val}
			next[c]++
		}
		start = s.uEnd
	}
}
