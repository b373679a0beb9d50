package drive

import (
	"context"
	"fmt"
	"slices"
	"time"

	"boltward/internal/length"
	"boltward/internal/planning"
)

// AsksFound is what was found to ask for, and the plan beside which it was found.
type AsksFound struct {
	Problem *planning.Problem
	Plan    *planning.Plan
	Wishes  []Wish
	Seconds float64
}

// FindAsks works out what to ask for, in yards or half metres as the unit has it. plan is a plan of the
// input's problem; where it is nil one is made first. The planner's own limits hold for that.
func (in PlanInput) FindAsks(ctx context.Context, plan *planning.Plan, unit length.Unit, o planning.Options) (AsksFound, error) {
	found := AsksFound{Plan: plan, Wishes: []Wish{}}
	found.Problem, _ = in.Problem()
	if plan == nil {
		var err error
		if found.Plan, err = planning.Solve(ctx, found.Problem, o); err != nil {
			return found, fmt.Errorf("what the shelf makes: %w", err)
		}
	}
	if len(found.Problem.Quotas) == 0 {
		return found, nil
	}
	calls := in.Calls(unit)
	with, offers := in.Asking(calls, AskLengths(unit))
	wishes, err := planning.AskOf(ctx, with, found.Plan, offers)
	if err != nil {
		return found, fmt.Errorf("what to ask for: %w", err)
	}
	list, err := Wishes(wishes, calls, with, offers)
	if list != nil {
		found.Wishes = list
	}
	return found, err
}

// Brings is what a lot brings to what can be made of the shelf.
type Brings struct {
	Asked bool  // something is still asked for that is in no plan
	After Waits // what it waits for first; the figures are for when that is over
	Cases int   // pillowcases more, with what is on the shelf
	Lines []planning.Moved
}

const (
	// bringsMoves is how much is tried while somebody waits; quickEffort and quickWithin bound
	// the plan that is made where none is kept yet.
	bringsMoves = 8
	quickEffort = 60
	quickWithin = 120 * time.Millisecond
)

// Brings works out what the cloth of one lot brings. knew and plan are those kept from when
// it was worked out last what to ask for, nil where that was never done: cloth that has come
// since counts for itself. Cloth of the lot that lies on the shelf is counted once. Cloth that
// is set aside brings nothing; cloth to be washed is taken as measured.
func (in PlanInput) Brings(ctx context.Context, knew *planning.Problem, plan *planning.Plan, lot []Cloth) (Brings, error) {
	var b Brings
	rest := in
	rest.Cloths = slices.DeleteFunc(slices.Clone(in.Cloths), func(c Cloth) bool {
		return slices.ContainsFunc(lot, func(l Cloth) bool { return lotOf(l.ID) == lotOf(c.ID) })
	})
	with := rest
	with.Cloths = slices.Clone(rest.Cloths)
	var ids []string
	for _, c := range lot {
		if why := c.Waits(in.Washing); why != "" {
			b.After = why
		}
		if b.After == WaitsWashing {
			c.Washed = true
		}
		with.Cloths, ids = append(with.Cloths, c), append(ids, c.ID)
	}
	problem, _ := with.Problem()
	b.Asked = len(problem.Quotas) > 0
	if b.After == WaitsSetAside || !b.Asked || len(ids) == 0 {
		return b, nil
	}
	if plan == nil {
		without, _ := rest.Problem()
		var err error
		if plan, err = planning.Solve(ctx, without, planning.Options{Effort: quickEffort, Within: quickWithin}); err != nil {
			return b, fmt.Errorf("what the shelf makes: %w", err)
		}
		knew = without
	}
	g, err := in.brought(ctx, problem, knew, plan, ids)
	if err != nil {
		return b, fmt.Errorf("what a lot brings: %w", err)
	}
	b.Cases, b.Lines = g.Cases, g.Quotas
	return b, nil
}

// brought holds the lot against the plan: against what the plan would make without it, where
// the plan has cut it.
func (in PlanInput) brought(ctx context.Context, with, knew *planning.Problem, plan *planning.Plan, lot []string) (planning.Gained, error) {
	if slices.ContainsFunc(plan.Layouts, func(l planning.Layout) bool { return slices.Contains(lot, l.Fabric) }) {
		return planning.Lost(ctx, with, plan, lot, bringsMoves)
	}
	known := map[string]bool{}
	for _, f := range knew.Fabrics {
		known[f.ID] = true
	}
	var since []string
	for _, f := range with.Fabrics {
		if !known[f.ID] && !slices.Contains(lot, f.ID) {
			since = append(since, f.ID)
		}
	}
	all, err := planning.Gains(ctx, with, plan, since, [][]string{lot}, bringsMoves)
	if err != nil {
		return planning.Gained{}, err
	}
	return all[0], nil
}
