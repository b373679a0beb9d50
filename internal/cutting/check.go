package cutting

import (
	"cmp"
	"fmt"
	"slices"
)

// Check judges a layout by itself: every rectangle has sides above 0 and lies inside width
// by length, none overlap, and edge-to-edge cuts part them in at most stages stages, the first
// across the full width. A stage may hold many parallel cuts; a cut with rectangles on one
// side only is a trim and costs nothing. It returns the stages needed.
func Check(width, length int64, rects []Rect, stages int) (int, error) {
	for _, r := range rects {
		if r.W <= 0 || r.H <= 0 {
			return 0, fmt.Errorf("a rectangle of %d × %d", r.W, r.H)
		}
		if r.X < 0 || r.Y < 0 || r.X > width-r.W || r.Y > length-r.H {
			return 0, fmt.Errorf("a rectangle at %d, %d of %d × %d lies outside %d × %d", r.X, r.Y, r.W, r.H, width, length)
		}
	}
	if a, b, yes := overlap(rects); yes {
		return 0, fmt.Errorf("rectangles overlap at %d, %d", max(a.X, b.X), max(a.Y, b.Y))
	}
	n := depth(slices.Clone(rects), true)
	if n < 0 {
		if n = depth(slices.Clone(rects), false); n < 0 {
			return 0, fmt.Errorf("no edge-to-edge cuts part the rectangles")
		}
		n++ // a layout that starts along spends the first stage unused
	}
	if n > stages {
		return n, fmt.Errorf("it takes %d stages of cuts, at most %d are allowed", n, stages)
	}
	return n, nil
}

func overlap(rects []Rect) (Rect, Rect, bool) {
	order := slices.Clone(rects)
	slices.SortFunc(order, func(a, b Rect) int { return cmp.Compare(a.Y, b.Y) })
	var open []Rect
	for _, r := range order {
		keep := open[:0]
		for _, o := range open {
			if o.Y+o.H <= r.Y {
				continue
			}
			if o.X < r.X+r.W && r.X < o.X+o.W {
				return o, r, true
			}
			keep = append(keep, o)
		}
		open = append(keep, r)
	}
	return Rect{}, Rect{}, false
}

// depth counts the stages that part the rectangles, starting with cuts across or along; −1
// where that first direction parts nothing.
func depth(rects []Rect, across bool) int {
	if len(rects) <= 1 {
		return 0
	}
	span := func(r Rect) (int64, int64) {
		if across {
			return r.Y, r.Y + r.H
		}
		return r.X, r.X + r.W
	}
	slices.SortFunc(rects, func(a, b Rect) int {
		la, _ := span(a)
		lb, _ := span(b)
		return cmp.Compare(la, lb)
	})
	worst, start := -1, 0
	_, end := span(rects[0])
	for i := 1; i <= len(rects); i++ {
		if i < len(rects) {
			lo, hi := span(rects[i])
			if lo < end {
				end = max(end, hi)
				continue
			}
			end = hi
		} else if start == 0 {
			return -1
		}
		n := depth(rects[start:i], !across)
		if n < 0 {
			return -1
		}
		worst, start = max(worst, n), i
	}
	return worst + 1
}
