package postgres

// ledgerChecks gives the queries that add up the ledgers anew. Each gives a row
// (drive_id, what) for everything that does not agree, in a fixed order.
func ledgerChecks() []string {
	return []string{
		checkPieces, checkMeasured, checkParted, checkSheets,
		checkKits, checkKitSteps, checkKitHolds,
		checkCases, checkBoxes, checkCounters,
	}
}

// checkPieces holds every account of every piece against its entries.
const checkPieces = `WITH said AS (
		SELECT e.drive_id, e.lot, e.piece, m.account, sum(m.amount) AS amount
		FROM fabric_entries e, LATERAL (VALUES
			(CASE WHEN e.to_account IN ('outside', 'origin') THEN 'received' ELSE e.to_account END,
				CASE WHEN e.to_account IN ('outside', 'origin') THEN -e.area ELSE e.area END),
			(CASE WHEN e.from_account IN ('outside', 'origin') THEN 'received' ELSE e.from_account END,
				CASE WHEN e.from_account IN ('outside', 'origin') THEN e.area ELSE -e.area END),
			('free length', CASE WHEN e.to_account = 'free' THEN e.length WHEN e.from_account = 'free' THEN -e.length ELSE 0 END)
		) AS m (account, amount)
		WHERE e.piece > 0
		GROUP BY e.drive_id, e.lot, e.piece, m.account),
	kept AS (
		SELECT p.drive_id, p.lot, p.piece, a.account, a.amount
		FROM pieces p, LATERAL (VALUES ('received', p.received), ('free', p.free), ('promised', p.promised), ('cut', p.cut), ('out', p.out),
			('parted', p.parted), ('free length', p.free_length)) AS a (account, amount))
	SELECT drive_id, format('piece %s/%s, %s: the balance is %s, the entries say %s', lot, piece, account, coalesce(k.amount, 0), coalesce(s.amount, 0)) AS what
	FROM kept k FULL JOIN said s USING (drive_id, lot, piece, account)
	WHERE coalesce(k.amount, 0) <> coalesce(s.amount, 0)
	ORDER BY drive_id, lot, piece, account`

// checkMeasured holds that cloth that lies there was measured: the list of lots sums it up without
// looking at each lot.
const checkMeasured = `SELECT p.drive_id, format('piece %s/%s has cloth, and lot %s is not measured', p.lot, p.piece, p.lot) AS what
	FROM pieces p JOIN lots l ON l.drive_id = p.drive_id AND l.number = p.lot
	WHERE (p.free > 0 OR p.promised > 0) AND l.measured_at IS NULL
	ORDER BY p.drive_id, p.lot, p.piece`

// checkParted holds what was parted from a piece against what the other came with.
const checkParted = `WITH off AS (
		SELECT drive_id, lot, piece AS from_piece, other_piece AS to_piece, sum(CASE WHEN to_account = 'parted' THEN area ELSE -area END) AS area
		FROM fabric_entries WHERE 'parted' IN (from_account, to_account) GROUP BY 1, 2, 3, 4),
	came AS (
		SELECT drive_id, lot, other_piece AS from_piece, piece AS to_piece, sum(CASE WHEN from_account = 'origin' THEN area ELSE -area END) AS area
		FROM fabric_entries WHERE 'origin' IN (from_account, to_account) GROUP BY 1, 2, 3, 4)
	SELECT drive_id, format('from piece %s/%s %s was parted to piece %s, which came with %s', lot, from_piece, coalesce(o.area, 0), to_piece, coalesce(c.area, 0)) AS what
	FROM off o FULL JOIN came c USING (drive_id, lot, from_piece, to_piece)
	WHERE coalesce(o.area, 0) <> coalesce(c.area, 0)
	ORDER BY drive_id, lot, from_piece, to_piece`

// checkSheets holds what is promised and cut of a piece against its sheets.
const checkSheets = `WITH taken AS (
		SELECT s.drive_id, s.lot, s.piece,
			coalesce(sum(s.used * p.width) FILTER (WHERE s.state IN ('waiting', 'on the table')), 0) AS promised,
			coalesce(sum(n.area) FILTER (WHERE s.state = 'cut'), 0) AS cut
		FROM sheets s
		JOIN pieces p ON p.drive_id = s.drive_id AND p.lot = s.lot AND p.piece = s.piece
		LEFT JOIN (SELECT drive_id, sheet, sum(w * h) AS area FROM panels GROUP BY 1, 2) n ON n.drive_id = s.drive_id AND n.sheet = s.number
		GROUP BY s.drive_id, s.lot, s.piece)
	SELECT p.drive_id, format('piece %s/%s: %s promised and %s cut, its sheets take %s and %s', p.lot, p.piece, p.promised, p.cut,
		coalesce(t.promised, 0), coalesce(t.cut, 0)) AS what
	FROM pieces p LEFT JOIN taken t ON t.drive_id = p.drive_id AND t.lot = p.lot AND t.piece = p.piece
	WHERE (p.promised, p.cut) IS DISTINCT FROM (coalesce(t.promised, 0), coalesce(t.cut, 0))
	ORDER BY p.drive_id, p.lot, p.piece`

// checkKits holds where a kit is against its last entry. Since when is the day
// of the entry that brought it there, whatever was added about it since.
const checkKits = `WITH steps AS (
		SELECT drive_id, kit, part, id, to_state, holder, due, cases, day,
			row_number() OVER (PARTITION BY drive_id, kit, part ORDER BY id DESC) AS back,
			(to_state, holder) IS DISTINCT FROM (lag(to_state) OVER one, lag(holder) OVER one) AS came
		FROM kit_entries WINDOW one AS (PARTITION BY drive_id, kit, part ORDER BY id)),
	came AS (
		SELECT DISTINCT ON (drive_id, kit, part) drive_id, kit, part, day AS since FROM steps WHERE came ORDER BY drive_id, kit, part, id DESC),
	last AS (
		SELECT s.*, c.since FROM steps s LEFT JOIN came c ON c.drive_id = s.drive_id AND c.kit = s.kit AND c.part = s.part WHERE s.back = 1)
	SELECT k.drive_id, format('kit %s-%s: place, holder, since, due and pillowcases are %s, the entries say %s', k.number, k.part, ROW(k.state, k.holder, k.since, k.due, k.cases),
		ROW(l.to_state, l.holder, l.since, l.due, l.cases)) AS what
	FROM kits k LEFT JOIN last l ON l.drive_id = k.drive_id AND l.kit = k.number AND l.part = k.part
	WHERE (k.state, k.holder, k.since, k.due, k.cases) IS DISTINCT FROM (l.to_state, l.holder, l.since, l.due, l.cases)
	ORDER BY k.drive_id, k.number, k.part`

// checkKitSteps holds that each entry of a kit goes on from where the one before left it.
const checkKitSteps = `SELECT drive_id, format('kit %s-%s: an entry goes on from %s, the one before left it %s', kit, part, from_state, before) AS what
	FROM (
		SELECT drive_id, kit, part, id, from_state, lag(to_state, 1, 'born') OVER (PARTITION BY drive_id, kit, part ORDER BY id) AS before
		FROM kit_entries) steps
	WHERE from_state <> before
	ORDER BY drive_id, kit, part, id`

// checkKitHolds holds that the pillowcases of a kit are as many as it says, and
// stand where kits of its place have them. What came back keeps its kit on its
// whole way; what was taken apart holds nothing.
const checkKitHolds = `WITH held AS (
		SELECT drive_id, kit, part, sum(n) FILTER (WHERE state <> 'withdrawn uncut') AS n,
			array_agg(DISTINCT state ORDER BY state) FILTER (WHERE n > 0) AS states
		FROM case_balances WHERE kit > 0 GROUP BY 1, 2, 3)
	SELECT k.drive_id, format('kit %s-%s is %s and says that it holds %s; by the ledger of pillowcases it has %s: %s', k.number, k.part, k.state, k.cases,
		coalesce(h.n, 0), coalesce(array_to_string(h.states, ', '), 'none')) AS what
	FROM kits k LEFT JOIN held h ON h.drive_id = k.drive_id AND h.kit = k.number AND h.part = k.part
	WHERE k.cases <> coalesce(h.n, 0) OR NOT coalesce(h.states, '{}') <@ CASE
		WHEN k.state IN ('planned', 'on the table') THEN ARRAY['planned']
		WHEN k.state IN ('cut', 'ready', 'found') THEN ARRAY['cut']
		WHEN k.state = 'out' THEN ARRAY['out', 'to mend']
		WHEN k.state = 'lost' THEN ARRAY['lost']
		WHEN k.state = 'taken apart' THEN ARRAY['withdrawn uncut']
		ELSE ARRAY['sewn', 'good', 'to mend', 'not usable', 'packed', 'delivered', 'confirmed', 'not received'] END
	ORDER BY k.drive_id, k.number, k.part`

// checkCases holds every balance of pillowcases against their entries.
const checkCases = `WITH said AS (
		SELECT e.drive_id, m.asked, e.size, m.kit, m.part, m.state, sum(m.n) AS n
		FROM case_entries e, LATERAL (VALUES (e.to_asked, e.to_kit, e.to_part, e.to_state, e.n), (e.asked, e.kit, e.part, e.from_state, -e.n))
			AS m (asked, kit, part, state, n)
		WHERE m.state <> 'born'
		GROUP BY 1, 2, 3, 4, 5, 6)
	SELECT drive_id, format('pillowcases of line %s, size %s, kit %s-%s, %s: the balance is %s, the entries say %s', asked, size, kit, part, state,
		coalesce(b.n, 0), coalesce(s.n, 0)) AS what
	FROM case_balances b FULL JOIN said s USING (drive_id, asked, size, kit, part, state)
	WHERE coalesce(b.n, 0) <> coalesce(s.n, 0)
	ORDER BY drive_id, asked, size, kit, part, state`

// checkBoxes holds what lies in a box, and what became of it, against the entries
// that name the box.
const checkBoxes = `WITH said AS (
		SELECT drive_id, box, asked, size, kit, part,
			sum(CASE WHEN to_state = 'packed' AND from_state <> 'delivered' THEN n ELSE 0 END) AS packed,
			sum(CASE WHEN from_state = 'packed' AND to_state <> 'delivered' THEN n ELSE 0 END) AS unpacked,
			sum(CASE WHEN (from_state, to_state) = ('packed', 'delivered') THEN n WHEN (from_state, to_state) = ('delivered', 'packed') THEN -n ELSE 0 END) AS sent,
			sum(CASE WHEN to_state = 'confirmed' THEN n WHEN from_state = 'confirmed' THEN -n ELSE 0 END) AS confirmed,
			sum(CASE WHEN to_state = 'not received' THEN n WHEN from_state = 'not received' THEN -n ELSE 0 END) AS missing,
			sum(CASE WHEN from_state = 'delivered' AND to_state IN ('good', 'sewn') THEN n ELSE 0 END) AS returned
		FROM case_entries WHERE box IS NOT NULL GROUP BY 1, 2, 3, 4, 5, 6),
	kept AS (
		SELECT l.drive_id, l.box, l.asked, l.size, l.kit, l.part, sum(l.n) AS packed, sum(CASE WHEN b.emptied THEN l.n ELSE 0 END) AS unpacked,
			sum(CASE WHEN d.sent_on IS NOT NULL THEN l.n ELSE 0 END) AS sent, sum(l.confirmed) AS confirmed, sum(l.missing) AS missing, sum(l.returned) AS returned
		FROM box_lines l JOIN boxes b ON b.drive_id = l.drive_id AND b.number = l.box
		LEFT JOIN deliveries d ON d.drive_id = b.drive_id AND d.number = b.delivery GROUP BY 1, 2, 3, 4, 5, 6)
	SELECT drive_id, format('box %s, line %s, size %s, kit %s-%s: packed, unpacked, sent, confirmed, missing and returned are %s, the entries say %s', box, asked, size, kit, part,
		ROW(k.packed, k.unpacked, k.sent, k.confirmed, k.missing, k.returned), ROW(s.packed, s.unpacked, s.sent, s.confirmed, s.missing, s.returned)) AS what
	FROM kept k FULL JOIN said s USING (drive_id, box, asked, size, kit, part)
	WHERE (k.packed, k.unpacked, k.sent, k.confirmed, k.missing, k.returned) IS DISTINCT FROM (s.packed, s.unpacked, s.sent, s.confirmed, s.missing, s.returned)
	ORDER BY drive_id, box, asked, size, kit, part`

// checkCounters holds that no number was given beyond its counter, which would
// give it a second time.
const checkCounters = `WITH given AS (
		SELECT 'lot' AS kind, drive_id, max(number) AS number FROM lots GROUP BY 2
		UNION ALL SELECT 'kit', drive_id, max(number) FROM kits GROUP BY 2
		UNION ALL SELECT 'sheet', drive_id, max(number) FROM sheets GROUP BY 2
		UNION ALL SELECT 'plan', drive_id, max(number) FROM plans GROUP BY 2
		UNION ALL SELECT 'box', drive_id, max(number) FROM boxes GROUP BY 2
		UNION ALL SELECT 'delivery', drive_id, max(number) FROM deliveries GROUP BY 2
		UNION ALL SELECT 'donor', drive_id, max(number) FROM donors GROUP BY 2
		UNION ALL SELECT 'person', drive_id, max(number) FROM people GROUP BY 2
		UNION ALL SELECT 'recipient', drive_id, max(number) FROM recipients GROUP BY 2
		UNION ALL SELECT 'size', drive_id, max(number) FROM sizes GROUP BY 2
		UNION ALL SELECT 'stocktake', drive_id, max(number) FROM stocktakes GROUP BY 2
		UNION ALL SELECT 'supply', drive_id, max(number) FROM supplies GROUP BY 2
		UNION ALL SELECT 'deed', drive_id, max(number) FROM fabric_deeds GROUP BY 2
		UNION ALL SELECT 'thanks', drive_id, max(number) FROM thanks GROUP BY 2
		UNION ALL SELECT 'label paper', drive_id, max(number) FROM label_papers GROUP BY 2
		UNION ALL SELECT 'label print', drive_id, max(number) FROM label_prints GROUP BY 2
		UNION ALL SELECT 'check', drive_id, max(number) FROM checks GROUP BY 2
		UNION ALL SELECT 'laundry', drive_id, max(number) FROM laundry GROUP BY 2
		UNION ALL SELECT 'hours', drive_id, max(number) FROM hours GROUP BY 2
		UNION ALL SELECT 'reminder', drive_id, max(number) FROM reminders GROUP BY 2
		UNION ALL SELECT 'rule', drive_id, max(number) FROM lot_rules GROUP BY 2
		UNION ALL SELECT 'standing', drive_id, max(number) FROM standing_asks GROUP BY 2
		UNION ALL SELECT 'invite', drive_id, max(number) FROM invites GROUP BY 2
		UNION ALL SELECT 'pass', drive_id, max(number) FROM passes GROUP BY 2
		UNION ALL SELECT 'upload', drive_id, max(number) FROM uploads GROUP BY 2
		UNION ALL SELECT 'import', drive_id, max(number) FROM imports GROUP BY 2
		UNION ALL SELECT 'asked', drive_id, max(number) FROM asked GROUP BY 2)
	SELECT g.drive_id, format('the highest %s is %s, its counter stands at %s', g.kind, g.number, coalesce(c.last, 0)) AS what
	FROM given g LEFT JOIN counters c ON c.drive_id = g.drive_id AND c.kind = g.kind
	WHERE g.number > coalesce(c.last, 0)
	ORDER BY g.drive_id, g.kind`
