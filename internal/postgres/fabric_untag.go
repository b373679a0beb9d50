package postgres

import (
	"context"
	"fmt"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// UntagLot takes the tagging of a lot back that nobody measured yet, and gives the lot
// before it, 0 where there is none: what the door showed last.
func (s *Store) UntagLot(ctx context.Context, act drive.Act, number int64) (int64, error) {
	return once(ctx, s, act, "untag lot", number, func(tx pgx.Tx) (int64, error) {
		lot, err := lockLot(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		entries, err := fabricBooked(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		gone, counter, err := drive.Untag(lot, entries, act.At)
		if err != nil {
			return 0, err
		}
		if err := writeFabric(ctx, tx, act, []drive.FabricEntry{counter}); err != nil {
			return 0, err
		}
		const photo = `UPDATE lots SET photo = NULL WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, photo, act.Drive, number); err != nil {
			return 0, fmt.Errorf("photo of a lot taken back: %w", err)
		}
		if err := updateLot(ctx, tx, act, lot, gone, "lot taken back"); err != nil {
			return 0, err
		}
		const q = `SELECT coalesce(max(number), 0) FROM lots WHERE drive_id = $1 AND number < $2 AND untagged_at IS NULL`
		var before int64
		if err := tx.QueryRow(ctx, q, act.Drive, number).Scan(&before); err != nil {
			return 0, fmt.Errorf("lot before: %w", err)
		}
		return before, nil
	})
}
