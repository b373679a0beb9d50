package postgres

import (
	"context"
	"fmt"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// LotPage is a lot with its pieces and who gave it.
type LotPage struct {
	drive.Lot
	DonorName string
	Pieces    []drive.Piece
}

// Lot gives one lot; not found where the drive has none of that number.
func (s *Store) Lot(ctx context.Context, driveID string, number int64) (LotPage, error) {
	const q = `SELECT ` + lotColumns + ` FROM lots l WHERE l.drive_id = $1 AND l.number = $2`
	lot, err := oneLot(ctx, s.pool, q, driveID, number)
	if err != nil {
		return LotPage{}, err
	}
	page := LotPage{Lot: lot}
	if lot.Donor != nil {
		const name = `SELECT name FROM donors WHERE drive_id = $1 AND number = $2`
		if err := s.pool.QueryRow(ctx, name, driveID, *lot.Donor).Scan(&page.DonorName); err != nil {
			return LotPage{}, fmt.Errorf("donor of lot: %w", err)
		}
	}
	const pieces = `SELECT ` + pieceColumns + ` FROM pieces p WHERE p.drive_id = $1 AND p.lot = $2 ORDER BY p.piece`
	page.Pieces, err = piecesBy(ctx, s.pool, pieces, driveID, number)
	return page, err
}

// LotByTag gives the number of the lot on which a tag hangs; 0 when on none.
func (s *Store) LotByTag(ctx context.Context, driveID, tag string) (int64, error) {
	const q = `SELECT coalesce((SELECT number FROM lots WHERE drive_id = $1 AND lower(tag) = lower($2)), 0)`
	var number int64
	if err := s.pool.QueryRow(ctx, q, driveID, tag).Scan(&number); err != nil {
		return 0, fmt.Errorf("lot by tag: %w", err)
	}
	return number, nil
}

// NextTag gives the number after the highest that hangs on a lot as a printed tag.
func (s *Store) NextTag(ctx context.Context, driveID string) (int64, error) {
	const q = `SELECT coalesce(max(tag::bigint), 0) + 1 FROM lots WHERE drive_id = $1 AND tag ~ '^[0-9]{1,9}$'`
	var next int64
	if err := s.pool.QueryRow(ctx, q, driveID).Scan(&next); err != nil {
		return 0, fmt.Errorf("next tag: %w", err)
	}
	return next, nil
}

// LotReach is where cloth of a lot went: one kit with the recipient it is for and
// how far its pillowcases have come.
type LotReach struct {
	Sheet     int64        `db:"sheet"`
	Piece     int          `db:"piece"` // of the lot, on the sheet
	Kit       int64        `db:"kit"`
	Part      int          `db:"part"`
	KitState  string       `db:"kit_state"`
	Size      string       `db:"size"`
	Panels    int          `db:"panels"` // of this lot in the kit
	Roles     []string     `db:"roles"`
	Recipient string       `db:"recipient"` // empty where the kit is not promised to anybody
	Counts    drive.Counts `db:"counts"`
}

// LotHistory is everything that happened to a lot.
type LotHistory struct {
	Entries []drive.BookedFabric // oldest first
	Deeds   []drive.ClothDeed    // oldest first
	Reach   []LotReach
}

// LotHistory gives every entry of a lot in the fabric ledger, and the kits and
// recipients that its cloth reached.
func (s *Store) LotHistory(ctx context.Context, driveID string, number int64) (LotHistory, error) {
	entries, err := fabricBooked(ctx, s.pool, driveID, number)
	if err != nil {
		return LotHistory{}, err
	}
	const q = `SELECT sh.number AS sheet, sh.piece, k.number AS kit, k.part, k.state AS kit_state, z.name AS size, count(*) AS panels,
			array_agg(DISTINCT pa.role) AS roles, coalesce(r.name, '') AS recipient,
			(SELECT coalesce(jsonb_object_agg(b.state, b.n), '{}') FROM (
				SELECT state, sum(n) AS n FROM case_balances
				WHERE drive_id = k.drive_id AND kit = k.number AND n > 0 GROUP BY state) b) AS counts
		FROM sheets sh
		JOIN panels pa ON pa.drive_id = sh.drive_id AND pa.sheet = sh.number
		JOIN kits k ON k.drive_id = pa.drive_id AND k.number = pa.kit AND k.part = pa.part
		JOIN sizes z ON z.drive_id = k.drive_id AND z.number = k.size
		LEFT JOIN asked a ON a.drive_id = k.drive_id AND a.number = k.asked
		LEFT JOIN recipients r ON r.drive_id = a.drive_id AND r.number = a.recipient
		WHERE sh.drive_id = $1 AND sh.lot = $2 AND sh.state <> 'withdrawn'
		GROUP BY sh.number, sh.piece, k.drive_id, k.number, k.part, k.state, z.name, r.name
		ORDER BY k.number, k.part, sh.number`
	rows, err := s.pool.Query(ctx, q, driveID, number)
	if err != nil {
		return LotHistory{}, fmt.Errorf("where a lot went: %w", err)
	}
	reach, err := pgx.CollectRows(rows, pgx.RowToStructByName[LotReach])
	if err != nil {
		return LotHistory{}, fmt.Errorf("where a lot went: %w", err)
	}
	deeds, err := clothDeeds(ctx, s.pool, driveID, number)
	return LotHistory{Entries: entries, Deeds: deeds, Reach: reach}, err
}

// fabricBooked gives every entry of a lot in the order the ledger grew.
func fabricBooked(ctx context.Context, db querier, driveID string, lot int64) ([]drive.BookedFabric, error) {
	return fabricBookedOf(ctx, db, driveID, []int64{lot})
}

// fabricBookedOf is fabricBooked for several lots, all in the order the ledger grew.
func fabricBookedOf(ctx context.Context, db querier, driveID string, lots []int64) ([]drive.BookedFabric, error) {
	const q = `SELECT e.id, e.lot, e.piece, e.kind, e.from_account, e.to_account, e.length, e.area, e.other_piece, e.plan, e.sheet, e.reason, e.undoes, e.deed,
			e.at, e.who, coalesce(a.name, ''),
			EXISTS (SELECT FROM fabric_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id)
		FROM fabric_entries e LEFT JOIN signers a ON a.id = e.who
		WHERE e.drive_id = $1 AND e.lot = ANY($2) ORDER BY e.id`
	rows, err := db.Query(ctx, q, driveID, lots)
	if err != nil {
		return nil, fmt.Errorf("entries of lot: %w", err)
	}
	entries, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (drive.BookedFabric, error) {
		var b drive.BookedFabric
		e := &b.FabricEntry
		err := row.Scan(&b.ID, &e.Lot, &e.Piece, &e.Kind, &e.From, &e.To, &e.Length, &e.Area, &e.OtherPiece, &e.Plan, &e.Sheet, &e.Reason, &e.Undoes, &e.Deed,
			&b.At, &b.Who, &b.WhoName, &b.Undone)
		return b, err
	})
	if err != nil {
		return nil, fmt.Errorf("entries of lot: %w", err)
	}
	return entries, nil
}
