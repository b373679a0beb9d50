package cutting

// axis holds the sizes that parts of a sheet can have in one direction, 0 first.
type axis struct {
	sizes []int64
	each  []float64 // 1 / size
	less  []uint16  // less[i·n+k]: the largest size not above size i less size k, for k up to i
}

const (
	// mostSums bounds the sums of sides that the sizes are chosen from.
	mostSums = 1 << 15
	// mostSizes bounds the sizes of one direction, and with them the memory of a run.
	mostSizes = 1 << 12
)

// newAxis finds the sizes: from the largest sum of sides that fits, cut at a sum no further
// than the middle, the far part rounded down to a sum, the near part grown to the largest sum
// beside it; then the same of both parts.
func newAxis(sides []int64, most int64) (axis, error) {
	points, err := raster(sides, most, mostSums)
	if err != nil {
		return axis{}, err
	}
	kept, n := make([]bool, len(points)), 1
	keep := func(k int) {
		if !kept[k] {
			kept[k] = true
			n++
		}
	}
	kept[0] = true
	keep(len(points) - 1)
	for z := len(points) - 1; z > 0; z-- {
		if !kept[z] {
			continue
		}
		near, far := 0, z
		for p := 1; points[p] <= points[z]-points[p]; p++ {
			for points[far] > points[z]-points[p] {
				far--
			}
			for points[near+1] <= points[z]-points[far] {
				near++
			}
			keep(far)
			keep(near)
		}
	}
	if n > mostSizes {
		return axis{}, &ErrTooFine{mostSizes}
	}
	ax := axis{sizes: make([]int64, 0, n), each: make([]float64, 0, n), less: make([]uint16, n*n)}
	for k, p := range points {
		if kept[k] {
			ax.sizes = append(ax.sizes, p)
			ax.each = append(ax.each, 1/float64(p))
		}
	}
	for i, z := range ax.sizes {
		at := i
		for k, s := range ax.sizes[:i+1] {
			for ax.sizes[at] > z-s {
				at--
			}
			ax.less[i*n+k] = uint16(at)
		}
	}
	return ax, nil
}

// fitting gives the index of the least size that a side fits.
func (a *axis) fitting(side int64) int {
	return int(floorIndex(a.sizes, side-1)) + 1
}
