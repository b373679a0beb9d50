package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const driveColumns = `id, name, zone, unit, washing, kit_cases, spare_share, keep_width, keep_length, ask, second_step, created_at, closed_at, version`

// Drive gives one drive; not found where there is none of that id.
func (s *Store) Drive(ctx context.Context, id string) (drive.Drive, error) {
	return driveIn(ctx, s.pool, id)
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
		if act.Who != 0 {
			if err := holdAccount(ctx, tx, act.Who); err != nil {
				return d, err
			}
		}
		const insert = `INSERT INTO drives (id, name, zone, unit, washing, kit_cases, spare_share, keep_width, keep_length, ask, created_at, second_step)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`
		_, err := tx.Exec(ctx, insert, d.ID, d.Name, d.Zone, d.Unit, d.Washing, d.KitCases, d.SpareShare, d.KeepWidth, d.KeepLength, d.Ask, act.At, d.SecondStep)
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
		d.CreatedAt, d.Version, d.Ask = act.At, 1, ""
		return d, audit(ctx, tx, act, "drive started", "drive", d.ID, changes{"name": {To: d.Name}})
	})
}

// UpdateDrive changes the name and rules of a drive that is still at d.Version;
// a later one is a conflict. Its id and the day it began stay.
func (s *Store) UpdateDrive(ctx context.Context, act drive.Act, d drive.Drive) (drive.Drive, error) {
	if err := d.Check(); err != nil {
		return drive.Drive{}, err
	}
	return once(ctx, s, act, "update drive", d, func(tx pgx.Tx) (drive.Drive, error) {
		d := d
		const lock = `SELECT ` + driveColumns + ` FROM drives WHERE id = $1 FOR NO KEY UPDATE`
		old, err := oneDrive(ctx, tx, lock, act.Drive)
		if err != nil {
			return d, err
		}
		if old.Version != d.Version {
			return d, stale("The drive")
		}
		d.ID, d.CreatedAt, d.Version = old.ID, old.CreatedAt, old.Version+1
		const update = `UPDATE drives SET name = $2, zone = $3, unit = $4, washing = $5, kit_cases = $6, spare_share = $7,
				keep_width = $8, keep_length = $9, ask = $10, version = $11, second_step = $12
			WHERE id = $1`
		_, err = tx.Exec(ctx, update, d.ID, d.Name, d.Zone, d.Unit, d.Washing, d.KitCases, d.SpareShare, d.KeepWidth, d.KeepLength, d.Ask, d.Version, d.SecondStep)
		if err != nil {
			return d, fmt.Errorf("update drive: %w", err)
		}
		c := changes{}
		c.set("name", old.Name, d.Name)
		c.set("zone", old.Zone, d.Zone)
		c.set("unit", old.Unit, d.Unit)
		c.set("washing", old.Washing, d.Washing)
		c.set("kit cases", old.KitCases, d.KitCases)
		c.set("spare share", old.SpareShare, d.SpareShare)
		c.set("keep width", old.KeepWidth, d.KeepWidth)
		c.set("keep length", old.KeepLength, d.KeepLength)
		c.set("second step", old.SecondStep, d.SecondStep)
		c.personal("ask", old.Ask, d.Ask)
		d.Ask = "" // what is kept for repeats holds nothing personal
		return d, audit(ctx, tx, act, "drive changed", "drive", d.ID, c)
	})
}

// driveIn gives a drive as the caller's transaction sees it.
func driveIn(ctx context.Context, db querier, id string) (drive.Drive, error) {
	return oneDrive(ctx, db, driveByID, id)
}

const driveByID = `SELECT ` + driveColumns + ` FROM drives WHERE id = $1`

// queueDrive is driveIn in a batch; what it gives says what was found once that is answered.
func queueDrive(batch *pgx.Batch, id string) (found func() (drive.Drive, error)) {
	var d drive.Drive
	var err error
	batch.Queue(driveByID, id).Query(func(rows pgx.Rows) error {
		d, err = driveOf(rows, id)
		return nil
	})
	return func() (drive.Drive, error) { return d, err }
}

func oneDrive(ctx context.Context, db querier, q, id string) (drive.Drive, error) {
	rows, err := db.Query(ctx, q, id)
	if err != nil {
		return drive.Drive{}, fmt.Errorf("drive: %w", err)
	}
	return driveOf(rows, id)
}

func driveOf(rows pgx.Rows, id string) (drive.Drive, error) {
	d, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Drive])
	if errors.Is(err, pgx.ErrNoRows) {
		return drive.Drive{}, apperr.NotFound("There is no drive %q here.", id)
	}
	if err != nil {
		return drive.Drive{}, fmt.Errorf("drive: %w", err)
	}
	return d, nil
}
