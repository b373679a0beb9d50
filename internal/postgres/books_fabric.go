package postgres

// booksUndoneCloth is the entries of the fabric ledger that others take back.
const booksUndoneCloth = `(
		SELECT u.id, u.kind, u.from_account, u.to_account
		FROM fabric_entries e JOIN fabric_entries u ON u.drive_id = e.drive_id AND u.id = e.undoes
		WHERE e.drive_id = $1 AND e.undoes IS NOT NULL)`

// booksLots reads the fabric ledger by lot: $1 drive, $2 first and $3 last day, $4 the
// drive's zone, whose days they are. On the shelf is what is free or promised; opening
// and closing are that alone. What moved counts parted cloth as still there on its way
// from piece to piece, so that only what crosses the lot's border moves: what is parted
// while it is measured comes in, what is parted at the table stays. A counter-entry
// counts against the kind that it takes back.
const booksLots = `WITH moves AS (
		SELECT e.lot, e.at >= $2::date::timestamp AT TIME ZONE $4 AS now, coalesce(u.kind, e.kind) AS kind,
			CASE WHEN e.to_account IN ('free', 'promised') THEN e.area ELSE 0 END
			- CASE WHEN e.from_account IN ('free', 'promised') THEN e.area ELSE 0 END AS shelf,
			CASE WHEN e.to_account IN ('free', 'promised', 'parted', 'origin') THEN e.area ELSE 0 END
			- CASE WHEN e.from_account IN ('free', 'promised', 'parted', 'origin') THEN e.area ELSE 0 END AS here,
			CASE WHEN e.to_account = 'promised' THEN e.area ELSE 0 END
			- CASE WHEN e.from_account = 'promised' THEN e.area ELSE 0 END AS promised
		FROM fabric_entries e
		LEFT JOIN ` + booksUndoneCloth + ` u ON u.id = e.undoes
		WHERE e.drive_id = $1 AND e.at < ($3::date + 1)::timestamp AT TIME ZONE $4),
	sums AS (
		SELECT lot,
			coalesce(sum(shelf) FILTER (WHERE NOT now), 0) AS opening,
			coalesce(sum(here) FILTER (WHERE now AND kind IN ('measured', 'parted')), 0) AS measured,
			-coalesce(sum(here) FILTER (WHERE now AND kind = 'squared off'), 0) AS squared_off,
			coalesce(sum(here) FILTER (WHERE now AND kind = 'put back'), 0) AS put_back,
			coalesce(sum(here) FILTER (WHERE now AND kind = 'recounted'), 0) AS recounted,
			-coalesce(sum(here) FILTER (WHERE now AND kind = 'cut for kit'), 0) AS cut,
			-coalesce(sum(here) FILTER (WHERE now AND kind = 'offcut'), 0) AS offcuts,
			-coalesce(sum(here) FILTER (WHERE now AND kind = 'lost in the wash'), 0) AS wash,
			-coalesce(sum(here) FILTER (WHERE now AND kind = 'given away'), 0) AS given_away,
			-coalesce(sum(here) FILTER (WHERE now AND kind = 'discarded'), 0) AS discarded,
			coalesce(sum(shelf), 0) AS on_shelf,
			coalesce(sum(promised), 0) AS promised
		FROM moves GROUP BY lot),
	widths AS (SELECT lot, max(width) AS width FROM pieces WHERE drive_id = $1 AND kind = 'whole' GROUP BY lot)
	SELECT l.number AS lot, coalesce(l.tag, '') AS tag, coalesce(n.name, 'unknown') AS donor,
		concat_ws(', ', nullif(l.kind, ''), nullif(l.fibre, ''), nullif(l.weight, ''), nullif(l.print, ''), nullif(array_to_string(l.colours, '/'), '')) AS cloth,
		l.shelf, l.received_on, coalesce(w.width, 0) AS width, l.note, s.opening::bigint, s.measured::bigint, s.squared_off::bigint, s.put_back::bigint,
		s.recounted::bigint, s.cut::bigint, s.offcuts::bigint, s.wash::bigint, s.given_away::bigint, s.discarded::bigint,
		s.on_shelf::bigint, s.promised::bigint
	FROM lots l
	JOIN sums s ON s.lot = l.number
	LEFT JOIN widths w ON w.lot = l.number
	LEFT JOIN donors n ON n.drive_id = l.drive_id AND n.number = l.donor
	WHERE l.drive_id = $1
	ORDER BY l.number`

// booksFabricEntries gives the entries of the period as they were written. A
// counter-entry is told as what it takes back, below zero.
const booksFabricEntries = `SELECT e.id, (e.at AT TIME ZONE $4)::date AS day, e.lot, coalesce(l.tag, '') AS tag, e.piece, coalesce(u.kind, e.kind) AS kind,
		coalesce(u.from_account, e.from_account) AS from_account, coalesce(u.to_account, e.to_account) AS to_account,
		CASE WHEN u.id IS NULL THEN e.length ELSE -e.length END AS length, CASE WHEN u.id IS NULL THEN e.area ELSE -e.area END AS area,
		CASE WHEN e.to_account IN ('free', 'promised') THEN e.area ELSE 0 END
		- CASE WHEN e.from_account IN ('free', 'promised') THEN e.area ELSE 0 END AS shelf,
		e.sheet, e.plan, e.undoes AS takes_back, e.reason
	FROM fabric_entries e
	JOIN lots l ON l.drive_id = e.drive_id AND l.number = e.lot
	LEFT JOIN ` + booksUndoneCloth + ` u ON u.id = e.undoes
	WHERE e.drive_id = $1 AND e.at >= $2::date::timestamp AT TIME ZONE $4 AND e.at < ($3::date + 1)::timestamp AT TIME ZONE $4
	ORDER BY e.id`

// booksGifts gives what was brought in the period, by donor and day, with the area
// that was measured of it until its last day. $5: how to reach donors is wished for.
const booksGifts = `WITH measured AS (
		SELECT e.lot, sum(CASE WHEN e.to_account IN ('free', 'promised', 'parted', 'origin') THEN e.area ELSE 0 END
			- CASE WHEN e.from_account IN ('free', 'promised', 'parted', 'origin') THEN e.area ELSE 0 END) AS area
		FROM fabric_entries e
		LEFT JOIN ` + booksUndoneCloth + ` u ON u.id = e.undoes
		WHERE e.drive_id = $1 AND coalesce(u.kind, e.kind) IN ('measured', 'parted') AND e.at < ($3::date + 1)::timestamp AT TIME ZONE $4
		GROUP BY e.lot),
	gifts AS (
		SELECT l.donor, l.received_on, count(*) AS lots, sum(` + piecesCounted + `) AS pieces, coalesce(string_agg(DISTINCT nullif(l.kind, ''), ', '), '') AS what,
			coalesce(sum(m.area), 0)::bigint AS measured
		FROM lots l LEFT JOIN measured m ON m.lot = l.number
		WHERE l.drive_id = $1 AND l.received_on BETWEEN $2 AND $3 AND l.untagged_at IS NULL
		GROUP BY l.donor, l.received_on)
	SELECT coalesce(g.donor, 0) AS donor_no, coalesce(n.name, 'unknown') AS donor, g.received_on AS gift_on, g.lots, g.pieces, g.what, g.measured,
		t.thanked_on, coalesce(t.way, '') AS way,
		CASE WHEN $5 THEN coalesce(n.email, '') ELSE '' END AS email, CASE WHEN $5 THEN coalesce(n.phone, '') ELSE '' END AS phone,
		CASE WHEN $5 THEN coalesce(n.address, '') ELSE '' END AS address
	FROM gifts g
	LEFT JOIN donors n ON n.drive_id = $1 AND n.number = g.donor
	LEFT JOIN thanks t ON t.drive_id = $1 AND t.donor = g.donor AND t.gift_on = g.received_on AND t.undone_at IS NULL AND t.thanked_on <= $3
	ORDER BY lower(coalesce(n.name, 'unknown')), g.received_on`
