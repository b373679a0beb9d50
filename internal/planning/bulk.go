package planning

import (
	"math"
	"slices"

	"boltward/internal/planning/lp"
)

// Above a few hundred different pieces a row for each would make the linear programme the
// whole cost. A bulk master has one row a group instead: a column is what all pieces of the
// group hold together at some prices, which one run of the group's programme counts without
// looking at the pieces one by one. Its relaxation has the same value. Layouts are not kept
// but rebuilt from the prices, for the columns of the last solution only.
type bulk struct {
	*master
	groupAt []int // programme row of each group, −1 where nothing can be cut from it
	wholes  [][]*wholeGroup
	pieces  [][][]int64 // by group, width and raster point
	scratch []int64
	counted []int64
}

// wholeGroup is a column: what all pieces of a group give at some values of its forms.
type wholeGroup struct {
	v      int
	values []int64
	counts []int64 // by form
}

func newBulk(m *model) *bulk {
	var most int64
	for _, q := range m.quotas {
		most = max(most, q.most)
	}
	b := &bulk{master: newMasterWith(m, make([]int64, len(m.supply)), max(1, float64(most)/100)), wholes: make([][]*wholeGroup, len(m.groups)), pieces: make([][][]int64, len(m.groups))}
	for g, gr := range m.groups {
		if len(gr.stock) == 0 {
			b.groupAt = append(b.groupAt, -1)
			continue
		}
		b.groupAt = append(b.groupAt, b.lp.AddRow(0, 1, nil, nil))
		for _, s := range gr.stock {
			st := m.stock[s]
			for len(b.pieces[g]) <= st.width {
				b.pieces[g] = append(b.pieces[g], nil)
			}
			for len(b.pieces[g][st.width]) <= int(st.point) {
				b.pieces[g][st.width] = append(b.pieces[g][st.width], 0)
			}
			b.pieces[g][st.width][st.point] += int64(len(st.pieces))
		}
	}
	b.priceAll = b.priceGroups
	b.gain, b.smooth = 1, 1
	return b
}

// priceGroups runs the programmes at the present prices and adds for each group the column
// that gains, unless somebody waits for the end.
func (b *bulk) priceGroups() (added int, fabric int64, whole bool) {
	groups := b.m.stocked()
	if !b.m.priceGroups(groups, b.price, nil, nil, b.lp.Stop) {
		return 0, 0, false
	}
	for _, g := range groups {
		all := b.m.held(g)
		fabric += b.m.atMost(g)
		if float64(all)/float64(b.m.unit)-b.lp.Dual(b.groupAt[g]) > 1e-6 {
			b.addWhole(g)
			added++
		}
	}
	return added, fabric, true
}

func (b *bulk) addWhole(g int) {
	gr := b.m.groups[g]
	b.counted = append(b.counted[:0], make([]int64, len(gr.forms))...)
	for u, at := range b.pieces[g] {
		b.scratch = append(b.scratch[:0], at...)
		gr.prog.CountAll(u, b.scratch, b.counted)
	}
	b.addCounted(g, gr.values, b.counted)
}

// addCounted adds a column of which it is known what it gives.
func (b *bulk) addCounted(g int, values, counts []int64) {
	gr := b.m.groups[g]
	col := []lp.Entry{{Row: int32(b.groupAt[g]), Val: 1}}
	for f, n := range counts {
		if n != 0 {
			col = addEntry(col, b.supplyAt[gr.row[f]], float64(n))
		}
	}
	w := &wholeGroup{values: slices.Clone(values), counts: slices.Clone(counts)}
	w.v = b.add(0, 1, col, nil)
	b.wholes[g] = append(b.wholes[g], w)
}

// option is a pattern that a piece is cut into by one of its group's columns.
type option struct {
	strips []*strip
	counts []count
	share  float64
}

// options rebuilds for the stock of a group the patterns of each column of the present solution.
func (b *bulk) options(g int) map[int][]option {
	gr := b.m.groups[g]
	out := map[int][]option{}
	for _, w := range b.wholes[g] {
		x := b.lp.Value(w.v)
		if x < whole {
			continue
		}
		gr.prog.Price(w.values, nil)
		known := map[[2]int32]*strip{}
		for _, s := range gr.stock {
			st := b.m.stock[s]
			var strips []*strip
			gr.prog.EachStrip(st.point, st.width, func(i int32) {
				key := [2]int32{i, int32(st.width)}
				if known[key] == nil {
					known[key] = b.intern(g, gr.prog.Strip(i, st.width))
				}
				strips = append(strips, known[key])
			})
			out[s] = append(out[s], option{strips, b.sum(strips), x})
		}
	}
	return out
}

// pool gives by stock the patterns of the present solution, in order of their strips.
func (b *bulk) pool() [][][]*strip {
	out := make([][][]*strip, len(b.m.stock))
	for g := range b.m.groups {
		for s, list := range b.options(g) {
			for _, o := range list {
				if len(o.strips) > 0 {
					out[s] = append(out[s], inOrder(o.strips))
				}
			}
		}
	}
	return out
}

// shareOut gives every piece of the stock one of its options so that the sums come out as the
// solution has them: what is owed of each panel is carried from piece to piece (error
// diffusion), the longest pieces first. Pieces for which free says so are left out.
func (b *bulk) shareOut(free func(stock, piece int) bool) [][]cutPattern {
	out := make([][]cutPattern, len(b.m.stock))
	owed := make([]float64, len(b.m.supply))
	for g, gr := range b.m.groups {
		if len(gr.stock) == 0 {
			continue
		}
		options := b.options(g)
		for i := len(gr.stock) - 1; i >= 0; i-- {
			s := gr.stock[i]
			given := make([]int, len(options[s]))
			for n := range b.m.stock[s].pieces {
				if free != nil && free(s, n) || len(options[s]) == 0 {
					continue
				}
				given[b.nearest(options[s], owed)]++
			}
			for k, n := range given {
				if n > 0 && len(options[s][k].strips) > 0 {
					out[s] = append(out[s], cutPattern{options[s][k].strips, n})
				}
			}
		}
	}
	return out
}

// nearest adds what the solution cuts from a piece to what is owed, picks the option that
// comes nearest, by the worth of the panels, and takes it off.
func (b *bulk) nearest(options []option, owed []float64) int {
	for _, o := range options {
		for _, c := range o.counts {
			owed[c.row] += float64(o.share * float64(c.n))
		}
	}
	pick, least := 0, math.Inf(1)
	for k, o := range options {
		var off float64
		for _, c := range o.counts {
			was := owed[c.row]
			off += float64((math.Abs(was-float64(c.n)) - math.Abs(was)) * (b.pi[c.row] + 1e-3))
		}
		if off < least-1e-9 {
			pick, least = k, off
		}
	}
	for _, c := range options[pick].counts {
		owed[c.row] -= float64(c.n)
	}
	return pick
}
