package postgres

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/jackc/pgx/v5"
)

const stocktakeColumns = `s.number, s.shelf, s.state, s.reason, s.begun_at, s.begun_by, s.closed_at`

// BeginStocktake opens a stocktake of one shelf, or of all of them, and gives its
// number. One that is open already is a conflict: it is gone on with instead.
func (s *Store) BeginStocktake(ctx context.Context, act drive.Act, shelf string) (int64, error) {
	shelf = strings.Join(strings.Fields(shelf), " ")
	return once(ctx, s, act, "begin stocktake", shelf, func(tx pgx.Tx) (int64, error) {
		number, err := next(ctx, tx, act.Drive, "stocktake")
		if err != nil {
			return 0, err
		}
		const q = `INSERT INTO stocktakes (drive_id, number, shelf, begun_at, begun_by) VALUES ($1, $2, $3, $4, $5)`
		if _, err := tx.Exec(ctx, q, act.Drive, number, shelf, act.At, act.Who); err != nil {
			return 0, fmt.Errorf("begin stocktake: %w", err)
		}
		c := changes{}
		c.set("shelf", "", shelf)
		return number, audit(ctx, tx, act, "stocktake begun", "stocktake", number, c)
	})
}

// LotCounted says what was noted of a lot.
type LotCounted struct {
	Lot     int64
	Differs bool
}

// CountLot notes what lies there of a lot; see drive.Stock.Count for counted.
// version is that of the count which the person knew of, 0 for none: another one
// by now is a conflict.
func (s *Store) CountLot(ctx context.Context, act drive.Act, take, lot int64, version int, counted map[int]length.Length, sure bool) (LotCounted, error) {
	body := struct {
		Take, Lot int64
		Version   int
		Counted   map[int]length.Length
		Sure      bool `json:",omitempty"`
	}{take, lot, version, counted, sure}
	return once(ctx, s, act, "count lot", body, func(tx pgx.Tx) (LotCounted, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return LotCounted{}, err
		}
		if err := openStocktake(ctx, tx, act.Drive, take, "SHARE"); err != nil {
			return LotCounted{}, err
		}
		stock, err := lockStock(ctx, tx, act.Drive, lot)
		if err != nil {
			return LotCounted{}, err
		}
		count, err := stock.Count(d, counted, sure)
		if err != nil {
			return LotCounted{}, err
		}
		const q = `INSERT INTO stocktake_lots AS c (drive_id, stocktake, lot, counts, last_entry, differs, at, who)
			SELECT $1, $2, $3, $4, $5, $6, $7, $8 WHERE $9 = 0 OR EXISTS (SELECT FROM stocktake_lots WHERE drive_id = $1 AND stocktake = $2 AND lot = $3)
			ON CONFLICT ON CONSTRAINT stocktake_lots_pkey DO UPDATE SET counts = EXCLUDED.counts, last_entry = EXCLUDED.last_entry, differs = EXCLUDED.differs,
				version = c.version + 1, at = EXCLUDED.at, who = EXCLUDED.who WHERE c.version = $9`
		tag, err := tx.Exec(ctx, q, act.Drive, take, lot, count.Counts, count.Last, count.Differs(), act.At, act.Who, version)
		if err != nil {
			return LotCounted{}, fmt.Errorf("count lot: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return LotCounted{}, apperr.Conflict("Somebody else counted lot %d meanwhile. Look at what they found, then send yours again if it is right.", lot)
		}
		c := changes{"stocktake": {To: take}}
		c.set("differs", false, count.Differs())
		return LotCounted{lot, count.Differs()}, audit(ctx, tx, act, "lot counted", "lot", lot, c)
	})
}

// ForgetCount takes the count of a lot back, as if it had not been scanned.
func (s *Store) ForgetCount(ctx context.Context, act drive.Act, take, lot int64) (int64, error) {
	return once(ctx, s, act, "forget count", [2]int64{take, lot}, func(tx pgx.Tx) (int64, error) {
		if err := openStocktake(ctx, tx, act.Drive, take, "SHARE"); err != nil {
			return 0, err
		}
		const q = `DELETE FROM stocktake_lots WHERE drive_id = $1 AND stocktake = $2 AND lot = $3`
		tag, err := tx.Exec(ctx, q, act.Drive, take, lot)
		if err != nil {
			return 0, fmt.Errorf("forget count: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return 0, apperr.NotFound("Lot %d was not counted in stocktake %d.", lot, take)
		}
		return lot, audit(ctx, tx, act, "count taken back", "lot", lot, changes{"stocktake": {To: take}})
	})
}

// StocktakePosted says what posting a stocktake booked.
type StocktakePosted struct {
	Lots  int // that were counted
	Deeds []int64
}

// PostStocktake books every difference of an open stocktake with a reason and
// closes it: all of them or none. A difference that cannot be booked any more is a
// conflict that names its piece.
func (s *Store) PostStocktake(ctx context.Context, act drive.Act, take int64, why string) (StocktakePosted, error) {
	return once(ctx, s, act, "post stocktake", [2]any{take, why}, func(tx pgx.Tx) (StocktakePosted, error) {
		var out StocktakePosted
		reason, err := drive.PostReason(take, why)
		if err != nil {
			return out, err
		}
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return out, err
		}
		if err := openStocktake(ctx, tx, act.Drive, take, "NO KEY UPDATE"); err != nil {
			return out, err
		}
		counts, err := lotCounts(ctx, tx, act.Drive, take, 0)
		if err != nil {
			return out, err
		}
		if out.Lots = len(counts); out.Lots == 0 {
			return out, apperr.Conflict("Nothing was counted in stocktake %d yet. Scan the first lot, or give it up.", take)
		}
		// All lots are locked before the first deed takes its number: a deed that somebody
		// books meanwhile locks its lot first too, and neither waits for the other in turn.
		counts = slices.DeleteFunc(counts, func(c CountedLot) bool { return !c.Differs() })
		stocks := make([]drive.Stock, len(counts))
		for i, c := range counts {
			if stocks[i], err = lockStock(ctx, tx, act.Drive, c.Lot); err != nil {
				return out, err
			}
		}
		for i, c := range counts {
			deed, err := postCount(ctx, tx, act, d, take, stocks[i], c.LotCount, reason)
			if err != nil {
				return out, err
			}
			out.Deeds = append(out.Deeds, deed)
		}
		return out, closeStocktake(ctx, tx, act, take, drive.StocktakePosted, why)
	})
}

func postCount(ctx context.Context, tx pgx.Tx, act drive.Act, d drive.Drive, take int64, stock drive.Stock, c drive.LotCount, reason string) (int64, error) {
	handled, err := stock.Post(d, c, reason)
	if err != nil {
		return 0, err
	}
	done, err := keepDeed(ctx, tx, act, stock.Lot, handled)
	if err != nil {
		return 0, err
	}
	const q = `UPDATE stocktake_lots SET deed = $4 WHERE drive_id = $1 AND stocktake = $2 AND lot = $3`
	if _, err := tx.Exec(ctx, q, act.Drive, take, c.Lot, done.Deed); err != nil {
		return 0, fmt.Errorf("post count: %w", err)
	}
	return done.Deed, nil
}

// DropStocktake gives an open stocktake up: nothing of it is booked.
func (s *Store) DropStocktake(ctx context.Context, act drive.Act, take int64) (int64, error) {
	return once(ctx, s, act, "drop stocktake", take, func(tx pgx.Tx) (int64, error) {
		if err := openStocktake(ctx, tx, act.Drive, take, "NO KEY UPDATE"); err != nil {
			return 0, err
		}
		return take, closeStocktake(ctx, tx, act, take, drive.StocktakeDropped, "")
	})
}

func closeStocktake(ctx context.Context, tx pgx.Tx, act drive.Act, take int64, state drive.StocktakeState, why string) error {
	const q = `UPDATE stocktakes SET state = $3, reason = $4, closed_at = $5 WHERE drive_id = $1 AND number = $2`
	if _, err := tx.Exec(ctx, q, act.Drive, take, state, strings.TrimSpace(why), act.At); err != nil {
		return fmt.Errorf("close stocktake: %w", err)
	}
	c := changes{}
	c.set("state", drive.StocktakeOpen, state)
	return audit(ctx, tx, act, "stocktake "+string(state), "stocktake", take, c)
}

// openStocktake locks a stocktake that is open.
func openStocktake(ctx context.Context, tx pgx.Tx, driveID string, take int64, lock string) error {
	q := `SELECT state FROM stocktakes WHERE drive_id = $1 AND number = $2 FOR ` + lock
	var state drive.StocktakeState
	err := tx.QueryRow(ctx, q, driveID, take).Scan(&state)
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		return apperr.NotFound("There is no stocktake %d here.", take)
	case err != nil:
		return fmt.Errorf("stocktake: %w", err)
	case state == drive.StocktakePosted:
		return apperr.Conflict("Stocktake %d was posted already. Begin another.", take)
	case state == drive.StocktakeDropped:
		return apperr.Conflict("Stocktake %d was given up. Begin another.", take)
	}
	return nil
}

// CountedLot is a lot as it was counted, with who did.
type CountedLot struct {
	drive.LotCount
	Version int
	At      time.Time
	WhoName string
	Deed    *int64 // that booked its difference
	Kind    string
	Shelf   string
}

// lotCounts gives what was counted in a stocktake, in the order of lots: all, or
// of one lot.
func lotCounts(ctx context.Context, db querier, driveID string, take, lot int64) ([]CountedLot, error) {
	const q = `SELECT c.lot, c.counts, c.last_entry, c.version, c.at, coalesce(a.name, ''), c.deed, l.kind, l.shelf
		FROM stocktake_lots c
		JOIN lots l ON l.drive_id = c.drive_id AND l.number = c.lot
		LEFT JOIN signers a ON a.id = c.who
		WHERE c.drive_id = $1 AND c.stocktake = $2 AND ($3 = 0 OR c.lot = $3) ORDER BY c.lot`
	rows, err := db.Query(ctx, q, driveID, take, lot)
	if err != nil {
		return nil, fmt.Errorf("what was counted: %w", err)
	}
	return collect(rows, "what was counted", func(row pgx.CollectableRow) (CountedLot, error) {
		var c CountedLot
		err := row.Scan(&c.Lot, &c.Counts, &c.Last, &c.Version, &c.At, &c.WhoName, &c.Deed, &c.Kind, &c.Shelf)
		return c, err
	})
}
