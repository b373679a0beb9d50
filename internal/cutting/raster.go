package cutting

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// ErrTooFine is returned when the sides add up in more ways than a programme can keep.
type ErrTooFine struct{ Points int }

func (e *ErrTooFine) Error() string {
	return fmt.Sprintf("cutting: sides add up to more than %d different lengths", e.Points)
}

// raster gives all sums of the sides up to most, 0 first, ascending, where they are no more
// than limit. Time and memory depend on how many there are, not on the unit of length.
func raster(sides []int64, most int64, limit int) ([]int64, error) {
	const never = math.MaxInt64
	// Each side waits with the sum that it makes next, from the point at.
	type source struct {
		side, sum int64
		at        int
	}
	var sources []source
	for _, s := range slices.Compact(slices.Sorted(slices.Values(sides))) {
		if s <= most {
			sources = append(sources, source{side: s, sum: s})
		}
	}
	points, next := []int64{0}, int64(never)
	if len(sources) > 0 {
		next = sources[0].side
	}
	for next < never {
		if len(points) == limit {
			return nil, &ErrTooFine{limit}
		}
		points = append(points, next)
		following, known := int64(never), false
		for k := range sources {
			s := &sources[k]
			switch {
			case s.sum > next:
			case known && s.side == next:
				s.sum = never // a side that shorter ones add up to makes nothing new
			default:
				known = true
				s.at++
				if s.sum = never; points[s.at] <= most-s.side {
					s.sum = points[s.at] + s.side
				}
			}
			following = min(following, s.sum)
		}
		next = following
	}
	return points, nil
}

// floorIndex gives the index of the largest point not above v; points[0] is 0 and v at least 0.
func floorIndex(points []int64, v int64) int32 {
	return int32(sort.Search(len(points), func(i int) bool { return points[i] > v }) - 1)
}

// before gives for each point the index of the largest point not above point − side, or −1.
func before(points []int64, side int64) []int32 {
	pred := make([]int32, len(points))
	at := int32(-1)
	for i, p := range points {
		for int(at+1) < len(points) && points[at+1] <= p-side {
			at++
		}
		pred[i] = at
	}
	return pred
}

// steps gives before for the side of each form; forms of one side share it.
func steps(points, sides []int64) [][]int32 {
	known := map[int64][]int32{}
	var out [][]int32
	for _, s := range sides {
		if known[s] == nil {
			known[s] = before(points, s)
		}
		out = append(out, known[s])
	}
	return out
}

// remainders gives those of the points that are left of the lengths given when sides are taken
// from them one after another, 0 among them: a knapsack of those lengths needs no other.
func remainders(points, sides, lengths []int64) []int64 {
	kept := make([]bool, len(points))
	kept[0] = true
	for _, l := range lengths {
		kept[floorIndex(points, max(l, 0))] = true
	}
	preds := steps(points, slices.Compact(slices.Sorted(slices.Values(sides))))
	for z := len(points) - 1; z > 0; z-- {
		if !kept[z] {
			continue
		}
		for _, pred := range preds {
			if pred[z] > 0 {
				kept[pred[z]] = true
			}
		}
	}
	var out []int64
	for i, p := range points {
		if kept[i] {
			out = append(out, p)
		}
	}
	return out
}
