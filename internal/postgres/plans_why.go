package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"boltward/internal/planning"

	"github.com/jackc/pgx/v5"
)

// explainTime is how long finding out why lines are short may take: somebody waits.
const explainTime = 1500 * time.Millisecond

// explained gives why lines are short in a plan, as it is kept with the plan.
func explained(ctx context.Context, problem *planning.Problem, plan *planning.Plan) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, explainTime)
	defer cancel()
	reasons, err := planning.WhyNot(ctx, problem, plan)
	if err != nil {
		return nil, fmt.Errorf("why lines are short: %w", err)
	}
	if reasons == nil {
		reasons = []planning.Reason{}
	}
	text, err := json.Marshal(reasons)
	if err != nil {
		return nil, fmt.Errorf("keep why lines are short: %w", err)
	}
	return text, nil
}

// PlanReasons gives why lines are short in a plan that is ready or accepted. Where that was
// not kept with the plan it is found out now.
func (s *Store) PlanReasons(ctx context.Context, driveID string, number int64) ([]planning.Reason, error) {
	const q = `SELECT why FROM plans WHERE drive_id = $1 AND number = $2 AND plan IS NOT NULL`
	var text []byte
	if err := s.pool.QueryRow(ctx, q, driveID, number).Scan(&text); err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return nil, fmt.Errorf("why lines are short: %w", err)
	}
	if text == nil {
		problem, plan, err := s.PlanFiles(ctx, driveID, number)
		if err != nil || plan == nil {
			return nil, err
		}
		if text, err = explained(ctx, problem, plan); err != nil {
			return nil, err
		}
	}
	var reasons []planning.Reason
	if err := json.Unmarshal(text, &reasons); err != nil {
		return nil, fmt.Errorf("why lines are short in plan %d: %w", number, err)
	}
	return reasons, nil
}

// NewestPlan is the newest plan that stands, accepted or ready and not passed over for another; its number is
// 0 where there is none.
type NewestPlan struct {
	Number   int64
	Accepted bool
}

// NewestPlan gives the plan that pages count from what there is no cloth for.
func (s *Store) NewestPlan(ctx context.Context, driveID string) (NewestPlan, error) {
	const q = `SELECT number, state = 'accepted' FROM plans WHERE drive_id = $1 AND state IN ('ready', 'accepted') AND NOT ` + planPassedOver + ` ORDER BY number DESC LIMIT 1`
	var p NewestPlan
	if err := s.pool.QueryRow(ctx, q, driveID).Scan(&p.Number, &p.Accepted); err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return p, fmt.Errorf("newest plan: %w", err)
	}
	return p, nil
}

// NewestReasons gives why lines are short in the newest plan that stands, and that plan.
func (s *Store) NewestReasons(ctx context.Context, driveID string) (NewestPlan, []planning.Reason, error) {
	plan, err := s.NewestPlan(ctx, driveID)
	if err != nil || plan.Number == 0 {
		return plan, nil, err
	}
	reasons, err := s.PlanReasons(ctx, driveID, plan.Number)
	return plan, reasons, err
}
