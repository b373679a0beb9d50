package planning

import "math"

// rounded gives each piece one pattern of the present solution: every unit's copies are
// parted by the solution's weights, what does not come out whole goes to the patterns owed most.
func (ms *master) rounded() [][]cutPattern {
	out := make([][]cutPattern, len(ms.m.stock))
	for _, u := range ms.units {
		left := u.pieces
		owed := make([]float64, len(u.cols))
		given := make([]int, len(u.cols))
		for i, c := range u.cols {
			x := ms.lp.Value(c.v)
			given[i] = max(0, min(int(math.Floor(x+whole)), left)) // a programme that was stopped may stand below nothing
			left -= given[i]
			owed[i] = x - float64(given[i])
		}
		for ; left > 0; left-- {
			most := -1
			for i := range owed {
				if owed[i] > whole && (most < 0 || owed[i] > owed[most]) {
					most = i
				}
			}
			if most < 0 {
				break
			}
			given[most]++
			owed[most]--
		}
		for i, n := range given {
			if n > 0 {
				out[u.stock] = append(out[u.stock], cutPattern{u.cols[i].strips, n})
			}
		}
	}
	return out
}
