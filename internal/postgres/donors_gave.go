package postgres

import (
	"context"
	"fmt"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/jackc/pgx/v5"
)

// GaveLot is a lot that a donor gave with what became of its cloth. Areas add up
// to what came in.
type GaveLot struct {
	drive.Lot
	CameIn    length.Area `db:"came_in"`
	Free      length.Area `db:"free"`
	Promised  length.Area `db:"promised"`
	Cut       length.Area `db:"cut"` // in panels of kits
	GivenOn   length.Area `db:"given_on"`
	Discarded length.Area `db:"discarded"`
	Other     length.Area `db:"other"` // squared off, lost in the wash, offcuts, counted short
}

// GaveCases is pillowcases of one kit that hold cloth a donor gave: Holding of the
// kit's, and how many of the kit's stand in a state, for whom.
type GaveCases struct {
	Lot       int64           `db:"lot"` // 0: of all the donor's lots together
	Kit       int64           `db:"kit"`
	Holding   int             `db:"holding"`
	State     drive.CaseState `db:"state"`
	N         int             `db:"n"`
	Recipient string          `db:"recipient"` // empty where they are not promised
}

// DonorGave gives what a donor gave, lot by lot, and the pillowcases its cloth is in.
func (s *Store) DonorGave(ctx context.Context, driveID string, donor int64) ([]GaveLot, []GaveCases, error) {
	const lots = `WITH stock AS (
			SELECT p.lot, sum(p.free)::bigint AS free, sum(p.promised)::bigint AS promised, sum(p.cut)::bigint AS cut, sum(p.out)::bigint AS out
			FROM pieces p JOIN lots l ON l.drive_id = p.drive_id AND l.number = p.lot WHERE p.drive_id = $1 AND l.donor = $2 GROUP BY 1),
		left_us AS (
			SELECT e.lot, coalesce(sum(e.area) FILTER (WHERE e.kind = 'given away'), 0)::bigint AS given_on,
				coalesce(sum(e.area) FILTER (WHERE e.kind = 'discarded'), 0)::bigint AS discarded
			FROM fabric_entries e JOIN lots l ON l.drive_id = e.drive_id AND l.number = e.lot
			WHERE e.drive_id = $1 AND l.donor = $2 AND e.to_account = 'out' AND e.kind IN ('given away', 'discarded')
				AND NOT EXISTS (SELECT FROM fabric_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id)
			GROUP BY 1)
		SELECT ` + lotColumns + `, coalesce(s.free + s.promised + s.cut + s.out, 0) AS came_in, coalesce(s.free, 0) AS free, coalesce(s.promised, 0) AS promised,
			coalesce(s.cut, 0) AS cut, coalesce(o.given_on, 0) AS given_on, coalesce(o.discarded, 0) AS discarded,
			coalesce(s.out, 0) - coalesce(o.given_on, 0) - coalesce(o.discarded, 0) AS other
		FROM lots l LEFT JOIN stock s ON s.lot = l.number LEFT JOIN left_us o ON o.lot = l.number
		WHERE l.drive_id = $1 AND l.donor = $2 ORDER BY l.received_on DESC, l.number`
	rows, err := s.pool.Query(ctx, lots, driveID, donor)
	if err != nil {
		return nil, nil, fmt.Errorf("what a donor gave: %w", err)
	}
	gave, err := pgx.CollectRows(rows, pgx.RowToStructByName[GaveLot])
	if err != nil {
		return nil, nil, fmt.Errorf("what a donor gave: %w", err)
	}
	const cases = `WITH mine AS (
			SELECT coalesce(sh.lot, 0) AS lot, pa.kit, count(DISTINCT pa.pillowcase) AS holding
			FROM sheets sh JOIN lots l ON l.drive_id = sh.drive_id AND l.number = sh.lot AND l.donor = $2
			JOIN panels pa ON pa.drive_id = sh.drive_id AND pa.sheet = sh.number
			WHERE sh.drive_id = $1 AND sh.state <> 'withdrawn' GROUP BY GROUPING SETS ((sh.lot, pa.kit), (pa.kit)))
		SELECT m.lot, m.kit, m.holding, b.state, sum(b.n) AS n, coalesce(r.name, '') AS recipient
		FROM mine m JOIN case_balances b ON b.drive_id = $1 AND b.kit = m.kit AND b.n > 0
		LEFT JOIN asked a ON a.drive_id = $1 AND a.number = b.asked
		LEFT JOIN recipients r ON r.drive_id = $1 AND r.number = a.recipient
		GROUP BY m.lot, m.kit, m.holding, b.state, r.name ORDER BY m.lot, m.kit, r.name, b.state`
	rows, err = s.pool.Query(ctx, cases, driveID, donor)
	if err != nil {
		return nil, nil, fmt.Errorf("pillowcases of what a donor gave: %w", err)
	}
	reached, err := pgx.CollectRows(rows, pgx.RowToStructByName[GaveCases])
	if err != nil {
		return nil, nil, fmt.Errorf("pillowcases of what a donor gave: %w", err)
	}
	return gave, reached, nil
}
