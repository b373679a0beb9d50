package cutting

import (
	"fmt"
	"slices"
	"sort"
)

const mostGrid = 1 << 22

// ErrTooFine is returned when the sides add up in more ways than a programme can keep.
type ErrTooFine struct{ Points int }

func (e *ErrTooFine) Error() string {
	return fmt.Sprintf("cutting: sides add up to more than %d different lengths", e.Points)
}

// raster gives all sums of the sides up to most, 0 first, ascending, where they are no more than limit.
func raster(sides []int64, most int64, limit int) ([]int64, error) {
	var g int64
	for _, s := range sides {
		if s <= most {
			g = gcd(g, s)
		}
	}
	if g == 0 {
		return []int64{0}, nil
	}
	if most/g > mostGrid {
		return sparseRaster(sides, most, limit)
	}
	reach := make([]bool, most/g+1)
	reach[0] = true
	for _, s := range sides {
		if s > most {
			continue
		}
		k := int(s / g)
		for i := k; i < len(reach); i++ {
			if reach[i-k] {
				reach[i] = true
			}
		}
	}
	var points []int64
	for i, ok := range reach {
		if ok {
			points = append(points, int64(i)*g)
		}
	}
	if len(points) > limit {
		return nil, &ErrTooFine{limit}
	}
	return points, nil
}

// sparseRaster lists the sums one side after another where a table of the grid would be too large.
func sparseRaster(sides []int64, most int64, limit int) ([]int64, error) {
	points := []int64{0}
	for _, s := range sides {
		if s > most {
			continue
		}
		sums := points
		for {
			var next []int64
			for _, p := range sums {
				if p <= most-s {
					if _, known := slices.BinarySearch(points, p+s); !known {
						next = append(next, p+s)
					}
				}
			}
			if len(next) == 0 {
				break
			}
			if len(points)+len(next) > limit {
				return nil, &ErrTooFine{limit}
			}
			points = append(points, next...)
			slices.Sort(points)
			sums = next
		}
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

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
