package postgres

// booksUndone is the entries of a drive ($1) that others take back: few, so that to look
// for them costs little beside all the entries that take back nothing.
const booksUndone = `(
		SELECT o.id, o.person, o.asked, o.kit, o.part, o.from_state, o.to_asked, o.to_kit, o.to_part, o.to_state, o.reason, o.box, o.delivery
		FROM case_entries e JOIN case_entries o ON o.drive_id = e.drive_id AND o.id = e.undoes
		WHERE e.drive_id = $1 AND e.undoes IS NOT NULL)`

// booksSteps is what happened to pillowcases until the last day ($3) of a drive ($1), added
// up by the way they went, before the period (from $2) and in it: a counter-entry is the step
// it takes back, below zero. There are few ways and many entries, so what follows is cheap.
const booksSteps = `steps AS (
		SELECT e.day >= $2 AS now, e.size, coalesce(o.asked, e.asked) AS asked, coalesce(o.to_asked, e.to_asked) AS to_asked,
			coalesce(o.from_state, e.from_state) AS was, coalesce(o.to_state, e.to_state) AS came_to, sum(CASE WHEN o.id IS NULL THEN e.n ELSE -e.n END)::int AS n
		FROM case_entries e
		LEFT JOIN ` + booksUndone + ` o ON o.id = e.undoes
		WHERE e.drive_id = $1 AND e.day <= $3
		GROUP BY 1, 2, 3, 4, 5, 6)`

// booksCases gives the account of each line and size from $2 on: each step touches the
// line it leads to and the one it comes from. $4: the states that count towards what
// was asked for.
const booksCases = `WITH ` + booksSteps + `,
	sides AS (
		SELECT to_asked AS asked, size, now, true AS comes, was, came_to, came_to AS state, n, asked <> to_asked AS moved FROM steps
		UNION ALL
		SELECT asked, size, now, false, was, came_to, was, -n, asked <> to_asked FROM steps WHERE was <> 'born'),
	standing AS (
		SELECT asked, size, jsonb_object_agg(state, n) AS counts FROM (
			SELECT asked, size, state, sum(n) AS n FROM sides WHERE state <> 'born' GROUP BY asked, size, state HAVING sum(n) <> 0) c
		GROUP BY asked, size),
	account AS (
		SELECT asked, size,
			sum(n) FILTER (WHERE NOT now AND state = ANY($4)) AS opening,
			sum(n) FILTER (WHERE now AND comes AND was = 'born' AND came_to = 'planned') AS planned,
			sum(n) FILTER (WHERE now AND comes AND was = 'born' AND came_to <> 'planned' AND came_to = ANY($4)) AS brought,
			sum(n) FILTER (WHERE now AND comes AND was <> 'born' AND was <> ALL($4) AND came_to = ANY($4)) AS found_again,
			sum(n) FILTER (WHERE now AND comes AND was = ANY($4) AND came_to = ANY($4) AND moved) AS moved_in,
			-sum(n) FILTER (WHERE now AND NOT comes AND was = ANY($4) AND came_to = ANY($4) AND moved) AS moved_out,
			-sum(n) FILTER (WHERE now AND NOT comes AND was = ANY($4) AND came_to = 'not usable') AS not_usable,
			-sum(n) FILTER (WHERE now AND NOT comes AND was = ANY($4) AND came_to = 'lost') AS lost,
			-sum(n) FILTER (WHERE now AND NOT comes AND was = ANY($4) AND came_to = 'withdrawn uncut') AS withdrawn,
			-sum(n) FILTER (WHERE now AND NOT comes AND was = ANY($4) AND came_to = 'not received') AS not_received,
			sum(n) FILTER (WHERE now AND comes AND came_to = 'sewn' AND was IN ('born', 'out', 'lost')) AS came_in,
			sum(n) FILTER (WHERE now AND comes AND came_to = 'good' AND was = 'sewn') AS good,
			sum(CASE WHEN (was, came_to) = ('packed', 'delivered') THEN n WHEN (was, came_to) = ('delivered', 'packed') THEN -n END) FILTER (WHERE now AND comes) AS sent,
			sum(CASE WHEN came_to = 'confirmed' THEN n WHEN was = 'confirmed' THEN -n END) FILTER (WHERE now AND comes) AS confirmed
		FROM sides GROUP BY asked, size),
	lines AS (SELECT asked, size FROM asked_sizes WHERE drive_id = $1 UNION SELECT asked, size FROM account)
	SELECT l.asked AS number, coalesce(a.recipient, 0) AS recipient_no, coalesce(r.name, 'not promised yet') AS recipient, z.name AS size,
		coalesce(c.opening, 0) AS opening, coalesce(c.planned, 0) AS planned, coalesce(c.brought, 0) AS brought, coalesce(c.found_again, 0) AS found_again,
		coalesce(c.moved_in, 0) AS moved_in, coalesce(c.moved_out, 0) AS moved_out, coalesce(c.not_usable, 0) AS not_usable, coalesce(c.lost, 0) AS lost,
		coalesce(c.withdrawn, 0) AS withdrawn, coalesce(c.not_received, 0) AS not_received, coalesce(s.counts, '{}') AS counts,
		coalesce(c.came_in, 0) AS came_in, coalesce(c.good, 0) AS good, coalesce(c.sent, 0) AS sent, coalesce(c.confirmed, 0) AS confirmed
	FROM lines l
	JOIN sizes z ON z.drive_id = $1 AND z.number = l.size
	LEFT JOIN asked a ON a.drive_id = $1 AND a.number = l.asked
	LEFT JOIN recipients r ON r.drive_id = $1 AND r.number = a.recipient
	LEFT JOIN standing s ON s.asked = l.asked AND s.size = l.size
	LEFT JOIN account c ON c.asked = l.asked AND c.size = l.size
	ORDER BY l.asked = 0, r.name, l.asked, z.name, l.size`

// booksCaseStates gives what came to and left each state of a line and size. States
// that nothing ever stood in are left out.
const booksCaseStates = `WITH ` + booksSteps + `,
	sides AS (
		SELECT to_asked AS asked, size, now, came_to AS state, n AS came, 0 AS went FROM steps
		UNION ALL
		SELECT asked, size, now, was, 0, n FROM steps),
	account AS (
		SELECT asked, size, state, sum(came - went) FILTER (WHERE NOT now) AS opening, sum(came) FILTER (WHERE now) AS came,
			sum(went) FILTER (WHERE now) AS went, sum(came - went) AS closing
		FROM sides WHERE state <> 'born' GROUP BY asked, size, state)
	SELECT c.asked AS number, coalesce(r.name, 'not promised yet') AS recipient, z.name AS size, c.state, coalesce(c.opening, 0) AS opening,
		coalesce(c.came, 0) AS came, coalesce(c.went, 0) AS left_it, c.closing
	FROM account c
	JOIN sizes z ON z.drive_id = $1 AND z.number = c.size
	LEFT JOIN asked a ON a.drive_id = $1 AND a.number = c.asked
	LEFT JOIN recipients r ON r.drive_id = $1 AND r.number = a.recipient
	ORDER BY c.asked = 0, r.name, c.asked, z.name, c.size, array_position(ARRAY['planned', 'cut', 'out', 'sewn', 'to mend', 'good', 'packed', 'delivered', 'confirmed'], c.state), c.state`

// booksCaseEntries gives the entries of the period as they were written. A
// counter-entry is told as what it takes back, below zero.
const booksCaseEntries = `SELECT e.id, e.day, z.name AS size, coalesce(o.to_asked, e.to_asked) AS line,
		CASE WHEN coalesce(o.from_state, e.from_state) <> 'born' AND coalesce(o.asked, e.asked) <> coalesce(o.to_asked, e.to_asked) THEN coalesce(o.asked, e.asked) END AS from_line,
		coalesce(o.to_kit, e.to_kit) AS kit, coalesce(o.to_part, e.to_part) AS part, coalesce(o.from_state, e.from_state) AS from_state,
		coalesce(o.to_state, e.to_state) AS to_state, CASE WHEN o.id IS NULL THEN e.n ELSE -e.n END AS n, coalesce(p.name, '') AS person,
		e.box, e.delivery, e.undoes AS takes_back, e.reason, coalesce(t.note, '') AS note
	FROM case_entries e
	JOIN sizes z ON z.drive_id = e.drive_id AND z.number = e.size
	LEFT JOIN case_notes t ON t.drive_id = e.drive_id AND t.entry = e.id
	LEFT JOIN ` + booksUndone + ` o ON o.id = e.undoes
	LEFT JOIN people p ON p.drive_id = e.drive_id AND p.number = coalesce(o.person, e.person)
	WHERE e.drive_id = $1 AND e.day BETWEEN $2 AND $3
	ORDER BY e.id`

// booksChecks gives what was found of pillowcases in the period, as the ledger has it,
// with what the checking table noted beside. What was undone stands below zero.
const booksChecks = `SELECT coalesce(c.number, 0) AS number, e.id AS entry, e.day, coalesce(o.asked, e.asked) AS line, z.name AS size,
		coalesce(o.kit, e.kit) AS kit, coalesce(o.part, e.part) AS part, coalesce(o.to_state, e.to_state) AS result,
		CASE WHEN o.id IS NULL THEN e.n ELSE -e.n END AS n, coalesce(array_to_string(l.reasons, ', '), o.reason, e.reason) AS reasons,
		c.width, c.length, coalesce(c.initials, '') AS initials, e.undoes AS takes_back, coalesce(c.note, '') AS note
	FROM case_entries e
	JOIN sizes z ON z.drive_id = e.drive_id AND z.number = e.size
	LEFT JOIN ` + booksUndone + ` o ON o.id = e.undoes
	LEFT JOIN check_lines l ON l.drive_id = e.drive_id AND l.entry = coalesce(o.id, e.id)
	LEFT JOIN checks c ON c.drive_id = l.drive_id AND c.number = l."check"
	WHERE e.drive_id = $1 AND e.day BETWEEN $2 AND $3 AND coalesce(o.from_state, e.from_state) = 'sewn'
		AND coalesce(o.to_state, e.to_state) IN ('good', 'to mend', 'not usable')
	ORDER BY e.id`

// booksReasons adds up what was wrong with pillowcases by its reason. One pillowcase
// may have several.
const booksReasons = `SELECT r.reason, sum(s.n) FILTER (WHERE s.result = 'to mend') AS to_mend, sum(s.n) FILTER (WHERE s.result = 'not usable') AS not_usable
	FROM (
		SELECT coalesce(o.to_state, e.to_state) AS result, CASE WHEN o.id IS NULL THEN e.n ELSE -e.n END AS n,
			coalesce(nullif(l.reasons, '{}'), ARRAY[coalesce(nullif(coalesce(o.reason, e.reason), ''), 'not said')]) AS reasons
		FROM case_entries e
		LEFT JOIN ` + booksUndone + ` o ON o.id = e.undoes
		LEFT JOIN check_lines l ON l.drive_id = e.drive_id AND l.entry = coalesce(o.id, e.id)
		WHERE e.drive_id = $1 AND e.day BETWEEN $2 AND $3 AND coalesce(o.from_state, e.from_state) = 'sewn'
			AND coalesce(o.to_state, e.to_state) IN ('to mend', 'not usable')) s
	CROSS JOIN LATERAL unnest(s.reasons) AS r (reason)
	GROUP BY r.reason HAVING sum(s.n) <> 0
	ORDER BY sum(s.n) DESC, r.reason`

// booksSent is what happened to what deliveries took, until the last day ($3).
const booksSent = `sent AS (
		SELECT e.day, coalesce(o.delivery, e.delivery) AS delivery, coalesce(o.box, e.box) AS box, coalesce(o.to_asked, e.to_asked) AS line, e.size,
			coalesce(o.from_state, e.from_state) AS was, coalesce(o.to_state, e.to_state) AS came_to, CASE WHEN o.id IS NULL THEN e.n ELSE -e.n END AS n
		FROM case_entries e
		LEFT JOIN ` + booksUndone + ` o ON o.id = e.undoes
		WHERE e.drive_id = $1 AND e.day <= $3 AND coalesce(o.delivery, e.delivery) IS NOT NULL)`

// booksSums are the counts of a delivery or a box over the rows of sent: what was
// sent before the period (from $2) and in it, less what was taken back from its way, and
// what was confirmed, settled as not received or sent back of it until the last day. Each
// may be settled otherwise later. Both of what was sent are needed to say what is open:
// what is settled in a month may have left in another.
const booksSums = `coalesce(sum(` + booksLeaves + `) FILTER (WHERE e.day < $2), 0) AS sent_before,
		coalesce(sum(` + booksLeaves + `) FILTER (WHERE e.day >= $2), 0) AS sent,
		coalesce(sum(CASE WHEN e.came_to = 'confirmed' THEN e.n WHEN e.was = 'confirmed' THEN -e.n END), 0) AS confirmed,
		coalesce(sum(CASE WHEN e.came_to = 'not received' THEN e.n WHEN e.was = 'not received' THEN -e.n END), 0) AS missing,
		coalesce(sum(e.n) FILTER (WHERE e.was IN ('delivered', 'confirmed', 'not received') AND e.came_to NOT IN ('delivered', 'confirmed', 'not received', 'packed')), 0) AS sent_back`

// booksLeaves is how many pillowcases a row of sent put on their way; below zero, took back from it.
const booksLeaves = `CASE WHEN (e.was, e.came_to) = ('packed', 'delivered') THEN e.n WHEN (e.was, e.came_to) = ('delivered', 'packed') THEN -e.n END`

// booksLeft are the deliveries that left, or were taken back from their way, in the period.
const booksLeft = `deliveries_left AS (
		SELECT delivery, min(day) AS day FROM sent WHERE (was, came_to) IN (('packed', 'delivered'), ('delivered', 'packed')) AND day >= $2 GROUP BY delivery)`

// booksDeliveries gives the deliveries sent in the period, with what was
// confirmed or settled of them until its last day. Boxes that were taken back from their way
// are none of its boxes: they leave again with another.
const booksDeliveries = `WITH ` + booksSent + `, ` + booksLeft + `,
	boxed AS (
		SELECT delivery, count(*) AS boxes FROM (
			SELECT e.delivery, e.box FROM sent e GROUP BY e.delivery, e.box HAVING sum(` + booksLeaves + `) > 0) b
		GROUP BY delivery)
	SELECT d.number, r.name AS recipient, coalesce(d.sent_on, m.day) AS sent_on, d.carried_by, d.note,
		coalesce(x.boxes, 0) AS boxes, ` + booksSums + `,
		CASE WHEN d.confirmed_on <= $3 THEN d.confirmed_on END AS confirmed_on,
		CASE WHEN d.confirmed_on <= $3 THEN d.confirmed_by ELSE '' END AS confirmed_by
	FROM deliveries_left m
	JOIN deliveries d ON d.drive_id = $1 AND d.number = m.delivery
	JOIN recipients r ON r.drive_id = d.drive_id AND r.number = d.recipient
	JOIN sent e ON e.delivery = d.number
	LEFT JOIN boxed x ON x.delivery = d.number
	GROUP BY d.drive_id, d.number, m.day, x.boxes, r.name, d.sent_on, d.carried_by, d.confirmed_on, d.confirmed_by, d.note
	ORDER BY d.number`

// booksBoxes gives what the boxes of those deliveries brought, by the ledger.
const booksBoxes = `WITH ` + booksSent + `, ` + booksLeft + `
	SELECT e.box, m.delivery, r.name AS recipient, e.line, z.name AS size, b.packed_by, b.checked_by, ` + booksSums + `
	FROM deliveries_left m
	JOIN sent e ON e.delivery = m.delivery
	JOIN boxes b ON b.drive_id = $1 AND b.number = e.box
	JOIN recipients r ON r.drive_id = $1 AND r.number = b.recipient
	JOIN sizes z ON z.drive_id = $1 AND z.number = e.size
	GROUP BY e.box, m.delivery, r.name, e.line, z.name, e.size, b.packed_by, b.checked_by
	ORDER BY m.delivery, e.box, e.line, z.name, e.size`
