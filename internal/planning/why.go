package planning

import (
	"context"
	"slices"
)

// Reason tells why a quota is not met. Its lacks add up to what is missing.
type Reason struct {
	Quota   string `json:"quota"`
	Missing int    `json:"missing"`
	Lacks   []Lack `json:"lacks"`
	Text    string `json:"text,omitempty"` // the lacks in words, by the names of the problem
}

// Lack is one thing that keeps pillowcases from being made. Where cloth would help, Needs says
// how much: with it, Cases more are made of what the plan leaves.
type Lack struct {
	Why    LackKind `json:"why"`
	Cases  int      `json:"cases"`  // pillowcases that wait for it
	Case   string   `json:"case"`   // the case that they are counted in; empty where none is chosen
	Groups []string `json:"groups"` // bodies that wait, or are too small, or suit the quota
	Needs  []Need   `json:"needs"`
	Went   []Took   `json:"went,omitempty"` // quotas that the cloth went to, the greatest share first
}

// LackKind is what is lacking.
type LackKind string

// What may be lacking.
const (
	LackCase    LackKind = "no case"       // nobody chose a case for the quota
	LackSuits   LackKind = "nothing suits" // no fabric may be its body
	LackSize    LackKind = "too small"     // what may be its body holds none
	LackTrim    LackKind = "no trim"       // bodies can be cut, and nothing at all goes with them
	LackTrimOut LackKind = "trim used up"  // bodies can be cut, and what goes with them is used up
	LackCloth   LackKind = "used up"       // no more bodies can be cut
	LackSearch  LackKind = "not found"     // what is left would make them: the search ended before
	LackUnseen  LackKind = "not looked into"
)

// Need is cloth of one role: a piece of Length by Width holds Panels of the size.
type Need struct {
	Role   string  `json:"role"`
	Panels int     `json:"panels"`
	Around Decimal `json:"around"` // of a panel
	Along  Decimal `json:"along"`
	Length Decimal `json:"length"`
	Width  Decimal `json:"width"`
}

// Took tells how many pillowcases of another quota were made of the bodies that suit this one.
type Took struct {
	Quota string `json:"quota"`
	Cases int    `json:"cases"`
}

const (
	// whySolves is how many small problems of what is left are solved at most, and whyEffort
	// how long each; together about a second.
	whySolves = 80
	whyEffort = 15
	// whyMost is how many pillowcases of one quota are counted piece by piece.
	whyMost = 500
)

// WhyNot gives for each quota that a plan leaves short the reason. It is found by planning
// again with what the plan leaves: with everything the quota needs, then as if one trim were
// there in plenty, then all trims, then bodies. The same plan gives the same reasons. When ctx
// ends, and after as many quotas as are looked into at once, what remains is LackUnseen.
func WhyNot(ctx context.Context, p *Problem, plan *Plan) ([]Reason, error) {
	m, err := modelOf(p)
	if err != nil {
		return nil, err
	}
	w := &inquiry{ctx: ctx, m: m, p: p, plan: plan, solves: whySolves}
	w.left = leftOver(p, plan)
	var out []Reason
	for i := range p.Quotas {
		q := &p.Quotas[i]
		missing := q.Wanted - plan.Made(q.ID)
		if missing <= 0 {
			continue
		}
		r := Reason{Quota: q.ID, Missing: missing}
		if r.Lacks, err = w.lacks(q, missing); err != nil {
			return nil, err
		}
		r.Text = r.Words(p.Unit, Names{})
		out = append(out, r)
	}
	return out, nil
}

// inquiry finds out why quotas are short.
type inquiry struct {
	ctx    context.Context
	m      *model
	p      *Problem
	plan   *Plan
	left   *Problem // what the plan leaves of the fabric
	solves int
}

func (w *inquiry) lacks(q *Quota, missing int) ([]Lack, error) {
	var suits, holds []string
	for _, b := range unique(q.Bodies) {
		for _, id := range q.Cases {
			body := w.p.CaseByID(id).panel(Body)
			serves, fits := w.m.serves(b, w.m.kindOf(kind{Body, body.Around, body.Along}))
			if serves && !slices.Contains(suits, b) {
				suits = append(suits, b)
			}
			if fits && !slices.Contains(holds, b) {
				holds = append(holds, b)
			}
		}
	}
	whole := Lack{Cases: missing, Groups: suits}
	if c := w.p.smallest(q); c != nil {
		whole.Case = c.ID
		whole.Needs = needsOf(w.p, map[string]int{c.ID: missing}, nil)
	}
	switch {
	case len(q.Cases) == 0:
		whole.Why = LackCase
	case len(suits) == 0:
		whole.Why = LackSuits
	case len(holds) == 0:
		whole.Why = LackSize
	case w.solves <= 0 || w.ctx.Err() != nil:
		whole.Why, whole.Needs = LackUnseen, nil
	default:
		return w.lookInto(q, missing, holds)
	}
	return []Lack{whole}, nil
}

// lookInto plans with what is left for a quota that some fabric could serve.
func (w *inquiry) lookInto(q *Quota, missing int, holds []string) ([]Lack, error) {
	var lacks []Lack
	left := w.left
	if w.plan.Summary.Stopped != Closed || w.plan.Summary.WeightMade != w.plan.Summary.WeightBound {
		found, rest, err := w.sewn(left, q, min(missing, whyMost), nil)
		if err != nil {
			return nil, err
		}
		if n := found.total(); n > 0 {
			lacks = append(lacks, Lack{Why: LackSearch, Cases: n, Case: found.most(), Groups: found.bodies})
			missing, left = missing-n, rest
		}
	}
	if missing > 0 {
		lack, rest, err := w.waiting(left, q, missing)
		if err != nil {
			return nil, err
		}
		if lack != nil {
			lacks = append(lacks, *lack)
			missing, left = missing-lack.Cases, rest
		}
	}
	if missing > 0 {
		lack, err := w.usedUp(left, q, missing, holds)
		if err != nil {
			return nil, err
		}
		lacks = append(lacks, lack)
	}
	return lacks, nil
}

// waiting finds bodies that could be cut from what is left and wait for trim: for one role, or
// else for all of them. It gives nil where no body can be cut.
func (w *inquiry) waiting(left *Problem, q *Quota, missing int) (*Lack, *Problem, error) {
	var roles []string
	for _, id := range q.Cases {
		for _, l := range w.p.CaseByID(id).Panels {
			if l.Role != Body && !slices.Contains(roles, l.Role) {
				roles = append(roles, l.Role)
			}
		}
	}
	tries := [][]string{}
	for _, r := range roles {
		tries = append(tries, []string{r})
	}
	if len(roles) > 1 {
		tries = append(tries, roles)
	}
	var best *found
	var rest *Problem
	var gone []string
	for i, without := range tries {
		if best != nil && i == len(roles) {
			break // one role is enough to wait for
		}
		f, r, err := w.sewn(left, q, min(missing, whyMost), without)
		if err != nil {
			return nil, nil, err
		}
		if f.total() > 0 && (best == nil || f.total() > best.total()) {
			best, rest, gone = f, r, without
		}
	}
	if best == nil {
		return nil, left, nil
	}
	lack := &Lack{Why: LackTrim, Cases: best.total(), Case: best.most(), Groups: best.bodies, Needs: needsOf(w.p, best.cases, gone)}
	for _, b := range best.bodies {
		for _, id := range q.Cases {
			for _, l := range w.p.CaseByID(id).Panels {
				if slices.Contains(gone, l.Role) && w.goes(b, l) {
					lack.Why = LackTrimOut
				}
			}
		}
	}
	return lack, rest, nil
}

// goes says whether some piece of a group that may trim b is large enough for the panel.
func (w *inquiry) goes(b string, l Panel) bool {
	return slices.ContainsFunc(asSet(w.p.Trimming(b, l.Role)), func(t string) bool {
		_, holds := w.m.serves(t, w.m.kindOf(kind{l.Role, l.Around, l.Along}))
		return holds
	})
}

// usedUp says what pillowcases need for which no body can be cut any more: cloth for bodies,
// and for trims as far as what is left of those does not do.
func (w *inquiry) usedUp(left *Problem, q *Quota, missing int, holds []string) (Lack, error) {
	c := w.p.smallest(q)
	lack := Lack{Why: LackCloth, Cases: missing, Case: c.ID, Groups: holds, Went: w.went(q, holds)}
	trimmed, err := w.trimmed(left, q, c, missing)
	if err != nil {
		return lack, err
	}
	lack.Needs = needsOf(w.p, map[string]int{c.ID: missing}, []string{Body})
	trims := needsOf(w.p, map[string]int{c.ID: missing - trimmed}, nil)
	for _, n := range trims {
		if n.Role != Body && n.Panels > 0 {
			lack.Needs = append(lack.Needs, n)
		}
	}
	return lack, nil
}

// trimmed counts the pillowcases of a case that what is left could trim, were their bodies
// there in a cloth that all trims of the quota's bodies go with.
func (w *inquiry) trimmed(left *Problem, q *Quota, c *Case, missing int) (int, error) {
	if len(c.Panels) == 1 {
		return missing, nil
	}
	n := min(missing, whyMost)
	given, body := *left, c.panel(Body)
	group := freshGroup(left)
	given.Fabrics = append(slices.Clone(left.Fabrics), Fabric{
		ID: freshFabric(left), Length: body.Along, Width: body.Around, Pieces: n * body.Pieces, Group: group, Roles: []string{Body}, Turn: Across,
	})
	given.Trims, given.TrimRoles = map[string][]string{}, nil
	for _, b := range q.Bodies {
		given.Trims[group] = append(given.Trims[group], w.p.Trims[b]...)
	}
	given.Trims[group] = unique(given.Trims[group])
	only := *q
	only.Cases, only.Bodies = []string{c.ID}, []string{group}
	f, _, err := w.sewn(&given, &only, n, nil)
	return f.total(), err
}

// went says which other quotas the bodies that suit this one went to.
func (w *inquiry) went(q *Quota, bodies []string) []Took {
	group := map[string]string{}
	for i := range w.p.Fabrics {
		group[w.p.Fabrics[i].ID] = w.p.Fabrics[i].Group
	}
	places := w.plan.Panels()
	count := map[string]int{}
	for _, k := range w.plan.Kits {
		for _, one := range k.Pillowcases {
			if ids := one[Body]; k.Quota != q.ID && len(ids) > 0 && slices.Contains(bodies, group[places[ids[0]].Layout.Fabric]) {
				count[k.Quota]++
			}
		}
	}
	var out []Took
	for i := range w.p.Quotas {
		if id := w.p.Quotas[i].ID; count[id] > 0 {
			out = append(out, Took{id, count[id]})
		}
	}
	slices.SortStableFunc(out, func(a, b Took) int { return b.Cases - a.Cases })
	return out
}

// smallest gives the quota's case with the least body, nil where it has none.
func (p *Problem) smallest(q *Quota) *Case {
	var best *Case
	size := func(c *Case) float64 {
		b := c.panel(Body)
		return b.Around.Float() * b.Along.Float() * float64(b.Pieces)
	}
	for _, id := range q.Cases {
		if c := p.CaseByID(id); best == nil || size(c) < size(best) {
			best = c
		}
	}
	return best
}

// serves says whether a group may serve as a kind, and whether one of its pieces holds it.
func (m *model) serves(name string, k int) (serves, holds bool) {
	for i := range m.p.Fabrics {
		f := &m.p.Fabrics[i]
		if f.Group == name && slices.Contains(f.Roles, m.kinds[k].role) {
			serves = true
			break
		}
	}
	for r := range m.supply {
		if m.groups[m.supply[r].group].name == name && m.supply[r].kind == k {
			holds = true
		}
	}
	return serves, holds
}
