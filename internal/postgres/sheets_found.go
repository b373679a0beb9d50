package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// SheetFound books what somebody at the table found of a sheet's cloth. Where it is shorter,
// narrower or flawed so that the sheet cannot be cut as it is drawn, the sheet waits for its
// plan to be changed; where it is longer, the sheet stays and more is left after it.
func (s *Store) SheetFound(ctx context.Context, act drive.Act, number int64, found drive.ClothFound) (SheetMoved, error) {
	if err := found.Check(); err != nil {
		return SheetMoved{}, err
	}
	type body struct {
		Number int64
		Found  drive.ClothFound
	}
	return once(ctx, s, act, "sheet found otherwise", body{number, found}, func(tx pgx.Tx) (SheetMoved, error) {
		sheet, there, kits, err := lockSheetAndCloth(ctx, tx, act.Drive, number)
		if err != nil {
			return SheetMoved{}, err
		}
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return SheetMoved{}, err
		}
		stock, err := lockStock(ctx, tx, act.Drive, sheet.Lot)
		if err != nil {
			return SheetMoved{}, err
		}
		piece, err := stock.Of(sheet.Piece)
		if err != nil {
			return SheetMoved{}, err
		}
		if l := found.Length; l != nil && *l <= sheet.Used+piece.FreeLength {
			m, err := sheet.ComeUpShort(*l, piece.FreeLength, d.Yardage(), kits)
			if err != nil {
				return SheetMoved{}, err
			}
			moved, err := keepSheet(ctx, tx, act, "sheet came up short", sheet, m)
			if err != nil || sheet.Narrow == nil {
				return moved, err
			}
			return moved, bookNarrow(ctx, tx, act, d, sheet)
		} else if l != nil {
			h, err := sheet.Longer(*l, piece.FreeLength, piece.OnShelf())
			if err != nil {
				return SheetMoved{}, err
			}
			_, err = handleLocked(ctx, tx, act, d, sheet.Lot, h)
			return SheetMoved{Number: number, Lot: sheet.Lot, State: sheet.State, Longer: true}, err
		}
		panels, err := panelsOf(ctx, tx, act.Drive, number)
		if err != nil {
			return SheetMoved{}, err
		}
		kept, err := sheetRemnants(ctx, tx, act.Drive, []int64{number})
		if err != nil {
			return SheetMoved{}, err
		}
		m, fits, err := sheet.FitsNarrower(found, panels, kept[number], there, d.Unit, kits)
		if err != nil {
			return SheetMoved{}, err
		}
		if fits {
			moved, err := keepSheet(ctx, tx, act, "sheet cut from narrower cloth", sheet, m)
			if err != nil {
				return moved, err
			}
			moved.Narrow, sheet.Narrow = true, m.Narrow
			return moved, bookNarrow(ctx, tx, act, d, sheet)
		}
		h, err := found.Handling(sheet, piece.FreeLength, d.Unit)
		if err != nil {
			return SheetMoved{}, err
		}
		m, err = sheet.FoundOtherwise(found, panels, kept[number], piece.FreeLength, d.Unit, kits)
		if err != nil {
			return SheetMoved{}, err
		}
		moved, err := keepSheet(ctx, tx, act, "sheet came up short", sheet, m)
		if err != nil {
			return moved, err
		}
		done, err := handleLocked(ctx, tx, act, d, sheet.Lot, h)
		if err != nil {
			return moved, err
		}
		return moved, setShortDeed(ctx, tx, act, number, &done.Deed)
	})
}

func setShortDeed(ctx context.Context, tx pgx.Tx, act drive.Act, number int64, deed *int64) error {
	const q = `UPDATE sheets SET short_deed = $3 WHERE drive_id = $1 AND number = $2`
	if _, err := tx.Exec(ctx, q, act.Drive, number, deed); err != nil {
		return fmt.Errorf("what was booked of the sheet's cloth: %w", err)
	}
	return nil
}

// bookNarrow books what is free of a sheet's piece at the width that was found of it; nothing
// where nothing is free. The lot is locked.
func bookNarrow(ctx context.Context, tx pgx.Tx, act drive.Act, d drive.Drive, sheet drive.Sheet) error {
	stock, err := lockStock(ctx, tx, act.Drive, sheet.Lot)
	if err != nil {
		return err
	}
	piece, err := stock.Of(sheet.Piece)
	if err != nil {
		return err
	}
	if piece.FreeLength == 0 {
		return setShortDeed(ctx, tx, act, sheet.Number, nil)
	}
	done, err := handleLocked(ctx, tx, act, d, sheet.Lot, sheet.Narrower(*sheet.Narrow, piece.FreeLength))
	if err != nil {
		return err
	}
	return setShortDeed(ctx, tx, act, sheet.Number, &done.Deed)
}

// bookNarrowAgain does so for sheets whose cloth went back to the shelf, wholly or in part.
func bookNarrowAgain(ctx context.Context, tx pgx.Tx, act drive.Act, sheets []drive.Sheet) error {
	for _, sheet := range sheets {
		if sheet.Narrow == nil {
			continue
		}
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return err
		}
		if err := bookNarrow(ctx, tx, act, d, sheet); err != nil {
			return err
		}
	}
	return nil
}

// handleLocked does a deed with cloth of a lot that is locked, as it stands by now.
func handleLocked(ctx context.Context, tx pgx.Tx, act drive.Act, d drive.Drive, lot int64, h drive.Handling) (ClothHandled, error) {
	stock, err := lockStock(ctx, tx, act.Drive, lot)
	if err != nil {
		return ClothHandled{}, err
	}
	done, err := stock.Handle(d, h)
	if err != nil {
		return ClothHandled{}, err
	}
	return keepDeed(ctx, tx, act, stock.Lot, done)
}

// undoFound takes back the deed by which a sheet's cloth was booked narrower or flawed; a
// sheet that was short has none.
func undoFound(ctx context.Context, tx pgx.Tx, act drive.Act, sheet drive.Sheet) error {
	const q = `SELECT d.number FROM sheets s JOIN fabric_deeds d ON d.drive_id = s.drive_id AND d.number = s.short_deed
		WHERE s.drive_id = $1 AND s.number = $2 AND (d.at = s.short_at OR s.narrow IS NOT NULL)
			AND NOT EXISTS (SELECT FROM fabric_deeds u WHERE u.drive_id = d.drive_id AND u.undoes = d.number)`
	var deed int64
	err := tx.QueryRow(ctx, q, act.Drive, sheet.Number).Scan(&deed)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("what was booked of the sheet's cloth: %w", err)
	}
	d, err := driveIn(ctx, tx, act.Drive)
	if err != nil {
		return err
	}
	stock, err := lockStock(ctx, tx, act.Drive, sheet.Lot)
	if err != nil {
		return err
	}
	done, err := stock.Undo(d, deed)
	if apperr.Is(err, apperr.KindConflict) {
		return apperr.Conflict("Sheet %d stays as it was reported: %s", sheet.Number, err.Error())
	}
	if err != nil {
		return err
	}
	_, err = keepDeed(ctx, tx, act, stock.Lot, done)
	return err
}
