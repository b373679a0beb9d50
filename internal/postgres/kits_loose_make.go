package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/sizing"

	"github.com/jackc/pgx/v5"
)

// MakeLooseKit puts a kit together by hand from panels that lie loose. What does not fit, is not
// there or is against what was decided by eye is refused by field: size, asked, cases, or a role.
func (s *Store) MakeLooseKit(ctx context.Context, act drive.Act, w drive.LooseKit) (KitsMoved, error) {
	return once(ctx, s, act, "make loose kit", w, func(tx pgx.Tx) (KitsMoved, error) {
		var moved KitsMoved
		if err := fitsLine(ctx, tx, act.Drive, orZero(w.Asked), w.Size); err != nil {
			return moved, err
		}
		if err := keepSizes(ctx, tx, act.Drive, w.Size); err != nil {
			return moved, err
		}
		var spec sizing.Spec
		const size = `SELECT spec FROM sizes WHERE drive_id = $1 AND number = $2`
		if err := tx.QueryRow(ctx, size, act.Drive, w.Size).Scan(&spec); err != nil {
			return moved, fmt.Errorf("size of the kit: %w", err)
		}
		rules, recipient, err := decidedByEye(ctx, tx, act.Drive, orZero(w.Asked))
		if err != nil {
			return moved, err
		}
		if err := w.Keeps(rules, recipient); err != nil {
			return moved, err
		}
		loose, err := lockLoose(ctx, tx, act.Drive, w.Size)
		if err != nil {
			return moved, err
		}
		number, err := next(ctx, tx, act.Drive, "kit")
		if err != nil {
			return moved, err
		}
		ref := drive.KitRef{Number: number, Part: 1}
		m, given, err := w.Make(ref, spec, loose)
		if err != nil {
			return moved, err
		}
		day, _, err := dayOf(ctx, tx, act, time.Time{})
		if err != nil {
			return moved, err
		}
		if err := moveKits(ctx, tx, act, day, day, m); err != nil {
			return moved, err
		}
		const give = `UPDATE panels SET kit = $4, part = 1, pillowcase = $5 WHERE drive_id = $1 AND sheet = $2 AND panel = $3`
		var batch pgx.Batch
		for _, g := range given {
			batch.Queue(give, act.Drive, g.Sheet, g.Panel, ref.Number, g.To)
		}
		if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
			return moved, fmt.Errorf("panels of the kit: %w", err)
		}
		moved.Kits, moved.Cases = []drive.KitRef{ref}, w.Cases
		return moved, audit(ctx, tx, act, "kit of loose panels made", "kit", ref, changes{"size": {To: w.Size}, "cases": {To: w.Cases}})
	})
}

// lockLoose locks the kits of which panels of a size lie loose, and gives those panels in the
// order in which they were cut.
func lockLoose(ctx context.Context, tx pgx.Tx, driveID string, size int64) ([]drive.LoosePanel, error) {
	const lock = `SELECT number FROM kits k WHERE drive_id = $1 AND loose AND part = 1 AND size = $2 ORDER BY number FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, lock, driveID, size); err != nil {
		return nil, fmt.Errorf("lock kits: %w", err)
	}
	const q = panelsOfApart + ` AND k.loose AND NOT n.gone AND n.size = $2 ORDER BY k.number, n.pillowcase, n.sheet, n.panel`
	rows, err := tx.Query(ctx, q, driveID, size)
	if err != nil {
		return nil, fmt.Errorf("loose panels: %w", err)
	}
	return collect(rows, "loose panels", pgx.RowToStructByName[drive.LoosePanel])
}

const panelsOfApart = `SELECT n.sheet, n.panel, n.role, n.size, h.lot, h.plan, k.number AS kit, n.pillowcase
	FROM kits k JOIN panels n ON n.drive_id = k.drive_id AND n.kit = k.number
	JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet
	WHERE k.drive_id = $1 AND k.part = 1 AND k.state = 'taken apart' AND h.state = 'cut'`

// decidedByEye gives the rules of lots, and the recipient of a line.
func decidedByEye(ctx context.Context, tx pgx.Tx, driveID string, asked int64) ([]drive.LotRule, int64, error) {
	const q = `SELECT number, kind, lot, other, roles, recipient, made_at FROM lot_rules WHERE drive_id = $1 AND ended_at IS NULL ORDER BY number`
	rows, err := tx.Query(ctx, q, driveID)
	if err != nil {
		return nil, 0, fmt.Errorf("rules of lots: %w", err)
	}
	rules, err := collect(rows, "rules of lots", pgx.RowToStructByName[drive.LotRule])
	if err != nil || asked == 0 {
		return rules, 0, err
	}
	var recipient int64
	const line = `SELECT recipient FROM asked WHERE drive_id = $1 AND number = $2`
	if err := tx.QueryRow(ctx, line, driveID, asked).Scan(&recipient); err != nil {
		return nil, 0, fmt.Errorf("recipient of the line: %w", err)
	}
	return rules, recipient, nil
}

// leaveLoose lets the panels of a kit that is taken apart lie loose.
func leaveLoose(ctx context.Context, tx pgx.Tx, driveID string, number int64) error {
	const lie = `UPDATE kits SET loose = true, plan = coalesce(plan, (SELECT max(h.plan) FROM panels n
			JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet WHERE n.drive_id = $1 AND n.kit = $2))
		WHERE drive_id = $1 AND number = $2 AND part = 1`
	if _, err := tx.Exec(ctx, lie, driveID, number); err != nil {
		return fmt.Errorf("loose panels: %w", err)
	}
	return nil
}

// markAway notes of the panels of a kit that is taken apart, and of which so many pillowcases were
// left, which are sewn or lost. It says whether somebody has to tell which lie there.
func markAway(ctx context.Context, tx pgx.Tx, driveID string, number int64, left int) (tell bool, err error) {
	const q = panelsOfApart + ` AND k.number = $2 ORDER BY n.pillowcase, n.sheet, n.panel`
	rows, err := tx.Query(ctx, q, driveID, number)
	if err != nil {
		return false, fmt.Errorf("panels of the kit: %w", err)
	}
	panels, err := collect(rows, "panels of the kit", pgx.RowToStructByName[drive.LoosePanel])
	if err != nil {
		return false, err
	}
	gone, known := drive.SewnOrLost(panels, left)
	const away = `UPDATE panels SET gone = true WHERE drive_id = $1 AND sheet = $2 AND panel = $3`
	var batch pgx.Batch
	for _, p := range gone {
		batch.Queue(away, driveID, p.Sheet, p.Panel)
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return false, fmt.Errorf("panels that do not lie there: %w", err)
	}
	return !known, nil
}

// markAwayLate does so where nobody did when the kit was taken apart.
func markAwayLate(ctx context.Context, tx pgx.Tx, driveID string, number int64) error {
	const q = `SELECT count(DISTINCT n.pillowcase), count(*) FILTER (WHERE n.gone),
			coalesce((SELECT sum(b.n) FROM case_balances b WHERE b.drive_id = $1 AND b.kit = $2 AND b.state <> $3), 0)
		FROM panels n WHERE n.drive_id = $1 AND n.kit = $2`
	var cases, gone, alive int
	if err := tx.QueryRow(ctx, q, driveID, number, drive.CaseWithdrawn).Scan(&cases, &gone, &alive); err != nil {
		return fmt.Errorf("panels of the kit: %w", err)
	}
	if gone > 0 || alive == 0 {
		return nil
	}
	_, err := markAway(ctx, tx, driveID, number, max(0, cases-alive))
	return err
}
