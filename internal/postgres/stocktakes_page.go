package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// StocktakeLine is one stocktake in the list.
type StocktakeLine struct {
	drive.Stocktake
	Lots    int    `db:"lots"`    // counted
	Differ  int    `db:"differ"`  // of them
	ByName  string `db:"by_name"` // who began it
	ToCount int    `db:"to_count"`
}

const stocktakeLines = `SELECT ` + stocktakeColumns + `, coalesce(a.name, '') AS by_name,
		(SELECT count(*) FROM stocktake_lots c WHERE c.drive_id = s.drive_id AND c.stocktake = s.number) AS lots,
		(SELECT count(*) FROM stocktake_lots c WHERE c.drive_id = s.drive_id AND c.stocktake = s.number AND c.differs) AS differ,
		CASE WHEN s.state = 'open' THEN (SELECT count(*) FROM lots l WHERE l.drive_id = s.drive_id AND ` + uncounted + `) ELSE 0 END AS to_count
	FROM stocktakes s LEFT JOIN signers a ON a.id = s.begun_by WHERE s.drive_id = $1`

// uncounted says of a lot l that stocktake s looks for it and did not find it yet:
// by the books it lies on its shelf.
const uncounted = `l.untagged_at IS NULL AND (s.shelf = '' OR lower(l.shelf) = lower(s.shelf))
	AND (l.measured_at IS NULL OR EXISTS (SELECT FROM pieces p WHERE p.drive_id = l.drive_id AND p.lot = l.number AND (p.free > 0 OR p.promised > 0)))
	AND NOT EXISTS (SELECT FROM stocktake_lots c WHERE c.drive_id = s.drive_id AND c.stocktake = s.number AND c.lot = l.number)`

// Stocktakes gives the stocktakes of a drive, newest first.
func (s *Store) Stocktakes(ctx context.Context, driveID string) ([]StocktakeLine, error) {
	rows, err := s.pool.Query(ctx, stocktakeLines+` ORDER BY s.number DESC LIMIT 100`, driveID)
	if err != nil {
		return nil, fmt.Errorf("stocktakes: %w", err)
	}
	return collect(rows, "stocktakes", pgx.RowToStructByName[StocktakeLine])
}

// StocktakePage is a stocktake with what was counted, and what it still looks for.
type StocktakePage struct {
	StocktakeLine
	Counted []CountedLot // in the order of lots
	Missing []LotLine    // not scanned yet, in the order of shelves; the first of them
}

// Stocktake gives one stocktake and at most this many of the lots not scanned yet.
func (s *Store) Stocktake(ctx context.Context, driveID string, number int64, most int) (StocktakePage, error) {
	rows, err := s.pool.Query(ctx, stocktakeLines+` AND s.number = $2`, driveID, number)
	if err != nil {
		return StocktakePage{}, fmt.Errorf("stocktake: %w", err)
	}
	var page StocktakePage
	page.StocktakeLine, err = pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[StocktakeLine])
	if errors.Is(err, pgx.ErrNoRows) {
		return page, apperr.NotFound("There is no stocktake %d here.", number)
	}
	if err != nil {
		return page, fmt.Errorf("stocktake: %w", err)
	}
	if page.Counted, err = lotCounts(ctx, s.pool, driveID, number, 0); err != nil || page.State != drive.StocktakeOpen {
		return page, err
	}
	const missing = `SELECT ` + lotColumns + `, coalesce(d.name, '') AS donor_name, coalesce(k.pieces, 0) AS pieces, coalesce(k.width, 0) AS width,
			coalesce(k.length, 0) AS length, coalesce(k.free, 0)::bigint AS free, coalesce(k.promised, 0)::bigint AS promised
		FROM stocktakes s JOIN lots l ON l.drive_id = s.drive_id AND ` + uncounted + `
		LEFT JOIN donors d ON d.drive_id = l.drive_id AND d.number = l.donor
		LEFT JOIN LATERAL (SELECT count(*) FILTER (WHERE p.free > 0) AS pieces, sum(p.free) AS free, sum(p.promised) AS promised,
				(array_agg(p.width ORDER BY p.free DESC, p.piece) FILTER (WHERE p.free > 0))[1] AS width,
				(array_agg(p.free_length ORDER BY p.free DESC, p.piece) FILTER (WHERE p.free > 0))[1] AS length
			FROM pieces p WHERE p.drive_id = l.drive_id AND p.lot = l.number) k ON true
		WHERE s.drive_id = $1 AND s.number = $2
		ORDER BY lower(l.shelf), l.number LIMIT $3`
	found, err := s.pool.Query(ctx, missing, driveID, number, most)
	if err != nil {
		return page, fmt.Errorf("lots not counted: %w", err)
	}
	page.Missing, err = collect(found, "lots not counted", pgx.RowToStructByName[LotLine])
	return page, err
}

// LotCount gives what was counted of a lot in a stocktake; nil where it was not.
func (s *Store) LotCount(ctx context.Context, driveID string, take, lot int64) (*CountedLot, error) {
	list, err := lotCounts(ctx, s.pool, driveID, take, lot)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return &list[0], nil
}
