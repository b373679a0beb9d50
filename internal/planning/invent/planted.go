package invent

import (
	"fmt"
	"math/big"
	"slices"

	"boltward/internal/planning"
)

// plantedSizes have sides that fill widths of 42, 56, 84 and 112 in many ways.
var plantedSizes = []size{
	{"standard", [][3]string{{"body", "42", "27"}, {"cuff", "42", "9"}, {"accent", "42", "3"}}},
	{"child", [][3]string{{"body", "28", "18"}, {"cuff", "28", "6"}}},
	{"two", [][3]string{{"body*2", "21", "27"}, {"cuff*2", "21", "9"}}},
	{"travel", [][3]string{{"body*2", "14", "18"}, {"cuff", "28", "6"}}},
}

// planted draws pillowcases, each of a body group and trims that go with it, then lays their
// panels side by side into pieces without any waste. All of them can be made, and no plan can
// make more than is wanted.
func planted(seed uint64, fabrics int) *Drive {
	b := newBackwards(seed)
	b.sew(fabrics)
	b.lay(fabrics)
	return b.drive(false)
}

// hidden adds cloth that the planted plan does not touch: half as many pieces again.
func hidden(seed uint64, fabrics int) *Drive {
	b := newBackwards(seed)
	b.sew(max(1, fabrics*2/3))
	b.lay(max(1, fabrics*2/3))
	for len(b.p.Fabrics) < fabrics {
		b.lot(b.group(), b.between(8, 40), b.between(20, 50), 1, 1)
	}
	b.shuffle()
	return b.drive(false)
}

// byArea asks for half as much again as there is cloth for; a pillowcase is worth the area of its
// panels, so no plan is worth more than all cloth, and the planted one is.
func byArea(seed uint64, fabrics int) *Drive {
	b := newBackwards(seed)
	b.sew(fabrics)
	b.lay(fabrics)
	return b.drive(true)
}

// backwards is a drive built from its plan.
type backwards struct {
	*sketch
	made  map[[2]string]int           // quota's ward and case → pillowcases
	rests map[string]map[[2]int64]int // group → panel sides that are not laid yet
	laid  int64                       // area of all panels
	theme map[string]string           // body group → ward that wants it
}

func newBackwards(seed uint64) *backwards {
	b := &backwards{sketch: newSketch(seed, "in", plantedSizes), made: map[[2]string]int{}, rests: map[string]map[[2]int64]int{}, theme: map[string]string{}}
	b.groups(3, 2)
	for _, g := range b.plains {
		b.looks[g] = look{everything, planning.Either}
	}
	for _, g := range b.prints {
		// Laid in the turn the planted plan uses, or in both.
		b.looks[g] = look{[]string{"body"}, []planning.Turn{planning.Across, planning.Either}[b.r.IntN(2)]}
	}
	b.matched(1, 2)
	for i, g := range slices.Concat(b.prints, b.plains) {
		b.theme[g] = fmt.Sprintf("ward-%d", 1+i%2)
	}
	return b
}

// sew draws about two and a half pillowcases a piece of cloth.
func (b *backwards) sew(fabrics int) {
	for range fabrics*5/2 + 1 {
		body := b.group()
		c := b.p.Cases[b.r.IntN(len(b.p.Cases))]
		if len(b.p.Trims[body]) == 0 {
			continue
		}
		for _, l := range c.Panels {
			g := body
			if l.Role != planning.Body {
				g = b.p.Trims[body][b.r.IntN(len(b.p.Trims[body]))]
			}
			if b.rests[g] == nil {
				b.rests[g] = map[[2]int64]int{}
			}
			sides := [2]int64{wholeOf(l.Around), wholeOf(l.Along)}
			b.rests[g][sides] += l.Pieces
			b.laid += sides[0] * sides[1] * int64(l.Pieces)
		}
		b.made[[2]string{b.theme[body], c.ID}]++
	}
}

// lay cuts every piece backwards: strips of one width, each filled by columns of equal height.
func (b *backwards) lay(fabrics int) {
	panels := 0
	for _, rest := range b.rests {
		for _, n := range rest {
			panels += n
		}
	}
	most := max(1, int64(panels)/int64(fabrics)) // panels a piece, about
	for _, g := range slices.Concat(b.prints, b.plains) {
		for left(b.rests[g]) > 0 {
			width := []int64{42, 56, 84, 112}[b.r.IntN(4)]
			if !b.fillable(g, width) {
				width = b.narrow(g)
			}
			length, strips := int64(0), b.between(1, max(1, most))
			for range strips {
				before := left(b.rests[g])
				h, ok := b.fill(g, width)
				if !ok || before == left(b.rests[g]) {
					break
				}
				length += h
			}
			b.lot(g, length, width, 1, 1)
		}
	}
	b.shuffle()
}

// fillable says whether panels that are left fill a strip of that width.
func (b *backwards) fillable(g string, width int64) bool {
	for _, h := range heights(b.rests[g]) {
		if b.columns(g, width, h, false) {
			return true
		}
	}
	return false
}

// fill takes the panels of one strip and gives its height.
func (b *backwards) fill(g string, width int64) (int64, bool) {
	hs := heights(b.rests[g])
	b.r.Shuffle(len(hs), func(i, j int) { hs[i], hs[j] = hs[j], hs[i] })
	for _, h := range hs {
		if b.columns(g, width, h, true) {
			return h, true
		}
	}
	return 0, false
}

// columns fills a strip with stacks: each of one panel as high as the strip, or of several that
// add up to it. It gives everything back where it cannot, or where it was only a trial.
func (b *backwards) columns(g string, width, height int64, take bool) bool {
	rest := b.rests[g]
	if width == 0 {
		return true
	}
	for _, s := range sortedSides(rest) {
		n := int(height / s[1])
		if s[0] > width || height%s[1] != 0 || rest[s] < n {
			continue
		}
		rest[s] -= n
		ok := b.columns(g, width-s[0], height, take)
		if !ok || !take {
			rest[s] += n
		}
		if ok {
			return true
		}
	}
	return false
}

// narrow gives the width of a panel that is left: its strip is as wide as itself.
func (b *backwards) narrow(g string) int64 {
	return sortedSides(b.rests[g])[0][0]
}

func (b *backwards) shuffle() {
	f := b.p.Fabrics
	b.r.Shuffle(len(f), func(i, j int) { f[i], f[j] = f[j], f[i] })
}

func (b *backwards) drive(area bool) *Drive {
	best := new(big.Rat)
	for _, ward := range []string{"ward-1", "ward-2"} {
		for i, c := range b.p.Cases {
			n := b.made[[2]string{ward, c.ID}]
			if n == 0 {
				continue
			}
			q := planning.Quota{ID: ward + "-" + c.ID, Cases: []string{c.ID}, Wanted: n, Weight: planning.Whole(int64(1 + i%3))}
			if area {
				q.Wanted, q.Weight = n*3/2+1, planning.Whole(int64(areaOf(c)))
			} else {
				best.Add(best, new(big.Rat).Mul(q.Weight.Rat(), big.NewRat(int64(n), 1)))
			}
			for _, g := range slices.Concat(b.prints, b.plains) {
				if b.theme[g] == ward {
					q.Bodies = append(q.Bodies, g)
				}
			}
			b.p.Quotas = append(b.p.Quotas, q)
		}
	}
	if area {
		best.SetInt64(b.laid)
	}
	return &Drive{Problem: b.p, Known: true, Best: decimal(best.FloatString(0))}
}

func left(rest map[[2]int64]int) int {
	n := 0
	for _, k := range rest {
		n += k
	}
	return n
}

// heights lists how high strips can be: the panels' own sides.
func heights(rest map[[2]int64]int) []int64 {
	var out []int64
	for s, n := range rest {
		if n > 0 {
			out = append(out, s[1])
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// sortedSides lists the panels that are left, widest first.
func sortedSides(rest map[[2]int64]int) [][2]int64 {
	var out [][2]int64
	for s, n := range rest {
		if n > 0 {
			out = append(out, s)
		}
	}
	slices.SortFunc(out, func(a, b [2]int64) int {
		if a[0] != b[0] {
			return int(b[0] - a[0])
		}
		return int(b[1] - a[1])
	})
	return out
}

func wholeOf(d planning.Decimal) int64 { return d.Rat().Num().Int64() }
