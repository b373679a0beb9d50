package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
)

// handFor is how long a lot counts as lying on somebody's table after they touched
// its form last: longer than measuring takes, shorter than a tea break.
const handFor = 10 * time.Minute

// Hand is somebody who has a lot on the table.
type Hand struct {
	Name string    `db:"name"` // of who is signed in there
	At   time.Time `db:"at"`
}

// TakeInHand notes that a lot lies on this tablet's table, and no other any more. It
// says false, and notes nothing, where another tablet has it or there is no such lot.
func (s *Store) TakeInHand(ctx context.Context, driveID string, lot int64, tablet string, who int64) (bool, error) {
	now := s.now()
	const take = `INSERT INTO lots_in_hand AS h (drive_id, lot, tablet, who, at)
		SELECT drive_id, number, $3, $4, $5 FROM lots WHERE drive_id = $1 AND number = $2
		ON CONFLICT ON CONSTRAINT lots_in_hand_pkey DO UPDATE SET tablet = $3, who = $4, at = $5 WHERE h.tablet = $3 OR h.at < $6`
	tag, err := s.pool.Exec(ctx, take, driveID, lot, tablet, who, now, now.Add(-handFor))
	if err != nil {
		return false, fmt.Errorf("take lot in hand: %w", err)
	}
	if tag.RowsAffected() == 0 {
		return false, nil
	}
	const leave = `DELETE FROM lots_in_hand WHERE drive_id = $1 AND tablet = $2 AND lot <> $3`
	if _, err := s.pool.Exec(ctx, leave, driveID, tablet, lot); err != nil {
		return false, fmt.Errorf("leave other lots: %w", err)
	}
	return true, nil
}

// InHand says who else has a lot on the table; nil for nobody.
func (s *Store) InHand(ctx context.Context, driveID string, lot int64, tablet string) (*Hand, error) {
	const q = `SELECT coalesce(a.name, '') AS name, h.at FROM lots_in_hand h LEFT JOIN signers a ON a.id = h.who
		WHERE h.drive_id = $1 AND h.lot = $2 AND h.tablet <> $3 AND h.at >= $4`
	rows, err := s.pool.Query(ctx, q, driveID, lot, tablet, s.now().Add(-handFor))
	if err != nil {
		return nil, fmt.Errorf("who has the lot: %w", err)
	}
	hand, err := pgx.CollectExactlyOneRow(rows, pgx.RowToAddrOfStructByName[Hand])
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("who has the lot: %w", err)
	}
	return hand, nil
}

// NextToMeasure gives the lot that has waited longest to be measured after this
// one, in the order of the queue, and none that lies on another tablet's table as long
// as there is any other; 0 when none waits.
func (s *Store) NextToMeasure(ctx context.Context, driveID string, after int64, tablet string) (int64, error) {
	const q = `SELECT coalesce((SELECT l.number FROM lots l
			LEFT JOIN lots_in_hand h ON h.drive_id = l.drive_id AND h.lot = l.number AND h.tablet <> $3 AND h.at >= $4
			WHERE l.drive_id = $1 AND l.measured_at IS NULL AND l.set_aside = '' AND l.number <> $2
			ORDER BY h.lot IS NOT NULL, l.number < $2, l.number LIMIT 1), 0)`
	var number int64
	if err := s.pool.QueryRow(ctx, q, driveID, after, tablet, s.now().Add(-handFor)).Scan(&number); err != nil {
		return 0, fmt.Errorf("next lot to measure: %w", err)
	}
	return number, nil
}

// TakeNextInHand is NextToMeasure, and the lot lies on this tablet's table then. Where
// every lot that waits lies on another's, it gives one of those.
func (s *Store) TakeNextInHand(ctx context.Context, driveID string, after int64, tablet string, who int64) (int64, error) {
	for {
		next, err := s.NextToMeasure(ctx, driveID, after, tablet)
		if err != nil || next == 0 {
			return 0, err
		}
		taken, err := s.TakeInHand(ctx, driveID, next, tablet, who)
		if err != nil || taken {
			return next, err
		}
		other, err := s.InHand(ctx, driveID, next, tablet)
		if err != nil {
			return 0, err
		}
		again, err := s.NextToMeasure(ctx, driveID, after, tablet)
		if err != nil || other != nil && again == next {
			return again, err // nothing else waits
		}
	}
}

// ForgetHands forgets who had which lot on the table long ago.
func (s *Store) ForgetHands(ctx context.Context) (int64, error) {
	const q = `DELETE FROM lots_in_hand WHERE at < $1`
	tag, err := s.pool.Exec(ctx, q, s.now().Add(-handFor))
	if err != nil {
		return 0, fmt.Errorf("forget lots in hand: %w", err)
	}
	return tag.RowsAffected(), nil
}
