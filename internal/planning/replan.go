package planning

import (
	"context"
	"slices"

	"boltward/internal/apperr"
)

// Settled says what of a plan cannot change any more: kits that are cut, on the table or with
// somebody, and pieces that are cut.
type Settled struct {
	Kits   []string    `json:"kits"`
	Pieces []PieceName `json:"pieces"`
	// Laid are pieces whose panels lie as they lie: kits may give some up or take some over,
	// and one that nothing is sewn from is left out, but nothing is cut otherwise.
	Laid []PieceName `json:"laid,omitempty"`
	// Lie says that panels of settled kits may be cut already, also on pieces that are not named:
	// they stay where they lie. Kits that are only wished for move up on their cloth.
	Lie bool `json:"-"`
	// Whole says that every other kit that is still whole stays too, also where fewer pillowcases
	// are made then than by changing some.
	Whole bool `json:"whole,omitempty"`
}

// PieceName names one piece of fabric.
type PieceName struct {
	Fabric string `json:"fabric"`
	Piece  int    `json:"piece"`
}

// Replanned is a changed plan and what changed. A kit is the same kit where it is sewn from
// the same panels of the same pieces; it keeps its id then, and so do its panels.
type Replanned struct {
	Plan *Plan `json:"plan"`
	// Problem is what the plan, its bound and its certificate speak of: the problem as given
	// with what was kept as fixed, and the rests of pieces that kept layouts leave as fabrics
	// of their own. Joined gives the plan in terms of the problem as given.
	Problem *Problem    `json:"problem"`
	Kept    []string    `json:"kept"`    // kits that stay as they were
	Changed []string    `json:"changed"` // kits of the same quota and case, made otherwise under the same id
	Gone    []string    `json:"gone"`    // kits that fall away
	New     []string    `json:"new"`     // kits that the old plan did not have
	Quotas  []Moved     `json:"quotas"`  // whose numbers change
	Recut   []PieceName `json:"recut"`   // pieces cut otherwise than before, or no longer
	Tries   int         `json:"tries"`   // how many sets of kits to keep were tried

	rests map[string]rest
}

// Replan changes a plan after the problem has: a piece came up short, a kit went missing, a
// quota changed, new fabric came. What is settled stays as it is, and so does what p.Fixed
// holds. It makes no less than a plan made anew does, and of the plans that do it looks for
// one that changes few kits: first it keeps every kit that is still whole; where that makes
// less, it gives up kits from those nearest to what is missing on, as few as it can. With
// settled.Whole it gives up none.
//
// The same arguments give the same plan unless time or a person stops it; then the best so
// far is given. A settled kit that the problem no longer allows is an apperr.Error of
// KindConflict. o.Effort holds for each try, o.Within for all of them together.
func Replan(ctx context.Context, p *Problem, old *Plan, settled Settled, o Options) (*Replanned, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	r := newReplanning(ctx, p, old, settled, o)
	for _, id := range settled.Kits {
		if !r.whole[id] {
			return nil, apperr.Conflict("kit %s is settled, and the problem no longer allows it: its fabric, its case or its quota has changed", id)
		}
	}
	best, err := r.search()
	if err != nil {
		return nil, err
	}
	if best, err = r.prove(best); err != nil {
		return nil, err
	}
	rename(old, best.problem, best.plan)
	out := Compare(p, old, best.plan)
	out.Problem, out.rests, out.Tries = best.problem, best.rests, r.tries
	return out, nil
}

// StillWhole says of each kit of a plan whether the problem still allows it and all it is
// cut from, beside what is settled. Of a piece that is shorter or narrower now, what still fits
// still stands.
func StillWhole(p *Problem, old *Plan, settled Settled) map[string]bool {
	return wholeKits(p, old, salvaged(p, old), settled)
}

// salvaged gives the layouts of a plan that the problem still allows: of a piece that is
// shorter or narrower now, what still fits it.
func salvaged(p *Problem, old *Plan) []Layout {
	var list []Layout
	for i := range old.Layouts {
		l := old.Layouts[i]
		f := p.fabric(l.Fabric)
		if f == nil {
			continue
		}
		if old.layoutFaults(p, l) > 0 {
			m := &model{p: p, places: finest(p, old)}
			l.Panels = slices.DeleteFunc(slices.Clone(l.Panels), func(x PlacedPanel) bool {
				return m.length(x.X)+m.length(x.W) > m.length(f.Width) || m.length(x.Y)+m.length(x.H) > m.length(f.Length)
			})
			l.Remnants = slices.DeleteFunc(slices.Clone(l.Remnants), func(x Remnant) bool {
				return m.length(x.X)+m.length(x.W) > m.length(f.Width) || m.length(x.Y)+m.length(x.H) > m.length(f.Length)
			})
			l = m.ended(l)
			if len(l.Panels) == 0 || old.layoutFaults(p, l) > 0 {
				continue
			}
		}
		list = append(list, l)
	}
	return list
}

func (p *Plan) layoutFaults(problem *Problem, l Layout) int {
	c := newChecker(problem, &Plan{Unit: p.Unit, Layouts: []Layout{l}})
	c.layouts()
	return len(c.faults)
}

// ended gives a layout that was thinned the length that its last panel ends at.
func (m *model) ended(l Layout) Layout {
	var ends int64
	for _, x := range l.Panels {
		ends = max(ends, m.length(x.Y)+m.length(x.H))
	}
	l.Used = m.decimal(ends)
	l.Remnants = slices.DeleteFunc(slices.Clone(l.Remnants), func(x Remnant) bool { return m.length(x.Y)+m.length(x.H) > ends })
	return l
}

// wholeKits judges settled kits first: what a quota wants counts them before any other, and
// they are as large as they are.
func wholeKits(p *Problem, old *Plan, stand []Layout, settled Settled) map[string]bool {
	c := newChecker(p, &Plan{Unit: old.Unit, Layouts: stand})
	c.layouts()
	left := map[string]int{}
	for i := range p.Quotas {
		left[p.Quotas[i].ID] = p.Quotas[i].Wanted
	}
	if p.Fixed != nil {
		for i := range p.Fixed.Kits {
			left[p.Fixed.Kits[i].Quota] -= len(p.Fixed.Kits[i].Pillowcases)
		}
	}
	out := map[string]bool{}
	judge := func(k *Kit, stays bool) {
		q := c.quotas[k.Quota]
		out[k.ID] = c.allows(k) && left[k.Quota] >= len(k.Pillowcases) && (stays || len(k.Pillowcases) <= p.KitCases(q))
		if out[k.ID] {
			left[k.Quota] -= len(k.Pillowcases)
		}
	}
	for _, stays := range []bool{true, false} {
		for i := range old.Kits {
			if k := &old.Kits[i]; slices.Contains(settled.Kits, k.ID) == stays {
				judge(k, stays)
			}
		}
	}
	return out
}

// allows judges one kit by itself: how many kits a quota needs is judged of a whole plan.
func (c *checker) allows(k *Kit) bool {
	q := c.quotas[k.Quota]
	if q == nil || !slices.Contains(q.Cases, k.Case) || c.cases[k.Case] == nil {
		return false
	}
	c.faults = nil
	clear(c.used)
	c.kit("", k, q)
	return len(c.faults) == 0
}

// panels lists the ids of all panels of a kit.
func (k *Kit) panels() []string {
	var list []string
	for _, one := range k.Pillowcases {
		for _, role := range sortedKeys(one) {
			list = append(list, one[role]...)
		}
	}
	return list
}
