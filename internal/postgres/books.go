package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// Books gives everything of a drive from one day to another, both included, as
// one snapshot: all of it is read in one transaction that sees one moment.
func (s *Store) Books(ctx context.Context, driveID string, from, to time.Time) (drive.Books, error) {
	var b drive.Books
	if err := drive.CheckPeriod(from, to); err != nil {
		return b, err
	}
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err := pgx.BeginTxFunc(ctx, s.root, options, func(tx pgx.Tx) error {
		d, err := driveIn(ctx, tx, driveID)
		if err != nil {
			return err
		}
		b = drive.Books{Drive: d, From: from, To: to, MadeAt: s.now()}
		if b.Asked, err = bookLines(ctx, tx, driveID, from, to); err != nil {
			return err
		}
		if b.Fabric, err = bookLots(ctx, tx, d, from, to); err != nil {
			return err
		}
		if b.Kits, err = bookKits(ctx, tx, driveID, to); err != nil {
			return err
		}
		b.Deliveries, err = bookDeliveries(ctx, tx, driveID, from, to)
		return err
	})
	return b, err
}

// bookLines reads the pillowcases ledger up to the last day. A line that fills
// with several sizes has a row a size; wanted stands on its first. What moved in
// the period counts less what was undone in it, so that periods add up.
func bookLines(ctx context.Context, tx pgx.Tx, driveID string, from, to time.Time) ([]drive.BookLine, error) {
	const q = `WITH moves AS (
			SELECT to_asked AS asked, size, to_state AS state, n FROM case_entries
				WHERE drive_id = $1 AND day <= $3 AND to_state <> 'born'
			UNION ALL
			SELECT asked, size, from_state, -n FROM case_entries
				WHERE drive_id = $1 AND day <= $3 AND from_state <> 'born'),
		standing AS (
			SELECT asked, size, jsonb_object_agg(state, n) AS counts FROM (
				SELECT asked, size, state, sum(n) AS n FROM moves GROUP BY asked, size, state HAVING sum(n) <> 0) c
			GROUP BY asked, size),
		period AS (
			SELECT asked, size,
				sum(n) FILTER (WHERE to_state = 'sewn' AND from_state IN ('born', 'out', 'lost')) AS came_in,
				sum(n) FILTER (WHERE to_state = 'good' AND from_state = 'sewn') AS good,
				sum(CASE WHEN (from_state, to_state) = ('packed', 'delivered') THEN n WHEN (from_state, to_state) = ('delivered', 'packed') THEN -n END) AS sent,
				sum(CASE WHEN to_state = 'confirmed' THEN n WHEN from_state = 'confirmed' THEN -n END) AS confirmed
			FROM (
				SELECT to_asked AS asked, size, from_state, to_state, n FROM case_entries
					WHERE drive_id = $1 AND day BETWEEN $2 AND $3 AND undoes IS NULL
				UNION ALL
				SELECT e.to_asked, e.size, e.from_state, e.to_state, -e.n FROM case_entries u
					JOIN case_entries e ON e.drive_id = u.drive_id AND e.id = u.undoes
					WHERE u.drive_id = $1 AND u.day BETWEEN $2 AND $3) steps
			GROUP BY asked, size),
		lines AS (
			SELECT asked, size FROM asked_sizes WHERE drive_id = $1
			UNION SELECT asked, size FROM standing UNION SELECT asked, size FROM period)
		SELECT l.asked AS number, coalesce(r.name, 'not promised yet') AS recipient, z.name AS size,
			CASE WHEN row_number() OVER (PARTITION BY l.asked ORDER BY l.size) = 1 THEN coalesce(a.wanted, 0) ELSE 0 END AS wanted,
			a.due, coalesce(a.matter, '') AS matter, coalesce(a.closed, false) AS closed, coalesce(c.counts, '{}') AS counts,
			coalesce(p.came_in, 0) AS came_in, coalesce(p.good, 0) AS good, coalesce(p.sent, 0) AS sent, coalesce(p.confirmed, 0) AS confirmed
		FROM lines l
		JOIN sizes z ON z.drive_id = $1 AND z.number = l.size
		LEFT JOIN asked a ON a.drive_id = $1 AND a.number = l.asked
		LEFT JOIN recipients r ON r.drive_id = $1 AND r.number = a.recipient
		LEFT JOIN standing c ON c.asked = l.asked AND c.size = l.size
		LEFT JOIN period p ON p.asked = l.asked AND p.size = l.size
		ORDER BY l.asked = 0, r.name, l.asked, l.size`
	rows, err := tx.Query(ctx, q, driveID, from, to)
	if err != nil {
		return nil, fmt.Errorf("books, asked for: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.BookLine])
	if err != nil {
		return nil, fmt.Errorf("books, asked for: %w", err)
	}
	return list, nil
}

// bookLots reads the fabric ledger by lot. On the shelf is what is free or
// promised; opening and closing are that alone. What moved counts parted cloth as
// still there on its way from piece to piece, so that only what crosses the lot's
// border moves: what is parted while it is measured comes in, what is parted at
// the table stays. A counter-entry counts against the kind that it undoes. Days
// are the drive's own.
func bookLots(ctx context.Context, tx pgx.Tx, d drive.Drive, from, to time.Time) ([]drive.BookLot, error) {
	const q = `WITH moves AS (
			SELECT e.lot, (e.at AT TIME ZONE $4)::date AS day, coalesce(u.kind, e.kind) AS kind,
				CASE WHEN e.to_account IN ('free', 'promised') THEN e.area ELSE 0 END
				- CASE WHEN e.from_account IN ('free', 'promised') THEN e.area ELSE 0 END AS shelf,
				CASE WHEN e.to_account IN ('free', 'promised', 'parted', 'origin') THEN e.area ELSE 0 END
				- CASE WHEN e.from_account IN ('free', 'promised', 'parted', 'origin') THEN e.area ELSE 0 END AS here,
				CASE WHEN e.to_account = 'promised' THEN e.area ELSE 0 END
				- CASE WHEN e.from_account = 'promised' THEN e.area ELSE 0 END AS promised
			FROM fabric_entries e
			LEFT JOIN fabric_entries u ON u.drive_id = e.drive_id AND u.id = e.undoes
			WHERE e.drive_id = $1 AND (e.at AT TIME ZONE $4)::date <= $3),
		sums AS (
			SELECT lot,
				coalesce(sum(shelf) FILTER (WHERE day < $2), 0) AS opening,
				coalesce(sum(here) FILTER (WHERE day >= $2 AND kind IN ('measured', 'parted', 'squared off', 'put back')), 0) AS taken_in,
				coalesce(sum(here) FILTER (WHERE day >= $2 AND kind = 'recounted'), 0) AS recounted,
				-coalesce(sum(here) FILTER (WHERE day >= $2 AND kind = 'cut for kit'), 0) AS cut,
				-coalesce(sum(here) FILTER (WHERE day >= $2 AND kind IN ('offcut', 'lost in the wash')), 0) AS offcuts,
				-coalesce(sum(here) FILTER (WHERE day >= $2 AND kind IN ('given away', 'discarded')), 0) AS given,
				coalesce(sum(shelf), 0) AS closing,
				coalesce(sum(promised), 0) AS promised
			FROM moves GROUP BY lot)
		SELECT l.number AS lot, coalesce(l.tag, '') AS tag, coalesce(n.name, 'unknown') AS donor,
			concat_ws(', ', nullif(l.kind, ''), nullif(l.fibre, ''), nullif(l.weight, ''), nullif(l.print, ''), nullif(array_to_string(l.colours, '/'), '')) AS cloth,
			l.shelf, l.received_on, s.opening::bigint, s.taken_in::bigint, s.recounted::bigint, s.cut::bigint, s.offcuts::bigint, s.given::bigint,
			s.closing::bigint, s.promised::bigint
		FROM lots l
		JOIN sums s ON s.lot = l.number
		LEFT JOIN donors n ON n.drive_id = l.drive_id AND n.number = l.donor
		WHERE l.drive_id = $1
		ORDER BY l.number`
	rows, err := tx.Query(ctx, q, d.ID, from, to, d.Location().String())
	if err != nil {
		return nil, fmt.Errorf("books, fabric: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.BookLot])
	if err != nil {
		return nil, fmt.Errorf("books, fabric: %w", err)
	}
	return list, nil
}

// bookKits gives every kit as it stood at the end of the last day. What it held
// then is added up from step to step, since a step may be written down after one
// that happened later.
func bookKits(ctx context.Context, tx pgx.Tx, driveID string, to time.Time) ([]drive.BookKit, error) {
	const q = `WITH steps AS (
			SELECT kit, part, id, to_state, holder, due, day, cases - lag(cases, 1, 0) OVER (PARTITION BY kit, part ORDER BY id) AS more
			FROM kit_entries WHERE drive_id = $1),
		last AS (
			SELECT DISTINCT ON (kit, part) kit, part, to_state, holder, due, day, sum(more) OVER (PARTITION BY kit, part) AS cases
			FROM steps WHERE day <= $2 ORDER BY kit, part, id DESC)
		SELECT k.number, k.part, coalesce(r.name, '') AS recipient, z.name AS size, l.cases, l.to_state AS state,
			coalesce(p.name, '') AS holder, l.day AS since, l.due, k.own_fabric
		FROM last l
		JOIN kits k ON k.drive_id = $1 AND k.number = l.kit AND k.part = l.part
		JOIN sizes z ON z.drive_id = $1 AND z.number = k.size
		LEFT JOIN asked a ON a.drive_id = $1 AND a.number = k.asked
		LEFT JOIN recipients r ON r.drive_id = $1 AND r.number = a.recipient
		LEFT JOIN people p ON p.drive_id = $1 AND p.number = l.holder
		ORDER BY k.number, k.part`
	rows, err := tx.Query(ctx, q, driveID, to)
	if err != nil {
		return nil, fmt.Errorf("books, kits: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.BookKit])
	if err != nil {
		return nil, fmt.Errorf("books, kits: %w", err)
	}
	return list, nil
}

// bookDeliveries gives the deliveries sent in the period, with what was
// confirmed or settled of them until its last day.
func bookDeliveries(ctx context.Context, tx pgx.Tx, driveID string, from, to time.Time) ([]drive.BookDelivery, error) {
	const q = `SELECT d.number, r.name AS recipient, d.sent_on, d.carried_by,
			(SELECT count(*) FROM boxes b WHERE b.drive_id = d.drive_id AND b.delivery = d.number) AS boxes,
			coalesce(sum(CASE WHEN (e.from_state, e.to_state) = ('packed', 'delivered') THEN e.n WHEN (e.from_state, e.to_state) = ('delivered', 'packed') THEN -e.n END), 0) AS sent,
			coalesce(sum(CASE WHEN e.to_state = 'confirmed' THEN e.n WHEN e.from_state = 'confirmed' THEN -e.n END), 0) AS confirmed,
			coalesce(sum(CASE WHEN e.to_state = 'not received' THEN e.n WHEN e.from_state = 'not received' THEN -e.n END), 0) AS missing,
			CASE WHEN d.confirmed_on <= $3 THEN d.confirmed_on END AS confirmed_on,
			CASE WHEN d.confirmed_on <= $3 THEN d.confirmed_by ELSE '' END AS confirmed_by
		FROM deliveries d
		JOIN recipients r ON r.drive_id = d.drive_id AND r.number = d.recipient
		LEFT JOIN case_entries e ON e.drive_id = d.drive_id AND e.delivery = d.number AND e.day <= $3
		WHERE d.drive_id = $1 AND d.sent_on BETWEEN $2 AND $3
		GROUP BY d.drive_id, d.number, r.name, d.sent_on, d.carried_by, d.confirmed_on, d.confirmed_by
		ORDER BY d.number`
	rows, err := tx.Query(ctx, q, driveID, from, to)
	if err != nil {
		return nil, fmt.Errorf("books, deliveries: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.BookDelivery])
	if err != nil {
		return nil, fmt.Errorf("books, deliveries: %w", err)
	}
	return list, nil
}
