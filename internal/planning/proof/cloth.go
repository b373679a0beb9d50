package proof

import (
	"fmt"
	"math/big"
	"slices"
)

// cloth is all fabric of one group: what panels it can give and how many pieces of each size
// there are, on a grid that all panel sides are whole multiples of.
type cloth struct {
	name   string
	forms  []form
	pieces map[[2]int64]int64 // width and length in grid units → number
	widest int64
	long   int64
	// A grid so coarse that a panel vanishes proves nothing.
	tooCoarse bool
}

// form is a panel in one turn: across the width, along the length.
type form struct {
	w, h int64
	at   int // panel of the certificate, −1 where it has none
}

// takeCloth gathers the fabrics by group. Lengths are brought to the greatest length that
// divides every panel side; what is left over of a piece beyond that no panel can use.
func (c *casework) takeCloth() {
	index := map[string]*cloth{}
	for _, f := range c.p.Fabrics {
		if index[f.Group] != nil {
			continue
		}
		index[f.Group] = &cloth{name: f.Group, pieces: map[[2]int64]int64{}}
		c.groups = append(c.groups, index[f.Group])
	}
	for _, g := range c.groups {
		c.takeGroup(g)
	}
}

func (c *casework) takeGroup(g *cloth) {
	type side struct {
		w, h *big.Rat
		role string
		key  string
	}
	var sides []side
	var grid *big.Rat
	for _, f := range c.p.Fabrics {
		if f.Group != g.name {
			continue
		}
		seen := map[string]bool{}
		for _, spec := range c.p.Cases {
			for _, l := range spec.Panels {
				key := kindKey(g.name, l.Role, l.Around.Rat, l.Along.Rat)
				if seen[key] || !has(f.Roles, l.Role) {
					continue
				}
				seen[key] = true
				if f.Turn != "along" {
					sides = append(sides, side{l.Around.Rat, l.Along.Rat, l.Role, key})
				}
				if f.Turn != "across" {
					sides = append(sides, side{l.Along.Rat, l.Around.Rat, l.Role, key})
				}
				grid = common(common(grid, l.Around.Rat), l.Along.Rat)
			}
		}
		break // fabrics of one group serve alike
	}
	if grid == nil {
		return
	}
	// Rounding panel sides down to any other grid only lets more be cut, so it proves no less.
	for _, x := range c.claim.cert.Grids {
		if x.Group == g.name {
			grid = x.Grid.Rat
		}
	}
	for _, f := range c.p.Fabrics {
		if f.Group != g.name {
			continue
		}
		n := int64(1)
		if f.Pieces != nil {
			n = *f.Pieces
		}
		for k := int64(1); k <= n; k++ {
			if !c.taken[fmt.Sprintf("%s/%d", f.ID, k)] {
				w, l := floorDiv(f.Width.Rat, grid), floorDiv(f.Length.Rat, grid)
				g.pieces[[2]int64{w, l}]++
				g.widest, g.long = max(g.widest, w), max(g.long, l)
			}
		}
	}
	for _, s := range sides {
		at, ok := c.panelAt[s.key]
		if !ok {
			at = -1
		}
		if floorDiv(s.w, grid) < 1 || floorDiv(s.h, grid) < 1 {
			g.tooCoarse = true
		}
		g.forms = append(g.forms, form{floorDiv(s.w, grid), floorDiv(s.h, grid), at})
	}
}

// possible says whether a group could give this panel at all: some piece holds it, in its true
// size, or one lies cut.
func (c *casework) possible(group string, l panel) bool {
	key := kindKey(group, l.Role, l.Around.Rat, l.Along.Rat)
	if at, ok := c.panelAt[key]; ok && c.given[at] > 0 {
		return true
	}
	if known, ok := c.can[key]; ok {
		return known
	}
	c.can[key] = c.held(group, l)
	return c.can[key]
}

func (c *casework) held(group string, l panel) bool {
	for _, f := range c.p.Fabrics {
		if f.Group != group || !has(f.Roles, l.Role) {
			continue
		}
		across := f.Turn != "along" && l.Around.Cmp(f.Width.Rat) <= 0 && l.Along.Cmp(f.Length.Rat) <= 0
		along := f.Turn != "across" && l.Along.Cmp(f.Width.Rat) <= 0 && l.Around.Cmp(f.Length.Rat) <= 0
		if !across && !along {
			continue
		}
		n := int64(1)
		if f.Pieces != nil {
			n = *f.Pieces
		}
		for k := int64(1); k <= n; k++ {
			if !c.taken[fmt.Sprintf("%s/%d", f.ID, k)] {
				return true
			}
		}
	}
	return false
}

// common gives the greatest length that divides both, a nil one counting as nothing.
func common(a, b *big.Rat) *big.Rat {
	if a == nil {
		return b
	}
	x := new(big.Int).Mul(a.Num(), b.Denom())
	y := new(big.Int).Mul(b.Num(), a.Denom())
	return new(big.Rat).SetFrac(new(big.Int).GCD(nil, nil, x, y), new(big.Int).Mul(a.Denom(), b.Denom()))
}

func floorDiv(a, b *big.Rat) int64 {
	q := new(big.Rat).Quo(a, b)
	return new(big.Int).Div(q.Num(), q.Denom()).Int64()
}

// fabric gives the most that all pieces hold at these prices.
func (c *casework) fabric(price []int64) (*big.Int, error) {
	sum := new(big.Int)
	for _, g := range c.groups {
		value := map[[2]int64]int64{}
		for _, f := range g.forms {
			if f.at >= 0 && price[f.at] > 0 && f.w <= g.widest && f.h <= g.long {
				value[[2]int64{f.w, f.h}] = max(value[[2]int64{f.w, f.h}], price[f.at])
			}
		}
		if len(value) == 0 {
			continue
		}
		if g.tooCoarse || !fits(value, g.widest, g.long) {
			return nil, fmt.Errorf("at these prices and on this grid a piece of %s would be worth more than can be counted", g.name)
		}
		t := newTable(value, g.widest, g.long)
		for size, n := range g.pieces {
			sum.Add(sum, times(t.best(size[0], size[1]), n))
		}
	}
	return sum, nil
}

// fits says whether what a piece can be worth, by area, stays inside int64.
func fits(value map[[2]int64]int64, widest, long int64) bool {
	for s, v := range value {
		all := new(big.Int).Mul(times(widest, long), big.NewInt(v))
		if !all.Quo(all, times(s[0], s[1])).IsInt64() || all.Cmp(big.NewInt(1<<60)) > 0 {
			return false
		}
	}
	return true
}

// table answers what the best three-stage pattern of any piece of one cloth is worth.
type table struct {
	hs, ws []int64           // where panel sides can add up to
	strip  [][]int64         // by height, by width
	whole  map[int64][]int64 // by width, by length
}

func newTable(value map[[2]int64]int64, widest, long int64) *table {
	t := &table{whole: map[int64][]int64{}}
	var hs, ws []int64
	for s := range value {
		ws, hs = append(ws, s[0]), append(hs, s[1])
	}
	t.hs, t.ws = sums(hs, long), sums(ws, widest)
	slices.Sort(ws)
	classes := slices.Compact(ws)
	stacks := make([][]int64, len(classes))
	for k, w := range classes {
		stacks[k] = make([]int64, len(t.hs))
		for i, h := range t.hs {
			for s, v := range value {
				if s[0] <= w && s[1] <= h {
					stacks[k][i] = max(stacks[k][i], stacks[k][at(t.hs, h-s[1])]+v)
				}
			}
		}
	}
	for i := range t.hs {
		row := make([]int64, len(t.ws))
		for j, w := range t.ws {
			for k, c := range classes {
				if c <= w && stacks[k][i] > 0 {
					row[j] = max(row[j], row[at(t.ws, w-c)]+stacks[k][i])
				}
			}
		}
		t.strip = append(t.strip, row)
	}
	return t
}

func (t *table) best(width, length int64) int64 {
	j := at(t.ws, width)
	all := t.whole[t.ws[j]]
	if all == nil {
		var heights []int
		for i := 1; i < len(t.hs); i++ {
			if t.strip[i][j] > t.strip[i-1][j] {
				heights = append(heights, i)
			}
		}
		all = make([]int64, len(t.hs))
		for i, l := range t.hs {
			for _, k := range heights {
				if k <= i {
					all[i] = max(all[i], all[at(t.hs, l-t.hs[k])]+t.strip[k][j])
				}
			}
		}
		t.whole[t.ws[j]] = all
	}
	return all[at(t.hs, length)]
}

// sums lists what sides can add up to, 0 first.
func sums(sides []int64, most int64) []int64 {
	reach := map[int64]bool{0: true}
	points := []int64{0}
	for i := 0; i < len(points); i++ {
		for _, s := range sides {
			if p := points[i] + s; p <= most && !reach[p] {
				reach[p] = true
				points = append(points, p)
			}
		}
	}
	slices.Sort(points)
	return points
}

// at gives the last point not above v.
func at(points []int64, v int64) int {
	i, ok := slices.BinarySearch(points, v)
	if !ok {
		i--
	}
	return i
}
