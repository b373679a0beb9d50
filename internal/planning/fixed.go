package planning

import (
	"fmt"
	"math/big"
	"reflect"
	"slices"

	"boltward/internal/apperr"
)

// kind is what makes two panels the same: the role and the cut size.
type kind struct {
	role          string
	around, along Decimal
}

// worthKeeping says whether a rectangle is as large as the least remnant, either way round.
func worthKeeping(w, h, keepW, keepL int64) bool {
	return w >= keepW && h >= keepL || w >= keepL && h >= keepW
}

// areaDecimal gives an area in units of 10^-places squared, rounded down to what a Decimal holds.
func areaDecimal(area *big.Int, places int) Decimal { return exactDecimal(area, 2*places) }

// exactDecimal gives n / 10^places, rounded down to nine decimals and to what int64 holds.
func exactDecimal(n *big.Int, places int) Decimal {
	a, ten := new(big.Int).Set(n), big.NewInt(10)
	for places > mostDecimals || !a.IsInt64() && places > 0 {
		a.Quo(a, ten)
		places--
	}
	if !a.IsInt64() {
		return Decimal{}
	}
	return scaled(a.Int64(), places)
}

// finest gives the fewest decimals in which every length of the problem and the plan is whole.
func finest(p *Problem, plan *Plan) int {
	places := uint8(0)
	see := func(list ...Decimal) {
		for _, d := range list {
			places = max(places, d.places)
		}
	}
	for i := range p.Fabrics {
		see(p.Fabrics[i].Length, p.Fabrics[i].Width)
	}
	for i := range p.Cases {
		for _, l := range p.Cases[i].Panels {
			see(l.Around, l.Along)
		}
	}
	k := p.KeepSides()
	see(k.Width, k.Length)
	layouts := []Layout{}
	if plan != nil {
		layouts = plan.Layouts
	}
	if p.Fixed != nil {
		layouts = append(layouts[:len(layouts):len(layouts)], p.Fixed.Layouts...)
	}
	for i := range layouts {
		see(layouts[i].Used)
		for _, x := range layouts[i].Panels {
			see(x.X, x.Y, x.W, x.H)
		}
		for _, x := range layouts[i].Remnants {
			see(x.X, x.Y, x.W, x.H)
		}
	}
	return int(places)
}

// fixedFaults judges what an earlier plan has settled by the rules of every plan, as far as
// they can be judged without the rest: panels that wait in no kit are allowed. Faults are named by
// their path in the file, as all others of a problem.
func (p *Problem) fixedFaults() []apperr.Field {
	bare := *p
	bare.Fixed = nil
	plan := &Plan{Unit: p.Unit, Layouts: p.Fixed.Layouts, Kits: p.Fixed.Kits}
	c := newChecker(&bare, plan)
	c.places, c.fixed = finest(p, plan), true
	c.layouts()
	ids := map[string]bool{}
	for i := range plan.Kits {
		k := &plan.Kits[i]
		where := fmt.Sprintf("fixed.kits[%d]", i)
		q := c.quotas[k.Quota]
		switch {
		case ids[k.ID]:
			c.fault(where, "the id stands twice")
		case q == nil || c.cases[k.Case] == nil:
			c.fault(where, "there is no quota %q that takes case %q", k.Quota, k.Case)
		case len(k.Pillowcases) == 0:
			c.fault(where, "is empty")
		default:
			c.made[k.Quota] += len(k.Pillowcases)
			c.kit(where, k, q)
		}
		ids[k.ID] = true
	}
	for i := range p.Quotas {
		if q := &p.Quotas[i]; c.made[q.ID] > q.Wanted {
			c.fault(fmt.Sprintf("quotas[%d].wanted", i), "quota %q wants %d and the fixed kits hold %d", q.ID, q.Wanted, c.made[q.ID])
		}
	}
	var out []apperr.Field
	for _, f := range c.faults {
		out = append(out, apperr.Field{Name: f.Where, Why: f.Why})
	}
	return out
}

// isFixed says whether a panel was cut by an earlier plan.
func (c *checker) isFixed(id string) bool {
	if c.p.Fixed == nil {
		return false
	}
	for i := range c.p.Fixed.Layouts {
		for _, x := range c.p.Fixed.Layouts[i].Panels {
			if x.ID == id {
				return true
			}
		}
	}
	return false
}

// fixedStands confirms that what had to stay has stayed.
func (c *checker) fixedStands() {
	if c.p.Fixed == nil {
		return
	}
	kits := map[string]*Kit{}
	for i := range c.plan.Kits {
		kits[c.plan.Kits[i].ID] = &c.plan.Kits[i]
	}
	for i := range c.p.Fixed.Kits {
		k := &c.p.Fixed.Kits[i]
		if got := kits[k.ID]; got == nil || !reflect.DeepEqual(got, k) {
			c.fault("kit "+k.ID, "had to stay as it was")
		}
	}
	for i := range c.p.Fixed.Layouts {
		l := &c.p.Fixed.Layouts[i]
		if got := c.plan.LayoutOf(l.Fabric, l.Piece); got == nil || !reflect.DeepEqual(got, l) {
			c.fault(fmt.Sprintf("%s/%d", l.Fabric, l.Piece), "had to stay as it was")
		}
	}
}

// isFixedKit says whether a kit was made up by an earlier plan.
func (c *checker) isFixedKit(id string) bool {
	return c.p.Fixed != nil && slices.ContainsFunc(c.p.Fixed.Kits, func(k Kit) bool { return k.ID == id })
}
