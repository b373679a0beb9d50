package postgres

import (
	"context"
	"fmt"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// lockSheetAndKits locks a sheet and the kits of its panels.
func lockSheetAndKits(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Sheet, []drive.SheetKit, error) {
	sheet, err := lockSheet(ctx, tx, driveID, number)
	if err != nil {
		return sheet, nil, err
	}
	kits, err := lockSheetKits(ctx, tx, driveID, number)
	return sheet, kits, err
}

// lockSheetAndCloth locks a sheet, the pieces of its lot, of which it gives the numbers,
// and the kits of its panels.
func lockSheetAndCloth(ctx context.Context, tx pgx.Tx, driveID string, number int64) (sheet drive.Sheet, pieces []int, kits []drive.SheetKit, err error) {
	if sheet, err = lockSheet(ctx, tx, driveID, number); err != nil {
		return sheet, nil, nil, err
	}
	if pieces, err = lockPiecesOfLot(ctx, tx, driveID, sheet.Lot); err != nil {
		return sheet, nil, nil, err
	}
	kits, err = lockSheetKits(ctx, tx, driveID, number)
	return sheet, pieces, kits, err
}

// lockPiecesOfLot locks a lot's pieces in key order and gives their numbers.
func lockPiecesOfLot(ctx context.Context, tx pgx.Tx, driveID string, lot int64) ([]int, error) {
	// The lot's row first: it keeps a second process from numbering new pieces too.
	const first = `SELECT number FROM lots WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, first, driveID, lot); err != nil {
		return nil, fmt.Errorf("lock lot: %w", err)
	}
	const q = `SELECT piece FROM pieces WHERE drive_id = $1 AND lot = $2 ORDER BY piece FOR NO KEY UPDATE`
	rows, err := tx.Query(ctx, q, driveID, lot)
	if err != nil {
		return nil, fmt.Errorf("lock pieces: %w", err)
	}
	return collect(rows, "lock pieces", pgx.RowTo[int])
}

// nextPiece gives the first number that no piece of a lot has or is to get: remnants
// have their label from the day their sheet is laid out. The lot is locked.
func nextPiece(ctx context.Context, db querier, driveID string, lot int64) (int, error) {
	const q = `SELECT ` + nextPieceOf + ` WHERE drive_id = $1 AND lot = $2`
	var n int
	if err := db.QueryRow(ctx, q, driveID, lot).Scan(&n); err != nil {
		return 0, fmt.Errorf("next piece of the lot: %w", err)
	}
	return n, nil
}

// nextPieceOf selects it out of every number there is.
const nextPieceOf = `coalesce(max(n), 0) + 1 FROM (
	SELECT drive_id, lot, piece AS n FROM pieces
	UNION ALL SELECT r.drive_id, s.lot, r.label FROM sheet_remnants r JOIN sheets s ON s.drive_id = r.drive_id AND s.number = r.sheet) AS taken`

// lockSheetKits locks the kits of a sheet's panels in key order and gives them
// with the states of their other sheets.
func lockSheetKits(ctx context.Context, tx pgx.Tx, driveID string, number int64) ([]drive.SheetKit, error) {
	refs, err := kitsOf(ctx, tx, `SELECT DISTINCT kit AS number, part FROM panels WHERE drive_id = $1 AND sheet = $2`, driveID, number)
	if err != nil {
		return nil, err
	}
	kits, err := lockKits(ctx, tx, driveID, refs...)
	if err != nil {
		return nil, err
	}
	const q = `SELECT DISTINCT n.kit AS number, n.part, s.number AS sheet, s.state FROM panels n
		JOIN sheets s ON s.drive_id = n.drive_id AND s.number = n.sheet
		WHERE n.drive_id = $1 AND n.kit = ANY($2) AND n.sheet <> $3 ORDER BY n.kit, n.part, s.number`
	numbers := make([]int64, len(kits))
	for i, k := range kits {
		numbers[i] = k.Number
	}
	rows, err := tx.Query(ctx, q, driveID, numbers, number)
	if err != nil {
		return nil, fmt.Errorf("sheets of the kits: %w", err)
	}
	type row struct {
		drive.KitRef
		Sheet int64            `db:"sheet"`
		State drive.SheetState `db:"state"`
	}
	others, err := collect(rows, "sheets of the kits", pgx.RowToStructByName[row])
	if err != nil {
		return nil, err
	}
	list := make([]drive.SheetKit, len(kits))
	for i, k := range kits {
		list[i].Kit = k
		for _, o := range others {
			if o.KitRef == k.KitRef {
				list[i].Others = append(list[i].Others, o.State)
			}
		}
	}
	return list, nil
}
