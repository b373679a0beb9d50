package planning

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// priceGroups runs the programmes of groups at the given prices, side by side where there are
// cores for it. Each programme has its own tables and nothing is decided here, so the number
// of cores changes no result. tops gives by group the longest piece that matters, by raster
// point; nil for all. Where stop, which may be nil, says so before all have run, it gives false, and
// the programmes are worth nothing: those of bolts take longer than anybody who waits for the end should wait.
func (m *model) priceGroups(groups []int, p prices, t *thrift, tops []int32, stop func() bool) bool {
	if stop == nil {
		stop = func() bool { return false }
	}
	workers := min(runtime.GOMAXPROCS(0), len(groups), 8)
	price := func(g int) {
		m.groups[g].values = m.values(g, p, m.groups[g].values)
		if tops == nil {
			m.groups[g].prog.Price(m.groups[g].values, t.lengths(g))
		} else {
			m.groups[g].prog.PriceTo(m.groups[g].values, t.lengths(g), tops[g])
		}
	}
	if workers < 2 || m.alone {
		for _, g := range groups {
			if stop() {
				return false
			}
			price(g)
		}
		return true
	}
	var next atomic.Int64
	var cut atomic.Bool
	var done sync.WaitGroup
	for range workers {
		done.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= len(groups) {
					return
				}
				if stop() {
					cut.Store(true)
					return
				}
				price(groups[i])
			}
		})
	}
	done.Wait()
	return !cut.Load()
}

// atMost gives what all pieces of a group can hold at most at the values of its last run,
// whatever the layout: what bounds are made of.
func (m *model) atMost(g int) int64 {
	gr := m.groups[g]
	if gr.loose == nil {
		return m.held(g)
	}
	gr.loose.Price(gr.values, nil)
	var sum int64
	for size, n := range gr.size {
		sum += gr.loose.Best(gr.loose.Point(size[1]), gr.loose.Width(size[0])) * n
	}
	return sum
}

// held gives what the programme's patterns hold at the values of its last run, all pieces of a
// group together.
func (m *model) held(g int) int64 {
	gr := m.groups[g]
	var sum int64
	for _, s := range gr.stock {
		st := m.stock[s]
		sum += gr.prog.Best(st.point, st.width) * int64(len(st.pieces))
	}
	return sum
}
