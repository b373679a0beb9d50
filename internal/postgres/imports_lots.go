package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// lotMade is a lot of which an import made something.
type lotMade struct {
	drive.Lot
	MadeKind    drive.BroughtKind `db:"made_kind"`
	MadeVersion int               `db:"made_version"`
	Counted     bool              `db:"counted"`
	Ruled       bool              `db:"ruled"`
}

// lotsMade says of the lots of an import which can be taken back, and what that writes.
func lotsMade(ctx context.Context, db querier, driveID string, number int64, at time.Time) (importFound, error) {
	const lots = `SELECT ` + lotColumns + `, m.kind AS made_kind, m.version AS made_version,
			EXISTS (SELECT FROM stocktake_lots x WHERE x.drive_id = l.drive_id AND x.lot = l.number) AS counted,
			EXISTS (SELECT FROM lot_rules x WHERE x.drive_id = l.drive_id AND l.number IN (x.lot, x.other) AND x.ended_at IS NULL) AS ruled
		FROM import_rows m JOIN lots l ON l.drive_id = m.drive_id AND l.number = m.number` + madeWhere + `m.kind IN ('lot', 'lot size') ORDER BY m.number`
	var found importFound
	rows, err := db.Query(ctx, lots, driveID, number)
	if err != nil {
		return found, fmt.Errorf("lots of an import: %w", err)
	}
	list, err := collect(rows, "lots of an import", pgx.RowToStructByName[lotMade])
	if err != nil || len(list) == 0 {
		return found, err
	}
	numbers := make([]int64, len(list))
	for i, l := range list {
		numbers[i] = l.Number
	}
	const q = `SELECT ` + pieceColumns + ` FROM pieces p WHERE p.drive_id = $1 AND p.lot = ANY($2) ORDER BY p.lot, p.piece`
	if rows, err = db.Query(ctx, q, driveID, numbers); err != nil {
		return found, fmt.Errorf("pieces of an import: %w", err)
	}
	all, err := collect(rows, "pieces of an import", pgx.RowToStructByName[drive.Piece])
	if err != nil {
		return found, err
	}
	pieces := map[int64][]drive.Piece{}
	for _, p := range all {
		pieces[p.Lot] = append(pieces[p.Lot], p)
	}
	booked, err := fabricBookedOf(ctx, db, driveID, numbers)
	if err != nil {
		return found, err
	}
	entries := map[int64][]drive.BookedFabric{}
	for _, e := range booked {
		entries[e.Lot] = append(entries[e.Lot], e)
	}
	for _, l := range list {
		b := drive.Brought{Kind: l.MadeKind, Number: l.Number, Version: l.MadeVersion, Name: orZero(l.Tag)}
		after, undo, err := drive.UndoBroughtLot(b, l.Lot, pieces[l.Number], entries[l.Number], at)
		switch known := apperr.As(err); {
		case err != nil && known == nil:
			return found, err
		case err != nil:
			b.Why = known.Error()
		case l.Counted:
			b.Why = fmt.Sprintf("Lot %d was counted in a stocktake.", l.Number)
		case l.Ruled:
			b.Why = fmt.Sprintf("Lot %d is kept for somebody or from other cloth.", l.Number)
		default:
			found.lots = append(found.lots, lotUndone{l.Lot, after, undo})
		}
		found.all = append(found.all, b)
	}
	return found, nil
}
