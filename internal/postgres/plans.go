package postgres

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"
	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
)

const planColumns = `number, changes, state, made::float8 AS made, bound::float8 AS bound, cases, cases_bound, seconds, phase, stopping, trouble,
	created_at, ended_at, accepted_at, version, ` + planPassedOver + ` AS passed_over`

// planPassedOver says of a row of plans that it waits beside another that was accepted since: that one
// was made from the same cloth for the same pillowcases.
const planPassedOver = `(plans.state = 'ready' AND plans.changes IS NULL AND EXISTS
	(SELECT FROM plans a WHERE a.drive_id = plans.drive_id AND a.state IN ('accepted', 'replaced') AND a.changes IS NULL AND a.accepted_at > plans.created_at))`

// planAttempts is how often the work on one plan is begun before it counts as failed.
const planAttempts = 5

// RequestPlan keeps what a plan is to be made from, as it stands now, and
// enqueues the work in the same transaction. It gives the plan's number. While
// another plan is being worked out, where nothing is still asked for and where
// no cloth may be used it is a conflict.
func (s *Store) RequestPlan(ctx context.Context, act drive.Act) (int64, error) {
	return once(ctx, s, act, "request plan", nil, func(tx pgx.Tx) (int64, error) {
		// One plan at a time: a second one would be made from the same cloth.
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		if err := d.PlansMore(); err != nil {
			return 0, err
		}
		if err := refuseSecondPlan(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		problem, err := currentProblem(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		text, err := json.Marshal(problem)
		if err != nil {
			return 0, fmt.Errorf("keep the problem: %w", err)
		}
		number, err := next(ctx, tx, act.Drive, "plan")
		if err != nil {
			return 0, err
		}
		const insert = `INSERT INTO plans (drive_id, number, state, problem, who, created_at) VALUES ($1, $2, 'waiting', $3, $4, $5)`
		if _, err := tx.Exec(ctx, insert, act.Drive, number, text, act.Who, act.At); err != nil {
			return 0, fmt.Errorf("request plan: %w", err)
		}
		if err := s.enqueuePlan(ctx, tx, act.Drive, number); err != nil {
			return 0, err
		}
		return number, audit(ctx, tx, act, "plan requested", "plan", number, changes{"fabrics": {To: len(problem.Fabrics)}, "wanted": {To: problem.Wanted()}})
	})
}

func (s *Store) enqueuePlan(ctx context.Context, tx pgx.Tx, driveID string, number int64) error {
	opts := &river.InsertOpts{Queue: task.QueuePlans, MaxAttempts: planAttempts, UniqueOpts: river.UniqueOpts{ByArgs: true}}
	if _, err := s.work.InsertTx(ctx, tx, task.Plan{Drive: driveID, Number: number}, opts); err != nil {
		return fmt.Errorf("enqueue plan: %w", err)
	}
	return nil
}

func refuseSecondPlan(ctx context.Context, tx pgx.Tx, driveID string) error {
	const q = `SELECT number FROM plans WHERE drive_id = $1 AND state IN ('waiting', 'running') ORDER BY number LIMIT 1`
	var number int64
	err := tx.QueryRow(ctx, q, driveID).Scan(&number)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("plans being worked out: %w", err)
	}
	return apperr.Conflict("Plan %d is being worked out already. Wait for it, or drop it first.", number)
}

// currentProblem makes the problem of what lies on the shelf and is asked for now.
func currentProblem(ctx context.Context, tx pgx.Tx, driveID string) (*planning.Problem, error) {
	d, err := driveIn(ctx, tx, driveID)
	if err != nil {
		return nil, err
	}
	in, err := planInput(ctx, tx, d)
	if err != nil {
		return nil, err
	}
	shelf, err := shelved(ctx, tx, driveID, nil)
	if err != nil {
		return nil, err
	}
	for _, c := range shelf {
		in.Cloths = append(in.Cloths, c.Cloth)
	}
	problem, left := in.Problem()
	switch {
	case len(problem.Quotas) == 0:
		return nil, apperr.Conflict("There is nothing to plan: everything asked for is planned or made. Add what is asked for first.")
	case len(problem.Fabrics) == 0 && len(left) > 0:
		return nil, apperr.Conflict("There is no cloth to plan with: what is measured waits to be washed or is set aside.")
	case len(problem.Fabrics) == 0:
		return nil, apperr.Conflict("There is no cloth to plan with. Measure a lot of fabric first.")
	}
	return problem, nil
}

// Plans gives the plans of a drive, newest first, and how many there are.
func (s *Store) Plans(ctx context.Context, driveID string, limit, offset int) ([]drive.Plan, int, error) {
	const q = `SELECT ` + planColumns + `, count(*) OVER () AS all_plans FROM plans
		WHERE drive_id = $1 ORDER BY number DESC LIMIT nullif($2, 0) OFFSET $3`
	rows, err := s.pool.Query(ctx, q, driveID, limit, offset)
	if err != nil {
		return nil, 0, fmt.Errorf("plans: %w", err)
	}
	type row struct {
		drive.Plan
		AllPlans int `db:"all_plans"`
	}
	found, err := collect(rows, "plans", pgx.RowToStructByName[row])
	if err != nil {
		return nil, 0, err
	}
	list, total := make([]drive.Plan, len(found)), 0
	for i, r := range found {
		list[i], total = r.Plan, r.AllPlans
	}
	return list, total, nil
}

// Plan gives one plan; not found where the drive has none of that number.
func (s *Store) Plan(ctx context.Context, driveID string, number int64) (drive.Plan, error) {
	const q = `SELECT ` + planColumns + ` FROM plans WHERE drive_id = $1 AND number = $2`
	return onePlan(ctx, s.pool, q, driveID, number)
}

// PlanWanted gives how many pillowcases a plan was asked to make.
func (s *Store) PlanWanted(ctx context.Context, driveID string, number int64) (int, error) {
	const q = `SELECT coalesce(sum((q ->> 'wanted')::bigint), 0) FROM plans p, jsonb_array_elements(p.problem -> 'quotas') q
		WHERE p.drive_id = $1 AND p.number = $2`
	var wanted int
	if err := s.pool.QueryRow(ctx, q, driveID, number).Scan(&wanted); err != nil {
		return 0, fmt.Errorf("wanted of the plan: %w", err)
	}
	return wanted, nil
}

// PlanTexts gives the same two as PlanFiles as they are kept: JSON that the
// command line reads.
func (s *Store) PlanTexts(ctx context.Context, driveID string, number int64) (problem, plan []byte, err error) {
	return planTexts(ctx, s.pool, driveID, number)
}

// PlanFiles gives what a plan was made from and, once it is ready, the plan itself.
func (s *Store) PlanFiles(ctx context.Context, driveID string, number int64) (*planning.Problem, *planning.Plan, error) {
	return planFiles(ctx, s.pool, driveID, number)
}

func onePlan(ctx context.Context, db querier, q, driveID string, number int64) (drive.Plan, error) {
	rows, err := db.Query(ctx, q, driveID, number)
	if err != nil {
		return drive.Plan{}, fmt.Errorf("plan: %w", err)
	}
	p, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Plan])
	if errors.Is(err, pgx.ErrNoRows) {
		return drive.Plan{}, apperr.NotFound("There is no plan %d here.", number)
	}
	if err != nil {
		return drive.Plan{}, fmt.Errorf("plan: %w", err)
	}
	return p, nil
}

func lockPlan(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Plan, error) {
	const q = `SELECT ` + planColumns + ` FROM plans WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	return onePlan(ctx, tx, q, driveID, number)
}

func planTexts(ctx context.Context, db querier, driveID string, number int64) (problem, plan []byte, err error) {
	const q = `SELECT coalesce(solved, problem), plan FROM plans WHERE drive_id = $1 AND number = $2`
	rows, err := db.Query(ctx, q, driveID, number)
	if err != nil {
		return nil, nil, fmt.Errorf("files of the plan: %w", err)
	}
	_, err = pgx.CollectExactlyOneRow(rows, func(row pgx.CollectableRow) (struct{}, error) { return struct{}{}, row.Scan(&problem, &plan) })
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil, apperr.NotFound("There is no plan %d here.", number)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("files of the plan: %w", err)
	}
	return problem, plan, nil
}

func planFiles(ctx context.Context, db querier, driveID string, number int64) (*planning.Problem, *planning.Plan, error) {
	problem, plan, err := planTexts(ctx, db, driveID, number)
	if err != nil {
		return nil, nil, err
	}
	p, err := planning.ReadProblem(bytes.NewReader(problem))
	if err != nil {
		return nil, nil, fmt.Errorf("kept problem of plan %d: %w", number, err)
	}
	if plan == nil {
		return p, nil, nil
	}
	made, err := planning.ReadPlan(bytes.NewReader(plan))
	if err != nil {
		return nil, nil, fmt.Errorf("kept plan %d: %w", number, err)
	}
	return p, made, nil
}

// StopPlan asks whoever works on a plan to stop and keep the best so far.
func (s *Store) StopPlan(ctx context.Context, act drive.Act, number int64) (drive.Plan, error) {
	return once(ctx, s, act, "stop plan", number, func(tx pgx.Tx) (drive.Plan, error) {
		p, err := lockPlan(ctx, tx, act.Drive, number)
		if err != nil || p.Stopping || !p.Busy() {
			return p, err
		}
		const q = `UPDATE plans SET stopping = true WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, q, act.Drive, number); err != nil {
			return p, fmt.Errorf("stop plan: %w", err)
		}
		p.Stopping = true
		return p, audit(ctx, tx, act, "plan stopped", "plan", number, nil)
	})
}

// DropPlan puts a plan away that was not accepted; one that is being worked out
// stops. An accepted plan is a conflict: it is withdrawn instead.
func (s *Store) DropPlan(ctx context.Context, act drive.Act, number int64) (drive.Plan, error) {
	return once(ctx, s, act, "drop plan", number, func(tx pgx.Tx) (drive.Plan, error) {
		p, err := lockPlan(ctx, tx, act.Drive, number)
		if err != nil || p.State == drive.PlanDropped {
			return p, err
		}
		if p.State == drive.PlanAccepted {
			return p, apperr.Conflict("Plan %d was accepted. Withdraw it instead, as long as nothing of it is cut.", number)
		}
		return dropPlan(ctx, tx, act, p)
	})
}

// dropPlan puts a locked plan away.
func dropPlan(ctx context.Context, tx pgx.Tx, act drive.Act, p drive.Plan) (drive.Plan, error) {
	before := p.State
	const q = `UPDATE plans SET state = 'dropped', ended_at = coalesce(ended_at, $3), version = version + 1
		WHERE drive_id = $1 AND number = $2`
	if _, err := tx.Exec(ctx, q, act.Drive, p.Number, act.At); err != nil {
		return p, fmt.Errorf("drop plan: %w", err)
	}
	p.State = drive.PlanDropped
	return p, audit(ctx, tx, act, "plan dropped", "plan", p.Number, changes{"state": {From: before, To: p.State}})
}

// PutAway says what became of a plan that nobody goes by.
type PutAway struct {
	Name    string    `db:"who_name"` // who put it away; empty at the command line
	At      time.Time `db:"at"`
	Instead int64     `db:"instead"` // the change that was asked for in the same act, 0: none
}

// PlanPutAway gives who dropped or withdrew a plan, and when; nil where nobody did.
func (s *Store) PlanPutAway(ctx context.Context, driveID string, number int64) (*PutAway, error) {
	const q = `SELECT a.at, coalesce(w.name, '') AS who_name, coalesce((SELECT min(n.number) FROM plans p
			JOIN plans n ON n.drive_id = p.drive_id AND n.changes = p.changes AND n.number > p.number AND n.created_at = a.at
			WHERE p.drive_id = a.drive_id AND p.number = $3), 0) AS instead
		FROM audit a LEFT JOIN signers w ON w.id = a.who
		WHERE a.drive_id = $1 AND a.kind = 'plan' AND a.subject = $2 AND a.act IN ('plan dropped', 'plan withdrawn')
		ORDER BY a.id DESC LIMIT 1`
	rows, err := s.pool.Query(ctx, q, driveID, strconv.FormatInt(number, 10), number)
	if err != nil {
		return nil, fmt.Errorf("what became of plan %d: %w", number, err)
	}
	gone, err := pgx.CollectExactlyOneRow(rows, pgx.RowToAddrOfStructByName[PutAway])
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("what became of plan %d: %w", number, err)
	}
	return gone, nil
}
