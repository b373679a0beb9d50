package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// DriveMember is somebody who signs in and has a role in one drive.
type DriveMember struct {
	ID       int64        `db:"id"`
	Name     string       `db:"name"`
	Email    string       `db:"email"`
	Role     account.Role `db:"role"`
	Version  int          `db:"version"`
	Since    time.Time    `db:"created_at"`
	Seen     *time.Time   `db:"seen_at"` // when last in this drive; nil where never
	Second   bool         `db:"second"`
	Password bool         `db:"password"` // one is chosen
}

const memberColumns = `a.id, a.name, a.email, m.role, m.version, m.created_at, m.seen_at, t.on_at IS NOT NULL AS second, a.password <> '' AS password
	FROM memberships m JOIN accounts a ON a.id = m.account_id LEFT JOIN second_steps t ON t.account_id = a.id WHERE m.drive_id = $1`

// Members gives everybody with a role in a drive, organisers first, then by name.
func (s *Store) Members(ctx context.Context, driveID string) ([]DriveMember, error) {
	const q = `SELECT ` + memberColumns + `
		ORDER BY array_position(ARRAY['organiser', 'desk', 'cutting', 'packing', 'reader'], m.role), a.name, a.id`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("members: %w", err)
	}
	return collect(rows, "members", pgx.RowToStructByName[DriveMember])
}

// Member gives one of them; not found for anybody without a role in the drive.
func (s *Store) Member(ctx context.Context, driveID string, id int64) (DriveMember, error) {
	return memberIn(ctx, s.pool, driveID, id)
}

// ChangeRole gives a member of the act's drive another role, or takes it away
// where role is empty. The role must be at this version still. The last organiser
// stays one. Whoever is no organiser any more leaves no open invitation behind,
// nor a pass, opened or not.
func (s *Store) ChangeRole(ctx context.Context, act drive.Act, id int64, version int, role account.Role) error {
	if role != "" && !role.SignsIn() {
		return apperr.Invalid("role", "Choose a role from the list.")
	}
	type wish struct {
		ID      int64
		Version int
		Role    account.Role
	}
	_, err := once(ctx, s, act, "change role", wish{id, version, role}, func(tx pgx.Tx) (bool, error) {
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return false, err
		}
		before, err := memberIn(ctx, tx, act.Drive, id)
		if err != nil {
			return false, err
		}
		if before.Version != version {
			return false, stale("This person's role")
		}
		if err := writeRole(ctx, tx, act, id, role); err != nil {
			return false, err
		}
		if before.Role == account.Organiser && role != account.Organiser {
			if err := keepOrganiser(ctx, tx, act.Drive); err != nil {
				return false, err
			}
		}
		return true, audit(ctx, tx, act, "role set", "account", id, changes{"role": {From: before.Role, To: role}})
	})
	return err
}

// EndSessions ends every session of a member of the act's drive, wherever that
// person is signed in.
func (s *Store) EndSessions(ctx context.Context, act drive.Act, id int64) error {
	_, err := once(ctx, s, act, "end sessions", id, func(tx pgx.Tx) (bool, error) {
		if _, err := memberIn(ctx, tx, act.Drive, id); err != nil {
			return false, err
		}
		if _, err := newEpoch(ctx, tx, act.At, id, 0); err != nil {
			return false, err
		}
		return true, audit(ctx, tx, act, "sessions ended", "account", id, nil)
	})
	return err
}

func memberIn(ctx context.Context, db querier, driveID string, id int64) (DriveMember, error) {
	const q = `SELECT ` + memberColumns + ` AND m.account_id = $2`
	return one[DriveMember](ctx, db, "member", apperr.NotFound("Nobody of that number signs in for this drive."), q, driveID, id)
}

// letsIn refuses an act by which others come into its drive where whoever does it may
// not let them in, or not any more. It holds the drive, as whoever changes a role does.
// The command line may.
func letsIn(ctx context.Context, tx pgx.Tx, act drive.Act) error {
	if err := lockDrive(ctx, tx, act.Drive); err != nil {
		return err
	}
	if act.Who == 0 {
		return nil
	}
	const q = `SELECT coalesce((SELECT role FROM memberships WHERE drive_id = $1 AND account_id = $2), '')`
	var role account.Role
	if err := tx.QueryRow(ctx, q, act.Drive, act.Who).Scan(&role); err != nil {
		return fmt.Errorf("who lets others in: %w", err)
	}
	if role.Allows(account.Drive) < account.Write {
		return apperr.Denied("Only an organiser lets others in.")
	}
	return nil
}

// endWays ends every way into the drive that somebody made for others: the passes, with
// the tablets that have them, and the invitations that nobody has used yet.
func endWays(ctx context.Context, tx pgx.Tx, act drive.Act, id int64) error {
	const passes = `UPDATE passes SET ended_at = $3, ended_by = $4 WHERE drive_id = $1 AND made_by = $2 AND ended_at IS NULL AND until > $3 RETURNING number`
	const links = `UPDATE links l SET revoked_at = $3 WHERE l.drive_id = $1 AND l.purpose IN ('invite', 'pass') AND l.used_at IS NULL AND l.revoked_at IS NULL
		AND (EXISTS (SELECT 1 FROM invites i WHERE i.drive_id = $1 AND i.link = l.id AND i.made_by = $2)
			OR EXISTS (SELECT 1 FROM passes p WHERE p.drive_id = $1 AND p.link = l.id AND p.made_by = $2))`
	rows, err := tx.Query(ctx, passes, act.Drive, id, act.At, act.Who)
	if err != nil {
		return fmt.Errorf("end passes: %w", err)
	}
	ended, err := collect(rows, "end passes", pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, number := range ended {
		if err := audit(ctx, tx, act, "pass ended", "pass", number, nil); err != nil {
			return err
		}
	}
	if _, err := tx.Exec(ctx, links, act.Drive, id, act.At); err != nil {
		return fmt.Errorf("end what was not used: %w", err)
	}
	const unnamed = `UPDATE invites SET name = '' WHERE drive_id = $1 AND made_by = $2 AND name <> ''`
	if _, err := tx.Exec(ctx, unnamed, act.Drive, id); err != nil {
		return fmt.Errorf("forget who was invited: %w", err)
	}
	return nil
}
