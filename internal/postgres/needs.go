package postgres

import (
	"context"
	"fmt"
	"slices"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// Needs gives what needs somebody today, in the drive's zone, worst first.
func (s *Store) Needs(ctx context.Context, driveID string) ([]drive.Need, error) {
	d, err := s.Drive(ctx, driveID)
	if err != nil {
		return nil, err
	}
	today := drive.Day(s.now(), d.Location())
	var lines []drive.AskedLine
	var moving, resting []drive.Waiting
	var supplies []drive.Supply
	var kits int
	err = s.Together(ctx,
		func(ctx context.Context) (err error) { lines, err = s.AskedLines(ctx, driveID); return err },
		func(ctx context.Context) (err error) {
			moving, err = s.waiting(ctx, needsMoving, driveID, today, d.Location().String(), drive.DueSoonDays, drive.SilentDays)
			return err
		},
		func(ctx context.Context) (err error) {
			resting, err = s.waiting(ctx, needsResting, driveID, today, d.Location().String())
			return err
		},
		func(ctx context.Context) (err error) { supplies, kits, err = s.Supplies(ctx, driveID); return err })
	if err != nil {
		return nil, err
	}
	return drive.Needs(lines, slices.Concat(moving, resting, drive.ShortSupplies(supplies, kits)), today), nil
}

func (s *Store) waiting(ctx context.Context, q string, args ...any) ([]drive.Waiting, error) {
	rows, err := s.pool.Query(ctx, q, args...)
	if err != nil {
		return nil, fmt.Errorf("needs: %w", err)
	}
	return collect(rows, "needs", pgx.RowToStructByName[drive.Waiting])
}

// needsMoving gives one row for each thing that somebody has to see by itself, one for
// all that is done in one go; whoever said something of a kit that is late waits for an answer, and is
// not to be asked how it goes: of the drive $1, on the day $2 in the zone $3, with kits due
// within $4 days, and after $5 days of silence where the drive says no other number. Each
// part finds its rows by an index of what is open. It asks tables that change all day: each time
// Postgres has looked at one of them it plans the statement anew, and planning takes several times
// as long as running.
const needsMoving = `
	SELECT 'kits late' AS kind, k.holder AS number, p.name, count(*) AS n, sum(k.cases) AS cases, min(k.due) AS day,
		jsonb_agg(jsonb_build_object('number', k.number, 'part', k.part) ORDER BY k.due, k.number, k.part) AS kits
	FROM kits k JOIN people p ON p.drive_id = k.drive_id AND p.number = k.holder
	WHERE k.drive_id = $1 AND k.state = 'out' AND k.due < $2 AND ` + unanswered + ` GROUP BY k.holder, p.name
UNION ALL
	SELECT 'kits silent', k.holder, p.name, count(*), sum(k.cases), min(k.since),
		jsonb_agg(jsonb_build_object('number', k.number, 'part', k.part) ORDER BY k.since, k.number, k.part)
	FROM kits k JOIN people p ON p.drive_id = k.drive_id AND p.number = k.holder
	CROSS JOIN (SELECT $2::date - coalesce((SELECT nullif(silent_days, 0) FROM reminder_rules WHERE drive_id = $1), $5::int) AS last) quiet
	WHERE k.drive_id = $1 AND k.state = 'out' AND (k.due IS NULL OR k.due >= $2) AND k.since <= quiet.last
		AND NOT EXISTS (SELECT FROM kit_entries e WHERE e.drive_id = k.drive_id AND e.holder = k.holder AND e.day > quiet.last)
		AND NOT EXISTS (SELECT FROM kit_reports r WHERE r.drive_id = k.drive_id AND r.person = k.holder AND (r.at AT TIME ZONE $3)::date > quiet.last)
	GROUP BY k.holder, p.name
UNION ALL
	SELECT 'said ' || r.kind, r.person, p.name, count(*), sum(coalesce(r.cases, k.cases)), min((r.at AT TIME ZONE $3)::date),
		jsonb_agg(jsonb_build_object('number', r.kit, 'part', r.part) ORDER BY r.kit, r.part)
	FROM kit_reports r JOIN people p ON p.drive_id = r.drive_id AND p.number = r.person
	JOIN kits k ON k.drive_id = r.drive_id AND k.number = r.kit AND k.part = r.part
	WHERE r.drive_id = $1 AND r.ended_at IS NULL GROUP BY r.kind, r.person, p.name
UNION ALL
	SELECT 'kits due', 0, '', count(*), coalesce(sum(cases), 0), min(due), NULL
	FROM kits WHERE drive_id = $1 AND state = 'out' AND due >= $2 AND due <= $2::date + $4::int
UNION ALL
	SELECT CASE state WHEN 'cut' THEN 'kits cut' ELSE 'kits ready' END, 0, '', count(*), sum(cases), min(since), NULL
	FROM kits WHERE drive_id = $1 AND state IN ('cut', 'ready', 'found') GROUP BY 1
UNION ALL
	SELECT 'to measure', 0, '', count(*), 0, min(received_on), NULL
	FROM lots WHERE drive_id = $1 AND measured_at IS NULL AND set_aside = ''
UNION ALL
	SELECT CASE WHEN b.state = 'sewn' THEN 'to check' WHEN b.state = 'to mend' THEN 'to mend' WHEN b.asked > 0 THEN 'to pack' ELSE 'to promise' END,
		0, '', 0, sum(b.n), NULL, NULL
	FROM case_balances b LEFT JOIN kits k ON k.drive_id = b.drive_id AND k.number = b.kit AND k.part = b.part
	WHERE b.drive_id = $1 AND b.n > 0 AND b.state IN ('sewn', 'good', 'to mend') AND (b.state <> 'to mend' OR k.state IS DISTINCT FROM 'out')
	GROUP BY 1`

// needsResting is the same for what seldom changes, of the drive $1 on the day $2 in the zone $3.
const needsResting = `
	SELECT 'sheet out' AS kind, number, helper AS name, 1 AS n, 0 AS cases, (out_at AT TIME ZONE $3)::date AS day, NULL::jsonb AS kits
	FROM sheets WHERE drive_id = $1 AND state = 'on the table'
UNION ALL
	SELECT 'sheet short', number, helper, 1, 0, (short_at AT TIME ZONE $3)::date, NULL
	FROM sheets WHERE drive_id = $1 AND state = 'came up short'
UNION ALL
	SELECT 'sheets', 0, '', count(*), 0, min((created_at AT TIME ZONE $3)::date), NULL
	FROM sheets WHERE drive_id = $1 AND state = 'waiting'
UNION ALL
	SELECT 'boxes', b.recipient, r.name, count(*), sum(coalesce(l.n, 0)), min((b.created_at AT TIME ZONE $3)::date), NULL
	FROM boxes b JOIN recipients r ON r.drive_id = b.drive_id AND r.number = b.recipient
	LEFT JOIN LATERAL (SELECT sum(n) AS n FROM box_lines WHERE drive_id = b.drive_id AND box = b.number) l ON true
	WHERE b.drive_id = $1 AND b.delivery IS NULL AND NOT b.emptied GROUP BY b.recipient, r.name
UNION ALL
	SELECT 'to send', d.number, r.name, count(DISTINCT b.number), coalesce(sum(l.n), 0), (d.created_at AT TIME ZONE $3)::date, NULL
	FROM deliveries d JOIN recipients r ON r.drive_id = d.drive_id AND r.number = d.recipient
	JOIN boxes b ON b.drive_id = d.drive_id AND b.delivery = d.number
	JOIN box_lines l ON l.drive_id = b.drive_id AND l.box = b.number
	WHERE d.drive_id = $1 AND d.sent_on IS NULL AND d.undone_at IS NULL GROUP BY d.number, r.name, d.created_at
UNION ALL
	SELECT CASE WHEN d.confirmed_on IS NULL THEN 'confirmation' ELSE 'counts differ' END, d.number, r.name, o.more::int, o.open, coalesce(d.confirmed_on, d.sent_on), NULL
	FROM (SELECT delivery, sum(open) AS open, sum(more) AS more FROM (
			SELECT b.delivery, l.n - l.confirmed - l.missing - l.returned AS open, 0 AS more
			FROM box_lines l JOIN boxes b ON b.drive_id = l.drive_id AND b.number = l.box
			WHERE l.drive_id = $1 AND l.n > l.confirmed + l.missing + l.returned AND b.delivery IS NOT NULL
			UNION ALL SELECT delivery, 0, more FROM delivery_counts WHERE drive_id = $1 AND more > 0) each GROUP BY delivery) o
	JOIN deliveries d ON d.drive_id = $1 AND d.number = o.delivery AND d.sent_on IS NOT NULL
	JOIN recipients r ON r.drive_id = d.drive_id AND r.number = d.recipient
UNION ALL
	SELECT 'ward said', d.number, r.name, count(*), 0, min((a.at AT TIME ZONE $3)::date), NULL
	FROM delivery_answers a JOIN deliveries d ON d.drive_id = a.drive_id AND d.number = a.delivery
	JOIN recipients r ON r.drive_id = d.drive_id AND r.number = d.recipient
	WHERE a.drive_id = $1 AND a.how = 'own page' AND a.note <> '' AND a.read_at IS NULL GROUP BY d.number, r.name
UNION ALL
	SELECT 'reminder astray', m.person, p.name, count(*), 0, min((coalesce(m.ended_at, m.made_at) AT TIME ZONE $3)::date), NULL
	FROM reminders m JOIN people p ON p.drive_id = m.drive_id AND p.number = m.person
	WHERE m.drive_id = $1 AND m.state IN ('failed', 'perhaps sent')
		AND NOT EXISTS (SELECT FROM reminders l WHERE l.drive_id = m.drive_id AND l.person = m.person AND l.number > m.number)
	GROUP BY m.person, p.name
UNION ALL
	SELECT 'remind', 0, '', count(*), 0, min((made_at AT TIME ZONE $3)::date), NULL FROM reminders WHERE drive_id = $1 AND state = 'draft'
UNION ALL
	SELECT 'file', number, name, 1, 0, (at AT TIME ZONE $3)::date, NULL
	FROM uploads WHERE drive_id = $1 AND state IN ('waiting', 'stopped', 'failed')
UNION ALL
	SELECT 'stocktake', number, shelf, 1, 0, (begun_at AT TIME ZONE $3)::date, NULL FROM stocktakes WHERE drive_id = $1 AND state = 'open'
UNION ALL
	SELECT 'ledgers', 0, '', (c.differing ->> $1)::bigint, 0, (c.at AT TIME ZONE $3)::date, NULL
	FROM (SELECT at, differing FROM ledger_checks ORDER BY id DESC LIMIT 1) c WHERE c.differing ? $1
UNION ALL
	SELECT 'backup', 0, '', f.n, 0, (g.at AT TIME ZONE $3)::date, NULL FROM backup_settings s
	LEFT JOIN LATERAL (SELECT id, began_at AS at FROM backups WHERE state = 'good' ORDER BY id DESC LIMIT 1) g ON true
	CROSS JOIN LATERAL (SELECT count(*) AS n FROM backups WHERE by_itself AND state = 'failed' AND id > coalesce(g.id, 0)) f
	WHERE f.n > 0 OR CASE WHEN g.at < ($2::date + 1)::timestamp AT TIME ZONE $3 THEN g.at ELSE s.since END + 2 * s.every_seconds * interval '1 second' + interval '1 day' < $2::date::timestamp AT TIME ZONE $3
UNION ALL
	SELECT 'cloth short', 0, '', coalesce(jsonb_array_length(wishes), 0), 0, NULL, NULL FROM asks WHERE drive_id = $1 AND state = 'ready'
UNION ALL
	SELECT CASE state WHEN 'ready' THEN CASE WHEN changes IS NULL THEN 'plan ready' ELSE 'change ready' END WHEN 'failed' THEN 'plan failed' ELSE 'plan busy' END,
		number, '', 1, cases, (created_at AT TIME ZONE $3)::date, NULL
	FROM plans WHERE drive_id = $1 AND (state IN ('waiting', 'running')
		OR state = 'ready' AND NOT ` + planPassedOver + `
		OR state = 'failed' AND NOT EXISTS (SELECT FROM plans later WHERE later.drive_id = plans.drive_id AND later.number > plans.number))`

// FirstSteps says how far a new drive has been set up.
func (s *Store) FirstSteps(ctx context.Context, driveID string) (drive.FirstSteps, error) {
	const q = `SELECT EXISTS (SELECT FROM sizes WHERE drive_id = $1) AS size,
		EXISTS (SELECT FROM recipients WHERE drive_id = $1) AS recipient,
		EXISTS (SELECT FROM asked WHERE drive_id = $1) AS asked,
		EXISTS (SELECT FROM lots WHERE drive_id = $1) AS fabric`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return drive.FirstSteps{}, fmt.Errorf("first steps: %w", err)
	}
	steps, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.FirstSteps])
	if err != nil {
		return drive.FirstSteps{}, fmt.Errorf("first steps: %w", err)
	}
	return steps, nil
}
