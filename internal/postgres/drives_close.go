package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// CloseDrive says that a drive is over, as drive.Drive.ClosedAt tells. One that is closed stays
// closed since then.
func (s *Store) CloseDrive(ctx context.Context, act drive.Act) (time.Time, error) {
	return once(ctx, s, act, "close drive", struct{}{}, func(tx pgx.Tx) (time.Time, error) {
		return setClosed(ctx, tx, act, "drive closed", &act.At)
	})
}

// OpenDriveAgain undoes CloseDrive.
func (s *Store) OpenDriveAgain(ctx context.Context, act drive.Act) (time.Time, error) {
	return once(ctx, s, act, "open drive again", struct{}{}, func(tx pgx.Tx) (time.Time, error) {
		return setClosed(ctx, tx, act, "drive opened again", nil)
	})
}

// setClosed holds the drive alone, so that whoever hands out or asks (takesMore) is done before, or
// sees it.
func setClosed(ctx context.Context, tx pgx.Tx, act drive.Act, what string, at *time.Time) (time.Time, error) {
	if err := lockDrive(ctx, tx, act.Drive); err != nil {
		return time.Time{}, err
	}
	d, err := driveIn(ctx, tx, act.Drive)
	if err != nil || (d.ClosedAt == nil) == (at == nil) {
		return act.At, err
	}
	const q = `UPDATE drives SET closed_at = $2 WHERE id = $1`
	if _, err := tx.Exec(ctx, q, act.Drive, at); err != nil {
		return act.At, fmt.Errorf("%s: %w", what, err)
	}
	return act.At, audit(ctx, tx, act, what, "drive", act.Drive, nil)
}

// takesMore refuses what a closed drive does no more, and holds the drive as it is.
func takesMore(ctx context.Context, tx pgx.Tx, driveID string) error {
	d, err := heldDrive(ctx, tx, driveID)
	if err != nil {
		return err
	}
	return d.TakesMore()
}

// heldDrive gives the drive and holds it as it is.
func heldDrive(ctx context.Context, tx pgx.Tx, driveID string) (drive.Drive, error) {
	return oneDrive(ctx, tx, driveByID+` FOR SHARE`, driveID)
}

// StillOpen gives what of a drive is not done with.
func (s *Store) StillOpen(ctx context.Context, driveID string) (drive.StillOpen, error) {
	const q = `SELECT k.out, k.out_cases, k.here, k.here_cases, c.to_check, c.to_mend, c.good, c.sent, f.free, f.promised, t.sheets, l.plans
		FROM (SELECT count(*) FILTER (WHERE state = 'out') AS out, coalesce(sum(cases) FILTER (WHERE state = 'out'), 0) AS out_cases,
				count(*) FILTER (WHERE state <> 'out') AS here, coalesce(sum(cases) FILTER (WHERE state <> 'out'), 0) AS here_cases
			FROM kits WHERE drive_id = $1 AND state IN ('out', 'cut', 'ready', 'found')) k,
			(SELECT coalesce(sum(b.n) FILTER (WHERE b.state = 'sewn'), 0) AS to_check, coalesce(sum(b.n) FILTER (WHERE b.state = 'to mend' AND k.state IS DISTINCT FROM 'out'), 0) AS to_mend,
				coalesce(sum(b.n) FILTER (WHERE b.state IN ('good', 'packed')), 0) AS good, coalesce(sum(b.n) FILTER (WHERE b.state = 'delivered'), 0) AS sent
			FROM case_balances b LEFT JOIN kits k ON k.drive_id = b.drive_id AND k.number = b.kit AND k.part = b.part
			WHERE b.drive_id = $1 AND b.n > 0) c,
			(SELECT coalesce(sum(free), 0)::bigint AS free, coalesce(sum(promised), 0)::bigint AS promised FROM pieces WHERE drive_id = $1) f,
			(SELECT count(*) AS sheets FROM sheets WHERE drive_id = $1 AND state IN ('waiting', 'on the table')) t,
			(SELECT count(*) AS plans FROM plans WHERE drive_id = $1 AND state IN ('waiting', 'running', 'ready') AND NOT ` + planPassedOver + `) l`
	return one[drive.StillOpen](ctx, s.pool, "what is still open", pgx.ErrNoRows, q, driveID)
}
