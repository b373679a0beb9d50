package proof

import (
	"errors"
	"fmt"
	"math/big"
)

// cloth is all fabric of one group: what panels it can give and how many pieces of each size
// there are, on a grid that all panel sides are whole multiples of.
type cloth struct {
	name   string
	lots   []*fabric
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
func (c *casework) takeCloth() error {
	c.byName = map[string]*cloth{}
	for i := range c.p.Fabrics {
		f := &c.p.Fabrics[i]
		g := c.byName[f.Group]
		if g == nil {
			g = &cloth{name: f.Group, pieces: map[[2]int64]int64{}}
			c.byName[f.Group], c.groups = g, append(c.groups, g)
		}
		g.lots = append(g.lots, f)
	}
	grids := map[string]*big.Rat{}
	for _, x := range c.claim.cert.Grids {
		grids[x.Group] = x.Grid.Rat
	}
	for _, g := range c.groups {
		if err := c.takeGroup(g, grids[g.name]); err != nil {
			return err
		}
	}
	return nil
}

// takeGroup lays out a group's panels and pieces on its grid. Rounding panel sides down to any
// grid only lets more be cut, so one that the certificate gives proves no less.
func (c *casework) takeGroup(g *cloth, given *big.Rat) error {
	type side struct {
		w, h *big.Rat
		key  string
	}
	var sides []side
	var grid *big.Rat
	seen := map[string]bool{}
	f := g.lots[0] // fabrics of one group serve alike
	for _, spec := range c.p.Cases {
		for _, l := range spec.Panels {
			key := kindKey(g.name, l.Role, l.Around.Rat, l.Along.Rat)
			if seen[key] || !has(f.Roles, l.Role) {
				continue
			}
			seen[key] = true
			if f.turn() != "along" {
				sides = append(sides, side{l.Around.Rat, l.Along.Rat, key})
			}
			if f.turn() != "across" {
				sides = append(sides, side{l.Along.Rat, l.Around.Rat, key})
			}
			grid = common(common(grid, l.Around.Rat), l.Along.Rat)
		}
	}
	if grid == nil {
		return nil
	}
	if given != nil {
		grid = given
	}
	var err error
	units := func(a, b *big.Rat) (n [2]int64) {
		for i, x := range []*big.Rat{a, b} {
			var tooLong error
			if n[i], tooLong = floorDiv(x, grid); tooLong != nil {
				err = fmt.Errorf("group %s: %w", g.name, tooLong)
			}
		}
		return n
	}
	for _, f := range g.lots {
		if n := c.whole(f); n > 0 {
			size := units(f.Width.Rat, f.Length.Rat)
			g.pieces[size] += n
			g.widest, g.long = max(g.widest, size[0]), max(g.long, size[1])
		}
	}
	for _, s := range sides {
		at, ok := c.panelAt[s.key]
		if !ok {
			at = -1
		}
		n := units(s.w, s.h)
		g.tooCoarse = g.tooCoarse || n[0] < 1 || n[1] < 1
		g.forms = append(g.forms, form{n[0], n[1], at})
	}
	return err
}

// whole counts the pieces of a fabric that no fixed layout cuts.
func (c *casework) whole(f *fabric) int64 {
	n := f.count()
	if len(c.taken) == 0 {
		return n
	}
	free := int64(0)
	for k := int64(1); k <= n; k++ {
		if !c.taken[fmt.Sprintf("%s/%d", f.ID, k)] {
			free++
		}
	}
	return free
}

// possible says whether a group could give this panel at all: some piece holds it, in its true
// size, or one lies cut.
func (c *casework) possible(group string, l panel) bool {
	key := kindKey(group, l.Role, l.Around.Rat, l.Along.Rat)
	if c.lies[key] {
		return true
	}
	if known, ok := c.can[key]; ok {
		return known
	}
	c.can[key] = c.held(group, l)
	return c.can[key]
}

func (c *casework) held(group string, l panel) bool {
	g := c.byName[group]
	if g == nil {
		return false
	}
	c.left -= int64(len(g.lots))
	for _, f := range g.lots {
		if !has(f.Roles, l.Role) {
			continue
		}
		across := f.turn() != "along" && l.Around.Cmp(f.Width.Rat) <= 0 && l.Along.Cmp(f.Length.Rat) <= 0
		along := f.turn() != "across" && l.Along.Cmp(f.Width.Rat) <= 0 && l.Around.Cmp(f.Length.Rat) <= 0
		if (across || along) && c.whole(f) > 0 {
			return true
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

// floorDiv fails where the quotient leaves no room to reckon with.
func floorDiv(a, b *big.Rat) (int64, error) {
	q := new(big.Rat).Quo(a, b)
	n := new(big.Int).Div(q.Num(), q.Denom())
	if n.BitLen() > 56 {
		return 0, errors.New("its grid is too fine for its sizes")
	}
	return n.Int64(), nil
}
