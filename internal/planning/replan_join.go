package planning

import "slices"

// Joined gives the changed plan in terms of the problem that Replan was given: what is cut
// from the rest of a piece stands in the piece's own layout, after what was kept there. Its
// bound and certificate still speak of r.Problem.
func (r *Replanned) Joined(p *Problem) *Plan {
	plan := *r.Plan
	m := &model{p: r.Problem, places: finest(r.Problem, r.Plan)}
	plan.Layouts = []Layout{}
	var after []Layout
	for _, l := range r.Plan.Layouts {
		if _, isRest := r.rests[l.Fabric]; isRest {
			after = append(after, l)
		} else {
			plan.Layouts = append(plan.Layouts, l)
		}
	}
	for _, l := range after {
		from := r.rests[l.Fabric]
		i := slices.IndexFunc(plan.Layouts, func(o Layout) bool { return o.Fabric == from.of.Fabric && o.Piece == from.of.Piece })
		into := &plan.Layouts[i]
		down := m.length(from.from)
		into.Panels, into.Remnants = slices.Clone(into.Panels), slices.Clone(into.Remnants)
		for _, x := range l.Panels {
			x.Y = m.decimal(m.length(x.Y) + down)
			into.Panels = append(into.Panels, x)
		}
		for _, x := range l.Remnants {
			x.Y = m.decimal(m.length(x.Y) + down)
			into.Remnants = append(into.Remnants, x)
		}
		into.Used = m.decimal(m.length(l.Used) + down)
	}
	plan.Quotas, plan.Summary.CasesMade, plan.Summary.BundlesLeast = nil, 0, 0
	if whole, err := newModel(p); err == nil {
		whole.figures(&plan)
		plan.Summary.Bundles = bundles(&plan)
	}
	return &plan
}
