package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// KitsQuery is how a list of kits is looked at.
type KitsQuery struct {
	Q      string // a kit's number, or part of a holder's, size's or recipient's name
	Where  KitsWhere
	Holder int64  // 0: everybody
	Sort   string // number, holder, due, since, cases, size, for, needed, state; anything else is number
	Desc   bool
	Limit  int // 0: all
	Offset int
	Today  time.Time
}

// KitsWhere narrows a list of kits by where they are.
type KitsWhere string

// The usual list is who has which.
const (
	KitsOut      KitsWhere = "out"
	KitsLate     KitsWhere = "late"
	KitsDueSoon  KitsWhere = "due soon"
	KitsInHouse  KitsWhere = "here" // cut, ready or found: can be handed out
	KitsComing   KitsWhere = "to cut"
	KitsBack     KitsWhere = "back"
	KitsLost     KitsWhere = "lost"
	KitsAnywhere KitsWhere = "all"
)

// Held says whether every kit that is there is with somebody.
func (w KitsWhere) Held() bool { return w == KitsOut || w == KitsLate || w == KitsDueSoon }

// KitLine is one part of a kit with what people read beside it.
type KitLine struct {
	drive.Kit
	SizeName  string     `db:"size_name"`
	ForWhom   string     `db:"for_whom"` // the recipient; empty: not promised yet
	Recipient *int64     `db:"recipient"`
	NeededBy  *time.Time `db:"needed_by"` // when the recipient's line is due
}

// KitsList is one page of the list with the totals of all that match.
type KitsList struct {
	Kits  []KitLine
	Total int // kits that match
	Cases int
	Late  int
}

// Kits gives kits by where they are.
func (s *Store) Kits(ctx context.Context, driveID string, k KitsQuery) (KitsList, error) {
	where, args := k.wanted(driveID)
	totals := `SELECT count(*) AS all_kits, coalesce(sum(k.cases), 0) AS all_cases, count(*) FILTER (WHERE k.state = 'out' AND k.due < $2) AS all_late`
	from := ` FROM kits k`
	if k.Q != "" {
		from = kitLineFrom
	}
	page := `SELECT ` + kitLineColumns + kitLineFrom + where + ` ORDER BY ` + kitsOrder(k.Sort, k.Desc)
	if k.Limit > 0 {
		// Postgres plans for a limit that stands there, not for one it is told later.
		page += fmt.Sprintf(` LIMIT %d`, k.Limit)
	}
	args = append(args, k.Offset)
	q := fmt.Sprintf(`SELECT f.*, t.* FROM (%s) t
		CROSS JOIN (SELECT *, row_number() OVER () AS at FROM (%s OFFSET $%d) page) f ORDER BY f.at`, totals+from+where, page, len(args))
	rows, err := s.pool.Query(ctx, q, args...)
	if err != nil {
		return KitsList{}, fmt.Errorf("kits: %w", err)
	}
	type row struct {
		KitLine
		At       int `db:"at"` // its place on the page
		AllKits  int `db:"all_kits"`
		AllCases int `db:"all_cases"`
		AllLate  int `db:"all_late"`
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByName[row])
	if err != nil {
		return KitsList{}, fmt.Errorf("kits: %w", err)
	}
	list := KitsList{Kits: make([]KitLine, len(found))}
	for i, r := range found {
		list.Kits[i] = r.KitLine
		list.Total, list.Cases, list.Late = r.AllKits, r.AllCases, r.AllLate
	}
	return list, nil
}

// KitsHeld gives the kits that somebody has out, the most urgent first.
func (s *Store) KitsHeld(ctx context.Context, driveID string, holder int64) ([]KitLine, error) {
	const q = `SELECT ` + kitLineColumns + kitLineFrom + ` WHERE k.drive_id = $1 AND k.holder = $2 AND k.state = 'out'
		ORDER BY k.due NULLS LAST, k.number, k.part`
	rows, err := s.pool.Query(ctx, q, driveID, holder)
	if err != nil {
		return nil, fmt.Errorf("kits that somebody has: %w", err)
	}
	return collect(rows, "kits that somebody has", pgx.RowToStructByName[KitLine])
}

// The last part of a number, when some of a kit moved and what a lost one was out for are for decisions
// alone, and dear to find for every row of a list.
const kitLineColumns = kitFields + `, 0 AS last_part, NULL::date AS moved, false AS mending, z.name AS size_name, coalesce(r.name, '') AS for_whom, a.recipient, a.due AS needed_by`

const kitLineFrom = ` FROM kits k
	JOIN sizes z ON z.drive_id = k.drive_id AND z.number = k.size
	LEFT JOIN people p ON p.drive_id = k.drive_id AND p.number = k.holder
	LEFT JOIN asked a ON a.drive_id = k.drive_id AND a.number = k.asked
	LEFT JOIN recipients r ON r.drive_id = a.drive_id AND r.number = a.recipient`

// wanted says which kits k match, and gives what that asks for: the drive and today first. What is
// left open does not stand there, so that kits of a place are found by its index.
func (k KitsQuery) wanted(driveID string) (where string, args []any) {
	where, args = ` WHERE k.drive_id = $1`, []any{driveID, k.Today}
	switch k.Where {
	case KitsOut:
		where += ` AND k.state = 'out'`
	case KitsLate:
		where += ` AND k.state = 'out' AND k.due < $2`
	case KitsDueSoon:
		where += fmt.Sprintf(` AND k.state = 'out' AND k.due BETWEEN $2 AND $2::date + %d`, drive.DueSoonDays)
	case KitsInHouse:
		where += ` AND k.state IN ('cut', 'ready', 'found')`
	case KitsComing:
		where += ` AND k.state IN ('planned', 'on the table')`
	case KitsBack:
		where += ` AND k.state = 'back'`
	case KitsLost:
		where += ` AND k.state = 'lost'`
	}
	if k.Holder != 0 {
		args = append(args, k.Holder)
		where += fmt.Sprintf(` AND k.holder = $%d`, len(args))
	}
	if k.Q == "" {
		return where, args
	}
	args = append(args, k.Q)
	found := fmt.Sprintf(`holds(concat_ws(E'\n', p.name, z.name, r.name), $%d)`, len(args))
	if ref, err := drive.ParseKitName(k.Q); err == nil {
		args = append(args, ref.Number)
		one := fmt.Sprintf(`k.number = $%d`, len(args))
		if ref.String() == k.Q && ref.Part > 1 { // "107" finds all its parts
			args = append(args, ref.Part)
			one += fmt.Sprintf(` AND k.part = $%d`, len(args))
		}
		found = one + ` OR ` + found
	}
	return where + ` AND (` + found + `)`, args
}

// kitsOrder gives the order for a sort that a page offers.
func kitsOrder(sort string, desc bool) string {
	way := ""
	if desc {
		way = " DESC"
	}
	const last = `k.number, k.part`
	switch sort {
	case "holder":
		return `lower(p.name)` + way + ` NULLS LAST, k.holder, k.due NULLS LAST, ` + last
	case "due", "since":
		return `k.` + sort + way + ` NULLS LAST, ` + last
	case "cases":
		return `k.cases` + way + `, ` + last
	case "size":
		return `lower(z.name)` + way + `, ` + last
	case "for":
		return `lower(r.name)` + way + ` NULLS LAST, ` + last
	case "needed":
		return `a.due` + way + ` NULLS LAST, ` + last
	case "state":
		return `k.state` + way + `, ` + last
	}
	return `k.number` + way + `, k.part`
}
