package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const driveColumns = `id, name, zone, unit, washing, kit_cases, spare_share, keep_width, keep_length, created_at, version`

// Drive gives one drive; not found where there is none of that id.
func (s *Store) Drive(ctx context.Context, id string) (drive.Drive, error) {
	const q = `SELECT ` + driveColumns + ` FROM drives WHERE id = $1`
	rows, err := s.pool.Query(ctx, q, id)
	if err != nil {
		return drive.Drive{}, fmt.Errorf("drive: %w", err)
	}
	d, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Drive])
	if errors.Is(err, pgx.ErrNoRows) {
		return drive.Drive{}, apperr.NotFound("There is no drive %q here.", id)
	}
	if err != nil {
		return drive.Drive{}, fmt.Errorf("drive: %w", err)
	}
	return d, nil
}

// Drives gives all drives by name.
func (s *Store) Drives(ctx context.Context) ([]drive.Drive, error) {
	const q = `SELECT ` + driveColumns + ` FROM drives ORDER BY name, id`
	rows, err := s.pool.Query(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("drives: %w", err)
	}
	ds, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Drive])
	if err != nil {
		return nil, fmt.Errorf("drives: %w", err)
	}
	return ds, nil
}

// CreateDrive starts a drive and makes whoever asked its organiser; an act of
// the command line (account 0) leaves it without one. It refuses by field what
// drive.Check refuses, and an id that is taken.
func (s *Store) CreateDrive(ctx context.Context, act drive.Act, d drive.Drive) (drive.Drive, error) {
	if err := d.Check(); err != nil {
		return drive.Drive{}, err
	}
	return once(ctx, s, act, "create drive", d, func(tx pgx.Tx) (drive.Drive, error) {
		const insert = `INSERT INTO drives (id, name, zone, unit, washing, kit_cases, spare_share, keep_width, keep_length, created_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
		_, err := tx.Exec(ctx, insert, d.ID, d.Name, d.Zone, d.Unit, d.Washing, d.KitCases, d.SpareShare, d.KeepWidth, d.KeepLength, act.At)
		if err != nil {
			return d, fmt.Errorf("create drive: %w", err)
		}
		if act.Who != 0 {
			const join = `INSERT INTO memberships (drive_id, account_id, role, created_at) VALUES ($1, $2, 'organiser', $3)`
			if _, err := tx.Exec(ctx, join, d.ID, act.Who, act.At); err != nil {
				return d, fmt.Errorf("create drive: %w", err)
			}
		}
		act.Drive = d.ID
		d.CreatedAt, d.Version = act.At, 1
		return d, audit(ctx, tx, act, "drive started", "drive", d.ID, changes{"name": {To: d.Name}})
	})
}
