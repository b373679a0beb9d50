package jobs

import (
	"context"

	"boltward/internal/planning"
	"boltward/internal/postgres"
	"boltward/internal/task"
)

// solved is the problem that a plan is a plan of. A changed plan's holds what it leaves as it is.
type solved struct {
	problem *planning.Problem
	changed bool
}

// solve makes a plan, or changes the one whose place this is to take.
func (w *planWorker) solve(ctx context.Context, args task.Plan, problem *planning.Problem, o planning.Options) (solved, *planning.Plan, error) {
	stands, err := w.cfg.Store.PlanStands(ctx, args.Drive, args.Number)
	if err != nil {
		return solved{}, nil, err
	}
	if stands == nil {
		plan, err := w.cfg.Solver(ctx, problem, o)
		return solved{problem: problem}, plan, err
	}
	r, err := planning.Replan(ctx, problem, stands.Plan, stands.Settled, o)
	if err != nil {
		return solved{}, nil, err
	}
	return solved{problem: r.Problem, changed: true}, r.Plan, nil
}

// keep says whether the plan was kept: nobody may want it any more.
func (s solved) keep(ctx context.Context, store *postgres.Store, args task.Plan, plan *planning.Plan) (bool, error) {
	if s.changed {
		return store.FinishChange(ctx, args.Drive, args.Number, s.problem, plan)
	}
	return store.FinishPlan(ctx, args.Drive, args.Number, plan)
}
