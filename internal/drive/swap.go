package drive

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/planning"
)

// Swap is what somebody wishes who looks at a plan: pillowcases of a kit that are put together
// alike get another lot as their cuff or accent.
type Swap struct {
	Kit  string // the plan's id of it
	Case int    // the first of those pillowcases, from 1
	N    int    // how many of them; 0 for all
	Role string
	Lot  int64
}

// Swapped is a plan in which a swap is carried out. It is valid by the independent check.
type Swapped struct {
	Problem  *planning.Problem // that the plan is a plan of
	Plan     *planning.Plan
	Exchange bool // panels only change places between pillowcases: everything is cut as before
	N        int  // pillowcases that get the lot
}

// By carries a swap out on a plan of a problem; stands is what an accepted plan is changed
// from, nil for a plan that is not accepted yet. Where an exchange between pillowcases that
// are cut alike will do, nothing is planned again; else the kit is kept as it is wished and
// the rest is planned around it.
func (w Swap) By(ctx context.Context, p *planning.Problem, plan *planning.Plan, stands *PlanStands, o planning.Options) (Swapped, error) {
	var settled planning.Settled
	if stands != nil {
		settled = stands.Settled
	}
	wish, err := w.in(p, plan)
	if err != nil {
		return Swapped{}, err
	}
	out := Swapped{Problem: p, N: len(wish.Cases)}
	if out.Plan, err = planning.Exchanged(p, plan, settled, wish); err != nil {
		return Swapped{}, err
	}
	switch {
	case out.Plan != nil && stands == nil:
		out.Exchange = true
	case out.Plan != nil:
		out.Exchange = true
		err = out.asItStands(ctx, stands, o)
	}
	// Where a sheet came up short, what stands does not hold together as it is.
	if out.Plan == nil || apperr.Fields(err) != nil {
		out.Exchange = false
		err = out.around(ctx, wish, plan, stands, settled, o)
	}
	if err != nil {
		return Swapped{}, err
	}
	if faults := planning.Check(out.Problem, out.Plan); len(faults) > 0 {
		return Swapped{}, fmt.Errorf("a plan with a swap breaks its rules: %s", faults[0])
	}
	return out, nil
}

// asItStands makes the change of an accepted plan that only exchanges panels: all of it is
// kept, and no more is asked for than it makes, so that nothing is planned.
func (s *Swapped) asItStands(ctx context.Context, stands *PlanStands, o planning.Options) error {
	p := *s.Problem
	p.Fixed = &planning.Fixed{Layouts: s.Plan.Layouts, Kits: s.Plan.Kits}
	p.Quotas = slices.Clone(p.Quotas)
	for i := range p.Quotas {
		p.Quotas[i].Wanted = stands.Plan.Made(p.Quotas[i].ID)
	}
	plan, err := planning.Solve(ctx, &p, o)
	if err != nil {
		return err
	}
	s.Problem, s.Plan = &p, plan
	return nil
}

// around plans the rest of a plan around the kit that is as it is wished.
func (s *Swapped) around(ctx context.Context, wish planning.ByHand, plan *planning.Plan, stands *PlanStands, settled planning.Settled, o planning.Options) error {
	old, err := planning.Taken(s.Problem, plan, settled, wish)
	if err != nil {
		return err
	}
	settled.Kits = append([]string{wish.Kit}, settled.Kits...)
	r, err := planning.Replan(ctx, s.Problem, old, settled, o)
	if err != nil {
		return err
	}
	if stands != nil {
		s.Problem, s.Plan = r.Problem, r.Plan
		return nil
	}
	// Nothing of the plan stands yet: it is told in terms of what it was made from, and what is
	// proven of that holds for it too.
	if s.Plan, err = planning.Tidied(s.Problem, r.Joined(s.Problem)); err != nil {
		return err
	}
	s.Plan.Certificate = plan.Certificate
	s.Plan.Summary.WeightBound, s.Plan.Summary.CasesBound = plan.Summary.WeightBound, plan.Summary.CasesBound
	return nil
}

// in finds the pillowcases and the cloth of a swap in a plan.
func (w Swap) in(p *planning.Problem, plan *planning.Plan) (planning.ByHand, error) {
	wish := planning.ByHand{Kit: w.Kit, Role: w.Role}
	for i := range plan.Kits {
		if k := &plan.Kits[i]; k.ID == w.Kit {
			alike, err := alikeIn(plan, k, w.Case-1)
			if err != nil {
				return wish, err
			}
			wish.Cases = alike
		}
	}
	if len(wish.Cases) == 0 {
		return wish, apperr.NotFound("There is no such pillowcase in this plan any more.")
	}
	if w.N < 0 || w.N > len(wish.Cases) {
		return wish, apperr.Invalid("n", "There are %d of these in the kit: give 1 to %d.", len(wish.Cases), len(wish.Cases))
	}
	if w.N > 0 {
		wish.Cases = wish.Cases[:w.N]
	}
	group := ""
	for _, f := range p.Fabrics {
		lot, _, err := ParseClothID(f.ID)
		if err != nil {
			return wish, err
		}
		if lot == w.Lot && slices.Contains(f.Roles, w.Role) && f.Group != keptGroup && (group == "" || f.Group == group) {
			group = f.Group
			wish.Fabrics = append(wish.Fabrics, f.ID)
		}
	}
	return wish, nil
}

// alikeIn gives the pillowcases of a kit that are put together like one of them, from 0.
func alikeIn(plan *planning.Plan, k *planning.Kit, like int) ([]int, error) {
	places := plan.Panels()
	key := ""
	var all []string
	for i, one := range k.Pillowcases {
		t, err := together(places, one)
		if err != nil {
			return nil, err
		}
		all = append(all, fmt.Sprint(t))
		if i == like {
			key = all[i]
		}
	}
	var alike []int
	for i := range all {
		if key != "" && all[i] == key {
			alike = append(alike, i)
		}
	}
	return alike, nil
}

// SwapChoices gives the lots that may be the trim of each body lot, by "lot role", in the order
// of their numbers.
func SwapChoices(p *planning.Problem) (map[string][]int64, error) {
	lots := map[string][]int64{} // of each group
	roles := map[string][]string{}
	for _, f := range p.Fabrics {
		lot, _, err := ParseClothID(f.ID)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(lots[f.Group], lot) {
			lots[f.Group] = append(lots[f.Group], lot)
		}
		roles[f.Group] = f.Roles
	}
	out := map[string][]int64{}
	for group, bodies := range lots {
		for _, role := range rolesOfCases(p) {
			var may []int64
			for _, g := range p.Trimming(group, role) {
				if slices.Contains(roles[g], role) && g != keptGroup {
					may = append(may, lots[g]...)
				}
			}
			slices.Sort(may)
			for _, lot := range bodies {
				key := SwapChoice(lot, role)
				out[key] = slices.Compact(slices.Sorted(slices.Values(append(out[key], may...))))
			}
		}
	}
	return out, nil
}

// SwapChoice names a body lot and a trim of it among the choices.
func SwapChoice(body int64, role string) string { return NumberID(body) + " " + role }

func rolesOfCases(p *planning.Problem) []string {
	var roles []string
	for _, c := range p.Cases {
		for _, l := range c.Panels {
			if l.Role != planning.Body && !slices.Contains(roles, l.Role) {
				roles = append(roles, l.Role)
			}
		}
	}
	return roles
}

// LotMoved is how much more of a lot one plan takes than another, less where it is below zero.
type LotMoved struct {
	Lot  int64
	More length.Length
}

// ClothMoved gives the lots of which two plans take unlike lengths, in the order of their numbers.
func ClothMoved(before, after *planning.Plan) ([]LotMoved, error) {
	more := map[int64]length.Length{}
	for sign, plan := range map[length.Length]*planning.Plan{-1: before, 1: after} {
		for _, l := range plan.Layouts {
			lot, _, err := ParseClothID(l.Fabric)
			if err != nil {
				return nil, err
			}
			used, err := side(l.Used)
			if err != nil {
				return nil, err
			}
			more[lot] += sign * length.Length(used)
		}
	}
	var list []LotMoved
	for _, lot := range slices.Sorted(maps.Keys(more)) {
		if more[lot] != 0 {
			list = append(list, LotMoved{lot, more[lot]})
		}
	}
	return list, nil
}

// KitsMoved gives the kits of a plan that another does not have as they are, by the plan's ids.
func KitsMoved(before, after *planning.Plan) []string {
	d := planning.Compare(&planning.Problem{}, before, after)
	return slices.Concat(d.Changed, d.Gone, d.New)
}
