package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// LoosePanels are panels of one role, cut by one sheet for a kit that was taken apart.
type LoosePanels struct {
	Kit    int64  `db:"kit"`
	Size   int64  `db:"size"`
	Called string `db:"called"` // the size
	Role   string `db:"role"`
	Lot    int64  `db:"lot"`
	Look   string `db:"look"`
	Sheet  int64  `db:"sheet"`
	N      int    `db:"n"`   // that lie there: not sewn, lost or missing
	Cut    int    `db:"cut"` // that were cut
}

// LoosePanels gives the cut panels of kits that were taken apart and lie loose, by kit, role and
// sheet, those with them that are not found there.
func (s *Store) LoosePanels(ctx context.Context, driveID string) ([]LoosePanels, error) {
	const q = panelsApart + ` AND k.loose` + panelsTogether + `k.number` + panelsInOrder
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("loose panels: %w", err)
	}
	return collect(rows, "loose panels", pgx.RowToStructByName[LoosePanels])
}

// LeftOut does so for kits of which nothing lies loose, which can be said to lie there after all:
// the newest kits first, so many of them, and how many kits there are.
func (s *Store) LeftOut(ctx context.Context, driveID string, limit, offset int) ([]LoosePanels, int, error) {
	const out = ` FROM kits o WHERE o.drive_id = $1 AND o.part = 1 AND o.state = 'taken apart' AND NOT o.loose AND EXISTS (
		SELECT FROM panels n JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet
		WHERE n.drive_id = o.drive_id AND n.kit = o.number AND h.state = 'cut')`
	var total int
	if err := s.pool.QueryRow(ctx, `SELECT count(*)`+out, driveID).Scan(&total); err != nil {
		return nil, 0, fmt.Errorf("panels left out: %w", err)
	}
	const q = panelsApart + ` AND k.number IN (SELECT o.number` + out + ` ORDER BY o.number DESC LIMIT $2 OFFSET $3)` + panelsTogether + `k.number DESC` + panelsInOrder
	rows, err := s.pool.Query(ctx, q, driveID, limit, offset)
	if err != nil {
		return nil, 0, fmt.Errorf("panels left out: %w", err)
	}
	list, err := collect(rows, "panels left out", pgx.RowToStructByName[LoosePanels])
	return list, total, err
}

// What both select: panels of kits that were taken apart, put together by kit, role and sheet.
const (
	panelsApart = `SELECT k.number AS kit, z.number AS size, z.name AS called, n.role, h.lot,
			array_to_string(array_remove(ARRAY[l.print], '') || l.colours || l.themes, ', ') AS look, h.number AS sheet,
			count(*) FILTER (WHERE NOT n.gone)::int AS n, count(*)::int AS cut
		FROM kits k JOIN panels n ON n.drive_id = k.drive_id AND n.kit = k.number
		JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet
		JOIN lots l ON l.drive_id = h.drive_id AND l.number = h.lot
		JOIN sizes z ON z.drive_id = n.drive_id AND z.number = n.size
		WHERE k.drive_id = $1 AND k.part = 1 AND k.state = 'taken apart' AND h.state = 'cut'`
	panelsTogether = ` GROUP BY k.number, z.number, z.name, n.role, h.lot, l.print, l.colours, l.themes, h.number ORDER BY `
	panelsInOrder  = `, CASE n.role WHEN 'body' THEN 0 WHEN 'cuff' THEN 1 ELSE 2 END, h.number`
)

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

// LoosePanelsBack takes that back, or says that panels which were not kept when the kit was taken
// apart are good: they lie loose, under the plan that their sheets are of by now.
func (s *Store) LoosePanelsBack(ctx context.Context, act drive.Act, number int64) (drive.KitRef, error) {
	ref := drive.KitRef{Number: number, Part: 1}
	return once(ctx, s, act, "loose panels back", ref, func(tx pgx.Tx) (drive.KitRef, error) {
		kits, err := lockKits(ctx, tx, act.Drive, ref)
		if err != nil {
			return ref, err
		}
		k := kits[0]
		if k.State != drive.KitTakenApart || k.Loose {
			return ref, apperr.Conflict("Kit %s %s: none of its panels were left out.", ref, k.Where())
		}
		const q = `UPDATE kits SET loose = true, plan = (SELECT max(h.plan) FROM panels n
				JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet
				WHERE n.drive_id = $1 AND n.kit = $2 AND h.state = 'cut')
			WHERE drive_id = $1 AND number = $2 AND part = 1
				AND EXISTS (SELECT FROM panels n JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet WHERE n.drive_id = $1 AND n.kit = $2 AND h.state = 'cut')`
		tag, err := tx.Exec(ctx, q, act.Drive, number)
		if err != nil {
			return ref, fmt.Errorf("loose panels: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return ref, apperr.Conflict("Nothing of kit %s was cut, or its panels went into other kits.", ref)
		}
		if err := markAwayLate(ctx, tx, act.Drive, number); err != nil {
			return ref, err
		}
		return ref, audit(ctx, tx, act, "loose panels back", "kit", ref, nil)
	})
}

// LoosePanelsLie says how many of the panels that a sheet cut for a kit, which was taken apart,
// lie there. More than were cut and are not sewn is an invalid "n"; where it cut none of that role
// for the kit they are not found.
func (s *Store) LoosePanelsLie(ctx context.Context, act drive.Act, number, sheet int64, role string, n int) (drive.KitRef, error) {
	ref := drive.KitRef{Number: number, Part: 1}
	type body struct {
		Kit, Sheet int64
		Role       string
		N          int
	}
	return once(ctx, s, act, "loose panels lie", body{number, sheet, role, n}, func(tx pgx.Tx) (drive.KitRef, error) {
		kits, err := lockKits(ctx, tx, act.Drive, ref)
		if err != nil {
			return ref, err
		}
		if !kits[0].Loose || kits[0].State != drive.KitTakenApart {
			return ref, apperr.Conflict("No panels of kit %s lie loose.", ref)
		}
		const count = `SELECT count(*) FILTER (WHERE sheet = $3), count(*), count(*) FILTER (WHERE sheet <> $3 AND NOT gone), count(DISTINCT pillowcase),
				coalesce((SELECT sum(b.n) FROM case_balances b WHERE b.drive_id = $1 AND b.kit = $2 AND b.state <> $5), 0)
			FROM panels WHERE drive_id = $1 AND kit = $2 AND role = $4`
		var here, all, others, cases, alive int
		if err := tx.QueryRow(ctx, count, act.Drive, number, sheet, role, drive.CaseWithdrawn).Scan(&here, &all, &others, &cases, &alive); err != nil {
			return ref, fmt.Errorf("panels of the kit: %w", err)
		}
		if here == 0 {
			return ref, apperr.NotFound("Sheet %d has no such panels of kit %s.", sheet, ref)
		}
		most := here
		if cases > 0 {
			most = max(0, min(here, all-all/cases*alive-others))
		}
		if n < 0 || n > most {
			return ref, apperr.Invalid("n", "Say how many lie there, 0 to %d.", most)
		}
		const q = `UPDATE panels p SET gone = o.at > $5 FROM (
				SELECT panel, row_number() OVER (ORDER BY pillowcase DESC, panel DESC) AS at FROM panels
				WHERE drive_id = $1 AND kit = $2 AND sheet = $3 AND role = $4) o
			WHERE p.drive_id = $1 AND p.sheet = $3 AND p.panel = o.panel`
		if _, err := tx.Exec(ctx, q, act.Drive, number, sheet, role, n); err != nil {
			return ref, fmt.Errorf("loose panels: %w", err)
		}
		return ref, audit(ctx, tx, act, "loose panels counted", "kit", ref, changes{"sheet": {To: sheet}, "panels of the": {To: role}, "lie there": {To: n}})
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
