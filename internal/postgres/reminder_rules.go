package postgres

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// ReminderRules gives when a drive reminds people, as it was set or as a drive begins.
func (s *Store) ReminderRules(ctx context.Context, driveID string) (drive.ReminderRules, error) {
	return reminderRules(ctx, s.pool, driveID)
}

func reminderRules(ctx context.Context, db querier, driveID string) (drive.ReminderRules, error) {
	const q = `SELECT on_at, soon_days, late_days, silent_days, quiet, by_itself, from_name, reply_to, version FROM reminder_rules WHERE drive_id = $1`
	var r drive.ReminderRules
	var quiet []int32
	err := db.QueryRow(ctx, q, driveID).Scan(&r.On, &r.SoonDays, &r.LateDays, &r.SilentDays, &quiet, &r.ByItself, &r.FromName, &r.ReplyTo, &r.Version)
	if errors.Is(err, pgx.ErrNoRows) {
		return drive.UsualReminderRules(), nil
	}
	if err != nil {
		return r, fmt.Errorf("rules of reminders: %w", err)
	}
	for _, day := range quiet {
		r.Quiet = append(r.Quiet, time.Weekday(day))
	}
	return r, nil
}

// UpdateReminderRules changes when a drive reminds people, from the version that
// was looked at; a later one is a conflict.
func (s *Store) UpdateReminderRules(ctx context.Context, act drive.Act, r drive.ReminderRules) (int, error) {
	if err := r.Check(); err != nil {
		return 0, err
	}
	return once(ctx, s, act, "update reminder rules", r, func(tx pgx.Tx) (int, error) {
		// The drive's row stands in for rules that are not there yet.
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		old, err := reminderRules(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		if old.Version != r.Version {
			return 0, stale("When people are reminded")
		}
		quiet := make([]int32, 0, len(r.Quiet))
		for _, day := range slices.Sorted(slices.Values(r.Quiet)) {
			quiet = append(quiet, int32(day))
		}
		const write = `INSERT INTO reminder_rules (drive_id, on_at, soon_days, late_days, silent_days, quiet, by_itself, from_name, reply_to, version)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
			ON CONFLICT ON CONSTRAINT reminder_rules_pkey DO UPDATE SET on_at = $2, soon_days = $3, late_days = $4, silent_days = $5, quiet = $6,
				by_itself = $7, from_name = $8, reply_to = $9, version = $10`
		_, err = tx.Exec(ctx, write, act.Drive, r.On, r.SoonDays, r.LateDays, r.SilentDays, quiet, r.ByItself, r.FromName, r.ReplyTo, r.Version+1)
		if err != nil {
			return 0, fmt.Errorf("update reminder rules: %w", err)
		}
		c := changes{}
		c.set("on", old.On, r.On)
		c.set("days before", old.SoonDays, r.SoonDays)
		c.set("days after", old.LateDays, r.LateDays)
		c.set("days of silence", old.SilentDays, r.SilentDays)
		c.set("quiet", old.Quiet, r.Quiet)
		c.set("by itself", old.ByItself, r.ByItself)
		c.personal("from", old.FromName, r.FromName)
		c.personal("reply to", old.ReplyTo, r.ReplyTo)
		return r.Version + 1, audit(ctx, tx, act, "reminders changed", "drive", act.Drive, c)
	})
}

// SetReminded says whether somebody wants reminders.
func (s *Store) SetReminded(ctx context.Context, act drive.Act, person int64, wanted bool) (bool, error) {
	type body struct {
		Person int64
		Wanted bool
	}
	return once(ctx, s, act, "set reminded", body{person, wanted}, func(tx pgx.Tx) (bool, error) {
		if err := lockPerson(ctx, tx, act.Drive, person); err != nil {
			return false, err
		}
		q, args := `DELETE FROM reminder_stops WHERE drive_id = $1 AND person = $2`, []any{act.Drive, person}
		if !wanted {
			q, args = `INSERT INTO reminder_stops (drive_id, person, at) VALUES ($1, $2, $3) ON CONFLICT ON CONSTRAINT reminder_stops_pkey DO NOTHING`, append(args, act.At)
		}
		if _, err := tx.Exec(ctx, q, args...); err != nil {
			return false, fmt.Errorf("set reminded: %w", err)
		}
		if !wanted {
			// What waits to be sent is not sent any more.
			const drop = `UPDATE reminders SET state = 'dropped', ended_at = $3 WHERE drive_id = $1 AND person = $2 AND state IN ('draft', 'queued')`
			if _, err := tx.Exec(ctx, drop, act.Drive, person, act.At); err != nil {
				return false, fmt.Errorf("set reminded: %w", err)
			}
		}
		return wanted, audit(ctx, tx, act, "reminders wanted", "person", person, changes{"wanted": {To: wanted}})
	})
}

// WantsReminders says whether somebody wants reminders.
func (s *Store) WantsReminders(ctx context.Context, driveID string, person int64) (bool, error) {
	const q = `SELECT NOT EXISTS (SELECT FROM reminder_stops WHERE drive_id = $1 AND person = $2)`
	var wants bool
	if err := s.pool.QueryRow(ctx, q, driveID, person).Scan(&wants); err != nil {
		return false, fmt.Errorf("wants reminders: %w", err)
	}
	return wants, nil
}
