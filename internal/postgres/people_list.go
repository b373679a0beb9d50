package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// PeopleQuery is how a list of people is looked at.
type PeopleQuery struct {
	Q        string           // in the name and the pickup place, and in contacts where Contacts says so
	Contacts bool             // whoever looks may read contacts, so the search reaches them too
	Kind     drive.PersonKind // "": every kind
	Who      PeopleWho
	Sort     string // name, kind, pickup, kits, due, done, hours; anything else is name
	Desc     bool
	Limit    int // 0: all
	Offset   int
	Today    time.Time
}

// PeopleWho narrows a list of people.
type PeopleWho string

// Those who sew at the moment are the usual list.
const (
	PeopleSewing   PeopleWho = "" // active, or still with a kit
	PeopleWithKits PeopleWho = "with kits"
	PeopleFree     PeopleWho = "without a kit"
	PeopleResting  PeopleWho = "resting"
	PeopleAll      PeopleWho = "everybody"
)

// PersonLine is one row of the list: what somebody has and has done. Pillowcases
// sewn count once, mended or not.
type PersonLine struct {
	drive.Person
	Kits  int        `db:"kits"`
	Cases int        `db:"cases"`
	Due   *time.Time `db:"due"` // the earliest of what they have
	Late  int        `db:"late"`
	Done  int        `db:"done"`
	// Minutes given, all of a group together.
	Minutes int `db:"minutes"`
}

// PeopleList is one page of the list with the totals of all that match.
type PeopleList struct {
	People []PersonLine
	Total  int // people that match
	Kits   int
	Cases  int
	Late   int
	Done   int
	// Minutes given by all of them.
	Minutes int
}

// People gives those who sew.
func (s *Store) People(ctx context.Context, driveID string, p PeopleQuery) (PeopleList, error) {
	q := peopleFound + ` ORDER BY ` + peopleOrder(p.Sort, p.Desc) + ` LIMIT nullif($7, 0) OFFSET $8`
	rows, err := s.pool.Query(ctx, q, driveID, p.Today, p.Q, p.Contacts, string(p.Kind), string(p.Who), p.Limit, p.Offset)
	if err != nil {
		return PeopleList{}, fmt.Errorf("people: %w", err)
	}
	type row struct {
		PersonLine
		AllPeople int `db:"all_people"`
		AllKits   int `db:"all_kits"`
		AllCases  int `db:"all_cases"`
		AllLate   int `db:"all_late"`
		AllDone   int `db:"all_done"`
		AllTime   int `db:"all_time"`
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByName[row])
	if err != nil {
		return PeopleList{}, fmt.Errorf("people: %w", err)
	}
	list := PeopleList{People: make([]PersonLine, len(found))}
	for i, r := range found {
		list.People[i] = r.PersonLine
		list.Total, list.Kits, list.Cases, list.Late, list.Done, list.Minutes = r.AllPeople, r.AllKits, r.AllCases, r.AllLate, r.AllDone, r.AllTime
	}
	return list, nil
}

// peopleFound: $1 drive, $2 today, $3 search, $4 whether it reaches contacts, $5 kind, $6 who.
const peopleFound = `WITH have AS (
		SELECT holder, count(*) AS kits, sum(cases) AS cases, min(due) AS due, count(*) FILTER (WHERE due < $2) AS late
		FROM kits WHERE drive_id = $1 AND state = 'out' GROUP BY holder),
	done AS (SELECT e.person, sum(e.n) AS done` + doneFrom + ` AND e.person IS NOT NULL GROUP BY e.person),
	gave AS (SELECT person, sum(minutes) AS minutes FROM hours WHERE drive_id = $1 AND undone_at IS NULL GROUP BY person)
	SELECT ` + personOf + `, coalesce(h.kits, 0) AS kits, coalesce(h.cases, 0) AS cases, h.due, coalesce(h.late, 0) AS late, coalesce(d.done, 0) AS done,
		coalesce(g.minutes, 0) AS minutes, coalesce(sum(g.minutes) OVER (), 0)::bigint AS all_time,
		count(*) OVER () AS all_people, coalesce(sum(h.kits) OVER (), 0)::bigint AS all_kits, coalesce(sum(h.cases) OVER (), 0)::bigint AS all_cases,
		coalesce(sum(h.late) OVER (), 0)::bigint AS all_late, coalesce(sum(d.done) OVER (), 0)::bigint AS all_done
	FROM people p
	LEFT JOIN have h ON h.holder = p.number
	LEFT JOIN done d ON d.person = p.number
	LEFT JOIN gave g ON g.person = p.number
	WHERE p.drive_id = $1
		AND ($3 = '' OR holds(p.name, $3) OR holds(p.pickup, $3) OR $4 AND holds(concat_ws(' ', p.contact, p.email, p.phone, p.address), $3))
		AND ($5 = '' OR p.kind = $5)
		AND CASE $6 WHEN 'everybody' THEN true WHEN 'resting' THEN NOT p.active WHEN 'with kits' THEN h.kits > 0
			WHEN 'without a kit' THEN p.active AND h.kits IS NULL ELSE p.active OR h.kits > 0 END`

// doneFrom is the pillowcases of a drive ($1) that were sewn: each once, mended or not.
const doneFrom = ` FROM case_entries e
	WHERE e.drive_id = $1 AND e.to_state = 'sewn' AND e.from_state <> 'to mend' AND e.undoes IS NULL
		AND NOT EXISTS (SELECT FROM case_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id)`

// DoneBy is how many pillowcases somebody has sewn.
func (s *Store) DoneBy(ctx context.Context, driveID string, number int64) (int, error) {
	const q = `SELECT coalesce(sum(e.n), 0)` + doneFrom + ` AND e.person = $2`
	var n int
	if err := s.pool.QueryRow(ctx, q, driveID, number).Scan(&n); err != nil {
		return 0, fmt.Errorf("done by a person: %w", err)
	}
	return n, nil
}

const personOf = `p.number, p.kind, p.name, p.pickup, p.heads, p.french_seam, p.overlocker, p.beginner, p.pace, p.language, p.smoke, p.pets, p.note, p.active, p.created_at, p.erased_at, p.version`

// peopleOrder gives the order for a sort that a page offers.
func peopleOrder(sort string, desc bool) string {
	way := ""
	if desc {
		way = " DESC"
	}
	const last = `lower(p.name), p.number`
	switch sort {
	case "kind", "pickup":
		return `lower(p.` + sort + `)` + way + `, ` + last
	case "kits":
		return `coalesce(h.kits, 0)` + way + `, ` + last
	case "due":
		return `h.due` + way + ` NULLS LAST, ` + last
	case "hours":
		return `coalesce(g.minutes, 0)` + way + `, ` + last
	case "done":
		return `coalesce(d.done, 0)` + way + `, ` + last
	}
	return `lower(p.name)` + way + `, p.number`
}

// Sewers gives everybody who may be given a kit, by name, for forms.
func (s *Store) Sewers(ctx context.Context, driveID string) ([]drive.Holder, error) {
	const q = `SELECT number, name, active FROM people WHERE drive_id = $1 AND active ORDER BY lower(name)` // which two never have alike
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("sewers: %w", err)
	}
	// Hundreds, on pages that are opened all day: columns are not looked up by name for each.
	var list []drive.Holder
	var h drive.Holder
	if _, err := pgx.ForEachRow(rows, []any{&h.Number, &h.Name, &h.Active}, func() error { list = append(list, h); return nil }); err != nil {
		return nil, fmt.Errorf("sewers: %w", err)
	}
	return list, nil
}

// PersonEvent is one thing that happened between a person and the drive: kits
// they got, another day, how a kit left them, pillowcases they brought, of which kits they were reminded.
type PersonEvent struct {
	Day    time.Time  `db:"day"`
	At     time.Time  `db:"at"`
	Kind   string     `db:"kind"` // got, to mend, longer, sewn, mended, brought in, lost, unsewn, given on, reminded by phone and the other ways
	Kit    int64      `db:"kit"`  // 0: without a kit
	Part   int        `db:"part"`
	Cases  int        `db:"cases"` // 0 of a reminder
	Due    *time.Time `db:"due"`
	Undone bool       `db:"undone"`
}

// KitName is what stands on the kit's label.
func (e PersonEvent) KitName() string { return drive.KitName(e.Kit, e.Part) }

// PersonEvents gives what happened with a person, newest first, at most limit.
// What was undone stands there as undone.
func (s *Store) PersonEvents(ctx context.Context, driveID string, number int64, limit int) ([]PersonEvent, error) {
	const q = `WITH steps AS (
			SELECT e.*, lag(e.holder) OVER kit AS had, lead(e.holder) OVER kit AS gets, lead(e.to_state) OVER kit AS goes,
				lead(e.day) OVER kit AS left_day, lead(e.at) OVER kit AS left_at, lead(e.reason) OVER kit AS why,
				coalesce(lead(e.reason, 2) OVER kit = 'undone' AND lead(e.holder, 2) OVER kit = e.holder, false) AS again
			FROM kit_entries e
			WHERE e.drive_id = $1 AND (e.kit, e.part) IN (SELECT h.kit, h.part FROM kit_entries h WHERE h.drive_id = $1 AND h.holder = $2)
			WINDOW kit AS (PARTITION BY e.kit, e.part ORDER BY e.id)),
		cases AS (
			SELECT e.day, e.at, e.id, CASE WHEN e.from_state = 'born' THEN 'brought in' WHEN e.from_state = 'to mend' THEN 'mended' ELSE 'sewn' END AS kind,
				e.to_kit AS kit, e.to_part AS part, e.n AS cases, NULL::date AS due,
				EXISTS (SELECT FROM case_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id) AS undone
			FROM case_entries e
			WHERE e.drive_id = $1 AND e.person = $2 AND e.to_state = 'sewn' AND e.undoes IS NULL)
		SELECT day, at, kind, kit, part, cases, due, undone FROM (
			SELECT day, at, id, CASE WHEN had = holder THEN 'longer' WHEN reason = 'to mend' THEN 'to mend' ELSE 'got' END AS kind,
				kit, part, cases, due, coalesce(why = 'undone' AND gets IS DISTINCT FROM holder, false) AS undone
			FROM steps WHERE holder = $2 AND reason <> 'undone' AND (had IS DISTINCT FROM holder OR reason = 'needs longer')
			UNION ALL
			SELECT left_day, left_at, id, CASE WHEN goes = 'lost' THEN 'lost' WHEN goes = 'out' THEN 'given on' ELSE 'unsewn' END,
				kit, part, cases, NULL, again
			FROM steps WHERE holder = $2 AND goes IN ('lost', 'out', 'ready') AND gets IS DISTINCT FROM holder AND why <> 'undone'
			UNION ALL
			SELECT (m.ended_at AT TIME ZONE d.zone)::date, m.ended_at, m.number, CASE m.way WHEN 'in person' THEN 'reminded in person' ELSE 'reminded by ' || m.way END, n.number, n.part, 0, NULL, false
			FROM reminders m JOIN drives d ON d.id = m.drive_id CROSS JOIN unnest(m.kits, m.parts) AS n (number, part)
			WHERE m.drive_id = $1 AND m.person = $2 AND m.state = 'sent'
			UNION ALL
			SELECT day, at, id, kind, kit, part, cases, due, undone FROM cases) all_of_it
		ORDER BY day DESC, at DESC, id DESC LIMIT $3`
	rows, err := s.pool.Query(ctx, q, driveID, number, limit)
	if err != nil {
		return nil, fmt.Errorf("what happened with a person: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[PersonEvent])
	if err != nil {
		return nil, fmt.Errorf("what happened with a person: %w", err)
	}
	return list, nil
}
