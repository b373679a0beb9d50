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

// lockSheetAndCloth locks a sheet, the pieces of its lot, of which it gives the highest
// number, and the kits of its panels.
func lockSheetAndCloth(ctx context.Context, tx pgx.Tx, driveID string, number int64) (sheet drive.Sheet, last int, kits []drive.SheetKit, err error) {
	if sheet, err = lockSheet(ctx, tx, driveID, number); err != nil {
		return sheet, 0, nil, err
	}
	if last, err = lockPiecesOfLot(ctx, tx, driveID, sheet.Lot); err != nil {
		return sheet, 0, nil, err
	}
	kits, err = lockSheetKits(ctx, tx, driveID, number)
	return sheet, last, kits, err
}

// lockPiecesOfLot locks a lot's pieces in key order and gives the highest number.
func lockPiecesOfLot(ctx context.Context, tx pgx.Tx, driveID string, lot int64) (int, error) {
	// The lot's row first: it keeps a second process from numbering new pieces too.
	const first = `SELECT number FROM lots WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, first, driveID, lot); err != nil {
		return 0, fmt.Errorf("lock lot: %w", err)
	}
	const q = `SELECT piece FROM pieces WHERE drive_id = $1 AND lot = $2 ORDER BY piece FOR NO KEY UPDATE`
	rows, err := tx.Query(ctx, q, driveID, lot)
	if err != nil {
		return 0, fmt.Errorf("lock pieces: %w", err)
	}
	numbers, err := collect(rows, "lock pieces", pgx.RowTo[int])
	if err != nil || len(numbers) == 0 {
		return 0, err
	}
	return numbers[len(numbers)-1], nil
}

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
