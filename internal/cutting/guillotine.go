package cutting

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// Cut is a node of a guillotine pattern of any depth: a panel, a cut with two parts, or waste
// (neither).
type Cut struct {
	Rect
	Form  int // of a panel, −1 for none
	Parts []*Cut
}

// Guillotine finds the most valuable pattern of edge-to-edge cuts in any number of stages,
// each form as often as one likes, and the tree of its cuts. Values of 0 or less are never cut.
//
// A part of size s is only cut where both parts end at sums of sides (p and s − p rounded
// down to sums, p rounded down again from there): any pattern can be pushed into that shape
// without losing a panel. The sizes that can then occur are few.
func Guillotine(forms []Form, value []int64, width, length int64) (int64, *Cut) {
	var ws, hs []int64
	for i, f := range forms {
		if value[i] > 0 && f.W <= width && f.H <= length {
			ws, hs = append(ws, f.W), append(hs, f.H)
		}
	}
	g := &guillotine{forms: forms, x: newAxis(ws, width), y: newAxis(hs, length)}
	g.fill(value)
	n, m := len(g.x.sizes)-1, len(g.y.sizes)-1
	return g.byY[m*len(g.x.sizes)+n], g.rebuild(n, m, 0, 0)
}

// axis holds the sizes that parts can have in one direction and how each is cut in two.
type axis struct {
	sizes []int64
	pairs [][]pair
}

type pair struct{ a, b int32 }

func newAxis(sides []int64, most int64) axis {
	points := sumsUpTo(sides, most)
	floor := func(v int64) int64 { return points[floorIndex(points, v)] }
	cuts := map[int64][][2]int64{}
	work := []int64{floor(most)}
	cuts[work[0]] = nil
	for len(work) > 0 {
		z := work[len(work)-1]
		work = work[:len(work)-1]
		var list [][2]int64
		seen := map[int64]bool{}
		for _, p := range points {
			if p == 0 {
				continue
			}
			if 2*p > z {
				break
			}
			b := floor(z - p)
			a := floor(z - b)
			if seen[b] || a == 0 || b == 0 {
				continue
			}
			seen[b] = true
			list = append(list, [2]int64{a, b})
			for _, s := range []int64{a, b} {
				if _, known := cuts[s]; !known {
					cuts[s] = nil
					work = append(work, s)
				}
			}
		}
		cuts[z] = list
	}
	ax := axis{}
	for s := range cuts {
		ax.sizes = append(ax.sizes, s)
	}
	slices.Sort(ax.sizes)
	at := map[int64]int32{}
	for i, s := range ax.sizes {
		at[s] = int32(i)
	}
	for _, s := range ax.sizes {
		var list []pair
		for _, c := range cuts[s] {
			list = append(list, pair{at[c[0]], at[c[1]]})
		}
		ax.pairs = append(ax.pairs, list)
	}
	return ax
}

// sumsUpTo is raster without a limit on the number of points.
func sumsUpTo(sides []int64, most int64) []int64 {
	var g int64
	for _, s := range sides {
		g = gcd(g, s)
	}
	if g == 0 {
		return []int64{0}
	}
	reach := make([]bool, most/g+1)
	reach[0] = true
	points := []int64{0}
	for i := 1; i < len(reach); i++ {
		for _, s := range sides {
			if k := int(s / g); k <= i && reach[i-k] {
				reach[i] = true
				points = append(points, int64(i)*g)
				break
			}
		}
	}
	return points
}

type guillotine struct {
	forms   []Form
	x, y    axis
	byY     []int64 // best by (y, x)
	byX     []int64 // the same by (x, y)
	worth   []int64
	densest density
	alone   []int32 // form of the best single panel by (y, x), −1 for none
}

func (g *guillotine) fill(value []int64) {
	n, m := len(g.x.sizes), len(g.y.sizes)
	g.byY, g.byX, g.alone = make([]int64, n*m), make([]int64, n*m), make([]int32, n*m)
	g.single(value)
	for j := range m {
		row := g.byY[j*n : j*n+n]
		for i := range n {
			best := row[i]
			full := g.densest.full(g.x.sizes[i], g.y.sizes[j])
			for _, c := range g.x.pairs[i] {
				best = max(best, row[c.a]+row[c.b])
				if best >= full {
					break
				}
			}
			column := g.byX[i*m : i*m+m]
			if best < full {
				for _, c := range g.y.pairs[j] {
					best = max(best, column[c.a]+column[c.b])
					if best >= full {
						break
					}
				}
			}
			row[i], column[j] = best, best
		}
	}
}

// density is the most that a form is worth for its area.
type density struct{ value, area uint64 }

func (d *density) see(value, area int64) {
	a, b := uint64(value), uint64(area)
	hi1, lo1 := bits.Mul64(a, d.area)
	hi2, lo2 := bits.Mul64(d.value, b)
	if d.area == 0 || hi1 > hi2 || hi1 == hi2 && lo1 > lo2 {
		d.value, d.area = a, b
	}
}

// full gives what a size cannot exceed, all of it filled by the densest form.
func (d *density) full(w, h int64) int64 {
	if d.area == 0 {
		return 0
	}
	hi, lo := bits.Mul64(uint64(w)*uint64(h), d.value)
	if hi >= d.area {
		return math.MaxInt64
	}
	q, _ := bits.Div64(hi, lo, d.area)
	return int64(min(q, math.MaxInt64))
}

// single fills in for every size the most valuable panel that fits.
func (g *guillotine) single(value []int64) {
	n := len(g.x.sizes)
	order := make([]int32, 0, len(g.forms))
	for i := range g.forms {
		if value[i] > 0 {
			order = append(order, int32(i))
			g.densest.see(value[i], g.forms[i].W*g.forms[i].H)
		}
	}
	slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(value[b], value[a]) })
	for j, h := range g.y.sizes {
		for i, w := range g.x.sizes {
			g.alone[j*n+i] = -1
			for _, f := range order {
				if g.forms[f].W <= w && g.forms[f].H <= h {
					g.alone[j*n+i], g.byY[j*n+i] = f, value[f]
					break
				}
			}
		}
	}
	g.worth = value
}

func (g *guillotine) rebuild(i, j int, x, y int64) *Cut {
	n, m := len(g.x.sizes), len(g.y.sizes)
	c := &Cut{Rect: Rect{x, y, g.x.sizes[i], g.y.sizes[j]}, Form: -1}
	best := g.byY[j*n+i]
	if best == 0 {
		return c
	}
	if f := g.alone[j*n+i]; f >= 0 && g.worth[f] == best {
		c.Form = int(f)
		c.W, c.H = g.forms[f].W, g.forms[f].H
		return c
	}
	for _, p := range g.x.pairs[i] {
		if g.byY[j*n+int(p.a)]+g.byY[j*n+int(p.b)] == best {
			c.Parts = []*Cut{g.rebuild(int(p.a), j, x, y), g.rebuild(int(p.b), j, x+g.x.sizes[p.a], y)}
			return c
		}
	}
	for _, p := range g.y.pairs[j] {
		if g.byX[i*m+int(p.a)]+g.byX[i*m+int(p.b)] == best {
			c.Parts = []*Cut{g.rebuild(i, int(p.a), x, y), g.rebuild(i, int(p.b), x, y+g.y.sizes[p.a])}
			return c
		}
	}
	return c
}

// Panels lists the panels below a cut.
func (c *Cut) Panels() []Placed {
	if c.Form >= 0 {
		return []Placed{{int32(c.Form), c.Rect}}
	}
	var out []Placed
	for _, p := range c.Parts {
		out = append(out, p.Panels()...)
	}
	return out
}
