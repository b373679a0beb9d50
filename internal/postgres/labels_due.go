package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
)

// LabelCounts says how many labels are due.
type LabelCounts struct {
	Missing int `db:"missing"` // lots, and pieces parted from them, on the shelf without a label
	Since   int `db:"since"`   // lots measured since their label was printed
	Shelf   int `db:"shelf"`
}

// labelsHere: $1 drive. Lots on the shelf or still to be measured, and pieces that
// were parted from a lot, with when their label was last printed.
const labelsHere = `WITH stock AS (
		SELECT lot, piece, origin, free + promised AS here FROM pieces WHERE drive_id = $1),
	labelled AS (
		SELECT i.lot, i.piece, max(p.at) AS at FROM label_printed i
		JOIN label_prints p ON p.drive_id = i.drive_id AND p.number = i.print AND p.undone_at IS NULL
		WHERE i.drive_id = $1 GROUP BY 1, 2),
	shelf AS (
		SELECT l.number AS lot, 0 AS piece, l.measured_at, l.received_on,
			CASE WHEN l.measured_at IS NULL THEN l.pieces_told
				ELSE (SELECT count(*) FROM stock s WHERE s.lot = l.number AND s.origin IS NULL AND s.here > 0)::integer END AS several
		FROM lots l WHERE l.drive_id = $1 AND l.untagged_at IS NULL
			AND (l.measured_at IS NULL OR EXISTS (SELECT FROM stock s WHERE s.lot = l.number AND s.here > 0))
		UNION ALL
		SELECT s.lot, s.piece, NULL, l.received_on, 1 FROM stock s JOIN lots l ON l.drive_id = $1 AND l.number = s.lot
		WHERE s.origin IS NOT NULL AND s.here > 0),
	due AS (SELECT s.*, d.at FROM shelf s LEFT JOIN labelled d USING (lot, piece))`

// LabelsDue counts the labels that are due.
func (s *Store) LabelsDue(ctx context.Context, driveID string) (LabelCounts, error) {
	const q = labelsHere + ` SELECT count(*) FILTER (WHERE at IS NULL) AS missing, count(*) FILTER (WHERE at < measured_at) AS since, count(*) AS shelf FROM due`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return LabelCounts{}, fmt.Errorf("labels that are due: %w", err)
	}
	counts, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[LabelCounts])
	if err != nil {
		return LabelCounts{}, fmt.Errorf("labels that are due: %w", err)
	}
	return counts, nil
}

// DropOff is a day on which fabric came in.
type DropOff struct {
	Day  time.Time `db:"day"`
	Lots int       `db:"lots"`
}

// DropOffs gives the latest days on which fabric came in, newest first.
func (s *Store) DropOffs(ctx context.Context, driveID string, most int) ([]DropOff, error) {
	const q = `SELECT received_on AS day, count(*) AS lots FROM lots WHERE drive_id = $1 AND untagged_at IS NULL GROUP BY 1 ORDER BY 1 DESC LIMIT $2`
	rows, err := s.pool.Query(ctx, q, driveID, most)
	if err != nil {
		return nil, fmt.Errorf("drop-offs: %w", err)
	}
	days, err := pgx.CollectRows(rows, pgx.RowToStructByName[DropOff])
	if err != nil {
		return nil, fmt.Errorf("drop-offs: %w", err)
	}
	return days, nil
}
