package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// TrailQuery is how the audit trail of a drive is looked at.
type TrailQuery struct {
	Q     string // in what was done, what to, what changed, and in the names of people
	By    TrailBy
	Kind  string // of the thing; "": every kind
	Which string // which one: a number, or a kit with all its parts; "": every one
	// From and Until are the first moment and the first one after; zero for without end.
	From, Until time.Time
	Limit       int // 0: all
	Offset      int
	Before      int64 // entries older than this one alone; 0: all
}

// TrailBy says by whom: an account's number, or one of those below. The zero value is anybody.
type TrailBy int64

// Who does things without signing in: by personal links, and at the command line
// or in background work.
const (
	TrailByLink    TrailBy = -1
	TrailByProgram TrailBy = -2
)

// TrailAccount is somebody who signs in and stands in a trail.
type TrailAccount struct {
	ID   int64  `db:"id"`
	Name string `db:"name"`
}

// trailWhere: $1 drive, $2 search, $3 by, $4 kind, $5 which, $6 from, $7 until, $8 before.
const trailWhere = `
	AND ($2 = '' OR strpos(lower(concat_ws(' ', a.act, a.kind, a.subject, a.request, a.changes::text)), lower($2)) > 0
		OR a.who IN (SELECT id FROM signers WHERE strpos(lower(concat_ws(' ', name, initials)), lower($2)) > 0)
		OR (a.kind, a.subject) IN (SELECT kind, which FROM named) OR a.link IN (SELECT kind || ' ' || which FROM named)
		OR EXISTS (SELECT FROM named n WHERE a.changes -> n.kind ->> 'to' = n.which OR a.changes -> n.kind ->> 'from' = n.which))
	AND CASE WHEN $3 = 0 THEN true WHEN $3 = -1 THEN a.link <> '' WHEN $3 = -2 THEN a.who = 0 AND a.link = '' ELSE a.who = $3 END
	AND ($4 = '' OR a.kind = $4)
	AND ($5 = '' OR a.subject = $5 OR a.kind = 'kit' AND starts_with(a.subject, $5 || '-'))
	AND ($6::timestamptz IS NULL OR a.at >= $6) AND ($7::timestamptz IS NULL OR a.at < $7)
	AND ($8 = 0 OR a.id < $8)`

// trailOfDrive and trailOfPeople are the two parts of a drive's trail: what was done
// in it, and what befell the accounts of those who work for it.
const (
	trailOfDrive  = `a.drive_id = $1` + trailWhere
	trailOfPeople = `a.drive_id = '' AND a.kind = 'account' AND a.subject IN (SELECT account_id::text FROM memberships WHERE drive_id = $1)` + trailWhere
)

// trailNamed are the people, donors, recipients and sizes that a search names.
const trailNamed = `WITH named AS MATERIALIZED (
	SELECT kind, number::text AS which FROM (
		SELECT 'person' AS kind, number, name FROM people WHERE drive_id = $1 UNION ALL SELECT 'donor', number, name FROM donors WHERE drive_id = $1
		UNION ALL SELECT 'recipient', number, name FROM recipients WHERE drive_id = $1 UNION ALL SELECT 'size', number, name FROM sizes WHERE drive_id = $1) x
	WHERE $2 <> '' AND holds(name, $2))`

// Trail gives the entries of a drive's audit trail, newest first.
func (s *Store) Trail(ctx context.Context, driveID string, p TrailQuery) ([]drive.TrailEntry, error) {
	const columns = `a.id, a.at, a.who, coalesce((SELECT w.initials FROM signers w WHERE w.id = a.who), '') AS initials, a.link, a.request, a.act, a.kind, a.subject, a.changes`
	const q = trailNamed + `
		(SELECT ` + columns + ` FROM audit a WHERE ` + trailOfDrive + ` ORDER BY a.drive_id, a.id DESC LIMIT nullif($9::bigint, 0) + $10)
		UNION ALL
		(SELECT ` + columns + ` FROM audit a WHERE ` + trailOfPeople + ` ORDER BY a.drive_id, a.id DESC LIMIT nullif($9::bigint, 0) + $10)
		ORDER BY id DESC LIMIT nullif($9::bigint, 0) OFFSET $10`
	rows, err := s.pool.Query(ctx, q, append(p.where(driveID), p.Limit, p.Offset)...)
	if err != nil {
		return nil, fmt.Errorf("trail: %w", err)
	}
	return collect(rows, "trail", pgx.RowToStructByName[drive.TrailEntry])
}

// TrailCount says how many entries Trail finds without a limit.
func (s *Store) TrailCount(ctx context.Context, driveID string, p TrailQuery) (int, error) {
	const q = trailNamed + ` SELECT (SELECT count(*) FROM audit a WHERE ` + trailOfDrive + `) + (SELECT count(*) FROM audit a WHERE ` + trailOfPeople + `)`
	var n int
	if err := s.pool.QueryRow(ctx, q, p.where(driveID)...).Scan(&n); err != nil {
		return 0, fmt.Errorf("count the trail: %w", err)
	}
	return n, nil
}

func (p TrailQuery) where(driveID string) []any {
	return []any{driveID, p.Q, int64(p.By), p.Kind, p.Which, orNull(p.From), orNull(p.Until), p.Before}
}

func orNull(at time.Time) *time.Time {
	if at.IsZero() {
		return nil
	}
	return &at
}

// TrailAccounts gives the accounts that did anything in a drive, by name.
func (s *Store) TrailAccounts(ctx context.Context, driveID string) ([]TrailAccount, error) {
	const q = `SELECT id, name FROM signers WHERE id IN (SELECT who FROM audit WHERE drive_id = $1) ORDER BY lower(name), id`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("accounts of the trail: %w", err)
	}
	return collect(rows, "accounts of the trail", pgx.RowToStructByName[TrailAccount])
}

// TrailNames gives the names that these entries' things have now: people, donors,
// recipients, sizes, and accounts. What has no name, or is gone, is left out.
func (s *Store) TrailNames(ctx context.Context, driveID string, entries []drive.TrailEntry) (map[drive.TrailThing]string, error) {
	var kinds, which []string
	for _, e := range entries {
		named, err := drive.TrailNamed(e)
		if err != nil {
			return nil, err
		}
		for _, thing := range named {
			kinds, which = append(kinds, thing.Kind), append(which, thing.Which)
		}
	}
	const q = `WITH asked AS (SELECT DISTINCT kind, which FROM unnest($2::text[], $3::text[]) AS x (kind, which))
		SELECT a.kind, a.which, n.name FROM asked a JOIN (
			SELECT 'person' AS kind, number::text AS which, name FROM people WHERE drive_id = $1
			UNION ALL SELECT 'donor', number::text, name FROM donors WHERE drive_id = $1
			UNION ALL SELECT 'recipient', number::text, name FROM recipients WHERE drive_id = $1
			UNION ALL SELECT 'size', number::text, name FROM sizes WHERE drive_id = $1
			UNION ALL SELECT 'account', id::text, name FROM signers
				WHERE id IN (SELECT account_id FROM memberships WHERE drive_id = $1) OR id IN (SELECT who FROM audit WHERE drive_id = $1)) n USING (kind, which)`
	rows, err := s.pool.Query(ctx, q, driveID, kinds, which)
	if err != nil {
		return nil, fmt.Errorf("names of the trail: %w", err)
	}
	names := map[drive.TrailThing]string{}
	var thing drive.TrailThing
	var name string
	_, err = pgx.ForEachRow(rows, []any{&thing.Kind, &thing.Which, &name}, func() error { names[thing] = name; return nil })
	if err != nil {
		return nil, fmt.Errorf("names of the trail: %w", err)
	}
	return names, nil
}
