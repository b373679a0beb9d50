package postgres

import (
	"context"
	"fmt"

	"boltward/internal/account"
)

// ForgetVisits removes sessions that have ended and tries at signing in that
// count no more, and says how many of both.
func (s *Store) ForgetVisits(ctx context.Context) (int64, error) {
	// Sessions are judged by the database's own clock, as where they are read.
	const sessions = `DELETE FROM sessions WHERE expiry < current_timestamp`
	ended, err := s.pool.Exec(ctx, sessions)
	if err != nil {
		return 0, fmt.Errorf("forget ended sessions: %w", err)
	}
	const tries = `DELETE FROM sign_in_attempts WHERE at < $1`
	old, err := s.pool.Exec(ctx, tries, s.now().Add(-account.KnownFor))
	if err != nil {
		return 0, fmt.Errorf("forget old tries: %w", err)
	}
	return ended.RowsAffected() + old.RowsAffected(), nil
}
