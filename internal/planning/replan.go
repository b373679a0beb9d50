package planning

import (
	"context"
	"fmt"
	"slices"

	"boltward/internal/apperr"
)

// Settled says what of a plan cannot change any more: kits that are cut, on the table or with
// somebody, and pieces that are cut.
type Settled struct {
	Kits   []string    `json:"kits"`
	Pieces []PieceName `json:"pieces"`
}

// PieceName names one piece of fabric.
type PieceName struct {
	Fabric string `json:"fabric"`
	Piece  int    `json:"piece"`
}

// Replanned is a changed plan and what changed.
type Replanned struct {
	Plan    *Plan       `json:"plan"`
	Problem *Problem    `json:"problem"` // with what was kept as fixed: what the plan's bound and certificate speak of
	Kept    []string    `json:"kept"`    // kits that stay as they were
	Changed []string    `json:"changed"` // kits of the old plan that are made otherwise or not at all
	New     []string    `json:"new"`     // kits that the old plan did not have
	Quotas  []Moved     `json:"quotas"`  // whose numbers change
	Recut   []PieceName `json:"recut"`   // pieces cut otherwise than before, or no longer
}

// Replan changes a plan after the problem has: a piece came up short, a kit went missing, a
// quota changed. What is settled stays as it is. Of the rest it keeps as much as it can
// without making less than a plan made anew would: first every kit that is still whole; where
// that makes less, only the kits of quotas that lost nothing; and so on down to what is
// settled. A settled kit that the problem no longer allows is an apperr.Error.
func Replan(ctx context.Context, p *Problem, old *Plan, settled Settled, o Options) (*Replanned, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	whole := stillWhole(p, old)
	for _, id := range settled.Kits {
		if !whole[id] {
			return nil, apperr.Conflict("kit %s is settled, and the problem no longer allows it: its fabric, its case or its quota has changed", id)
		}
	}
	hurt := hurtQuotas(p, old, whole)
	keep := []func(k *Kit) bool{
		func(k *Kit) bool { return whole[k.ID] },
		func(k *Kit) bool { return whole[k.ID] && !hurt[k.Quota] },
		func(*Kit) bool { return false },
	}
	var best *Plan
	var of *Problem
	for i := len(keep) - 1; i >= 0; i-- {
		q := fixedProblem(p, old, settled, keep[i])
		plan, err := Solve(ctx, q, o)
		if err != nil {
			return nil, err
		}
		plan = dropIdle(q, plan, settled)
		if best == nil || plan.Summary.WeightMade.Cmp(best.Summary.WeightMade) >= 0 {
			best, of = plan, q
		}
	}
	r := compared(old, best)
	r.Problem = of
	return r, nil
}

// stillWhole says of each kit whether the problem still allows it and all it is cut from.
func stillWhole(p *Problem, old *Plan) map[string]bool {
	bad := map[string]bool{} // layouts
	for i := range old.Layouts {
		one := &Plan{Unit: old.Unit, Layouts: []Layout{old.Layouts[i]}}
		c := newChecker(p, one)
		c.layouts()
		if len(c.faults) > 0 {
			for _, x := range old.Layouts[i].Panels {
				bad[x.ID] = true
			}
		}
	}
	out := map[string]bool{}
	left := map[string]int{}
	for i := range p.Quotas {
		left[p.Quotas[i].ID] = p.Quotas[i].Wanted
	}
	for i := range old.Kits {
		k := old.Kits[i]
		c := newChecker(p, &Plan{Unit: old.Unit, Layouts: old.Layouts, Kits: []Kit{k}})
		c.layouts()
		c.faults = nil
		c.kits()
		ok := true
		for _, f := range c.faults {
			// How many kits a quota needs is judged of the whole plan, not of one kit.
			ok = ok && f.Where != "quota "+k.Quota+", case "+k.Case
		}
		for _, one := range k.Pillowcases {
			for _, ids := range one {
				ok = ok && !slices.ContainsFunc(ids, func(id string) bool { return bad[id] })
			}
		}
		ok = ok && left[k.Quota] >= len(k.Pillowcases)
		if ok {
			left[k.Quota] -= len(k.Pillowcases)
		}
		out[k.ID] = ok
	}
	return out
}

// hurtQuotas lists the quotas that lost a kit.
func hurtQuotas(p *Problem, old *Plan, whole map[string]bool) map[string]bool {
	hurt := map[string]bool{}
	for i := range old.Kits {
		if !whole[old.Kits[i].ID] {
			hurt[old.Kits[i].Quota] = true
		}
	}
	for i := range p.Quotas {
		if old.Made(p.Quotas[i].ID) < p.Quotas[i].Wanted {
			hurt[p.Quotas[i].ID] = true
		}
	}
	return hurt
}

// fixedProblem is the problem with what is settled, and the kits to keep, fixed.
func fixedProblem(p *Problem, old *Plan, settled Settled, keep func(*Kit) bool) *Problem {
	q := *p
	q.Fixed = &Fixed{}
	held := map[string]bool{}
	for i := range old.Kits {
		k := &old.Kits[i]
		if !slices.Contains(settled.Kits, k.ID) && !keep(k) {
			continue
		}
		q.Fixed.Kits = append(q.Fixed.Kits, *k)
		for _, one := range k.Pillowcases {
			for _, ids := range one {
				for _, id := range ids {
					held[id] = true
				}
			}
		}
	}
	for _, l := range old.Layouts {
		stays := slices.Contains(settled.Pieces, PieceName{l.Fabric, l.Piece})
		for _, x := range l.Panels {
			stays = stays || held[x.ID]
		}
		if stays {
			q.Fixed.Layouts = append(q.Fixed.Layouts, l)
		}
	}
	return &q
}

// dropIdle takes panels that nothing is sewn from out of pieces that are not cut yet.
func dropIdle(q *Problem, plan *Plan, settled Settled) *Plan {
	used := map[string]bool{}
	for _, k := range plan.Kits {
		for _, one := range k.Pillowcases {
			for _, ids := range one {
				for _, id := range ids {
					used[id] = true
				}
			}
		}
	}
	m, err := newModel(q)
	if err != nil {
		return plan
	}
	layouts := plan.Layouts[:0:0]
	for _, l := range plan.Layouts {
		if !slices.Contains(settled.Pieces, PieceName{l.Fabric, l.Piece}) {
			n := len(l.Panels)
			l.Panels = slices.DeleteFunc(slices.Clone(l.Panels), func(x PlacedPanel) bool { return !used[x.ID] })
			if len(l.Panels) == 0 {
				continue
			}
			if len(l.Panels) < n {
				var ends int64
				for _, x := range l.Panels {
					ends = max(ends, m.length(x.Y)+m.length(x.H))
				}
				l.Used = m.decimal(ends)
				l.Remnants = slices.DeleteFunc(slices.Clone(l.Remnants), func(r Remnant) bool { return m.length(r.Y)+m.length(r.H) > ends })
			}
		}
		layouts = append(layouts, l)
	}
	plan.Layouts = layouts
	plan.Quotas, plan.Summary.CasesMade = nil, 0
	m.figures(plan)
	return plan
}

// compared tells what changed between two plans.
func compared(old, plan *Plan) *Replanned {
	r := &Replanned{Plan: plan}
	was := map[string]string{}
	for i := range old.Kits {
		was[old.Kits[i].ID] = fmt.Sprint(old.Kits[i])
	}
	for i := range plan.Kits {
		k := &plan.Kits[i]
		switch text, known := was[k.ID]; {
		case !known:
			r.New = append(r.New, k.ID)
		case text == fmt.Sprint(*k):
			r.Kept = append(r.Kept, k.ID)
		default:
			r.Changed = append(r.Changed, k.ID)
		}
		delete(was, k.ID)
	}
	r.Changed = append(r.Changed, sortedKeys(was)...)
	for _, q := range plan.Quotas {
		if n := old.Made(q.ID); n != q.Made {
			r.Quotas = append(r.Quotas, Moved{q.ID, n, q.Made})
		}
	}
	seen := map[PieceName]string{}
	for _, l := range old.Layouts {
		seen[PieceName{l.Fabric, l.Piece}] = fmt.Sprint(l.Panels)
	}
	for _, l := range plan.Layouts {
		name := PieceName{l.Fabric, l.Piece}
		if seen[name] != fmt.Sprint(l.Panels) {
			r.Recut = append(r.Recut, name)
		}
		delete(seen, name)
	}
	for _, l := range old.Layouts {
		if _, gone := seen[PieceName{l.Fabric, l.Piece}]; gone {
			r.Recut = append(r.Recut, PieceName{l.Fabric, l.Piece})
		}
	}
	return r
}
