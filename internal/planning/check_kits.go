package planning

import (
	"math/big"
	"slices"
)

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
		if role != Body && !c.goes(body, role, g) {
			c.fault(where, "%s does not go with %s as %s", g, body, role)
		}
	}
}

// goes says whether a trim of this role may be of a group on bodies of another.
func (c *checker) goes(body, role, trim string) bool {
	if only, said := c.p.TrimRoles[body][role]; said && !slices.Contains(only, trim) {
		return false
	}
	return c.trims[body][trim]
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
	if s.BundlesLeast > c.bundles {
		c.fault("summary.bundles_least", "%d is above what the kits hold, %d", s.BundlesLeast, c.bundles)
	}
	if s.LeftSquares.Sign() != 0 && s.LeftSquares != areaDecimal(c.left, c.places) {
		c.fault("summary.left_squares", "says %s, the layouts leave %s", s.LeftSquares, areaDecimal(c.left, c.places))
	}
	if s.AreaUsed.Sign() != 0 && s.AreaUsed != areaDecimal(c.area, c.places) {
		c.fault("summary.area_used", "says %s, the layouts use %s", s.AreaUsed, areaDecimal(c.area, c.places))
	}
}
