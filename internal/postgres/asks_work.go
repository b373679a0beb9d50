package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/planning"
)

// AsksWork is what it is worked out from what to ask for.
type AsksWork struct {
	At    time.Time // as it stood then
	Input drive.PlanInput
	// Plan is the newest plan that waits for a decision, where it was made of just this; else nil.
	Plan *planning.Plan
}

// BeginAsks takes the work on what to ask for up, with all it needs as it stands now; nil
// where it needs no work any more.
func (s *Store) BeginAsks(ctx context.Context, driveID string) (*AsksWork, error) {
	const q = `UPDATE asks SET state = 'running' WHERE drive_id = $1 AND state IN ('waiting', 'running')`
	tag, err := s.pool.Exec(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("begin what to ask for: %w", err)
	}
	if tag.RowsAffected() == 0 {
		return nil, nil
	}
	return s.AsksWork(ctx, driveID)
}

// AsksWork gives what it would be worked out from now.
func (s *Store) AsksWork(ctx context.Context, driveID string) (*AsksWork, error) {
	work := &AsksWork{At: s.now()}
	in, err := s.inputNow(ctx, driveID)
	if err != nil {
		return nil, err
	}
	work.Input = in
	list, _, err := s.Plans(ctx, driveID, 1, 0)
	if err != nil {
		return nil, err
	}
	if len(list) == 0 || list[0].State != drive.PlanReady || list[0].Changes != nil {
		return work, nil
	}
	problem, plan, err := s.PlanFiles(ctx, driveID, list[0].Number)
	if err != nil {
		return nil, err
	}
	now, _ := in.Problem()
	if other, err := differs(problem, now); err != nil || !other {
		work.Plan = plan
		return work, err
	}
	return work, nil
}

// FinishAsks keeps what was found to ask for of what stood at a moment, and the plan beside
// which it was found.
func (s *Store) FinishAsks(ctx context.Context, driveID string, at time.Time, found drive.AsksFound) error {
	problem, err := json.Marshal(found.Problem)
	if err != nil {
		return fmt.Errorf("keep what to ask for: %w", err)
	}
	plan, err := json.Marshal(found.Plan)
	if err != nil {
		return fmt.Errorf("keep what to ask for: %w", err)
	}
	wishes, err := json.Marshal(found.Wishes)
	if err != nil {
		return fmt.Errorf("keep what to ask for: %w", err)
	}
	const q = `UPDATE asks SET state = 'ready', trouble = '', problem = $2, plan = $3, wishes = $4, seconds = $5, made_at = $6
		WHERE drive_id = $1 AND state = 'running'`
	if _, err := s.pool.Exec(ctx, q, driveID, problem, plan, wishes, found.Seconds, at); err != nil {
		return fmt.Errorf("keep what to ask for: %w", err)
	}
	return nil
}

// FailAsks keeps why it could not be worked out, in words for people; what was found before stays.
func (s *Store) FailAsks(ctx context.Context, driveID, trouble string) error {
	const q = `UPDATE asks SET state = 'failed', trouble = $2 WHERE drive_id = $1 AND state IN ('waiting', 'running')`
	if _, err := s.pool.Exec(ctx, q, driveID, trouble); err != nil {
		return fmt.Errorf("what to ask for: %w", err)
	}
	return nil
}

// LotBrings tells what cloth would bring beside what is on the shelf: cloth that is being
// measured, or that of a lot which lies there already and whose cloth as it stands this is.
func (s *Store) LotBrings(ctx context.Context, driveID string, cloth []drive.Cloth) (drive.Brings, error) {
	in, err := s.inputNow(ctx, driveID)
	if err != nil {
		return drive.Brings{}, err
	}
	kept, err := s.keptAsks(ctx, driveID)
	if err != nil {
		return drive.Brings{}, err
	}
	if kept == nil || kept.problem == nil {
		return in.Brings(ctx, nil, nil, cloth)
	}
	return in.Brings(ctx, kept.problem, kept.plan, cloth)
}
