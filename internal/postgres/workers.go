package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
)

// A worker lives as long as it holds a lock in Postgres under its name.

// workerLocks is the first number of the locks under which workers live; the
// second is made of their names.
const workerLocks = 7_340_051

// Life is the lock of one worker.
type Life struct{ sessionLock }

// Live takes the lock of a worker, whose name must be its alone and begin with
// task.Worker. It has a connection of its own, beside the pool.
func (s *Store) Live(ctx context.Context, worker string) (*Life, error) {
	l := &Life{sessionLock{pool: s.root.Pool, what: "live as a worker", lock: func(ctx context.Context, conn *pgx.Conn) error {
		// Shared, so that names that come to one number do not wait for each other.
		const q = `SELECT pg_advisory_lock_shared($1, hashtext($2))`
		_, err := conn.Exec(ctx, q, workerLocks, worker)
		return err
	}}}
	return l, l.take(ctx, beginWithin)
}

// Stay keeps the lock until ctx ends, and takes it anew where its connection was
// lost; lost is told why.
func (l *Life) Stay(ctx context.Context, lost func(error)) { l.stay(ctx, func(error) {}, lost) }

// orphaned is the work of workers that live no more, to the eyes of one of them.
const orphaned = `state = 'running' AND starts_with(attempted_by[cardinality(attempted_by)], $1)
	AND NOT EXISTS (
		SELECT FROM pg_locks l
		WHERE l.locktype = 'advisory' AND l.granted AND l.database = (SELECT oid FROM pg_database WHERE datname = current_database())
			AND l.classid = $2::oid AND l.objid = (hashtext(j.attempted_by[cardinality(j.attempted_by)])::bigint & 4294967295)::oid)`

// Orphans gives the work of workers that seem to live no more, but that of the one who
// asks. It frees nothing: a worker may be about to take its lock anew.
func (s *Store) Orphans(ctx context.Context, worker string) ([]Orphan, error) {
	const q = `SELECT id, kind, attempt::integer FROM river.river_job AS j
		WHERE attempted_by[cardinality(attempted_by)] <> $3 AND ` + orphaned + ` ORDER BY id`
	rows, err := s.pool.Query(ctx, q, task.Worker, workerLocks, worker)
	if err != nil {
		return nil, fmt.Errorf("orphans: %w", err)
	}
	return collect(rows, "orphans", pgx.RowToStructByName[Orphan])
}

// FreeOrphans gives to others what Orphans gave some time ago and is orphaned still, and
// says which. All work is done so that two who do the same do it once.
func (s *Store) FreeOrphans(ctx context.Context, found []Orphan) ([]Orphan, error) {
	ids, attempts := make([]int64, len(found)), make([]int, len(found))
	for i, o := range found {
		ids[i], attempts[i] = o.ID, o.Attempt
	}
	const q = `UPDATE river.river_job AS j SET
			state = (CASE WHEN attempt >= max_attempts THEN 'discarded' WHEN attempt > 1 THEN 'retryable' ELSE 'available' END)::river.river_job_state,
			scheduled_at = now() + make_interval(secs => least(attempt - 1, 30)),
			finalized_at = CASE WHEN attempt >= max_attempts THEN now() END
		WHERE (id, attempt) IN (SELECT * FROM unnest($3::bigint[], $4::integer[])) AND ` + orphaned + `
		RETURNING id, kind, attempt::integer`
	rows, err := s.pool.Query(ctx, q, task.Worker, workerLocks, ids, attempts)
	if err != nil {
		return nil, fmt.Errorf("free orphans: %w", err)
	}
	return collect(rows, "free orphans", pgx.RowToStructByName[Orphan])
}

// dueSoon is how far ahead the queue leaves work available that is tried again or was
// put off: what waits longer stands in other states, and is none of MakeDue's. It is
// how often River's scheduler looks.
const dueSoon = 5 * time.Second

// MakeDue lets work be taken up that waits for the clock of whoever enqueued it:
// that one is ahead of the database's, by which workers judge, or was. It says how
// much there was. What is available within dueSoon may wait for its time by
// somebody's wish, and comes soon enough.
func (s *Store) MakeDue(ctx context.Context) (int64, error) {
	const q = `UPDATE river.river_job SET scheduled_at = now() WHERE state = 'available' AND scheduled_at > now() + make_interval(secs => $1)`
	tag, err := s.pool.Exec(ctx, q, dueSoon.Seconds())
	if err != nil {
		return 0, fmt.Errorf("make work due: %w", err)
	}
	return tag.RowsAffected(), nil
}

// Orphan is a job whose worker died.
type Orphan struct {
	ID      int64
	Kind    string
	Attempt int
}

// sleep waits, and is false where ctx ended first.
func sleep(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}
