// Package postgres is the store. Each file keeps one aggregate; each exported
// method is one statement or one transaction that loads, locks, lets package
// drive decide, and writes. Every query is scoped by drive. Refusals a person
// should see are apperr errors; everything else is wrapped once and is for
// operators.
//
// Locks are taken with FOR NO KEY UPDATE in key order: pieces by (lot, piece),
// kits by (number, part), asked by number. The ledgers' triggers move the
// balances and hold the last word: what would go below zero is refused there.
package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
)

// Store keeps everything in one Postgres database, as the server role.
type Store struct {
	pool  connection // all of root, or the one transaction of Whole
	send  sender     // the same, for what is asked together
	whole bool       // it is that transaction
	root  beginning
	now   func() time.Time
	work  *river.Client[pgx.Tx] // only inserts; package jobs works what it inserts
}

// connection is what methods ask of the database: the pool has it, and so has a
// transaction, whose Begin makes a savepoint.
type connection interface {
	querier
	Begin(ctx context.Context) (pgx.Tx, error)
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
}

// New gives a store over a pool; now is the clock.
func New(pool *pgxpool.Pool, now func() time.Time) *Store {
	work, err := river.NewClient(riverpgxv5.New(pool), &river.Config{Schema: task.Schema})
	if err != nil {
		panic(fmt.Sprintf("a client that only inserts has nothing to refuse: %v", err))
	}
	return &Store{pool: asking{pool}, send: pool, root: beginning{pool}, now: now, work: work}
}

// Whole runs fn with a store all of whose methods work in one transaction: all
// that fn did is kept, or nothing of it. now is the clock of that store. What fn
// is given may not be used by several at once, nor after fn returns.
func (s *Store) Whole(ctx context.Context, now func() time.Time, fn func(*Store) error) error {
	return pgx.BeginFunc(ctx, s.root, func(tx pgx.Tx) error {
		return fn(&Store{pool: asking{tx}, send: tx, whole: true, root: s.root, now: now, work: s.work})
	})
}

// Pool is for what keeps its own tables in the same database: sessions, background work.
func (s *Store) Pool() *pgxpool.Pool { return s.root.Pool }

// Now is the store's clock.
func (s *Store) Now() time.Time { return s.now() }

// querier is what reads alike within a transaction and outside one.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

// one gives the only row of a query; missing where there is none.
func one[T any](ctx context.Context, db querier, what string, missing error, q string, args ...any) (T, error) {
	rows, err := db.Query(ctx, q, args...)
	if err != nil {
		var none T
		return none, fmt.Errorf("%s: %w", what, err)
	}
	found, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[T])
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		return found, missing
	case err != nil:
		return found, fmt.Errorf("%s: %w", what, err)
	}
	return found, nil
}

// collect gives all rows of a query that was asked.
func collect[T any](rows pgx.Rows, what string, scan pgx.RowToFunc[T]) ([]T, error) {
	list, err := pgx.CollectRows(rows, scan)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	return list, nil
}

// next gives the next number of a kind within a drive, in the transaction that uses it.
func next(ctx context.Context, tx pgx.Tx, driveID, kind string) (int64, error) {
	return nextN(ctx, tx, driveID, kind, 1)
}

// nextN takes n numbers at once and gives the first.
func nextN(ctx context.Context, tx pgx.Tx, driveID, kind string, n int) (int64, error) {
	const q = `INSERT INTO counters AS c (drive_id, kind, last) VALUES ($1, $2, $3)
		ON CONFLICT ON CONSTRAINT counters_pkey DO UPDATE SET last = c.last + EXCLUDED.last
		RETURNING last`
	var last int64
	if err := tx.QueryRow(ctx, q, driveID, kind, n).Scan(&last); err != nil {
		return 0, fmt.Errorf("next %s number: %w", kind, err)
	}
	return last - int64(n) + 1, nil
}

// change is one field of an audit entry: what it was and what it became.
// Personal fields say only that they changed.
type change struct {
	From any `json:"from,omitempty"`
	To   any `json:"to,omitempty"`
}

// changes collects the fields of an audit entry.
type changes map[string]change

// set notes a field whose value changed.
func (c changes) set(field string, from, to any) {
	if fmt.Sprint(from) != fmt.Sprint(to) {
		c[field] = change{From: from, To: to}
	}
}

// personal notes that a personal field changed, never its value. Notes are such a
// field wherever they stand: people write names into them.
func (c changes) personal(field, from, to string) {
	if from != to {
		c[field] = change{To: "changed"}
	}
}

// audit writes who did what to which thing, in the same transaction.
func audit(ctx context.Context, tx pgx.Tx, act drive.Act, what, kind string, subject any, c changes) error {
	args, err := audited(act, what, kind, subject, c)
	if err != nil {
		return err
	}
	if w, ok := tx.(*wishTx); ok {
		w.last.Queue(insertAudit, args...)
		return nil
	}
	if _, err := tx.Exec(ctx, insertAudit, args...); err != nil {
		return fmt.Errorf("audit of %s: %w", what, err)
	}
	return nil
}

const insertAudit = `INSERT INTO audit (drive_id, at, who, link, request, act, kind, subject, changes)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`

// audited gives what insertAudit writes.
func audited(act drive.Act, what, kind string, subject any, c changes) ([]any, error) {
	if c == nil {
		c = changes{}
	}
	text, err := json.Marshal(c)
	if err != nil {
		return nil, fmt.Errorf("audit of %s: %w", what, err)
	}
	return []any{act.Drive, act.At, act.Who, act.Link, act.Request, what, kind, fmt.Sprint(subject), text}, nil
}
