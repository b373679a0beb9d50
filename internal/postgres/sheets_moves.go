package postgres

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// SheetMoved says what became of a sheet: its state, the kits that are cut now,
// and the pieces its remnants became.
type SheetMoved struct {
	Number   int64
	Lot      int64
	State    drive.SheetState
	Longer   bool `json:",omitempty"` // more cloth lies there than was booked
	Narrow   bool `json:",omitempty"` // its cloth is narrower, and all its panels fit
	Wide     bool `json:",omitempty"` // it is as wide as booked after all
	KitsCut  []drive.KitRef
	Remnants []int
}

// SignOutSheet hands a waiting sheet to a helper at the table.
func (s *Store) SignOutSheet(ctx context.Context, act drive.Act, number int64, helper string) (SheetMoved, error) {
	return s.SignOutPrint(ctx, act, drive.SheetRef{Number: number}, helper)
}

// SignOutPrint does the same for the print of one revision; where it is not the newest,
// the conflict says what replaced it.
func (s *Store) SignOutPrint(ctx context.Context, act drive.Act, print drive.SheetRef, helper string) (SheetMoved, error) {
	type body struct {
		Print  drive.SheetRef
		Helper string
	}
	return once(ctx, s, act, "sign out sheet", body{print, helper}, func(tx pgx.Tx) (SheetMoved, error) {
		if err := holdSigner(ctx, tx, act); err != nil {
			return SheetMoved{}, err
		}
		sheet, kits, err := lockSheetAndKits(ctx, tx, act.Drive, print.Number)
		if err != nil {
			return SheetMoved{}, err
		}
		if err := sheet.Printed(print.Revision); err != nil {
			return SheetMoved{}, err
		}
		m, err := sheet.SignOut(helper, kits)
		if err != nil {
			return SheetMoved{}, err
		}
		return keepSheet(ctx, tx, act, "sheet signed out", sheet, m)
	})
}

// PutBackSheet undoes a sign-out: nothing of the sheet was cut.
func (s *Store) PutBackSheet(ctx context.Context, act drive.Act, number int64) (SheetMoved, error) {
	return once(ctx, s, act, "put back sheet", number, func(tx pgx.Tx) (SheetMoved, error) {
		sheet, kits, err := lockSheetAndKits(ctx, tx, act.Drive, number)
		if err != nil {
			return SheetMoved{}, err
		}
		m, err := sheet.PutBack(kits)
		if err != nil {
			return SheetMoved{}, err
		}
		return keepSheet(ctx, tx, act, "sheet put back", sheet, m)
	})
}

// MarkSheetCut books a sheet as cut. Its remnants become pieces; kits whose
// sheets are all cut become cut.
func (s *Store) MarkSheetCut(ctx context.Context, act drive.Act, number int64) (SheetMoved, error) {
	return s.MarkPrintCut(ctx, act, drive.SheetRef{Number: number})
}

// MarkPrintCut does the same for the print of one revision; where it is not the newest,
// the conflict says what replaced it.
func (s *Store) MarkPrintCut(ctx context.Context, act drive.Act, print drive.SheetRef) (SheetMoved, error) {
	return once(ctx, s, act, "mark sheet cut", print, func(tx pgx.Tx) (SheetMoved, error) {
		number := print.Number
		sheet, there, kits, err := lockSheetAndCloth(ctx, tx, act.Drive, number)
		if err != nil {
			return SheetMoved{}, err
		}
		if err := sheet.Printed(print.Revision); err != nil {
			return SheetMoved{}, err
		}
		panels, err := panelsOf(ctx, tx, act.Drive, number)
		if err != nil {
			return SheetMoved{}, err
		}
		remnants, err := sheetRemnants(ctx, tx, act.Drive, []int64{number})
		if err != nil {
			return SheetMoved{}, err
		}
		m, err := sheet.Cut(panels, remnants[number], there, kits)
		if err != nil {
			return SheetMoved{}, err
		}
		return keepSheet(ctx, tx, act, "sheet cut", sheet, m)
	})
}

// UndoSheetCut takes back that a sheet was cut, while nothing has happened to
// its kits and remnants since: it lies on the table again.
func (s *Store) UndoSheetCut(ctx context.Context, act drive.Act, number int64) (SheetMoved, error) {
	return once(ctx, s, act, "undo sheet cut", number, func(tx pgx.Tx) (SheetMoved, error) {
		sheet, _, kits, err := lockSheetAndCloth(ctx, tx, act.Drive, number)
		if err != nil {
			return SheetMoved{}, err
		}
		written, err := cutEntries(ctx, tx, act.Drive, number)
		if err != nil {
			return SheetMoved{}, err
		}
		untouched, err := wholePieces(ctx, tx, act.Drive, sheet.Lot)
		if err != nil {
			return SheetMoved{}, err
		}
		m, err := sheet.UndoCut(written, untouched, kits)
		if err != nil {
			return SheetMoved{}, err
		}
		return keepSheet(ctx, tx, act, "sheet not cut after all", sheet, m)
	})
}

func panelsOf(ctx context.Context, tx pgx.Tx, driveID string, number int64) ([]drive.Panel, error) {
	const q = `SELECT panel, role, size, x, y, w, h, kit, part, pillowcase FROM panels WHERE drive_id = $1 AND sheet = $2 ORDER BY panel`
	rows, err := tx.Query(ctx, q, driveID, number)
	if err != nil {
		return nil, fmt.Errorf("panels: %w", err)
	}
	return collect(rows, "panels", func(row pgx.CollectableRow) (drive.Panel, error) {
		var p drive.Panel
		err := row.Scan(&p.Panel, &p.Role, &p.Size, &p.X, &p.Y, &p.W, &p.H, &p.Kit.Number, &p.Kit.Part, &p.Pillowcase)
		return p, err
	})
}

// cutEntries gives what the cut of a sheet wrote to the fabric ledger and was
// not undone, in order.
func cutEntries(ctx context.Context, tx pgx.Tx, driveID string, sheet int64) ([]drive.WrittenFabric, error) {
	const q = writtenOfSheet + ` AND e.kind IN ('cut for kit', 'parted', 'offcut') ORDER BY e.id`
	return writtenFabric(ctx, tx, "entries of the cut", q, driveID, sheet)
}

// writtenOfSheet asks for what stands in the fabric ledger of a sheet and was not undone.
const writtenOfSheet = `SELECT e.id, e.lot, e.piece, e.kind, e.from_account, e.to_account, e.length, e.area, e.other_piece, e.plan, e.sheet
	FROM fabric_entries e WHERE e.drive_id = $1 AND e.sheet = $2
		AND NOT EXISTS (SELECT FROM fabric_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id)`

func writtenFabric(ctx context.Context, tx pgx.Tx, what, q string, args ...any) ([]drive.WrittenFabric, error) {
	rows, err := tx.Query(ctx, q, args...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	return collect(rows, what, func(row pgx.CollectableRow) (drive.WrittenFabric, error) {
		var w drive.WrittenFabric
		err := row.Scan(&w.ID, &w.Lot, &w.Piece, &w.Kind, &w.From, &w.To, &w.Length, &w.Area, &w.OtherPiece, &w.Plan, &w.Sheet)
		return w, err
	})
}

// wholePieces gives the pieces of a lot that lie as they came, all of them free.
func wholePieces(ctx context.Context, tx pgx.Tx, driveID string, lot int64) (map[int]bool, error) {
	const q = `SELECT piece FROM pieces WHERE drive_id = $1 AND lot = $2 AND free = received AND free > 0`
	rows, err := tx.Query(ctx, q, driveID, lot)
	if err != nil {
		return nil, fmt.Errorf("whole pieces: %w", err)
	}
	numbers, err := collect(rows, "whole pieces", pgx.RowTo[int])
	whole := map[int]bool{}
	for _, n := range numbers {
		whole[n] = true
	}
	return whole, err
}

// keepSheet writes what was decided about a sheet.
func keepSheet(ctx context.Context, tx pgx.Tx, act drive.Act, what string, sheet drive.Sheet, m drive.SheetMoves) (SheetMoved, error) {
	moved := SheetMoved{Number: sheet.Number, Lot: sheet.Lot, State: m.State, Remnants: slices.Sorted(maps.Values(m.Remnants))}
	day, _, err := dayOf(ctx, tx, act, time.Time{})
	if err != nil {
		return moved, err
	}
	if err := insertPieces(ctx, tx, act.Drive, m.Pieces); err != nil {
		return moved, err
	}
	if err := writeFabric(ctx, tx, act, m.Fabric); err != nil {
		return moved, err
	}
	if err := moveKits(ctx, tx, act, day, day, drive.KitMoves{Kits: m.Kits, Cases: m.Cases}); err != nil {
		return moved, err
	}
	for _, k := range m.Kits {
		if k.To == drive.KitCut {
			moved.KitsCut = append(moved.KitsCut, drive.KitRef{Number: k.Kit, Part: k.Part})
		}
	}
	if err := keepRemnants(ctx, tx, act.Drive, sheet, m); err != nil {
		return moved, err
	}
	out, cut, short, found, why := sheet.OutAt, sheet.CutAt, sheet.ShortAt, sheet.Found, sheet.FoundWhy
	if m.Found != nil || m.Why != "" {
		short, found, why = &act.At, m.Found, m.Why
	}
	narrow := sheet.Narrow
	if m.Narrow != nil {
		narrow = m.Narrow
	}
	if m.Wide {
		narrow, short, why, moved.Wide = nil, nil, "", true
	}
	switch m.State {
	case drive.SheetWaiting:
		out, cut = nil, nil
		if sheet.State == drive.SheetShort {
			short, found, why = nil, nil, ""
		}
	case drive.SheetOnTable:
		cut = nil
		if sheet.State == drive.SheetWaiting {
			out = &act.At
		}
	case drive.SheetCut:
		cut = &act.At
	}
	const q = `UPDATE sheets SET state = $3, helper = $4, out_at = $5, cut_at = $6, short_at = $7, short_length = $8, short_why = $9, narrow = $10, version = version + 1
		WHERE drive_id = $1 AND number = $2`
	tag, err := tx.Exec(ctx, q, act.Drive, sheet.Number, m.State, m.Helper, out, cut, short, found, why, narrow)
	if err != nil {
		return moved, fmt.Errorf("keep sheet: %w", err)
	}
	if tag.RowsAffected() != 1 {
		return moved, apperr.NotFound("There is no sheet %d here.", sheet.Number)
	}
	c := changes{}
	c.set("state", sheet.State, m.State)
	c.set("found", orZero(sheet.Found), orZero(found))
	c.set("narrow", orZero(sheet.Narrow), orZero(narrow))
	return moved, audit(ctx, tx, act, what, "sheet", sheet.Number, c)
}

// keepRemnants notes which piece each remnant became, or none any more.
func keepRemnants(ctx context.Context, tx pgx.Tx, driveID string, sheet drive.Sheet, m drive.SheetMoves) error {
	const q = `UPDATE sheet_remnants SET new_piece = $4 WHERE drive_id = $1 AND sheet = $2 AND remnant = $3`
	const none = `UPDATE sheet_remnants SET new_piece = NULL WHERE drive_id = $1 AND sheet = $2`
	var batch pgx.Batch
	if sheet.State == drive.SheetCut {
		batch.Queue(none, driveID, sheet.Number)
	}
	for remnant, piece := range m.Remnants {
		batch.Queue(q, driveID, sheet.Number, remnant, piece)
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("remnants of the sheet: %w", err)
	}
	return nil
}
