package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/jackc/pgx/v5"
)

// UndoSheetShort takes back that a sheet came up short, as long as the cloth is still there
// and the plan was not changed: the sheet waits on its shelf again, as narrow as its cloth was found
// before. Of one that is only narrow it takes that back.
func (s *Store) UndoSheetShort(ctx context.Context, act drive.Act, number int64) (SheetMoved, error) {
	return once(ctx, s, act, "undo sheet short", number, func(tx pgx.Tx) (SheetMoved, error) {
		sheet, _, kits, err := lockSheetAndCloth(ctx, tx, act.Drive, number)
		if err != nil {
			return SheetMoved{}, err
		}
		if sheet.State == drive.SheetShort || sheet.NarrowStands() {
			if err := undoFound(ctx, tx, act, sheet); err != nil {
				return SheetMoved{}, err
			}
		}
		written, err := shortEntries(ctx, tx, act.Drive, sheet)
		if err != nil {
			return SheetMoved{}, err
		}
		m, err := sheet.UndoShort(written, kits)
		if err != nil {
			return SheetMoved{}, err
		}
		moved, err := keepSheet(ctx, tx, act, "sheet not short after all", sheet, m)
		if err != nil || m.Wide || sheet.Narrow == nil {
			return moved, err
		}
		return moved, bookNarrowAgain(ctx, tx, act, []drive.Sheet{sheet})
	})
}

// shortEntries gives what was written when the sheet came up short as it is now, in order.
func shortEntries(ctx context.Context, tx pgx.Tx, driveID string, sheet drive.Sheet) ([]drive.WrittenFabric, error) {
	const q = writtenOfSheet + ` AND e.kind IN ('released', 'recounted') AND e.at = $3 ORDER BY e.id`
	return writtenFabric(ctx, tx, "entries of what was short", q, driveID, sheet.Number, sheet.ShortAt)
}

// SheetRevision is what a sheet was before a changed plan laid it out anew.
type SheetRevision struct {
	Revision   int           `db:"revision"`
	Plan       int64         `db:"plan"`
	Used       length.Length `db:"used"`
	ReplacedBy int64         `db:"replaced_by"` // the plan that laid it out anew
	ReplacedAt time.Time     `db:"replaced_at"`
}

// SheetsInstead gives the sheets that were laid out since a sheet on cloth of the same lot
// and wait to be cut: where it is not cut any more, they are cut instead.
func (s *Store) SheetsInstead(ctx context.Context, driveID string, number int64) ([]int64, error) {
	const q = `SELECT s.number FROM sheets s JOIN sheets old ON old.drive_id = s.drive_id AND old.lot = s.lot
		WHERE s.drive_id = $1 AND old.number = $2 AND s.number > old.number AND s.state IN ('waiting', 'on the table') ORDER BY s.number`
	rows, err := s.pool.Query(ctx, q, driveID, number)
	if err != nil {
		return nil, fmt.Errorf("sheets instead: %w", err)
	}
	return collect(rows, "sheets instead", pgx.RowTo[int64])
}

// SheetRevisions gives the earlier revisions of a sheet, the newest first.
func (s *Store) SheetRevisions(ctx context.Context, driveID string, number int64) ([]SheetRevision, error) {
	const q = `SELECT revision, plan, used, replaced_by, replaced_at FROM sheet_revisions WHERE drive_id = $1 AND sheet = $2 ORDER BY revision DESC`
	rows, err := s.pool.Query(ctx, q, driveID, number)
	if err != nil {
		return nil, fmt.Errorf("revisions of sheet: %w", err)
	}
	return collect(rows, "revisions of sheet", pgx.RowToStructByName[SheetRevision])
}
