package postgres

import (
	"context"
	"encoding/binary"
	"fmt"

	"boltward/internal/account"

	"github.com/jackc/pgx/v5"
)

// Namespaces of the advisory locks that put tries in a row, so that many at
// once are counted one by one. An address is always locked before an account.
const (
	lockSource = 7201
	lockWho    = 7202
	lockDigits = 7203 // last, and one for all
)

// TrySignIn notes a try at signing in and says whether it may be made. Who and
// source are keyed fingerprints of the account and the address. The try counts
// as bad until SignedIn says otherwise; one that is refused is not counted, so
// that a wait of account.TryWindow always ends it.
func (s *Store) TrySignIn(ctx context.Context, who, source []byte) (try int64, allowed bool, err error) {
	return s.try(ctx, who, source, false)
}

// TryDigits is TrySignIn for the digits of a pass, where who is a browser: nobody has
// said yet who they are. Those from everywhere are counted as well.
func (s *Store) TryDigits(ctx context.Context, who, source []byte) (try int64, allowed bool, err error) {
	return s.try(ctx, who, source, true)
}

func (s *Store) try(ctx context.Context, who, source []byte, digits bool) (try int64, allowed bool, err error) {
	err = pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		const lock = `SELECT pg_advisory_xact_lock($1, $2)`
		if _, err := tx.Exec(ctx, lock, lockSource, lockNumber(source)); err != nil {
			return fmt.Errorf("lock tries: %w", err)
		}
		if _, err := tx.Exec(ctx, lock, lockWho, lockNumber(who)); err != nil {
			return fmt.Errorf("lock tries: %w", err)
		}
		tries, err := s.tries(ctx, tx, who, source)
		if err != nil {
			return err
		}
		if digits {
			if tries.Digits, err = s.triesAtDigits(ctx, tx); err != nil {
				return err
			}
		}
		if allowed = tries.Allowed(); !allowed {
			return nil
		}
		const insert = `INSERT INTO sign_in_attempts (at, who, source, digits) VALUES ($1, $2, $3, $4) RETURNING id`
		if err := tx.QueryRow(ctx, insert, s.now(), who, source, digits).Scan(&try); err != nil {
			return fmt.Errorf("note a try: %w", err)
		}
		return nil
	})
	return try, allowed, err
}

// SignedIn marks a try as good, and clears away tries and sessions past their time.
func (s *Store) SignedIn(ctx context.Context, try int64) error {
	return pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		const good = `UPDATE sign_in_attempts SET good = true WHERE id = $1`
		if _, err := tx.Exec(ctx, good, try); err != nil {
			return fmt.Errorf("mark a try: %w", err)
		}
		const old = `DELETE FROM sign_in_attempts WHERE id IN
			(SELECT id FROM sign_in_attempts WHERE at < $1 ORDER BY at LIMIT 1000 FOR UPDATE SKIP LOCKED)`
		if _, err := tx.Exec(ctx, old, s.now().Add(-account.KnownFor)); err != nil {
			return fmt.Errorf("clear old tries: %w", err)
		}
		// Sessions are judged by the database's own clock, which scs reads too.
		const ended = `DELETE FROM sessions WHERE token IN
			(SELECT token FROM sessions WHERE expiry < current_timestamp LIMIT 1000 FOR UPDATE SKIP LOCKED)`
		if _, err := tx.Exec(ctx, ended); err != nil {
			return fmt.Errorf("clear ended sessions: %w", err)
		}
		return nil
	})
}

func (s *Store) tries(ctx context.Context, tx pgx.Tx, who, source []byte) (account.Tries, error) {
	const q = `SELECT
		(SELECT count(*) FROM sign_in_attempts WHERE who = $1 AND source = $2 AND NOT good AND at > $3
			AND id > coalesce((SELECT max(id) FROM sign_in_attempts WHERE who = $1 AND source = $2 AND good), 0)),
		(SELECT count(*) FROM sign_in_attempts WHERE who = $1 AND NOT good AND at > $3),
		(SELECT count(*) FROM sign_in_attempts WHERE source = $2 AND NOT good AND at > $3),
		EXISTS (SELECT 1 FROM sign_in_attempts WHERE who = $1 AND source = $2 AND good AND at > $4)`
	var t account.Tries
	now := s.now()
	err := tx.QueryRow(ctx, q, who, source, now.Add(-account.TryWindow), now.Add(-account.KnownFor)).Scan(&t.Pair, &t.Who, &t.Source, &t.Known)
	if err != nil {
		return t, fmt.Errorf("count tries: %w", err)
	}
	return t, nil
}

// triesAtDigits counts the bad tries at digits from everywhere, one after the other.
func (s *Store) triesAtDigits(ctx context.Context, tx pgx.Tx) (n int, err error) {
	const lock = `SELECT pg_advisory_xact_lock($1, 0)`
	const q = `SELECT count(*) FROM sign_in_attempts WHERE digits AND NOT good AND at > $1`
	if _, err := tx.Exec(ctx, lock, lockDigits); err != nil {
		return 0, fmt.Errorf("lock tries: %w", err)
	}
	if err := tx.QueryRow(ctx, q, s.now().Add(-account.SpokenLife)).Scan(&n); err != nil {
		return 0, fmt.Errorf("count tries: %w", err)
	}
	return n, nil
}

func lockNumber(fingerprint []byte) int32 {
	return int32(binary.BigEndian.Uint32(fingerprint[:4]))
}
