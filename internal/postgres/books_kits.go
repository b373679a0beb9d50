package postgres

// booksLines gives what is asked for with what stands for each line at the end of the
// last day ($2). $3: the drive's zone.
const booksLines = `WITH moves AS (
		SELECT to_asked AS asked, to_state AS state, n FROM case_entries WHERE drive_id = $1 AND day <= $2 AND to_state <> 'born'
		UNION ALL
		SELECT asked, from_state, -n FROM case_entries WHERE drive_id = $1 AND day <= $2 AND from_state <> 'born'),
	standing AS (
		SELECT asked, jsonb_object_agg(state, n) AS counts FROM (
			SELECT asked, state, sum(n) AS n FROM moves GROUP BY asked, state HAVING sum(n) <> 0) c
		GROUP BY asked)
	SELECT a.number, a.recipient AS recipient_no, r.name AS recipient,
		(SELECT coalesce(string_agg(z.name, ', ' ORDER BY z.name), '') FROM asked_sizes s JOIN sizes z ON z.drive_id = s.drive_id AND z.number = s.size
			WHERE s.drive_id = a.drive_id AND s.asked = a.number) AS sizes,
		a.due, a.matter, a.closed, a.wanted, a.note, coalesce(c.counts, '{}') AS counts
	FROM asked a
	JOIN recipients r ON r.drive_id = a.drive_id AND r.number = a.recipient
	LEFT JOIN standing c ON c.asked = a.number
	WHERE a.drive_id = $1 AND (c.asked IS NOT NULL OR (a.created_at AT TIME ZONE $3)::date <= $2)
	ORDER BY lower(r.name), a.number`

// booksHeld is every kit as it stood at the end of the last day, the parameter it is
// given. What it held then is added up from step to step, since a step may be
// written down after one that happened later. day is that of the step that brought it there:
// another day that is agreed, or a part that comes back, hands nothing out.
func booksHeld(day string) string {
	return `steps AS (
		SELECT kit, part, id, day, to_state, holder, cases - lag(cases, 1, 0) OVER (PARTITION BY kit, part ORDER BY id) AS more
		FROM kit_entries WHERE drive_id = $1),
	known AS (
		SELECT kit, part, id, day, more, (to_state, holder) IS DISTINCT FROM (lag(to_state) OVER one, lag(holder) OVER one) AS came
		FROM steps WHERE day <= ` + day + ` WINDOW one AS (PARTITION BY kit, part ORDER BY id)),
	last AS (SELECT max(id) AS id, max(id) FILTER (WHERE came) AS came, sum(more) AS cases FROM known GROUP BY kit, part),
	held AS (
		SELECT e.kit, e.part, e.to_state, e.holder, e.due, c.day, l.cases
		FROM last l JOIN kit_entries e ON e.drive_id = $1 AND e.id = l.id JOIN kit_entries c ON c.drive_id = $1 AND c.id = l.came)`
}

var booksKits = `WITH ` + booksHeld("$2") + `
	SELECT k.number, k.part, coalesce(r.name, '') AS recipient, z.name AS size, l.cases, l.to_state AS state,
		coalesce(p.name, '') AS holder, l.day AS since, l.due, k.own_fabric
	FROM held l
	JOIN kits k ON k.drive_id = $1 AND k.number = l.kit AND k.part = l.part
	JOIN sizes z ON z.drive_id = $1 AND z.number = k.size
	LEFT JOIN asked a ON a.drive_id = $1 AND a.number = k.asked
	LEFT JOIN recipients r ON r.drive_id = $1 AND r.number = a.recipient
	LEFT JOIN people p ON p.drive_id = $1 AND p.number = l.holder
	ORDER BY k.number, k.part`

const booksKitEntries = `SELECT e.id, e.day, e.kit AS number, e.part, e.from_state, e.to_state, coalesce(p.name, '') AS holder, e.due, e.cases, e.reason
	FROM kit_entries e
	LEFT JOIN people p ON p.drive_id = e.drive_id AND p.number = e.holder
	WHERE e.drive_id = $1 AND e.day BETWEEN $2 AND $3
	ORDER BY e.id`

// booksPeople gives those who sew with what they did in the period. Pillowcases count
// once, when they are sewn, mended or not. $5: how to reach them is wished for.
var booksPeople = `WITH ` + booksHeld("$3") + `,
	has AS (SELECT holder, count(*) AS kits, sum(cases) AS cases FROM held WHERE to_state = 'out' GROUP BY holder),
	gave AS (
		SELECT person, coalesce(sum(minutes) FILTER (WHERE doing = 'sewing'), 0) AS sewing, coalesce(sum(minutes) FILTER (WHERE doing = 'cutting'), 0) AS cutting,
			coalesce(sum(minutes) FILTER (WHERE doing = 'checking'), 0) AS checking, coalesce(sum(minutes) FILTER (WHERE doing = 'at the table'), 0) AS at_table,
			coalesce(sum(minutes) FILTER (WHERE doing = 'other'), 0) AS other
		FROM hours WHERE drive_id = $1 AND undone_at IS NULL AND day BETWEEN $2 AND $3 GROUP BY person),
	sewed AS (
		SELECT coalesce(o.person, e.person) AS person, sum(CASE WHEN o.id IS NULL THEN e.n ELSE -e.n END) AS sewn
		FROM case_entries e
		LEFT JOIN ` + booksUndone + ` o ON o.id = e.undoes
		WHERE e.drive_id = $1 AND e.day BETWEEN $2 AND $3 AND coalesce(o.to_state, e.to_state) = 'sewn' AND coalesce(o.from_state, e.from_state) IN ('born', 'out', 'lost')
		GROUP BY 1)
	SELECT p.number, p.name, p.kind, p.heads, p.active, coalesce(g.sewing, 0) AS sewing, coalesce(g.cutting, 0) AS cutting, coalesce(g.checking, 0) AS checking,
		coalesce(g.at_table, 0) AS at_table, coalesce(g.other, 0) AS other, coalesce(s.sewn, 0) AS sewn, coalesce(h.kits, 0) AS kits, coalesce(h.cases, 0) AS cases,
		CASE WHEN $5 THEN p.contact ELSE '' END AS contact, CASE WHEN $5 THEN p.email ELSE '' END AS email, CASE WHEN $5 THEN p.phone ELSE '' END AS phone,
		CASE WHEN $5 THEN p.address ELSE '' END AS address, CASE WHEN $5 THEN p.agreed_on END AS agreed_on
	FROM people p
	LEFT JOIN gave g ON g.person = p.number
	LEFT JOIN sewed s ON s.person = p.number
	LEFT JOIN has h ON h.holder = p.number
	WHERE p.drive_id = $1 AND (g.person IS NOT NULL OR s.person IS NOT NULL OR h.holder IS NOT NULL OR (p.created_at AT TIME ZONE $4)::date <= $3)
	ORDER BY lower(p.name), p.number`

const booksHours = `SELECT h.number, h.day, h.person AS person_no, p.name, h.doing, h.heads, h.minutes
	FROM hours h
	JOIN people p ON p.drive_id = h.drive_id AND p.number = h.person
	WHERE h.drive_id = $1 AND h.undone_at IS NULL AND h.day BETWEEN $2 AND $3
	ORDER BY h.day, h.number`
