package planning

import (
	"cmp"
	"slices"
)

// Tidied gives a plan of which nothing stands yet without the strips that nothing lies on any
// more, and with the kits of each quota and case as few and as even as may be: whole
// pillowcases go from fuller kits to emptier ones. What is fixed stays as it is.
func Tidied(p *Problem, plan *Plan) (*Plan, error) {
	c := newChecker(p, plan)
	plan = plan.clone()
	m, err := newModel(p)
	if err != nil {
		return nil, err
	}
	for i, l := range plan.Layouts {
		if !slices.ContainsFunc(l.Panels, func(x PlacedPanel) bool { return c.isFixed(x.ID) }) {
			plan.Layouts[i] = m.closedUp(l)
		}
	}
	type sort struct{ quota, spec string }
	lines := map[sort][]*Kit{}
	var order []sort
	for i := range plan.Kits {
		if k := &plan.Kits[i]; !c.isFixedKit(k.ID) && c.quotas[k.Quota] != nil {
			s := sort{k.Quota, k.Case}
			if lines[s] == nil {
				order = append(order, s)
			}
			lines[s] = append(lines[s], k)
		}
	}
	empty := map[string]bool{}
	for _, s := range order {
		kits := slices.SortedStableFunc(slices.Values(lines[s]), func(a, b *Kit) int { return len(b.Pillowcases) - len(a.Pillowcases) })
		all := 0
		for _, k := range kits {
			all += len(k.Pillowcases)
		}
		sizes := share(all, p.KitCases(c.quotas[s.quota]))
		var over []map[string][]string
		for i, k := range kits {
			size := 0
			if i < len(sizes) {
				size = sizes[i]
			} else {
				empty[k.ID] = true
			}
			if n := len(k.Pillowcases); n > size {
				over = append(over, k.Pillowcases[size:]...)
				k.Pillowcases = slices.Clone(k.Pillowcases[:size])
			}
		}
		for i, k := range kits {
			for i < len(sizes) && len(k.Pillowcases) < sizes[i] {
				k.Pillowcases = append(k.Pillowcases, over[0])
				over = over[1:]
			}
		}
	}
	plan.Kits = slices.DeleteFunc(plan.Kits, func(k Kit) bool { return empty[k.ID] })
	plan.Quotas, plan.Summary.CasesMade = nil, 0
	m.figures(plan)
	plan.Summary.Bundles, plan.Summary.BundlesLeast = bundles(plan), 0
	return plan, nil
}

// closedUp moves what lies behind a strip that no panel lies on any more up to what lies before
// it. A remnant that no panel lies beside is not cut off: it stays with the piece.
func (m *model) closedUp(l Layout) Layout {
	type span struct{ from, to int64 }
	of := func(y, h Decimal) span { return span{m.length(y), m.length(y) + m.length(h)} }
	var lie []span
	for _, x := range l.Panels {
		lie = append(lie, of(x.Y, x.H))
	}
	panels := slices.Clone(lie)
	l.Panels = slices.Clone(l.Panels)
	l.Remnants = slices.DeleteFunc(slices.Clone(l.Remnants), func(x Remnant) bool {
		s := of(x.Y, x.H)
		return !slices.ContainsFunc(panels, func(o span) bool { return o.from < s.to && s.from < o.to })
	})
	for _, x := range l.Remnants {
		lie = append(lie, of(x.Y, x.H))
	}
	slices.SortFunc(lie, func(a, b span) int { return cmp.Compare(a.from, b.from) })
	var ends, gone int64
	up := map[int64]int64{} // how far what begins there moves
	for _, s := range lie {
		gone += max(0, s.from-ends)
		up[s.from], ends = gone, max(ends, s.to)
	}
	for i := range l.Panels {
		x := &l.Panels[i]
		x.Y = m.decimal(m.length(x.Y) - up[m.length(x.Y)])
	}
	for i := range l.Remnants {
		x := &l.Remnants[i]
		x.Y = m.decimal(m.length(x.Y) - up[m.length(x.Y)])
	}
	return m.ended(l)
}
