package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// remindTries is how often a reminder is tried while it is certain that nothing
// has been sent.
const remindTries = 6

// nothingToSay is why a reminder goes that has no kit left to speak of.
const nothingToSay = "every kit has come back, or something was said of it"

// QueueReminders has drafts, and reminders that failed or were perhaps sent, sent
// by e-mail: all that can be of those named. It gives how many; who has no
// address, and what does not wait any more, is left out.
func (s *Store) QueueReminders(ctx context.Context, act drive.Act, numbers []int64) (int, error) {
	return once(ctx, s, act, "queue reminders", numbers, func(tx pgx.Tx) (int, error) {
		// Those of one person stand one at a time: the unique index refuses a second.
		const lock = `SELECT m.number FROM reminders m JOIN people p ON p.drive_id = m.drive_id AND p.number = m.person
			WHERE m.drive_id = $1 AND m.number = ANY($2) AND p.email <> ''
				AND m.state IN ('draft', 'failed', 'perhaps sent')
				AND NOT EXISTS (SELECT FROM reminder_stops t WHERE t.drive_id = m.drive_id AND t.person = m.person)
				AND NOT EXISTS (SELECT FROM reminders o WHERE o.drive_id = m.drive_id AND o.person = m.person AND o.number <> m.number
					AND o.state IN ('draft', 'queued', 'sending'))
			ORDER BY m.number FOR NO KEY UPDATE OF m`
		rows, err := tx.Query(ctx, lock, act.Drive, numbers)
		if err != nil {
			return 0, fmt.Errorf("queue reminders: %w", err)
		}
		waiting, err := collect(rows, "queue reminders", pgx.RowTo[int64])
		if err != nil {
			return 0, err
		}
		for _, number := range waiting {
			if err := s.queueReminder(ctx, tx, act.Drive, number, act.Who); err != nil {
				return 0, err
			}
			if err := audit(ctx, tx, act, "reminder sent", "reminder", number, changes{"way": {To: drive.RemindedByMail}}); err != nil {
				return 0, err
			}
		}
		return len(waiting), nil
	})
}

// NoteReminder says that somebody was reminded by a person, and how. One that was
// sent meanwhile is a conflict.
func (s *Store) NoteReminder(ctx context.Context, act drive.Act, number int64, way drive.ReminderWay) (int64, error) {
	type body struct {
		Number int64
		Way    drive.ReminderWay
	}
	return once(ctx, s, act, "note reminder", body{number, way}, func(tx pgx.Tx) (int64, error) {
		return endReminder(ctx, tx, act, number, drive.ReminderSent, way, "reminded")
	})
}

// DropReminder leaves a reminder unsent.
func (s *Store) DropReminder(ctx context.Context, act drive.Act, number int64) (int64, error) {
	return once(ctx, s, act, "drop reminder", number, func(tx pgx.Tx) (int64, error) {
		return endReminder(ctx, tx, act, number, drive.ReminderDropped, "", "reminder dropped")
	})
}

// endReminder ends one that waits, or that went wrong, and gives whom it is about.
func endReminder(ctx context.Context, tx pgx.Tx, act drive.Act, number int64, state drive.ReminderState, way drive.ReminderWay, what string) (int64, error) {
	const q = `UPDATE reminders SET state = $3, way = $4, ended_at = $5, who = $6
		WHERE drive_id = $1 AND number = $2 AND state IN ('draft', 'failed', 'perhaps sent') RETURNING person`
	var person int64
	err := tx.QueryRow(ctx, q, act.Drive, number, state, way, act.At, act.Who).Scan(&person)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, apperr.Conflict("This reminder does not wait any more: look at what became of it.")
	}
	if err != nil {
		return 0, fmt.Errorf("end reminder: %w", err)
	}
	return person, audit(ctx, tx, act, what, "reminder", number, changes{"person": {To: person}, "way": {To: way}})
}

// Outgoing is a reminder that is being sent, with the rules it is sent by.
type Outgoing struct {
	drive.Reminder
	Drive drive.Drive
	Rules drive.ReminderRules
}

// BeginReminder takes a queued reminder to send it: from here on it is sending,
// whatever becomes of the process. nil where there is nothing to send any more;
// one whose kits have all come back is dropped.
func (s *Store) BeginReminder(ctx context.Context, driveID string, number int64) (*Outgoing, error) {
	var out *Outgoing
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		out = nil
		const begin = `UPDATE reminders SET state = 'sending', began_at = $3 WHERE drive_id = $1 AND number = $2 AND state = 'queued'`
		now := s.now()
		tag, err := tx.Exec(ctx, begin, driveID, number, now)
		if err != nil {
			return fmt.Errorf("begin reminder: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return nil
		}
		const q = reminderQuery + ` AND m.number = $4`
		found, err := remindersIn(ctx, tx, q, driveID, now.Add(-reminderLost), now, number)
		if err != nil {
			return err
		}
		if len(found) == 0 {
			return fmt.Errorf("reminder %d of %s is gone", number, driveID)
		}
		var stopped bool
		const stop = `SELECT EXISTS (SELECT FROM reminder_stops WHERE drive_id = $1 AND person = $2)`
		if err := tx.QueryRow(ctx, stop, driveID, found[0].Person).Scan(&stopped); err != nil {
			return fmt.Errorf("wants reminders: %w", err)
		}
		why := ""
		switch {
		case stopped:
			why = "they want no reminders"
		case len(found[0].Kits) == 0:
			why = nothingToSay
		case found[0].Email == "":
			why = "there is no e-mail address any more"
		case found[0].Link == "":
			// Without a page of their own nobody can end reminders.
			why = "their personal link was ended"
		}
		if why != "" {
			const drop = `UPDATE reminders SET state = 'dropped', ended_at = $3, trouble = $4 WHERE drive_id = $1 AND number = $2`
			if _, err := tx.Exec(ctx, drop, driveID, number, now, why); err != nil {
				return fmt.Errorf("drop reminder: %w", err)
			}
			return nil
		}
		o := &Outgoing{Reminder: found[0]}
		if o.Drive, err = driveIn(ctx, tx, driveID); err != nil {
			return err
		}
		if o.Rules, err = reminderRules(ctx, tx, driveID); err != nil {
			return err
		}
		out = o
		return nil
	})
	return out, err
}

// EndReminder writes what became of a reminder that was being sent: sent, perhaps
// sent, failed, or queued once more where nothing can have been sent.
func (s *Store) EndReminder(ctx context.Context, driveID string, number int64, state drive.ReminderState, trouble string) error {
	const q = `UPDATE reminders SET state = $3, trouble = $4, ended_at = CASE WHEN $3 = 'queued' THEN NULL ELSE $5::timestamptz END
		WHERE drive_id = $1 AND number = $2 AND state = 'sending'`
	if _, err := s.pool.Exec(ctx, q, driveID, number, state, trouble, s.now()); err != nil {
		return fmt.Errorf("end reminder: %w", err)
	}
	return nil
}

// LoseReminders marks what a process died over: it was perhaps sent, and only a
// person sends it again. Drafts whose kits have all come back go. It says how many of both.
func (s *Store) LoseReminders(ctx context.Context) (int64, error) {
	now := s.now()
	const lose = `UPDATE reminders SET state = 'perhaps sent', ended_at = $2, trouble = $3 WHERE state = 'sending' AND began_at < $1`
	lost, err := s.pool.Exec(ctx, lose, now.Add(-reminderLost), now, "the program stopped while it was sending")
	if err != nil {
		return 0, fmt.Errorf("lost reminders: %w", err)
	}
	const drop = `UPDATE reminders m SET state = 'dropped', ended_at = $1, trouble = '` + nothingToSay + `' WHERE m.state = 'draft'
		AND NOT EXISTS (SELECT FROM unnest(m.kits, m.parts) AS n (number, part)
			JOIN kits k ON k.drive_id = m.drive_id AND k.number = n.number AND k.part = n.part AND k.state = 'out' AND k.holder = m.person AND ` + unanswered + `)`
	dropped, err := s.pool.Exec(ctx, drop, now)
	if err != nil {
		return 0, fmt.Errorf("reminders of nothing: %w", err)
	}
	return lost.RowsAffected() + dropped.RowsAffected(), nil
}
