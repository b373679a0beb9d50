package postgres

import (
	"context"
	"fmt"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// Needs gives what needs somebody today, in the drive's zone, worst first.
func (s *Store) Needs(ctx context.Context, driveID string) ([]drive.Need, error) {
	d, err := s.Drive(ctx, driveID)
	if err != nil {
		return nil, err
	}
	lines, err := s.AskedLines(ctx, driveID)
	if err != nil {
		return nil, err
	}
	today := drive.Day(s.now(), d.Location())
	// One row for each thing that somebody has to see by itself, one for all that is done in one go.
	const q = `
		SELECT 'kits late' AS kind, k.holder AS number, p.name, count(*) AS n, sum(k.cases) AS cases, min(k.due) AS day,
			jsonb_agg(jsonb_build_object('number', k.number, 'part', k.part) ORDER BY k.due, k.number, k.part) AS kits
		FROM kits k JOIN people p ON p.drive_id = k.drive_id AND p.number = k.holder
		WHERE k.drive_id = $1 AND k.state = 'out' AND k.due < $2 GROUP BY k.holder, p.name
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
		SELECT 'sheet out', number, helper, 1, 0, (out_at AT TIME ZONE $3)::date, NULL
		FROM sheets WHERE drive_id = $1 AND state = 'on the table'
	UNION ALL
		SELECT 'sheet short', number, helper, 1, 0, (short_at AT TIME ZONE $3)::date, NULL
		FROM sheets WHERE drive_id = $1 AND state = 'came up short'
	UNION ALL
		SELECT 'sheets', 0, '', count(*), 0, min((created_at AT TIME ZONE $3)::date), NULL
		FROM sheets WHERE drive_id = $1 AND state = 'waiting'
	UNION ALL
		SELECT 'to measure', 0, '', count(*), 0, min(received_on), NULL
		FROM lots WHERE drive_id = $1 AND measured_at IS NULL AND set_aside = ''
	UNION ALL
		SELECT CASE WHEN b.state = 'sewn' THEN 'to check' WHEN b.state = 'to mend' THEN 'to mend' WHEN b.asked > 0 THEN 'to pack' ELSE 'to promise' END,
			0, '', 0, sum(b.n), NULL, NULL
		FROM case_balances b LEFT JOIN kits k ON k.drive_id = b.drive_id AND k.number = b.kit AND k.part = b.part
		WHERE b.drive_id = $1 AND (b.state IN ('sewn', 'good') OR b.state = 'to mend' AND k.state IS DISTINCT FROM 'out')
		GROUP BY 1
	UNION ALL
		SELECT 'boxes', b.recipient, r.name, count(*), sum(coalesce(l.n, 0)), min((b.created_at AT TIME ZONE $3)::date), NULL
		FROM boxes b JOIN recipients r ON r.drive_id = b.drive_id AND r.number = b.recipient
		LEFT JOIN LATERAL (SELECT sum(n) AS n FROM box_lines WHERE drive_id = b.drive_id AND box = b.number) l ON true
		WHERE b.drive_id = $1 AND b.delivery IS NULL AND NOT b.emptied GROUP BY b.recipient, r.name
	UNION ALL
		SELECT CASE WHEN d.confirmed_on IS NULL THEN 'confirmation' ELSE 'counts differ' END, d.number, r.name, 1,
			sum(l.n - l.confirmed - l.missing - l.returned), coalesce(d.confirmed_on, d.sent_on), NULL
		FROM deliveries d
		JOIN recipients r ON r.drive_id = d.drive_id AND r.number = d.recipient
		JOIN boxes b ON b.drive_id = d.drive_id AND b.delivery = d.number
		JOIN box_lines l ON l.drive_id = b.drive_id AND l.box = b.number
		WHERE d.drive_id = $1 AND d.sent_on IS NOT NULL GROUP BY d.number, r.name, d.confirmed_on, d.sent_on HAVING sum(l.n - l.confirmed - l.missing - l.returned) > 0
	UNION ALL
		SELECT CASE state WHEN 'ready' THEN 'plan ready' WHEN 'failed' THEN 'plan failed' ELSE 'plan busy' END, number, '', 1, cases,
			(created_at AT TIME ZONE $3)::date, NULL
		FROM plans p WHERE drive_id = $1 AND (state IN ('ready', 'waiting', 'running')
			OR state = 'failed' AND NOT EXISTS (SELECT FROM plans later WHERE later.drive_id = p.drive_id AND later.number > p.number))`
	rows, err := s.pool.Query(ctx, q, driveID, today, d.Location().String(), drive.DueSoonDays)
	if err != nil {
		return nil, fmt.Errorf("needs: %w", err)
	}
	waiting, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Waiting])
	if err != nil {
		return nil, fmt.Errorf("needs: %w", err)
	}
	supplies, kits, err := s.Supplies(ctx, driveID)
	if err != nil {
		return nil, err
	}
	waiting = append(waiting, drive.ShortSupplies(supplies, kits)...)
	return drive.Needs(lines, waiting, today), nil
}

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
