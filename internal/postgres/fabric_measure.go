package postgres

import (
	"context"
	"fmt"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// lotMeasured is what the trail says of a lot that was measured.
const lotMeasured = "lot measured"

// LotMeasured says what measuring a lot gave.
type LotMeasured struct {
	Number int64
	Pieces int
	How    []string // how the usable rectangles came about, for people
}

// MeasureLot gives a tagged lot that is still at this version its size, and books
// its cloth as free. It refuses by field what drive.Measure refuses; a lot that is
// measured already, or changed since, is a conflict.
func (s *Store) MeasureLot(ctx context.Context, act drive.Act, number int64, version int, m drive.Measured) (LotMeasured, error) {
	return s.measureLot(ctx, act, "measure lot", number, version, m, func(_ pgx.Tx, lot drive.Lot) (drive.Lot, error) {
		if lot.Version != version && !lot.Measured() {
			return lot, stale(fmt.Sprintf("Lot %d", number))
		}
		return lot, nil
	})
}

// measureLot locks a lot and gives it its size as ready leaves it.
func (s *Store) measureLot(ctx context.Context, act drive.Act, what string, number int64, version int, m drive.Measured,
	ready func(pgx.Tx, drive.Lot) (drive.Lot, error),
) (LotMeasured, error) {
	body := struct {
		Number   int64
		Version  int
		Measured drive.Measured
	}{number, version, m}
	return once(ctx, s, act, what, body, func(tx pgx.Tx) (LotMeasured, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return LotMeasured{}, err
		}
		lot, err := lockLot(ctx, tx, act.Drive, number)
		if err != nil {
			return LotMeasured{}, err
		}
		if lot, err = ready(tx, lot); err != nil {
			return LotMeasured{}, err
		}
		return measure(ctx, tx, act, d, lot, lot, m)
	})
}

// measure books the size of a lot that is locked; was is the lot as it stood, for the trail.
func measure(ctx context.Context, tx pgx.Tx, act drive.Act, d drive.Drive, was, lot drive.Lot, m drive.Measured) (LotMeasured, error) {
	first, err := nextPiece(ctx, tx, act.Drive, lot.Number)
	if err != nil {
		return LotMeasured{}, err
	}
	out, err := drive.Measure(d, lot, m, first)
	if err != nil {
		return LotMeasured{}, err
	}
	out.Lot.MeasuredAt = &act.At
	if err := insertPieces(ctx, tx, act.Drive, out.Pieces); err != nil {
		return LotMeasured{}, err
	}
	if err := writeFabric(ctx, tx, act, out.Entries); err != nil {
		return LotMeasured{}, err
	}
	if err := updateLot(ctx, tx, act, was, out.Lot, lotMeasured); err != nil {
		return LotMeasured{}, err
	}
	return LotMeasured{Number: lot.Number, Pieces: len(out.Pieces), How: out.How}, nil
}

// MeasureInstead gives a lot that somebody else measured meanwhile another size: the
// measuring that stands, at this version, is taken back as UndoMeasure does and the
// lot is measured anew, both or neither.
func (s *Store) MeasureInstead(ctx context.Context, act drive.Act, number int64, version int, m drive.Measured) (LotMeasured, error) {
	return s.measureLot(ctx, act, "measure instead", number, version, m, func(tx pgx.Tx, lot drive.Lot) (drive.Lot, error) {
		switch {
		case lot.Version != version:
			return lot, stale(fmt.Sprintf("Lot %d", number))
		case lot.Measured():
			return undoMeasure(ctx, tx, act, lot)
		}
		return lot, nil
	})
}

// UndoMeasure takes the measuring of a lot back by counter-entries, as long as
// none of its cloth was promised, cut or given away; else it is a conflict. It
// gives the version the lot has then.
func (s *Store) UndoMeasure(ctx context.Context, act drive.Act, number int64) (int, error) {
	return once(ctx, s, act, "undo measuring", number, func(tx pgx.Tx) (int, error) {
		lot, err := lockLot(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		undone, err := undoMeasure(ctx, tx, act, lot)
		return undone.Version, err
	})
}

// undoMeasure takes the measuring of a lot that is locked back, and gives the lot
// as it stands then.
func undoMeasure(ctx context.Context, tx pgx.Tx, act drive.Act, lot drive.Lot) (drive.Lot, error) {
	const lock = `SELECT ` + pieceColumns + ` FROM pieces p WHERE p.drive_id = $1 AND p.lot = $2 ORDER BY p.piece FOR NO KEY UPDATE`
	pieces, err := piecesBy(ctx, tx, lock, act.Drive, lot.Number)
	if err != nil {
		return lot, err
	}
	entries, err := fabricBooked(ctx, tx, act.Drive, lot.Number)
	if err != nil {
		return lot, err
	}
	undone, counter, err := drive.UndoMeasure(lot, pieces, entries)
	if err != nil {
		return lot, err
	}
	if err := writeFabric(ctx, tx, act, counter); err != nil {
		return lot, err
	}
	if err := updateLot(ctx, tx, act, lot, undone, "measuring undone"); err != nil {
		return lot, err
	}
	undone.Version++
	return undone, nil
}
