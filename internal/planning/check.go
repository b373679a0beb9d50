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
// Kits and layouts of p.Fixed must stand as they are and are not counted when kits are balanced.
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
	fabrics map[string]*Fabric
	cases   map[string]*Case
	quotas  map[string]*Quota
	trims   map[string]map[string]bool

	cut     map[string]cutPanel
	used    map[string]bool
	made    map[string]int
	area    *big.Int
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
	c.trims, c.area = map[string]map[string]bool{}, new(big.Int)
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

func (c *checker) kits() {
	type sort struct{ quota, spec string }
	sizes, ids := map[sort][]int{}, map[string]bool{}
	fixed := map[string]bool{}
	if c.p.Fixed != nil {
		for _, k := range c.p.Fixed.Kits {
			fixed[k.ID] = true
		}
	}
	for i := range c.plan.Kits {
		k := &c.plan.Kits[i]
		where := "kit " + k.ID
		if ids[k.ID] {
			c.fault(where, "the id stands twice")
		}
		ids[k.ID] = true
		q := c.quotas[k.Quota]
		if q == nil || !slices.Contains(q.Cases, k.Case) || c.cases[k.Case] == nil {
			c.fault(where, "there is no quota %q that takes case %q", k.Quota, k.Case)
			continue
		}
		if len(k.Pillowcases) == 0 {
			c.fault(where, "is empty")
		}
		if !fixed[k.ID] {
			sizes[sort{k.Quota, k.Case}] = append(sizes[sort{k.Quota, k.Case}], len(k.Pillowcases))
		} else if len(k.Pillowcases) > c.p.KitCases(q) {
			c.fault(where, "holds %d, at most %d fit", len(k.Pillowcases), c.p.KitCases(q))
		}
		c.made[k.Quota] += len(k.Pillowcases)
		c.kit(where, k, q)
	}
	for s, n := range sizes {
		c.balanced("quota "+s.quota+", case "+s.spec, n, c.p.KitCases(c.quotas[s.quota]))
	}
}

func (c *checker) balanced(where string, sizes []int, most int) {
	sum := 0
	for _, n := range sizes {
		sum += n
	}
	if slices.Max(sizes) > most {
		c.fault(where, "has a kit of %d, at most %d fit", slices.Max(sizes), most)
	}
	if slices.Max(sizes)-slices.Min(sizes) > 1 {
		c.fault(where, "kits of %d to %d are not balanced", slices.Min(sizes), slices.Max(sizes))
	}
	if want := (sum + most - 1) / most; len(sizes) != want {
		c.fault(where, "%d kits where %d would do", len(sizes), want)
	}
}

func (c *checker) kit(where string, k *Kit, q *Quota) {
	type bundle struct {
		fabric *Fabric
		piece  int
		role   string
	}
	stacks := map[bundle]bool{}
	spec := c.cases[k.Case]
	for _, one := range k.Pillowcases {
		if len(one) != len(spec.Panels) {
			c.fault(where, "a pillowcase has the roles %v, wanted %d of them", sortedKeys(one), len(spec.Panels))
			continue
		}
		groups := map[string]string{}
		for _, line := range spec.Panels {
			ids := one[line.Role]
			if len(ids) != line.Pieces {
				c.fault(where, "%d pieces for a %s, wanted %d", len(ids), line.Role, line.Pieces)
			}
			for _, id := range ids {
				panel, known := c.cut[id]
				if !known {
					c.fault(where, "names panel %s, which no layout cuts", id)
					continue
				}
				if c.used[id] {
					c.fault(where, "panel %s stands in two pillowcases", id)
				}
				c.used[id] = true
				stacks[bundle{panel.fabric, panel.piece, line.Role}] = true
				if panel.kind != (kind{line.Role, line.Around, line.Along}) {
					c.fault(where, "panel %s is no %s of a %s", id, line.Role, k.Case)
				}
				if g, set := groups[line.Role]; set && g != panel.fabric.Group {
					c.fault(where, "the pieces of one %s come from %s and %s", line.Role, g, panel.fabric.Group)
				}
				groups[line.Role] = panel.fabric.Group
			}
		}
		c.match(where, q, groups)
	}
	c.bundles += len(stacks)
}

func (c *checker) match(where string, q *Quota, groups map[string]string) {
	body, known := groups[Body]
	if !known {
		return
	}
	if !slices.Contains(q.Bodies, body) {
		c.fault(where, "%s is not wanted for %s", body, q.ID)
	}
	for role, g := range groups {
		if role != Body && !c.trims[body][g] {
			c.fault(where, "%s does not go with %s", g, body)
		}
	}
}

func (c *checker) sums() {
	for _, id := range sortedKeys(c.cut) {
		if !c.used[id] && !c.isFixed(id) {
			c.fault("panel "+id, "is cut but stands in no pillowcase")
		}
	}
	told := map[string]bool{}
	for _, line := range c.plan.Quotas {
		if c.quotas[line.ID] == nil || told[line.ID] {
			c.fault("quotas", "%q is unknown or told twice", line.ID)
		}
		told[line.ID] = true
		if line.Made != c.made[line.ID] {
			c.fault("quota "+line.ID, "the plan says %d made, its kits hold %d", line.Made, c.made[line.ID])
		}
	}
	weight, count := new(big.Rat), 0
	for i := range c.p.Quotas {
		q := &c.p.Quotas[i]
		n := c.made[q.ID]
		count += n
		weight.Add(weight, new(big.Rat).Mul(q.Weight.Rat(), big.NewRat(int64(n), 1)))
		if !told[q.ID] {
			c.fault("quota "+q.ID, "the plan does not tell of it")
		}
		if n > q.Wanted {
			c.fault("quota "+q.ID, "wants %d and gets %d", q.Wanted, n)
		}
	}
	s := &c.plan.Summary
	if s.WeightMade.Rat().Cmp(weight) != 0 {
		c.fault("summary.weight_made", "says %s, the kits hold %s", s.WeightMade, weight.RatString())
	}
	if s.WeightBound.Rat().Cmp(weight) < 0 {
		c.fault("summary.weight_bound", "%s is below what was made, %s", s.WeightBound, weight.RatString())
	}
	if s.CasesBound < count {
		c.fault("summary.cases_bound", "%d is below what was made, %d", s.CasesBound, count)
	}
	if s.CasesMade != 0 && s.CasesMade != count {
		c.fault("summary.cases_made", "says %d, the kits hold %d", s.CasesMade, count)
	}
	if s.Bundles != 0 && s.Bundles != c.bundles {
		c.fault("summary.bundles", "says %d, the kits hold %d", s.Bundles, c.bundles)
	}
	if s.AreaUsed.Sign() != 0 && s.AreaUsed != areaDecimal(c.area, c.places) {
		c.fault("summary.area_used", "says %s, the layouts use %s", s.AreaUsed, areaDecimal(c.area, c.places))
	}
}
