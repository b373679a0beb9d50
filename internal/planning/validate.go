package planning

import (
	"fmt"
	"maps"
	"slices"

	"boltward/internal/apperr"
)

// Validate lists every fault of a problem by its path in one apperr.Error of KindInvalid, or
// gives nil. Groups named nowhere else, panels that fit no fabric, trims listed twice and
// nothing wanted are no faults: they are planned and explained.
func (p *Problem) Validate() error {
	r := &reader{}
	r.add(p.faults())
	return apperr.InvalidFields(r.faults)
}

func (p *Problem) faults() []apperr.Field {
	v := &validator{p: p}
	if p.Unit != "in" && p.Unit != "cm" && p.Unit != "mm" {
		v.add("unit", "must be in, cm or mm, not %q", p.Unit)
	}
	v.fabrics()
	v.cases()
	v.quotas()
	for _, g := range sortedKeys(p.TrimRoles) {
		for _, role := range sortedKeys(p.TrimRoles[g]) {
			for _, t := range p.TrimRoles[g][role] {
				if !slices.Contains(p.Trims[g], t) {
					v.add("trim_roles."+g+"."+role, "%q may not trim it at all by trims", t)
				}
			}
		}
	}
	if p.Kit.Cases < 1 {
		v.add("kit.cases", "a kit holds at least 1 pillowcase")
	}
	if p.Keep != nil {
		v.length("keep.width", p.Keep.Width)
		v.length("keep.length", p.Keep.Length)
	}
	if p.Fixed != nil && len(v.found) == 0 {
		v.found = append(v.found, p.fixedFaults()...)
	}
	return v.found
}

type validator struct {
	p     *Problem
	found []apperr.Field
}

func (v *validator) add(path, format string, args ...any) {
	v.found = append(v.found, apperr.Field{Name: path, Why: fmt.Sprintf(format, args...)})
}

// length refuses what is not above 0 and not at most 10 km.
func (v *validator) length(path string, d Decimal) {
	most := map[string]int64{"mm": 10_000_000, "cm": 1_000_000, "in": 393_700}[v.p.Unit]
	switch {
	case d.Sign() <= 0:
		v.add(path, "a length must be above 0, not %s", d)
	case most > 0 && d.Cmp(Whole(most)) > 0:
		v.add(path, "%s %s is more than 10 km", d, v.p.Unit)
	}
}

func (v *validator) name(path, id string, seen map[string]bool) {
	switch {
	case id == "":
		v.add(path, "must not be empty")
	case seen[id]:
		v.add(path, "%q stands twice", id)
	}
	seen[id] = true
}

func (v *validator) fabrics() {
	seen, first, pieces := map[string]bool{}, map[string]int{}, 0
	for i, f := range v.p.Fabrics {
		path := fmt.Sprintf("fabrics[%d]", i)
		v.name(path+".id", f.ID, seen)
		v.length(path+".length", f.Length)
		v.length(path+".width", f.Width)
		if f.Pieces < 0 {
			v.add(path+".pieces", "a number of pieces cannot be %d", f.Pieces)
		}
		pieces += min(max(f.Pieces, 0), MostPieces+1)
		if f.Turn != Across && f.Turn != Along && f.Turn != Either {
			v.add(path+".turn", "must be across, along or either, not %q", f.Turn)
		}
		if f.Group == "" {
			v.add(path+".group", "must not be empty")
			continue
		}
		k, known := first[f.Group]
		if !known {
			first[f.Group] = i
			continue
		}
		g := v.p.Fabrics[k]
		if g.Turn != f.Turn {
			v.add(path+".turn", "fabrics of the group %q are cut alike: %s here, %s at fabrics[%d]", f.Group, f.Turn, g.Turn, k)
		}
		if !slices.Equal(asSet(g.Roles), asSet(f.Roles)) {
			v.add(path+".roles", "fabrics of the group %q serve alike: %v here, %v at fabrics[%d]", f.Group, f.Roles, g.Roles, k)
		}
	}
	if pieces > MostPieces {
		v.add("fabrics", "more than %d pieces", MostPieces)
	}
}

func (v *validator) cases() {
	seen, kinds := map[string]bool{}, map[kind]bool{}
	for i, c := range v.p.Cases {
		path := fmt.Sprintf("cases[%d]", i)
		v.name(path+".id", c.ID, seen)
		roles := map[string]bool{}
		for j, l := range c.Panels {
			at := fmt.Sprintf("%s.panels[%d]", path, j)
			v.name(at+".role", l.Role, roles)
			v.length(at+".around", l.Around)
			v.length(at+".along", l.Along)
			if l.Pieces < 1 || l.Pieces > 1000 {
				v.add(at+".pieces", "a case takes 1 to 1000 pieces of a role, not %d", l.Pieces)
			}
			kinds[kind{l.Role, l.Around, l.Along}] = true
		}
		if !roles[Body] {
			v.add(path+".panels", "a case needs a body")
		}
	}
	if len(kinds) > MostKinds {
		v.add("cases", "%d kinds of panels, at most %d are planned", len(kinds), MostKinds)
	}
}

func (v *validator) quotas() {
	known, seen := map[string]bool{}, map[string]bool{}
	for _, c := range v.p.Cases {
		known[c.ID] = true
	}
	for i, q := range v.p.Quotas {
		path := fmt.Sprintf("quotas[%d]", i)
		v.name(path+".id", q.ID, seen)
		for j, c := range q.Cases {
			if !known[c] {
				v.add(fmt.Sprintf("%s.cases[%d]", path, j), "there is no case %q", c)
			}
		}
		if q.Wanted < 0 || q.Wanted > MostWanted {
			v.add(path+".wanted", "must be 0 to %d, not %d", MostWanted, q.Wanted)
		}
		switch {
		case q.Weight.Sign() <= 0:
			v.add(path+".weight", "must be above 0, not %s", q.Weight)
		case q.Weight.Cmp(Whole(1_000_000_000)) > 0:
			v.add(path+".weight", "%s is more than a thousand million", q.Weight)
		case q.Weight.coef > 1_000_000_000_000:
			v.add(path+".weight", "%s has more than twelve digits", q.Weight)
		}
		if q.Kit < 0 {
			v.add(path+".kit", "a kit holds at least 1 pillowcase")
		}
	}
	if len(v.p.Quotas) > MostQuotas {
		v.add("quotas", "%d quotas, at most %d are planned", len(v.p.Quotas), MostQuotas)
	}
}

func asSet(list []string) []string {
	return slices.Compact(slices.Sorted(slices.Values(list)))
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
