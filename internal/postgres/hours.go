package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// GiveHours notes time that somebody gave and answers its number; day zero is
// today. It refuses by field what drive.Hours.Check refuses, and an unknown person.
func (s *Store) GiveHours(ctx context.Context, act drive.Act, h drive.Hours) (int64, error) {
	return once(ctx, s, act, "give hours", h, func(tx pgx.Tx) (int64, error) {
		h := h
		day, today, err := dayOf(ctx, tx, act, h.Day)
		if err != nil {
			return 0, err
		}
		h.Day = day
		if err := h.Check(today); err != nil {
			return 0, err
		}
		if _, err := holderIn(ctx, tx, act.Drive, h.Person); err != nil {
			return 0, err
		}
		if h.Number, err = next(ctx, tx, act.Drive, "hours"); err != nil {
			return 0, err
		}
		const insert = `INSERT INTO hours (drive_id, number, person, day, doing, heads, minutes, at, who) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
		if _, err := tx.Exec(ctx, insert, act.Drive, h.Number, h.Person, h.Day, h.Doing, h.Heads, h.Minutes, act.At, act.Who); err != nil {
			return 0, fmt.Errorf("hours: %w", err)
		}
		return h.Number, audit(ctx, tx, act, "hours noted", "person", h.Person, changes{"minutes": {To: h.Minutes}, "doing": {To: h.Doing}})
	})
}

// UndoHours takes back hours that were noted by mistake and answers whose they
// were. Hours that were undone before are a conflict.
func (s *Store) UndoHours(ctx context.Context, act drive.Act, number int64) (int64, error) {
	return once(ctx, s, act, "undo hours", number, func(tx pgx.Tx) (int64, error) {
		const lock = `SELECT person, minutes, undone_at FROM hours WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
		var person int64
		var minutes int
		var undone *time.Time
		err := tx.QueryRow(ctx, lock, act.Drive, number).Scan(&person, &minutes, &undone)
		switch {
		case errors.Is(err, pgx.ErrNoRows):
			return 0, apperr.NotFound("There are no hours of that number here.")
		case err != nil:
			return 0, fmt.Errorf("hours to undo: %w", err)
		case undone != nil:
			return 0, apperr.Conflict("These hours are undone already.")
		}
		const update = `UPDATE hours SET undone_at = $3 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, number, act.At); err != nil {
			return 0, fmt.Errorf("undo hours: %w", err)
		}
		return person, audit(ctx, tx, act, "hours undone", "person", person, changes{"minutes": {From: minutes, To: 0}})
	})
}

// HoursOf gives the hours of a person that stand, newest first, and the minutes of
// all of them.
func (s *Store) HoursOf(ctx context.Context, driveID string, person int64) ([]drive.Hours, int, error) {
	const q = `SELECT number, person, day, doing, heads, minutes FROM hours
		WHERE drive_id = $1 AND person = $2 AND undone_at IS NULL ORDER BY day DESC, number DESC`
	rows, err := s.pool.Query(ctx, q, driveID, person)
	if err != nil {
		return nil, 0, fmt.Errorf("hours of a person: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Hours])
	if err != nil {
		return nil, 0, fmt.Errorf("hours of a person: %w", err)
	}
	all := 0
	for _, h := range list {
		all += h.Minutes
	}
	return list, all, nil
}
