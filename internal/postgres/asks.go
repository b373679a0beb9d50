package postgres

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/planning"
	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
)

// Asks is what to ask donors for, as it was found at MadeAt, and how the work on it stands.
type Asks struct {
	State   string // waiting, running, ready or failed; empty where nobody has asked
	Trouble string
	MadeAt  *time.Time // nil: never yet
	Seconds float64    // that it took
	Wishes  []drive.Wish
	Made    int              // pillowcases that the cloth here makes by itself
	Wanted  int              // of so many still to plan
	Short   []drive.LineNeed // cloth for all the rest of it
	Changed bool             // the shelf, or what is asked for, is not as it was
	Nothing bool             // nothing is asked for that is in no plan
	Plan    int64            // the newest plan, which pages of what is asked for count from; 0: none
}

// Busy says whether it is being worked out.
func (a Asks) Busy() bool { return a.State == "waiting" || a.State == "running" }

// AskedForNow gives what to ask for as it was found last, and whether it still holds.
func (s *Store) AskedForNow(ctx context.Context, driveID string) (Asks, error) {
	var a Asks
	kept, err := s.keptAsks(ctx, driveID)
	if err != nil {
		return a, err
	}
	in, err := s.inputNow(ctx, driveID)
	if err != nil {
		return a, err
	}
	now, _ := in.Problem()
	a.Nothing = len(now.Quotas) == 0
	newest, err := s.NewestPlan(ctx, driveID)
	if err != nil || kept == nil {
		return a, err
	}
	a.Plan = newest.Number
	a.State, a.Trouble, a.MadeAt, a.Seconds, a.Wishes = kept.state, kept.trouble, kept.madeAt, kept.seconds, kept.wishes
	if kept.problem != nil {
		a.Made, a.Wanted = kept.plan.Cases(), kept.problem.Wanted()
		if a.Short, err = drive.WholeNeed(kept.problem, kept.plan, in.Wants); err != nil {
			return a, err
		}
		if a.Changed, err = differs(kept.problem, now); err != nil {
			return a, err
		}
	}
	return a, nil
}

// RequestAsks has it worked out anew what to ask for. While that is being done already it
// does nothing.
func (s *Store) RequestAsks(ctx context.Context, act drive.Act) (struct{}, error) {
	return once(ctx, s, act, "request asks", nil, func(tx pgx.Tx) (struct{}, error) {
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return struct{}{}, err
		}
		begun, err := s.requestAsks(ctx, tx, act.Drive, act.At)
		if err != nil || !begun {
			return struct{}{}, err
		}
		return struct{}{}, audit(ctx, tx, act, "fabric to ask for requested", "drive", act.Drive, nil)
	})
}

func (s *Store) requestAsks(ctx context.Context, tx pgx.Tx, driveID string, at time.Time) (begun bool, err error) {
	const q = `INSERT INTO asks (drive_id, state, asked_at) VALUES ($1, 'waiting', $2)
		ON CONFLICT ON CONSTRAINT asks_pkey DO UPDATE SET state = 'waiting', trouble = '', asked_at = $2
		WHERE asks.state IN ('ready', 'failed')`
	tag, err := tx.Exec(ctx, q, driveID, at)
	if err != nil {
		return false, fmt.Errorf("request what to ask for: %w", err)
	}
	if tag.RowsAffected() == 0 {
		return false, nil
	}
	// A person who wants a plan waits for nothing else: plans come first.
	opts := &river.InsertOpts{Queue: task.QueuePlans, Priority: 3, MaxAttempts: planAttempts}
	if _, err := s.work.InsertTx(ctx, tx, task.Ask{Drive: driveID}, opts); err != nil {
		return false, fmt.Errorf("enqueue what to ask for: %w", err)
	}
	return true, nil
}

// asksRest is how long a shelf may have changed before what to ask for is worked out anew by
// itself: on a day when lots come in by the dozen, once in a while is enough.
const asksRest = 2 * time.Minute

// RefreshAsks has it worked out anew in drives where cloth has moved or another plan stands
// since, and gives how many. What is of shortly before may have been booked after it was looked. A drive
// that fails keeps no other waiting.
func (s *Store) RefreshAsks(ctx context.Context) (int64, error) {
	now := s.now()
	const q = `SELECT d.id FROM drives d LEFT JOIN asks a ON a.drive_id = d.id
		WHERE (a.drive_id IS NULL OR a.state = 'ready' AND a.made_at < $1)
			AND EXISTS (SELECT FROM fabric_entries e WHERE e.drive_id = d.id AND (a.made_at IS NULL OR e.at > a.made_at - $2::interval))
			AND EXISTS (SELECT FROM asked l WHERE l.drive_id = d.id)
		ORDER BY d.id`
	rows, err := s.pool.Query(ctx, q, now.Add(-asksRest), forecastLate)
	if err != nil {
		return 0, fmt.Errorf("drives whose shelf has changed: %w", err)
	}
	ids, err := collect(rows, "drives whose shelf has changed", pgx.RowTo[string])
	if err != nil {
		return 0, err
	}
	n := 0
	var failed []error
	for _, id := range ids {
		one, err := inOne(ctx, s, func(tx pgx.Tx) (int, error) {
			begun, err := s.requestAsks(ctx, tx, id, now)
			if !begun {
				return 0, err
			}
			return 1, err
		})
		n += one
		if err != nil {
			failed = append(failed, fmt.Errorf("drive %s: %w", id, err))
		}
	}
	return int64(n), errors.Join(failed...)
}

// FailStrandedAsks ends work on what to ask for that no job is left for.
func (s *Store) FailStrandedAsks(ctx context.Context, trouble string) (int64, error) {
	const q = `UPDATE asks a SET state = 'failed', trouble = $1
		WHERE a.state IN ('waiting', 'running') AND NOT EXISTS (
			SELECT FROM river.river_job j WHERE j.kind = $2 AND j.args ->> 'drive' = a.drive_id
				AND j.state IN ('available', 'pending', 'retryable', 'running', 'scheduled'))`
	tag, err := s.pool.Exec(ctx, q, trouble, task.Ask{}.Kind())
	if err != nil {
		return 0, fmt.Errorf("stranded work on what to ask for: %w", err)
	}
	return tag.RowsAffected(), nil
}

// inputNow gives what a plan would be made from now, as it stands at one moment.
func (s *Store) inputNow(ctx context.Context, driveID string) (drive.PlanInput, error) {
	var in drive.PlanInput
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err := pgx.BeginTxFunc(ctx, s.root, options, func(tx pgx.Tx) error {
		d, err := driveIn(ctx, tx, driveID)
		if err != nil {
			return err
		}
		if in, err = planInput(ctx, tx, d); err != nil {
			return err
		}
		shelf, err := shelved(ctx, tx, driveID, nil)
		for _, c := range shelf {
			in.Cloths = append(in.Cloths, c.Cloth)
		}
		return err
	})
	return in, err
}

// keptAsks is the row of a drive.
type keptAsks struct {
	state   string
	trouble string
	madeAt  *time.Time
	seconds float64
	problem *planning.Problem
	plan    *planning.Plan
	wishes  []drive.Wish
}

// keptAsks gives the drive's row, nil where there is none.
func (s *Store) keptAsks(ctx context.Context, driveID string) (*keptAsks, error) {
	const q = `SELECT state, trouble, made_at, seconds, problem, plan, wishes FROM asks WHERE drive_id = $1`
	var k keptAsks
	var problem, plan, wishes []byte
	err := s.pool.QueryRow(ctx, q, driveID).Scan(&k.state, &k.trouble, &k.madeAt, &k.seconds, &problem, &plan, &wishes)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("what to ask for: %w", err)
	}
	if problem == nil {
		return &k, nil
	}
	if k.problem, err = planning.ReadProblem(bytes.NewReader(problem)); err != nil {
		return nil, fmt.Errorf("problem kept with what to ask for: %w", err)
	}
	if k.plan, err = planning.ReadPlan(bytes.NewReader(plan)); err != nil {
		return nil, fmt.Errorf("plan kept with what to ask for: %w", err)
	}
	if err := json.Unmarshal(wishes, &k.wishes); err != nil {
		return nil, fmt.Errorf("what to ask for: %w", err)
	}
	return &k, nil
}

func differs(a, b *planning.Problem) (bool, error) {
	x, err := json.Marshal(a)
	if err != nil {
		return false, fmt.Errorf("compare problems: %w", err)
	}
	y, err := json.Marshal(b)
	if err != nil {
		return false, fmt.Errorf("compare problems: %w", err)
	}
	return !bytes.Equal(x, y), nil
}
