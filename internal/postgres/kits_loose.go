package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// LoosePanels are panels of one role that lie loose since their kit was taken apart.
type LoosePanels struct {
	Kit   int64  `db:"kit"`
	Size  string `db:"size"`
	Role  string `db:"role"`
	Lot   int64  `db:"lot"`
	Sheet int64  `db:"sheet"`
	N     int    `db:"n"`
}

// LoosePanels gives the cut panels that no kit has any more, by kit, role and sheet.
func (s *Store) LoosePanels(ctx context.Context, driveID string) ([]LoosePanels, error) {
	const q = `SELECT k.number AS kit, z.name AS size, n.role, h.lot, h.number AS sheet, count(*)::int AS n
		FROM kits k JOIN panels n ON n.drive_id = k.drive_id AND n.kit = k.number
		JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet
		JOIN sizes z ON z.drive_id = n.drive_id AND z.number = n.size
		WHERE k.drive_id = $1 AND k.loose AND k.part = 1 AND h.state = 'cut'
		GROUP BY 1, 2, 3, 4, 5
		ORDER BY 1, CASE n.role WHEN 'body' THEN 0 WHEN 'cuff' THEN 1 ELSE 2 END, 5`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("loose panels: %w", err)
	}
	return collect(rows, "loose panels", pgx.RowToStructByName[LoosePanels])
}

// LoosePanelsGone says that what is left of a kit that was taken apart cannot be used any more.
// Where nothing of it lies loose it is a conflict.
func (s *Store) LoosePanelsGone(ctx context.Context, act drive.Act, number int64) (drive.KitRef, error) {
	ref := drive.KitRef{Number: number, Part: 1}
	return once(ctx, s, act, "loose panels gone", ref, func(tx pgx.Tx) (drive.KitRef, error) {
		kits, err := lockKits(ctx, tx, act.Drive, ref)
		if err != nil {
			return ref, err
		}
		if !kits[0].Loose {
			return ref, apperr.Conflict("No panels of kit %s lie loose.", ref)
		}
		if err := setLoose(ctx, tx, act.Drive, ref, false); err != nil {
			return ref, err
		}
		return ref, audit(ctx, tx, act, "loose panels gone", "kit", ref, nil)
	})
}

func setLoose(ctx context.Context, tx pgx.Tx, driveID string, ref drive.KitRef, loose bool) error {
	const q = `UPDATE kits SET loose = $4 WHERE drive_id = $1 AND number = $2 AND part = $3`
	if _, err := tx.Exec(ctx, q, driveID, ref.Number, ref.Part, loose); err != nil {
		return fmt.Errorf("loose panels: %w", err)
	}
	return nil
}

// keepLoose lets what lies loose go on under the plan that took another's place: panels of
// kits that were taken apart before, and those that the change has left over on sheets that are
// begun.
func keepLoose(ctx context.Context, tx pgx.Tx, act drive.Act, of, number int64) error {
	const q = `UPDATE kits k SET loose = true, plan = $3 WHERE k.drive_id = $1 AND k.plan = $2 AND k.part = 1 AND k.state = 'taken apart' AND EXISTS (
		SELECT FROM panels n JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet
		WHERE n.drive_id = k.drive_id AND n.kit = k.number AND h.state IN ('on the table', 'cut'))
		AND (k.loose OR EXISTS (SELECT FROM kit_entries e WHERE e.drive_id = k.drive_id AND e.kit = k.number AND e.part = 1
			AND e.to_state = 'taken apart' AND e.from_state IN ('planned', 'on the table') AND e.at = $4))`
	if _, err := tx.Exec(ctx, q, act.Drive, of, number, act.At); err != nil {
		return fmt.Errorf("loose panels: %w", err)
	}
	return nil
}
