package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
)

// How often all balances are held against their ledgers, and how long it is kept how
// that came out.
const (
	CheckedEvery = 24 * time.Hour
	checksKept   = 400 * 24 * time.Hour
)

// LedgerCheck is how holding the balances against their ledgers came out. Its zero
// value is none yet.
type LedgerCheck struct {
	At          time.Time      `db:"at"`
	Seconds     float64        `db:"seconds"`
	Differing   map[string]int `db:"differing"`   // how many balances differed, by drive
	Differences []Difference   `db:"differences"` // the first DifferencesTold of each drive
}

// Differ is how many balances differed, over all drives.
func (c LedgerCheck) Differ() int { return total(c.Differing) }

// Of gives what differed in one drive: the first of it, and how many more there were.
func (c LedgerCheck) Of(driveID string) (list []string, more int) {
	for _, d := range c.Differences {
		if d.Drive == driveID {
			list = append(list, d.What)
		}
	}
	return list, c.Differing[driveID] - len(list)
}

// LastLedgerCheck gives the last that was made.
func (s *Store) LastLedgerCheck(ctx context.Context) (LedgerCheck, error) {
	const q = `SELECT at, seconds, differing, differences FROM ledger_checks ORDER BY id DESC LIMIT 1`
	rows, err := s.pool.Query(ctx, q)
	if err != nil {
		return LedgerCheck{}, fmt.Errorf("last check of the ledgers: %w", err)
	}
	last, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[LedgerCheck])
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return LedgerCheck{}, fmt.Errorf("last check of the ledgers: %w", err)
	}
	return last, nil
}

// CheckLedgersDue holds all balances against their ledgers where that was last done
// CheckedEvery ago or before, or differed then, and keeps how it came out. Where it
// is not due it gives nil. Two at once do no harm.
func (s *Store) CheckLedgersDue(ctx context.Context) (*LedgerCheck, error) {
	last, err := s.LastLedgerCheck(ctx)
	if err != nil {
		return nil, err
	}
	// A clock that was ahead must not put it off.
	if age := s.now().Sub(last.At); len(last.Differing) == 0 && age >= 0 && age < CheckedEvery {
		return nil, nil
	}
	begun := time.Now()
	found, err := s.CheckBalances(ctx)
	if err != nil {
		return nil, err
	}
	check := LedgerCheck{At: s.now(), Seconds: time.Since(begun).Seconds(), Differing: found.Differing, Differences: found.Differences}
	const q = `WITH old AS (DELETE FROM ledger_checks WHERE at < $5)
		INSERT INTO ledger_checks (at, seconds, differing, differences) VALUES ($1, $2, $3, $4)`
	if _, err := s.pool.Exec(ctx, q, check.At, check.Seconds, check.Differing, check.Differences, check.At.Add(-checksKept)); err != nil {
		return nil, fmt.Errorf("keep the check of the ledgers: %w", err)
	}
	return &check, nil
}

// JobsWaiting is how many jobs of a kind stand in a state.
type JobsWaiting struct {
	Kind  string `db:"kind"`
	State string `db:"state"`
	N     int64  `db:"n"`
}

// JobStates counts the jobs that are not done with.
func (s *Store) JobStates(ctx context.Context) ([]JobsWaiting, error) {
	const q = `SELECT kind, state::text AS state, count(*) AS n FROM river.river_job
		WHERE state IN ('available', 'pending', 'retryable', 'running', 'scheduled') GROUP BY kind, state`
	rows, err := s.pool.Query(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("jobs by state: %w", err)
	}
	return collect(rows, "jobs by state", pgx.RowToStructByName[JobsWaiting])
}
