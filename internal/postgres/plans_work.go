package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"boltward/internal/planning"
	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
)

// Working on a plan is nobody's wish: these methods are called by whoever has
// taken the work from the queue, more than once where one of them died. Each is
// a single statement that changes a plan only while it is being worked out, so
// that a late one changes nothing.

// PlanStep is how far the work on a plan has come.
type PlanStep struct {
	Phase      string
	Made       planning.Decimal
	Bound      planning.Decimal
	Cases      int
	CasesBound int
	Seconds    float64
}

// BeginPlan takes a plan to work on and gives its problem; nil where it needs no
// work any more.
func (s *Store) BeginPlan(ctx context.Context, driveID string, number int64) (*planning.Problem, error) {
	const q = `UPDATE plans SET state = 'running', phase = '', made = 0, bound = 0, cases = 0, cases_bound = 0, seconds = 0
		WHERE drive_id = $1 AND number = $2 AND state IN ('waiting', 'running')`
	tag, err := s.pool.Exec(ctx, q, driveID, number)
	if err != nil {
		return nil, fmt.Errorf("begin plan: %w", err)
	}
	if tag.RowsAffected() == 0 {
		return nil, nil
	}
	problem, _, err := s.PlanFiles(ctx, driveID, number)
	return problem, err
}

// PlanProgress keeps how far a plan has come and says whether to go on with it
// at all, and whether somebody wants it to stop with the best so far.
func (s *Store) PlanProgress(ctx context.Context, driveID string, number int64, p PlanStep) (goOn, stop bool, err error) {
	const q = `UPDATE plans SET phase = $3, made = $4::text::numeric, bound = $5::text::numeric, cases = $6, cases_bound = $7, seconds = $8
		WHERE drive_id = $1 AND number = $2 AND state = 'running' RETURNING stopping`
	err = s.pool.QueryRow(ctx, q, driveID, number, p.Phase, p.Made.String(), p.Bound.String(), p.Cases, p.CasesBound, p.Seconds).Scan(&stop)
	if errors.Is(err, pgx.ErrNoRows) {
		return false, false, nil
	}
	if err != nil {
		return false, false, fmt.Errorf("progress of plan: %w", err)
	}
	return true, stop, nil
}

// FinishPlan keeps a plan that is done, and why lines are short in it. It says whether it did: one that was
// dropped meanwhile, or that another worker has finished, stays as it is.
func (s *Store) FinishPlan(ctx context.Context, driveID string, number int64, plan *planning.Plan) (kept bool, err error) {
	problem, _, err := s.PlanFiles(ctx, driveID, number)
	if err != nil {
		return false, err
	}
	return s.finishPlan(ctx, driveID, number, problem, nil, plan)
}

// FinishChange keeps a changed plan that is done, with the problem that it is a plan of; it says whether it did, as
// FinishPlan does.
func (s *Store) FinishChange(ctx context.Context, driveID string, number int64, solved *planning.Problem, plan *planning.Plan) (kept bool, err error) {
	text, err := json.Marshal(solved)
	if err != nil {
		return false, fmt.Errorf("keep plan: %w", err)
	}
	return s.finishPlan(ctx, driveID, number, solved, text, plan)
}

func (s *Store) finishPlan(ctx context.Context, driveID string, number int64, problem *planning.Problem, solved []byte, plan *planning.Plan) (bool, error) {
	text, err := json.Marshal(plan)
	if err != nil {
		return false, fmt.Errorf("keep plan: %w", err)
	}
	why, err := explained(ctx, problem, plan)
	if err != nil {
		return false, err
	}
	const q = `UPDATE plans SET state = 'ready', phase = '', plan = $3, why = $10, made = $4::text::numeric, bound = $5::text::numeric,
			cases = $6, cases_bound = $7, ended_at = $8, seconds = $9, solved = $11, version = version + 1
		WHERE drive_id = $1 AND number = $2 AND state = 'running'`
	sum := plan.Summary
	tag, err := s.pool.Exec(ctx, q, driveID, number, text, sum.WeightMade.String(), sum.WeightBound.String(), plan.Cases(), sum.CasesBound, s.now(), sum.Seconds, why, solved)
	if err != nil {
		return false, fmt.Errorf("finish plan: %w", err)
	}
	return tag.RowsAffected() > 0, nil
}

// FailPlan keeps why a plan could not be made, in words for people.
func (s *Store) FailPlan(ctx context.Context, driveID string, number int64, trouble string) error {
	const q = `UPDATE plans SET state = 'failed', phase = '', trouble = $3, ended_at = $4, version = version + 1
		WHERE drive_id = $1 AND number = $2 AND state IN ('waiting', 'running')`
	if _, err := s.pool.Exec(ctx, q, driveID, number, trouble, s.now()); err != nil {
		return fmt.Errorf("fail plan: %w", err)
	}
	return nil
}

// FailStrandedPlans ends plans for which no work is left in the queue: every
// worker that tried died over them. It says how many.
func (s *Store) FailStrandedPlans(ctx context.Context, trouble string) (int64, error) {
	const q = `UPDATE plans p SET state = 'failed', phase = '', trouble = $1, ended_at = $2, version = version + 1
		WHERE p.state IN ('waiting', 'running') AND NOT EXISTS (
			SELECT FROM river.river_job j
			WHERE j.kind = $3 AND j.args ->> 'drive' = p.drive_id AND (j.args ->> 'number')::bigint = p.number
				AND j.state IN ('available', 'pending', 'retryable', 'running', 'scheduled'))`
	tag, err := s.pool.Exec(ctx, q, trouble, s.now(), task.Plan{}.Kind())
	if err != nil {
		return 0, fmt.Errorf("stranded plans: %w", err)
	}
	return tag.RowsAffected(), nil
}
