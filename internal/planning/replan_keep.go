package planning

import (
	"fmt"
	"math"
	"slices"
)

// rest is what a kept layout leaves of its piece: a fabric of its own in the changed problem.
type rest struct {
	of   PieceName
	from Decimal // where it begins on the piece
}

// fixing gives the problem with what is settled, and every whole kit that is not given up,
// fixed. What kept layouts leave of pieces that are not cut yet are fabrics of their own.
func (r *replanning) fixing(given map[string]bool) (*Problem, map[string]rest) {
	fixed := &Fixed{Layouts: []Layout{}, Kits: []Kit{}}
	done := map[PieceName]bool{}
	if r.p.Fixed != nil {
		fixed.Layouts, fixed.Kits = slices.Clone(r.p.Fixed.Layouts), slices.Clone(r.p.Fixed.Kits)
		for _, l := range fixed.Layouts {
			done[PieceName{l.Fabric, l.Piece}] = true
		}
	}
	held := map[string]bool{}
	for i := range r.old.Kits {
		k := &r.old.Kits[i]
		if r.whole[k.ID] && !given[k.ID] {
			fixed.Kits = append(fixed.Kits, *k)
			for _, id := range k.panels() {
				held[id] = true
			}
		}
	}
	q := *r.p
	q.Fabrics = slices.Clone(r.p.Fabrics)
	rests := map[string]rest{}
	for _, at := range r.settled.Pieces {
		if l := r.old.LayoutOf(at.Fabric, at.Piece); l != nil && !done[at] {
			fixed.Layouts = append(fixed.Layouts, *l)
			done[at] = true
		}
	}
	for _, l := range r.stand {
		at := PieceName{l.Fabric, l.Piece}
		laid := slices.Contains(r.settled.Laid, at)
		if done[at] || !laid && !slices.ContainsFunc(l.Panels, func(x PlacedPanel) bool { return held[x.ID] }) {
			continue
		}
		fixed.Layouts = append(fixed.Layouts, l)
		if !laid {
			r.leave(&q, rests, l)
		}
	}
	q.Fixed = fixed
	return &q, rests
}

// leave gives a problem what a kept layout leaves of its piece.
func (r *replanning) leave(q *Problem, rests map[string]rest, l Layout) {
	f := r.p.fabric(l.Fabric)
	if f == nil {
		return
	}
	if left, ok := minus(f.Length, l.Used); ok && left.Sign() > 0 {
		id := freshName(q, fmt.Sprintf("%s rest %d", l.Fabric, l.Piece))
		q.Fabrics = append(q.Fabrics, Fabric{ID: id, Length: left, Width: f.Width, Pieces: 1, Group: f.Group, Roles: f.Roles, Turn: f.Turn})
		rests[id] = rest{PieceName{l.Fabric, l.Piece}, l.Used}
	}
}

// stays says whether nothing of a piece is cut otherwise than it is.
func (r *replanning) stays(at PieceName) bool {
	return slices.Contains(r.settled.Pieces, at) || slices.Contains(r.settled.Laid, at) ||
		r.p.Fixed != nil && slices.ContainsFunc(r.p.Fixed.Layouts, func(l Layout) bool { return l.Fabric == at.Fabric && l.Piece == at.Piece })
}

func (p *Problem) fabric(id string) *Fabric {
	for i := range p.Fabrics {
		if p.Fabrics[i].ID == id {
			return &p.Fabrics[i]
		}
	}
	return nil
}

func freshName(p *Problem, id string) string {
	for p.fabric(id) != nil {
		id += "'"
	}
	return id
}

// minus gives a − b where both and the difference are Decimals of the same finest unit.
func minus(a, b Decimal) (Decimal, bool) {
	places := int(max(a.places, b.places))
	x, okX := a.units(places)
	y, okY := b.units(places)
	return scaled(x-y, places), okX && okY
}

// prove takes panels that nothing is sewn from out of layouts that are not cut yet, and
// settles the bound of what is fixed then: in full, where a try stopped at its target. Where that
// makes more, other panels may be left over; it ends, since each round makes more than the last.
func (r *replanning) prove(a *attempt) (*attempt, error) {
	for {
		thinner, rests := r.thin(a)
		if thinner == nil && (a.plan.Summary.Stopped == Closed || r.over()) {
			// Without time nothing is found that its own search has not, and no bound as low.
			return a, nil
		}
		b := *a
		if thinner != nil {
			b.problem, b.rests = thinner, rests
		}
		var err error
		o := r.options(r.last)
		o.Progress = nil
		if b.plan, err = Solve(r.ctx, b.problem, o); err != nil {
			return nil, err
		}
		if b.plan.Summary.WeightMade.Cmp(a.plan.Summary.WeightMade) <= 0 {
			// The plan found before is a plan of this problem too: only the proof is new.
			s := b.plan.Summary
			plan := *a.plan
			plan.Certificate = b.plan.Certificate
			plan.Summary.WeightBound, plan.Summary.CasesBound, plan.Summary.Stopped = s.WeightBound, max(s.CasesBound, plan.Summary.CasesMade), s.Stopped
			if plan.Summary.WeightMade.Cmp(s.WeightBound) == 0 {
				plan.Summary.Stopped = Closed
			}
			plan.Summary.Seconds = math.Round(r.o.Now().Sub(r.start).Seconds()*1000) / 1000
			b.plan = &plan
			if thinner != nil {
				b.plan, err = r.without(b.problem, b.plan)
			}
			return &b, err
		}
		a = &b
	}
}

// idle gives the panels of layouts that are not cut yet from which nothing is sewn.
func (r *replanning) idle(plan *Plan) map[string]bool {
	idle := map[string]bool{}
	fixed := map[PieceName]bool{}
	for _, at := range r.settled.Pieces {
		fixed[at] = true
	}
	if r.p.Fixed != nil {
		for _, l := range r.p.Fixed.Layouts {
			fixed[PieceName{l.Fabric, l.Piece}] = true
		}
	}
	for i := range plan.Layouts {
		if l := &plan.Layouts[i]; !fixed[PieceName{l.Fabric, l.Piece}] {
			for _, x := range l.Panels {
				idle[x.ID] = true
			}
		}
	}
	for i := range plan.Kits {
		for _, id := range plan.Kits[i].panels() {
			delete(idle, id)
		}
	}
	return idle
}

// thin gives the problem without idle panels in its fixed layouts, and with what they leave
// then; nil where there are none.
func (r *replanning) thin(a *attempt) (*Problem, map[string]rest) {
	idle := r.idle(a.plan)
	if len(idle) == 0 {
		return nil, nil
	}
	q := *a.problem
	fixed := *q.Fixed
	q.Fixed = &fixed
	fixed.Layouts = r.thinned(a.problem, fixed.Layouts, idle)
	// What was laid and holds nothing any more gives no cloth either.
	q.Fabrics = slices.DeleteFunc(slices.Clone(q.Fabrics), func(f Fabric) bool {
		_, isRest := a.rests[f.ID]
		return isRest || f.Pieces == 1 && slices.Contains(r.settled.Laid, PieceName{f.ID, 1}) &&
			!slices.ContainsFunc(fixed.Layouts, func(l Layout) bool { return l.Fabric == f.ID })
	})
	rests := map[string]rest{}
	for _, l := range fixed.Layouts {
		if !r.stays(PieceName{l.Fabric, l.Piece}) {
			r.leave(&q, rests, l)
		}
	}
	return &q, rests
}

// without gives the plan without the panels that the problem has no more.
func (r *replanning) without(q *Problem, plan *Plan) (*Plan, error) {
	m, err := newModel(q)
	if err != nil {
		return nil, err
	}
	out := *plan
	out.Layouts = r.thinned(q, plan.Layouts, r.idle(plan))
	out.Quotas, out.Summary.CasesMade = nil, 0
	m.figures(&out)
	out.Summary.Bundles = bundles(&out)
	return &out, nil
}

// lies says whether the panels of a piece stay where they are: it is cut, or a settled kit has
// panels of it that may be.
func (r *replanning) lies(at PieceName) bool {
	if r.stays(at) {
		return true
	}
	l := r.old.LayoutOf(at.Fabric, at.Piece)
	return l != nil && slices.ContainsFunc(l.Panels, func(x PlacedPanel) bool { return r.bound[x.ID] })
}

// thinned takes panels out of layouts; what lies behind them moves up, where the piece is not cut.
func (r *replanning) thinned(q *Problem, layouts []Layout, idle map[string]bool) []Layout {
	m := &model{p: q, places: finest(q, nil)}
	out := make([]Layout, 0, len(layouts))
	for _, l := range layouts {
		n := len(l.Panels)
		l.Panels = slices.DeleteFunc(slices.Clone(l.Panels), func(x PlacedPanel) bool { return idle[x.ID] })
		if len(l.Panels) == 0 {
			continue
		}
		switch {
		case len(l.Panels) == n:
		case r.lies(PieceName{l.Fabric, l.Piece}):
			l = m.ended(l)
		default:
			l = m.closedUp(l)
		}
		out = append(out, l)
	}
	return out
}
