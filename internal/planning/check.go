package planning

import (
	"fmt"
	"math/big"
	"slices"

	"boltward/internal/cutting"
)

// Stages is the number of parting stages a layout may take: across the full width, along, across.
const Stages = 3

// Fault is one way in which a plan breaks the rules of its problem.
type Fault struct {
	Where string `json:"where"`
	Why   string `json:"why"`
}

func (f Fault) String() string { return f.Where + ": " + f.Why }

// Check holds a plan against its problem by the rules alone, sharing nothing with the search:
// panels inside their pieces, in allowed turns, parted in three stages, each in exactly one
// pillowcase that suits its quota, kits fewest and balanced, figures true. nil means valid.
// Kits and layouts of p.Fixed must stand as they are, whatever is said of the size of kits by
// now, and are not counted when kits are balanced.
func Check(p *Problem, plan *Plan) []Fault {
	c := newChecker(p, plan)
	if plan.Unit != p.Unit {
		c.fault("unit", "the plan is in %q, the problem in %q", plan.Unit, p.Unit)
	}
	c.layouts()
	c.kits()
	c.sums()
	c.fixedStands()
	return c.faults
}

func newChecker(p *Problem, plan *Plan) *checker {
	c := &checker{p: p, plan: plan, cut: map[string]cutPanel{}, used: map[string]bool{}, made: map[string]int{}}
	c.places = finest(p, plan)
	c.index()
	return c
}

type checker struct {
	p       *Problem
	plan    *Plan
	places  int
	fixed   bool // it is what a problem says is settled: faults are named by their path in its file
	fabrics map[string]*Fabric
	cases   map[string]*Case
	quotas  map[string]*Quota
	trims   map[string]map[string]bool

	cut     map[string]cutPanel
	used    map[string]bool
	made    map[string]int
	area    *big.Int
	left    *big.Int // Σ (length left)² over the pieces opened
	bundles int
	faults  []Fault
}

type cutPanel struct {
	fabric *Fabric
	piece  int
	kind   kind
}

func (c *checker) fault(where, format string, args ...any) {
	c.faults = append(c.faults, Fault{where, fmt.Sprintf(format, args...)})
}

func (c *checker) index() {
	c.fabrics, c.cases, c.quotas = map[string]*Fabric{}, map[string]*Case{}, map[string]*Quota{}
	c.trims, c.area, c.left = map[string]map[string]bool{}, new(big.Int), new(big.Int)
	for i := range c.p.Fabrics {
		c.fabrics[c.p.Fabrics[i].ID] = &c.p.Fabrics[i]
	}
	for i := range c.p.Cases {
		c.cases[c.p.Cases[i].ID] = &c.p.Cases[i]
	}
	for i := range c.p.Quotas {
		c.quotas[c.p.Quotas[i].ID] = &c.p.Quotas[i]
	}
	for g, list := range c.p.Trims {
		c.trims[g] = map[string]bool{}
		for _, t := range list {
			c.trims[g][t] = true
		}
	}
}

// units reads a length in 10^-places of the problem's unit.
func (c *checker) units(where string, d Decimal) int64 {
	n, ok := d.units(c.places)
	if !ok || n > 1<<60 || n < -(1<<60) {
		c.fault(where, "%s is no length that can be checked", d)
		return 0
	}
	return n
}

func (c *checker) layouts() {
	type place struct {
		fabric string
		piece  int
	}
	seen := map[place]bool{}
	for i := range c.plan.Layouts {
		l := &c.plan.Layouts[i]
		where := fmt.Sprintf("%s/%d", l.Fabric, l.Piece)
		if c.fixed {
			where = fmt.Sprintf("fixed.layouts[%d]", i)
		}
		f := c.fabrics[l.Fabric]
		if f == nil {
			c.fault(where, "there is no such fabric")
			continue
		}
		if l.Piece < 1 || l.Piece > f.Pieces {
			c.fault(where, "there is no such piece")
		}
		if seen[place{l.Fabric, l.Piece}] {
			c.fault(where, "the piece is laid out twice")
		}
		seen[place{l.Fabric, l.Piece}] = true
		if len(l.Panels) == 0 {
			c.fault(where, "the piece is opened for nothing")
		}
		c.layout(where, f, l)
	}
	if n := len(seen); c.plan.Summary.PiecesOpened != 0 && c.plan.Summary.PiecesOpened != n {
		c.fault("summary.pieces_opened", "says %d, the layouts open %d", c.plan.Summary.PiecesOpened, n)
	}
}

func (c *checker) layout(where string, f *Fabric, l *Layout) {
	width, length, used := c.units(where, f.Width), c.units(where, f.Length), c.units(where, l.Used)
	if used > length {
		c.fault(where, "uses %s of a length of %s", l.Used, f.Length)
	}
	var rects []cutting.Rect
	var ends int64
	for i := range l.Panels {
		p := &l.Panels[i]
		at := "panel " + p.ID
		if c.fixed {
			at = fmt.Sprintf("%s.panels[%d]", where, i)
		}
		if _, twice := c.cut[p.ID]; twice {
			c.fault(at, "the id stands twice")
		}
		r := cutting.Rect{X: c.units(at, p.X), Y: c.units(at, p.Y), W: c.units(at, p.W), H: c.units(at, p.H)}
		c.cut[p.ID] = cutPanel{f, l.Piece, c.panel(at, f, p, r)}
		ends = max(ends, r.Y+r.H)
		rects = append(rects, r)
	}
	if ends != used {
		c.fault(where, "says it uses %s, its panels end elsewhere", l.Used)
	}
	kept := big.NewInt(0)
	keep := c.p.KeepSides()
	kw, kl := c.units("keep.width", keep.Width), c.units("keep.length", keep.Length)
	for _, m := range l.Remnants {
		r := cutting.Rect{X: c.units(where, m.X), Y: c.units(where, m.Y), W: c.units(where, m.W), H: c.units(where, m.H)}
		if !worthKeeping(r.W, r.H, kw, kl) {
			c.fault(where, "a remnant of %s × %s is not worth keeping", m.W, m.H)
		}
		kept.Add(kept, new(big.Int).Mul(big.NewInt(r.W), big.NewInt(r.H)))
		rects = append(rects, r)
	}
	if _, err := cutting.Check(width, used, rects, Stages); err != nil {
		c.fault(where, "%v", err)
	}
	rest := big.NewInt(length - used)
	c.left.Add(c.left, rest.Mul(rest, rest))
	all := new(big.Int).Mul(big.NewInt(width), big.NewInt(used))
	c.area.Add(c.area, all.Sub(all, kept))
}

// panel holds a placed panel to the cutting list and gives its kind.
func (c *checker) panel(at string, f *Fabric, p *PlacedPanel, r cutting.Rect) kind {
	if !slices.Contains(f.Roles, p.Role) {
		c.fault(at, "%s may not serve as %s", f.ID, p.Role)
	}
	spec := c.cases[p.Case]
	if spec == nil || spec.panel(p.Role) == nil {
		c.fault(at, "there is no case %q with a %s", p.Case, p.Role)
		return kind{}
	}
	line := spec.panel(p.Role)
	around, along := c.units(at, line.Around), c.units(at, line.Along)
	across, turned := r.W == around && r.H == along, r.W == along && r.H == around
	switch {
	case !across && !turned:
		c.fault(at, "is %s × %s, wanted %s × %s", p.W, p.H, line.Around, line.Along)
	case !across && f.Turn == Across, !turned && f.Turn == Along:
		c.fault(at, "may only be laid %s on %s", f.Turn, f.ID)
	}
	return kind{p.Role, line.Around, line.Along}
}
