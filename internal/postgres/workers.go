package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
)

// A worker lives as long as it holds a lock in Postgres under its name: the lock
// goes with the connection, and that with the process, however it ends. No clock
// has a say in it.

// workerLocks is the first number of the locks under which workers live; the
// second is made of their names.
const workerLocks = 7_340_051

// livesAgain is how long a worker whose connection was lost waits before it
// takes its lock anew.
const livesAgain = 250 * time.Millisecond

// Life is the lock of one worker.
type Life struct {
	store  *Store
	worker string
	conn   *pgx.Conn
}

// Live takes the lock of a worker, whose name must be its alone and begin with
// task.Worker. It has a connection of its own, beside the pool.
func (s *Store) Live(ctx context.Context, worker string) (*Life, error) {
	l := &Life{store: s, worker: worker}
	return l, l.take(ctx)
}

func (l *Life) take(ctx context.Context) error {
	config := l.store.root.Config()
	if config.BeforeConnect != nil {
		if err := config.BeforeConnect(ctx, config.ConnConfig); err != nil {
			return fmt.Errorf("live as a worker: %w", err)
		}
	}
	conn, err := pgx.ConnectConfig(ctx, config.ConnConfig)
	if err != nil {
		return fmt.Errorf("live as a worker: %w", err)
	}
	// Shared, so that names that come to one number do not wait for each other.
	const q = `SELECT pg_advisory_lock_shared($1, hashtext($2))`
	if _, err := conn.Exec(ctx, q, workerLocks, l.worker); err != nil {
		// What is closed after a failure has nothing more to say.
		_ = conn.Close(ctx)
		return fmt.Errorf("live as a worker: %w", err)
	}
	l.conn = conn
	return nil
}

// Stay keeps the lock until ctx ends, and takes it anew where its connection was
// lost; lost is told why.
func (l *Life) Stay(ctx context.Context, lost func(error)) {
	for ctx.Err() == nil {
		if l.conn == nil {
			if err := l.take(ctx); err != nil {
				lost(err)
				if !sleep(ctx, livesAgain) {
					return
				}
				continue
			}
		}
		// Nobody notifies on it: it returns when the connection is lost or ctx ends.
		_, err := l.conn.WaitForNotification(ctx)
		if err == nil {
			continue
		}
		late, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
		// It is lost, or about to end with the process.
		_ = l.conn.Close(late)
		cancel()
		l.conn = nil
		if ctx.Err() == nil {
			lost(fmt.Errorf("the lock of a worker: %w", err))
		}
	}
}

// FreeOrphans gives the work of workers that live no more to others, and says
// which. A worker that only lost its connection may be at it still: all work is
// done so that two who do the same do it once.
func (s *Store) FreeOrphans(ctx context.Context) ([]Orphan, error) {
	const q = `UPDATE river.river_job AS j SET
			state = (CASE WHEN attempt >= max_attempts THEN 'discarded' WHEN attempt > 1 THEN 'retryable' ELSE 'available' END)::river.river_job_state,
			scheduled_at = now() + make_interval(secs => least(attempt - 1, 30)),
			finalized_at = CASE WHEN attempt >= max_attempts THEN now() END
		WHERE state = 'running' AND starts_with(attempted_by[cardinality(attempted_by)], $1)
			AND NOT EXISTS (
				SELECT FROM pg_locks l
				WHERE l.locktype = 'advisory' AND l.granted AND l.database = (SELECT oid FROM pg_database WHERE datname = current_database())
					AND l.classid = $2::oid AND l.objid = (hashtext(j.attempted_by[cardinality(j.attempted_by)])::bigint & 4294967295)::oid)
		RETURNING id, kind, attempt::integer`
	rows, err := s.pool.Query(ctx, q, task.Worker, workerLocks)
	if err != nil {
		return nil, fmt.Errorf("free orphans: %w", err)
	}
	return collect(rows, "free orphans", pgx.RowToStructByName[Orphan])
}

// MakeDue lets work be taken up that waits for the clock of whoever enqueued it:
// that one is ahead of the database's, by which workers judge, or was. It says how
// much there was. What is to wait for its time stands in other states.
func (s *Store) MakeDue(ctx context.Context) (int64, error) {
	const q = `UPDATE river.river_job SET scheduled_at = now() WHERE state = 'available' AND scheduled_at > now()`
	tag, err := s.pool.Exec(ctx, q)
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
