package postgres

import (
	"context"
	"fmt"

	"boltward/internal/account"
)

// ForgetVisits removes sessions that have ended, tries at signing in that count no
// more, and for whom invitations were that nobody can use any more; it says how many.
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
	const invited = `UPDATE invites i SET name = '' FROM links l
		WHERE l.id = i.link AND i.name <> '' AND (l.expires_at <= $1 OR l.used_at IS NOT NULL OR l.revoked_at IS NOT NULL)`
	unnamed, err := s.pool.Exec(ctx, invited, s.now())
	if err != nil {
		return 0, fmt.Errorf("forget who was invited: %w", err)
	}
	return ended.RowsAffected() + old.RowsAffected() + unnamed.RowsAffected(), nil
}
