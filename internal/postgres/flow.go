package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// Flow gives how pillowcases went through the drive in the drive.FlowDays before a day, for a forecast.
func (s *Store) Flow(ctx context.Context, driveID string, today time.Time) (drive.Flow, error) {
	const q = `SELECT e.size, e.n, e.asked, e.kit, e.part, e.from_state, e.to_asked, e.to_kit, e.to_part, e.to_state, e.person, e.day
		FROM case_entries e
		WHERE e.drive_id = $1 AND e.day > $2 AND e.day <= $3 AND e.undoes IS NULL
		  AND (e.to_state IN ('cut', 'out', 'sewn', 'to mend') OR e.from_state IN ('out', 'sewn', 'to mend'))
		  AND NOT EXISTS (SELECT FROM case_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id)
		ORDER BY e.day, e.id`
	rows, err := s.pool.Query(ctx, q, driveID, today.AddDate(0, 0, -drive.FlowDays), today)
	if err != nil {
		return drive.Flow{}, fmt.Errorf("flow of pillowcases: %w", err)
	}
	steps, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.FlowStep])
	if err != nil {
		return drive.Flow{}, fmt.Errorf("flow of pillowcases: %w", err)
	}
	plans, err := s.planDays(ctx, driveID)
	if err != nil {
		return drive.Flow{}, err
	}
	flow := drive.NewFlow(steps, plans)
	flow.Before, err = s.hadBefore(ctx, driveID, today.AddDate(0, 0, -drive.FlowDays))
	return flow, err
}

// hadBefore gives who had a kit on a day or before it.
func (s *Store) hadBefore(ctx context.Context, driveID string, day time.Time) ([]int64, error) {
	const q = `SELECT p.number FROM people p WHERE p.drive_id = $1
		AND EXISTS (SELECT FROM kit_entries e WHERE e.drive_id = $1 AND e.holder = p.number AND e.holder IS NOT NULL AND e.day <= $2) ORDER BY 1`
	rows, err := s.pool.Query(ctx, q, driveID, day)
	if err != nil {
		return nil, fmt.Errorf("who had kits before: %w", err)
	}
	return collect(rows, "who had kits before", pgx.RowTo[int64])
}

// planDays gives the days on which plans were accepted, in the drive's zone.
func (s *Store) planDays(ctx context.Context, driveID string) ([]time.Time, error) {
	const q = `SELECT (p.accepted_at AT TIME ZONE d.zone)::date FROM plans p JOIN drives d ON d.id = p.drive_id
		WHERE p.drive_id = $1 AND p.accepted_at IS NOT NULL ORDER BY 1`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("days of plans: %w", err)
	}
	days, err := pgx.CollectRows(rows, pgx.RowTo[time.Time])
	if err != nil {
		return nil, fmt.Errorf("days of plans: %w", err)
	}
	return days, nil
}
