package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/jackc/pgx/v5"
)

// Slivers are free pieces that no panel of the drive's sizes comes out of.
type Slivers struct {
	Pieces int
	Lots   int
	Least  length.Length // what a piece has to measure both ways
}

// Slivers counts what clutters the shelf and can make nothing.
func (s *Store) Slivers(ctx context.Context, driveID string) (Slivers, error) {
	return slivers(ctx, s.pool, driveID)
}

func slivers(ctx context.Context, db querier, driveID string) (Slivers, error) {
	var found Slivers
	sizes, err := sizesOf(ctx, db, driveID)
	if err != nil {
		return found, err
	}
	cut, err := drive.CutSizes(sizes)
	if err != nil {
		return found, err
	}
	found.Least = drive.LeastPanel(cut)
	const q = `SELECT count(*), count(DISTINCT p.lot) ` + sliversFrom
	if err := db.QueryRow(ctx, q, driveID, found.Least).Scan(&found.Pieces, &found.Lots); err != nil {
		return found, fmt.Errorf("slivers: %w", err)
	}
	return found, nil
}

// sliversFrom finds what drive.Piece.Sliver does: $1 drive, $2 the least panel.
const sliversFrom = `FROM pieces p JOIN lots l ON l.drive_id = p.drive_id AND l.number = p.lot
	WHERE p.drive_id = $1 AND p.free > 0 AND p.promised = 0 AND least(p.width, p.free_length) < $2 AND l.set_aside = ''`

// SliversBooked says which deeds booked slivers: N of them from First on.
type SliversBooked struct {
	First int64
	N     int
}

// BookSlivers books every sliver on the shelf as an offcut, each by a deed of its own.
func (s *Store) BookSlivers(ctx context.Context, act drive.Act) (SliversBooked, error) {
	return once(ctx, s, act, "book slivers", nil, func(tx pgx.Tx) (SliversBooked, error) {
		var out SliversBooked
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return out, err
		}
		found, err := slivers(ctx, tx, act.Drive)
		if err != nil {
			return out, err
		}
		const q = `SELECT DISTINCT p.lot ` + sliversFrom + ` ORDER BY p.lot`
		rows, err := tx.Query(ctx, q, act.Drive, found.Least)
		if err != nil {
			return out, fmt.Errorf("lots with slivers: %w", err)
		}
		lots, err := collect(rows, "lots with slivers", pgx.RowTo[int64])
		if err != nil {
			return out, err
		}
		// All lots are locked before the first deed takes its number, as where a stocktake is posted.
		stocks := make([]drive.Stock, len(lots))
		for i, lot := range lots {
			if stocks[i], err = lockStock(ctx, tx, act.Drive, lot); err != nil {
				return out, err
			}
		}
		for _, stock := range stocks {
			handled, err := stock.SquareSlivers(d, found.Least)
			if err != nil {
				return out, err
			}
			for _, one := range handled {
				done, err := keepDeed(ctx, tx, act, stock.Lot, one)
				if err != nil {
					return out, err
				}
				if out.N++; out.N == 1 {
					out.First = done.Deed
				}
			}
		}
		if out.N == 0 {
			return out, apperr.Conflict("There is no sliver on the shelf any more.")
		}
		return out, nil
	})
}

// UndoSlivers puts slivers back on the shelf, all of one booking or none.
func (s *Store) UndoSlivers(ctx context.Context, act drive.Act, booked SliversBooked) (int, error) {
	return once(ctx, s, act, "undo slivers", booked, func(tx pgx.Tx) (int, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		const q = `SELECT number, lot FROM fabric_deeds WHERE drive_id = $1 AND number >= $2 AND number < $2 + $3 ORDER BY lot, number`
		type deed struct{ Number, Lot int64 }
		rows, err := tx.Query(ctx, q, act.Drive, booked.First, booked.N)
		if err != nil {
			return 0, fmt.Errorf("deeds of slivers: %w", err)
		}
		deeds, err := collect(rows, "deeds of slivers", pgx.RowToStructByPos[deed])
		if err != nil {
			return 0, err
		}
		if len(deeds) == 0 || len(deeds) != booked.N {
			return 0, apperr.NotFound("No slivers were booked there.")
		}
		stocks := map[int64]drive.Stock{}
		for _, one := range deeds {
			if _, locked := stocks[one.Lot]; locked {
				continue
			}
			if stocks[one.Lot], err = lockStock(ctx, tx, act.Drive, one.Lot); err != nil {
				return 0, err
			}
		}
		for _, one := range deeds {
			stock := stocks[one.Lot]
			if err := stock.SliverDeed(one.Number); err != nil {
				return 0, err
			}
			undone, err := stock.Undo(d, one.Number)
			if err != nil {
				return 0, err
			}
			if _, err := keepDeed(ctx, tx, act, stock.Lot, undone); err != nil {
				return 0, err
			}
		}
		return len(deeds), nil
	})
}
