package postgres

// booksAskedChanges gives what changed of lines, recipients and standing requests in the
// period, as the trail has it: a row for each field. Sizes are told by their names; what a
// line weighs follows from how it matters.
const booksAskedChanges = `SELECT (a.at AT TIME ZONE $4)::date AS day, a.kind, a.subject::bigint AS number,
		coalesce(r.name, '') AS recipient, a.act, coalesce(f.key, '') AS field,
		CASE WHEN a.act IN ('asked for', 'asked for every month', 'recipient added') THEN '' ELSE coalesce(was.said, '') END AS was, coalesce(now.said, '') AS is, coalesce(w.name, 'the program') AS by_name
	FROM audit a
	LEFT JOIN LATERAL jsonb_each(a.changes) AS f (key, value) ON true
	LEFT JOIN signers w ON w.id = a.who
	LEFT JOIN asked l ON a.kind = 'asked' AND l.drive_id = a.drive_id AND l.number::text = a.subject
	LEFT JOIN standing_asks s ON a.kind = 'standing' AND s.drive_id = a.drive_id AND s.number::text = a.subject
	LEFT JOIN recipients r ON r.drive_id = a.drive_id AND r.number = CASE a.kind WHEN 'asked' THEN l.recipient WHEN 'standing' THEN s.recipient ELSE a.subject::bigint END
	CROSS JOIN LATERAL (SELECT ` + booksSaid + ` FROM (SELECT f.value -> 'from') AS v (v)) AS was (said)
	CROSS JOIN LATERAL (SELECT ` + booksSaid + ` FROM (SELECT f.value -> 'to') AS v (v)) AS now (said)
	WHERE a.drive_id = $1 AND a.kind IN ('asked', 'recipient', 'standing')
		AND a.at >= $2::date::timestamp AT TIME ZONE $4 AND a.at < ($3::date + 1)::timestamp AT TIME ZONE $4 AND coalesce(f.key, '') NOT IN ('recipient', 'weight')
	ORDER BY a.id, f.key`

// booksSaid says the value v.v of a field f.key as people read it.
const booksSaid = `CASE
		WHEN jsonb_typeof(v.v) = 'array' AND f.key = 'sizes' THEN (SELECT string_agg(coalesce(z.name, x.x), ', ' ORDER BY x.n)
			FROM jsonb_array_elements_text(v.v) WITH ORDINALITY AS x (x, n) LEFT JOIN sizes z ON z.drive_id = a.drive_id AND z.number::text = x.x)
		WHEN jsonb_typeof(v.v) = 'array' THEN (SELECT string_agg(x.x, ', ' ORDER BY x.n) FROM jsonb_array_elements_text(v.v) WITH ORDINALITY AS x (x, n))
		WHEN jsonb_typeof(v.v) = 'string' AND v.v #>> '{}' ~ '^\d{4}-\d\d-\d\dT00:00:00Z$' THEN left(v.v #>> '{}', 10)
		WHEN jsonb_typeof(v.v) = 'null' THEN ''
		ELSE v.v #>> '{}' END`

// booksLaundry gives batches started in the period by what lies in them now. What was
// taken out of the wash before it was done is not in it.
const booksLaundry = `SELECT y.number AS batch, y.started_on, y.started_by, CASE WHEN y.done_on <= $3 THEN y.done_on END AS done_on,
		CASE WHEN y.done_on <= $3 THEN y.done_by ELSE '' END AS done_by, l.asked AS line, coalesce(r.name, 'not promised yet') AS recipient,
		z.name AS size, l.kit, l.part, sum(l.n) AS n, y.note
	FROM laundry y
	JOIN laundry_lines l ON l.drive_id = y.drive_id AND l.batch = y.number
	JOIN sizes z ON z.drive_id = l.drive_id AND z.number = l.size
	LEFT JOIN asked a ON a.drive_id = l.drive_id AND a.number = l.asked
	LEFT JOIN recipients r ON r.drive_id = l.drive_id AND r.number = a.recipient
	WHERE y.drive_id = $1 AND y.started_on BETWEEN $2 AND $3 AND y.undone_at IS NULL AND l.n > 0
	GROUP BY y.drive_id, y.number, l.asked, r.name, z.name, l.size, l.kit, l.part
	ORDER BY y.number, l.asked, l.kit, l.part, l.size`
