package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// ClothHandled says what a deed was booked as.
type ClothHandled struct {
	Deed   int64
	Pieces []int // new ones
}

// HandleCloth books what somebody did to cloth of a lot. seen is the last entry of
// the lot that they knew of, 0 where they did not look: anything booked since is a
// conflict. What the cloth does not allow is refused as drive.Stock.Handle says.
func (s *Store) HandleCloth(ctx context.Context, act drive.Act, lot, seen int64, h drive.Handling) (ClothHandled, error) {
	body := struct {
		Lot, Seen int64
		Handling  drive.Handling
	}{lot, seen, h}
	return once(ctx, s, act, "handle cloth", body, func(tx pgx.Tx) (ClothHandled, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return ClothHandled{}, err
		}
		stock, err := lockStock(ctx, tx, act.Drive, lot)
		if err != nil {
			return ClothHandled{}, err
		}
		if last := stock.Last(); seen != 0 && seen != last {
			return ClothHandled{}, apperr.Conflict("Somebody else booked cloth of lot %d while this page was open. Look at what stands now, then send it again.", lot)
		}
		done, err := stock.Handle(d, h)
		if err != nil {
			return ClothHandled{}, err
		}
		return keepDeed(ctx, tx, act, stock.Lot, done)
	})
}

// UndoCloth takes a deed back by counter-entries, as far as nothing depends on it;
// else the conflict names what does.
func (s *Store) UndoCloth(ctx context.Context, act drive.Act, lot, deed int64) (ClothHandled, error) {
	return once(ctx, s, act, "undo cloth", [2]int64{lot, deed}, func(tx pgx.Tx) (ClothHandled, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return ClothHandled{}, err
		}
		stock, err := lockStock(ctx, tx, act.Drive, lot)
		if err != nil {
			return ClothHandled{}, err
		}
		done, err := stock.Undo(d, deed)
		if err != nil {
			return ClothHandled{}, err
		}
		return keepDeed(ctx, tx, act, stock.Lot, done)
	})
}

// LotStock gives a lot with everything booked of it, as a deed would find it.
func (s *Store) LotStock(ctx context.Context, driveID string, lot int64) (drive.Stock, error) {
	var stock drive.Stock
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err := pgx.BeginTxFunc(ctx, s.root, options, func(tx pgx.Tx) error {
		const q = `SELECT ` + lotColumns + ` FROM lots l WHERE l.drive_id = $1 AND l.number = $2`
		const pieces = `SELECT ` + pieceColumns + ` FROM pieces p WHERE p.drive_id = $1 AND p.lot = $2 ORDER BY p.piece`
		var err error
		stock, err = stockOf(ctx, tx, driveID, lot, q, pieces)
		return err
	})
	return stock, err
}

// lockStock locks a lot and its pieces, and reads what is booked of it after that.
func lockStock(ctx context.Context, tx pgx.Tx, driveID string, lot int64) (drive.Stock, error) {
	const q = `SELECT ` + lotColumns + ` FROM lots l WHERE l.drive_id = $1 AND l.number = $2 FOR NO KEY UPDATE`
	const pieces = `SELECT ` + pieceColumns + ` FROM pieces p WHERE p.drive_id = $1 AND p.lot = $2 ORDER BY p.piece FOR NO KEY UPDATE`
	stock, err := stockOf(ctx, tx, driveID, lot, q, pieces)
	if err == nil {
		err = stock.Lot.StillALot()
	}
	return stock, err
}

func stockOf(ctx context.Context, tx pgx.Tx, driveID string, number int64, lotQuery, piecesQuery string) (drive.Stock, error) {
	lot, err := oneLot(ctx, tx, lotQuery, driveID, number)
	if err != nil {
		return drive.Stock{}, err
	}
	stock := drive.Stock{Lot: lot}
	if stock.Pieces, err = piecesBy(ctx, tx, piecesQuery, driveID, number); err != nil {
		return stock, err
	}
	if stock.Next, err = nextPiece(ctx, tx, driveID, number); err != nil {
		return stock, err
	}
	if stock.Entries, err = fabricBooked(ctx, tx, driveID, number); err != nil {
		return stock, err
	}
	stock.Deeds, err = clothDeeds(ctx, tx, driveID, number)
	return stock, err
}

// clothDeeds gives the deeds of a lot, oldest first.
func clothDeeds(ctx context.Context, db querier, driveID string, lot int64) ([]drive.ClothDeed, error) {
	const q = `SELECT d.number, d.lot, d.kind, d.reason, d.undoes, d.at, d.who,
			EXISTS (SELECT FROM fabric_deeds u WHERE u.drive_id = d.drive_id AND u.undoes = d.number) AS undone
		FROM fabric_deeds d WHERE d.drive_id = $1 AND d.lot = $2 ORDER BY d.number`
	rows, err := db.Query(ctx, q, driveID, lot)
	if err != nil {
		return nil, fmt.Errorf("deeds of lot: %w", err)
	}
	return collect(rows, "deeds of lot", pgx.RowToStructByName[drive.ClothDeed])
}

// keepDeed writes what was decided about a lot that is locked with its pieces.
func keepDeed(ctx context.Context, tx pgx.Tx, act drive.Act, lot drive.Lot, done drive.Handled) (ClothHandled, error) {
	number, err := next(ctx, tx, act.Drive, "deed")
	if err != nil {
		return ClothHandled{}, err
	}
	out := ClothHandled{Deed: number}
	const q = `INSERT INTO fabric_deeds (drive_id, number, lot, kind, reason, undoes, at, who) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`
	if _, err := tx.Exec(ctx, q, act.Drive, number, lot.Number, done.Kind, done.Reason, done.Undoes, act.At, act.Who); err != nil {
		return out, fmt.Errorf("keep deed: %w", err)
	}
	if err := insertPieces(ctx, tx, act.Drive, done.Pieces); err != nil {
		return out, err
	}
	for _, p := range done.Pieces {
		out.Pieces = append(out.Pieces, p.Piece)
	}
	for i := range done.Entries {
		done.Entries[i].Deed = &number
	}
	if err := writeFabric(ctx, tx, act, done.Entries); err != nil {
		return out, err
	}
	if err := insertWashes(ctx, tx, act.Drive, number, done.Washes); err != nil {
		return out, err
	}
	what := "cloth " + string(done.Kind)
	if done.Lot.Washed != lot.Washed {
		return out, updateLot(ctx, tx, act, lot, done.Lot, what)
	}
	c := changes{"deed": {To: number}}
	c.set("undoes", int64(0), orZero(done.Undoes))
	return out, audit(ctx, tx, act, what, "lot", lot.Number, c)
}

func insertWashes(ctx context.Context, tx pgx.Tx, driveID string, deed int64, washes []drive.Wash) error {
	const q = `INSERT INTO fabric_washes (drive_id, deed, piece, fibre, weight, width_before, length_before, width_after, length_after)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
	var batch pgx.Batch
	for _, w := range washes {
		batch.Queue(q, driveID, deed, w.Piece, w.Fibre, w.Weight, w.Width, w.Length, w.WidthAfter, w.LengthAfter)
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("what the wash did: %w", err)
	}
	return nil
}

// Shrinkages gives what washing taught so far, by fibre and weight; what was undone
// taught nothing.
func (s *Store) Shrinkages(ctx context.Context, driveID string) ([]drive.Shrinkage, error) {
	const q = `SELECT w.fibre, w.weight, count(DISTINCT d.lot) AS lots, count(*) AS pieces,
			sum(w.length_before)::bigint AS length_before, sum(w.length_after)::bigint AS length_after,
			sum(w.width_before)::bigint AS width_before, sum(w.width_after)::bigint AS width_after
		FROM fabric_washes w
		JOIN fabric_deeds d ON d.drive_id = w.drive_id AND d.number = w.deed
		WHERE w.drive_id = $1 AND NOT EXISTS (SELECT FROM fabric_deeds u WHERE u.drive_id = d.drive_id AND u.undoes = d.number)
		GROUP BY w.fibre, w.weight ORDER BY count(*) DESC, w.fibre, w.weight`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("what washing taught: %w", err)
	}
	return collect(rows, "what washing taught", pgx.RowToStructByName[drive.Shrinkage])
}
