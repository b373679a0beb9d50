package proof

import (
	"errors"
	"slices"
)

// scarce judges whether the pieces of one cloth can give several panels at once where these have
// too many parts to try but cover nearly all cloth: no region of a piece, of whatever column or
// strip, may waste more than what the panels leave over of all pieces together. What counts beyond
// what is asked for is waste.
type scarce struct {
	t       *together
	need    lot
	area    [mostTogether]int64
	spare   int64
	kept    int
	widths  []int64 // that columns have
	heights []int64 // that strips may have
	columns map[[2]int64][]lot
	strips  map[[2]int64][]lot // all strips by width and height
	rises   map[[2]int64][]lot // those that lower strips, one after the other, do not make up for
	pieces  map[[2]int64][]lot
}

// No sum of areas leaves int64 within these.
const (
	mostTogether = 8
	mostScarce   = 100     // pieces, and panels of a kind
	mostSide     = 1 << 24 // of pieces and panels, in grid units
	mostInRow    = 1000    // panels on one another or side by side
	mostHeights  = 5000
)

// lot is a number of each panel asked for.
type lot [mostTogether]uint8

// scarcely says whether the pieces can give so many of t.panels.
func (t *together) scarcely(need []int64) (bool, error) {
	s := &scarce{t: t, columns: map[[2]int64][]lot{}, strips: map[[2]int64][]lot{}, rises: map[[2]int64][]lot{}, pieces: map[[2]int64][]lot{}}
	pieces := t.pieces()
	large := len(need) > mostTogether || len(pieces) > mostScarce || max(t.g.widest, t.g.long) > mostSide
	for i, n := range need {
		large = large || n > mostScarce
		for _, f := range t.g.forms {
			if f.at == t.panels[i] && !large {
				s.need[i], s.area[i] = uint8(n), f.w*f.h
				large = max(f.w, f.h) > mostSide || t.g.widest/f.w > mostInRow || t.g.long/f.h > mostInRow
			}
		}
	}
	if !large {
		var err error
		if s.heights, err = t.c.sums(s.sides(func(f form) int64 { return f.h }), t.g.long); err != nil {
			return false, err
		}
		s.widths = s.sides(func(f form) int64 { return f.w })
	}
	if large || len(s.heights) > mostHeights {
		return false, errors.New("what cannot be cut together has too many parts to be tried")
	}
	for _, p := range pieces {
		s.spare += p[0] * p[1]
	}
	s.spare -= s.covered(s.need)
	could := []lot{{}}
	var all int64
	for _, p := range pieces {
		all += p[0] * p[1]
		for _, h := range s.heights {
			if h < p[1] {
				s.piece(p[0], h) // in this order no strip waits for a higher one
			}
		}
		var next []lot
		for _, one := range s.piece(p[0], p[1]) {
			for _, before := range could {
				next = s.join(next, before, one, all)
			}
		}
		could = next
	}
	return slices.Contains(could, s.need), t.err
}

func (s *scarce) covered(of lot) int64 {
	var sum int64
	for i, n := range of {
		sum += int64(n) * s.area[i]
	}
	return sum
}

// join adds what two lots come to, of a region of some area, to a list of which none holds another.
func (s *scarce) join(list []lot, a, b lot, region int64) []lot {
	if s.t.err == nil {
		s.t.err = s.t.c.spend(int64(20 + 4*len(list)))
	}
	if s.kept > mostKept {
		s.t.err = errTooMuch
	}
	if s.t.err != nil {
		return nil
	}
	var sum lot
	for i := range sum {
		sum[i] = min(a[i]+b[i], s.need[i])
	}
	if region-s.covered(sum) > s.spare || slices.ContainsFunc(list, func(x lot) bool { return holds(x, sum) }) {
		return list
	}
	return append(slices.DeleteFunc(list, func(x lot) bool { return holds(sum, x) }), sum)
}

func holds(a, b lot) bool {
	for i := range a {
		if a[i] < b[i] {
			return false
		}
	}
	return true
}

// once gives the lots that a region can hold: those known of it, or those that more adds to nothing.
func (s *scarce) once(known map[[2]int64][]lot, w, h int64, more func([]lot) []lot) []lot {
	key := [2]int64{w, h}
	if list, ok := known[key]; ok {
		return list
	}
	list := more(s.join(nil, lot{}, lot{}, w*h))
	known[key] = list
	s.kept += 1 + len(list)
	return list
}

// column gives the lots that a column can hold.
func (s *scarce) column(w, h int64) []lot {
	return s.once(s.columns, w, h, func(list []lot) []lot {
		for i, at := range s.t.panels {
			for _, f := range s.t.g.forms {
				if f.at != at || f.w > w || f.h > h {
					continue
				}
				var one lot
				one[i] = 1
				for _, below := range s.column(w, h-f.h) {
					list = s.join(list, one, below, w*h)
				}
			}
		}
		return list
	})
}

// strip gives the lots that a strip can hold.
func (s *scarce) strip(w, h int64) []lot {
	return s.once(s.strips, w, h, func(list []lot) []lot {
		for _, wide := range s.widths {
			if wide > w {
				break
			}
			for _, beside := range s.strip(w-wide, h) {
				for _, first := range s.column(wide, h) {
					list = s.join(list, first, beside, w*h)
				}
			}
		}
		return list
	})
}

// sides lists the sides that panels asked for have.
func (s *scarce) sides(side func(form) int64) []int64 {
	var out []int64
	for _, f := range s.t.g.forms {
		if slices.Contains(s.t.panels, f.at) {
			out = append(out, side(f))
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// piece gives the lots that a piece of some width and length can hold. Its strips may be taken to
// be as high as panels on one another are.
func (s *scarce) piece(w, l int64) []lot {
	return s.once(s.pieces, w, l, func(list []lot) []lot {
		for _, h := range s.heights[1:] {
			if h >= l {
				break
			}
			for _, first := range s.rise(w, h) {
				for _, rest := range s.piece(w, l-h) {
					list = s.join(list, first, rest, w*l)
				}
			}
		}
		if _, ok := slices.BinarySearch(s.heights, l); ok {
			var rises []lot
			for _, one := range s.strip(w, l) {
				if !slices.ContainsFunc(list, func(x lot) bool { return holds(x, one) }) {
					rises = append(rises, one)
				}
			}
			s.rises[[2]int64{w, l}] = rises
			for _, one := range rises {
				list = s.join(list, one, lot{}, w*l)
			}
		}
		return list
	})
}

// rise gives the lots of strips that no lower strips one after the other hold.
func (s *scarce) rise(w, h int64) []lot {
	s.piece(w, h)
	return s.rises[[2]int64{w, h}]
}
