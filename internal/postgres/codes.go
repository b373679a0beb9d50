package postgres

import (
	"context"
	"fmt"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// Labelled is something with a label: what a code opens.
type Labelled struct {
	Kind     drive.CodeKind `db:"kind"`
	Number   string         `db:"number"`   // as in its label
	Lot      int64          `db:"lot"`      // of a lot, a piece, a tag that hangs on one
	Piece    int            `db:"piece"`    // of a piece
	Delivery int64          `db:"delivery"` // of a box that goes with one, and of its note
}

// Labelled gives what in the drive bears a code: one thing, or none, where the code
// names its kind; all that have the number where it does not. A tag that hangs on
// nothing yet is nothing.
func (s *Store) Labelled(ctx context.Context, driveID string, code drive.Code) ([]Labelled, error) {
	const q = `WITH wanted AS (SELECT $2::text AS kind, $3::text AS number,
			split_part($3, '-', 1) AS first, coalesce(nullif(split_part($3, '-', 2), ''), '1') AS second)
		SELECT 'lot' AS kind, l.number::text AS number, l.number AS lot, 0 AS piece, 0::bigint AS delivery
			FROM lots l, wanted w WHERE l.drive_id = $1 AND w.kind IN ('lot', '') AND l.number::text = w.number
		UNION ALL SELECT 'tag', l.tag, l.number, 0, 0 FROM lots l, wanted w WHERE l.drive_id = $1 AND w.kind IN ('tag', '') AND lower(l.tag) = lower(w.number)
		UNION ALL SELECT 'piece', p.lot || '-' || p.piece, p.lot, p.piece, 0
			FROM pieces p, wanted w WHERE p.drive_id = $1 AND w.kind = 'piece' AND p.lot::text = w.first AND p.piece::text = w.second
		UNION ALL SELECT 'sheet', h.number::text, 0, 0, 0 FROM sheets h, wanted w WHERE h.drive_id = $1 AND h.number::text = w.first
				AND (w.kind = 'sheet' OR w.kind = '' AND (w.number = w.first OR w.second = h.revision::text))
		UNION ALL SELECT 'kit', w.number, 0, 0, 0
			FROM kits k, wanted w WHERE k.drive_id = $1 AND w.kind IN ('kit', '') AND k.number::text = w.first AND k.part::text = w.second
		UNION ALL SELECT 'box', b.number::text, 0, 0, coalesce(b.delivery, 0)
			FROM boxes b, wanted w WHERE b.drive_id = $1 AND w.kind IN ('box', '') AND b.number::text = w.number AND NOT b.emptied
		UNION ALL SELECT 'delivery', d.number::text, 0, 0, d.number
			FROM deliveries d, wanted w WHERE d.drive_id = $1 AND w.kind IN ('delivery', '') AND d.number::text = w.number AND d.undone_at IS NULL`
	rows, err := s.pool.Query(ctx, q, driveID, string(code.Kind), code.Number)
	if err != nil {
		return nil, fmt.Errorf("what bears a code: %w", err)
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByName[Labelled])
	if err != nil {
		return nil, fmt.Errorf("what bears a code: %w", err)
	}
	return found, nil
}
