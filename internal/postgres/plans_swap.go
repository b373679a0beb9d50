package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"

	"github.com/jackc/pgx/v5"
)

// Looked is a plan as it is looked at by eye: an accepted one as it stands by now.
type Looked struct {
	Of      drive.Plan
	Problem *planning.Problem
	Plan    *planning.Plan    // nil while it is not worked out
	Stands  *drive.PlanStands // of an accepted plan of which something can change
}

// LookedAt gives a plan to be looked at. Of an accepted one that has nothing left to change it
// gives the plan as it was accepted, and of one that would change another, what it would be.
func (s *Store) LookedAt(ctx context.Context, driveID string, number int64) (Looked, error) {
	var l Looked
	var err error
	if l.Of, err = s.Plan(ctx, driveID, number); err != nil {
		return l, err
	}
	if l.Of.State == drive.PlanAccepted {
		problem, stands, err := s.ChangeOf(ctx, driveID, number)
		if err == nil {
			l.Problem, l.Plan, l.Stands = problem, stands.Plan, &stands
			return l, nil
		}
		if !apperr.Is(err, apperr.KindConflict) {
			return l, err
		}
	}
	l.Problem, l.Plan, err = s.PlanFiles(ctx, driveID, number)
	return l, err
}

// MaySwap refuses a plan whose pillowcases cannot be put together otherwise by hand. A closed drive
// makes no other plan; one that was accepted is changed there, too.
func (l Looked) MaySwap(d drive.Drive) error {
	switch {
	case l.Of.State == drive.PlanAccepted && l.Stands == nil:
		return apperr.Conflict("There is nothing of plan %d left to change.", l.Of.Number)
	case l.Of.State != drive.PlanAccepted && l.Of.State != drive.PlanReady || l.Plan == nil:
		return apperr.Conflict("Plan %d neither stands nor waits to be accepted.", l.Of.Number)
	case l.Of.State == drive.PlanReady && l.Of.Changes != nil:
		return apperr.Conflict("Plan %d changes plan %d. Accept it or put it away first, then swap.", l.Of.Number, *l.Of.Changes)
	case l.Stands == nil:
		return d.PlansMore()
	}
	return nil
}

// KeepSwap keeps a plan in which a swap was carried out, as one that is ready: to be accepted
// or put away like any other. It gives its number. While a plan is being worked out it is a
// conflict.
func (s *Store) KeepSwap(ctx context.Context, act drive.Act, l Looked, w drive.Swap, swapped drive.Swapped) (int64, error) {
	type body struct {
		Of   int64
		Swap drive.Swap
	}
	why, err := explained(ctx, swapped.Problem, swapped.Plan)
	if err != nil {
		return 0, err
	}
	text, err := json.Marshal(swapped.Plan)
	if err != nil {
		return 0, fmt.Errorf("keep plan: %w", err)
	}
	return once(ctx, s, act, "keep swap", body{l.Of.Number, w}, func(tx pgx.Tx) (int64, error) {
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		if err := refuseSecondPlan(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		of, err := lockPlan(ctx, tx, act.Drive, l.Of.Number)
		if err != nil {
			return 0, err
		}
		if err := (Looked{Of: of, Plan: l.Plan, Stands: l.Stands}).MaySwap(d); err != nil {
			return 0, err
		}
		number, err := next(ctx, tx, act.Drive, "plan")
		if err != nil {
			return 0, err
		}
		var solved []byte
		if l.Stands != nil {
			stands := *l.Stands
			stands.Swapped = w.Kit
			if err := insertChange(ctx, tx, act, number, l.Of.Number, l.Problem, stands); err != nil {
				return 0, err
			}
			if solved, err = json.Marshal(swapped.Problem); err != nil {
				return 0, fmt.Errorf("keep the problem: %w", err)
			}
		} else {
			problem, err := json.Marshal(swapped.Problem)
			if err != nil {
				return 0, fmt.Errorf("keep the problem: %w", err)
			}
			const insert = `INSERT INTO plans (drive_id, number, state, problem, who, created_at) VALUES ($1, $2, 'waiting', $3, $4, $5)`
			if _, err := tx.Exec(ctx, insert, act.Drive, number, problem, act.Who, act.At); err != nil {
				return 0, fmt.Errorf("keep swap: %w", err)
			}
		}
		const q = `UPDATE plans SET state = 'ready', plan = $3, why = $10, made = $4::text::numeric, bound = $5::text::numeric,
				cases = $6, cases_bound = $7, ended_at = $8, seconds = $9, solved = $11
			WHERE drive_id = $1 AND number = $2`
		sum := swapped.Plan.Summary
		_, err = tx.Exec(ctx, q, act.Drive, number, text, sum.WeightMade.String(), sum.WeightBound.String(), swapped.Plan.Cases(), sum.CasesBound,
			act.At, sum.Seconds, why, solved)
		if err != nil {
			return 0, fmt.Errorf("keep swap: %w", err)
		}
		return number, audit(ctx, tx, act, "plan swapped by eye", "plan", number, changes{
			"of": {To: l.Of.Number}, "kit": {To: w.Kit}, w.Role: {To: w.Lot}, "pillowcases": {To: swapped.N},
		})
	})
}
