package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/jackc/pgx/v5"
)

// lotMade is a lot of which an import made something.
type lotMade struct {
	drive.Lot
	MadeKind    drive.BroughtKind `db:"made_kind"`
	MadeVersion int               `db:"made_version"`
	Counted     bool              `db:"counted"`
	Ruled       bool              `db:"ruled"`
	Said        []byte            `db:"said"` // what the import changed of a lot that was here, by the trail
}

// asItWas gives a lot without what the import said of it beside its size: who gave it, what cloth it is,
// where it lies.
func (l lotMade) asItWas(lot drive.Lot) (drive.Lot, error) {
	var said map[string]struct {
		From json.RawMessage `json:"from"`
	}
	if err := json.Unmarshal(l.Said, &said); err != nil {
		return lot, fmt.Errorf("what an import said of lot %d: %w", l.Number, err)
	}
	var donor int64
	var long, wide length.Length
	for field, of := range map[string]any{
		"donor": &donor, "pieces": &lot.PiecesTold, "shelf": &lot.Shelf, "fibre": &lot.Fibre, "weight": &lot.Weight, "washed": &lot.Washed,
		"print": &lot.Print, "turn": &lot.Turn, "border": &lot.Border, "trim ok": &lot.TrimOK, "colours": &lot.Colours, "themes": &lot.Themes, "ends": &lot.Ends,
		"length": &long, "width": &wide,
	} {
		was, changed := said[field]
		if !changed {
			continue
		}
		if err := json.Unmarshal(was.From, of); err != nil {
			return lot, fmt.Errorf("%s of lot %d before an import: %w", field, l.Number, err)
		}
		switch field { // none of these stands in the trail as 0
		case "donor":
			lot.Donor = nonZero(donor)
		case "length":
			if lot.RawLength = nonZero(long); long == 0 {
				lot.Recounted = nil
			}
		case "width":
			lot.RawWidth = nonZero(wide)
		}
	}
	return lot, nil
}

func nonZero[T ~int64](n T) *T {
	if n == 0 {
		return nil
	}
	return &n
}

// lotsMade says of the lots of an import which can be taken back, and what that writes.
func lotsMade(ctx context.Context, db querier, driveID string, number int64, at time.Time) (importFound, error) {
	const lots = `SELECT ` + lotColumns + `, m.kind AS made_kind, m.version AS made_version,
			EXISTS (SELECT FROM stocktake_lots x WHERE x.drive_id = l.drive_id AND x.lot = l.number) AS counted,
			EXISTS (SELECT FROM lot_rules x WHERE x.drive_id = l.drive_id AND l.number IN (x.lot, x.other) AND x.ended_at IS NULL) AS ruled,
			coalesce((SELECT y.changes FROM audit y JOIN imports i ON i.drive_id = m.drive_id AND i.number = m.import
				WHERE y.drive_id = l.drive_id AND y.kind = 'lot' AND y.subject = l.number::text AND y.act = '` + lotMeasured + `' AND y.at = i.at AND m.kind = 'lot size'), '{}') AS said
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
			if l.MadeKind == drive.BroughtSize {
				if after, err = l.asItWas(after); err != nil {
					return found, err
				}
			}
			found.lots = append(found.lots, lotUndone{l.Lot, after, undo})
		}
		found.all = append(found.all, b)
	}
	return found, nil
}
