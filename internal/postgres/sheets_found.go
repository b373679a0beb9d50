package postgres

import (
	"context"
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
		if sheet.Narrow != nil && len(found.Flaws) == 0 {
			// What is left of the piece was booked as another one: it is counted with the sheet's again,
			// and booked anew as it is found now. Where it is used since, only what the sheet itself
			// takes can still come up short.
			err := undoFound(ctx, tx, act, sheet)
			inUse := apperr.Is(err, apperr.KindConflict) && found.Length != nil && *found.Length < sheet.Used
			if err != nil && !inUse {
				return SheetMoved{}, err
			}
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
			if err := sheet.Hardly(d, found, piece.FreeLength); err != nil {
				return SheetMoved{}, err
			}
			m, err := sheet.ComeUpShort(*l, piece.FreeLength, d.Unit, kits)
			if err != nil {
				return SheetMoved{}, err
			}
			moved, err := keepSheet(ctx, tx, act, "sheet came up short", sheet, m)
			if err != nil {
				return moved, err
			}
			return moved, bookNarrow(ctx, tx, act, d, sheet, sheet.Piece)
		} else if l != nil {
			h, err := sheet.Longer(d, found, piece.FreeLength, piece.OnShelf())
			if err != nil {
				return SheetMoved{}, err
			}
			moved := SheetMoved{Number: number, Lot: sheet.Lot, State: sheet.State, Longer: true}
			if _, err = handleLocked(ctx, tx, act, d, sheet.Lot, h); err != nil {
				return moved, err
			}
			return moved, bookNarrow(ctx, tx, act, d, sheet, sheet.Piece)
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
			return moved, bookNarrow(ctx, tx, act, d, sheet, sheet.Piece)
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
		const q = `UPDATE sheets SET short_deed = $3 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, q, act.Drive, number, done.Deed); err != nil {
			return moved, fmt.Errorf("what was booked of the sheet's cloth: %w", err)
		}
		if len(found.Flaws) > 0 {
			// Between its flaws the cloth is as narrow as it was found before.
			return moved, bookNarrow(ctx, tx, act, d, sheet, append(done.Pieces, sheet.Piece)...)
		}
		return moved, nil
	})
}

// bookNarrow books what is free of pieces of a sheet's cloth, from selvedge to selvedge, at the width
// that was found of it; nothing where none was, or nothing is free. The lot is locked.
func bookNarrow(ctx context.Context, tx pgx.Tx, act drive.Act, d drive.Drive, sheet drive.Sheet, pieces ...int) error {
	if sheet.Narrow == nil {
		return nil
	}
	for _, number := range pieces {
		stock, err := lockStock(ctx, tx, act.Drive, sheet.Lot)
		if err != nil {
			return err
		}
		piece, err := stock.Of(number)
		if err != nil {
			return err
		}
		if piece.FreeLength == 0 || piece.Width != sheet.Width {
			continue
		}
		h := sheet.Narrower(*sheet.Narrow, piece.FreeLength)
		h.Piece = number
		done, err := handleLocked(ctx, tx, act, d, sheet.Lot, h)
		if err != nil {
			return err
		}
		const q = `UPDATE sheets SET narrow_deeds = array_append(narrow_deeds, $3) WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, q, act.Drive, sheet.Number, done.Deed); err != nil {
			return fmt.Errorf("what was booked of the sheet's cloth: %w", err)
		}
	}
	return nil
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
		if err := bookNarrow(ctx, tx, act, d, sheet, sheet.Piece); err != nil {
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

// undoFound takes back the deeds by which a sheet's cloth was booked narrower or flawed, the last
// first; a sheet that was only short has none.
func undoFound(ctx context.Context, tx pgx.Tx, act drive.Act, sheet drive.Sheet) error {
	const q = `SELECT d.number FROM sheets s JOIN fabric_deeds d ON d.drive_id = s.drive_id
			AND (d.number = ANY(s.narrow_deeds) OR d.number = s.short_deed AND d.at = s.short_at)
		WHERE s.drive_id = $1 AND s.number = $2
			AND NOT EXISTS (SELECT FROM fabric_deeds u WHERE u.drive_id = d.drive_id AND u.undoes = d.number)
		ORDER BY d.number DESC`
	rows, err := tx.Query(ctx, q, act.Drive, sheet.Number)
	if err != nil {
		return fmt.Errorf("what was booked of the sheet's cloth: %w", err)
	}
	deeds, err := collect(rows, "what was booked of the sheet's cloth", pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, deed := range deeds {
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
		if _, err = keepDeed(ctx, tx, act, stock.Lot, done); err != nil {
			return err
		}
	}
	return nil
}
