package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// ForgetStepNote empties what somebody wrote beside a step at the returns table: the note of
// its entry, and that of the check it came of, which stands beside the check's other steps too.
func (s *Store) ForgetStepNote(ctx context.Context, act drive.Act, step int64) (int, error) {
	return once(ctx, s, act, "forget a note", step, func(tx pgx.Tx) (int, error) {
		n, err := emptied(ctx, tx, []any{act.Drive, step},
			`UPDATE case_notes SET note = '' WHERE drive_id = $1 AND entry = $2 AND note <> ''`,
			`UPDATE checks c SET note = '' FROM check_lines l WHERE c.drive_id = $1 AND l.drive_id = $1 AND l."check" = c.number AND l.entry = $2 AND c.note <> ''`)
		if err != nil {
			return 0, err
		}
		return n, audit(ctx, tx, act, "writing forgotten", "pillowcases", step, changes{"texts": {From: n, To: 0}})
	})
}

// ForgetBatchNote empties what somebody wrote of a batch of laundry.
func (s *Store) ForgetBatchNote(ctx context.Context, act drive.Act, number int64) (int, error) {
	return once(ctx, s, act, "forget a batch's note", number, func(tx pgx.Tx) (int, error) {
		n, err := emptied(ctx, tx, []any{act.Drive, number}, `UPDATE laundry SET note = '' WHERE drive_id = $1 AND number = $2 AND note <> ''`)
		if err != nil {
			return 0, err
		}
		return n, audit(ctx, tx, act, "writing forgotten", "laundry", number, changes{"texts": {From: n, To: 0}})
	})
}

// boxStayed says of a box rule r that its box is of no delivery and was packed until the day $2.
const boxStayed = `EXISTS (SELECT FROM boxes b JOIN drives w ON w.id = b.drive_id
	WHERE b.drive_id = r.drive_id AND b.number = r.box AND b.delivery IS NULL AND (b.created_at AT TIME ZONE w.zone)::date <= $2)`

// ForgetNotes empties what people wrote of what was brought in, checked and laundered, and why
// boxes that never left went against a rule, until a day, that day too. It gives how many notes those were; a day to come is an invalid "until".
func (s *Store) ForgetNotes(ctx context.Context, act drive.Act, until time.Time) (int, error) {
	return once(ctx, s, act, "forget notes", until, func(tx pgx.Tx) (int, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		if until.After(drive.Day(act.At, d.Location())) {
			return 0, apperr.Invalid("until", "That day is still to come.")
		}
		n, err := emptied(ctx, tx, []any{act.Drive, until},
			`UPDATE case_notes n SET note = '' FROM case_entries e WHERE n.drive_id = $1 AND e.drive_id = $1 AND e.id = n.entry AND e.day <= $2 AND n.note <> ''`,
			`UPDATE checks SET note = '' WHERE drive_id = $1 AND day <= $2 AND note <> ''`,
			`UPDATE laundry SET note = '' WHERE drive_id = $1 AND started_on <= $2 AND note <> ''`,
			`UPDATE box_rules r SET why = '`+notKept+`' WHERE r.drive_id = $1 AND NOT r.kept AND r.why <> '`+notKept+`' AND `+boxStayed)
		if err != nil {
			return 0, err
		}
		return n, audit(ctx, tx, act, "writing forgotten", "drive", act.Drive, changes{"texts": {From: n, To: 0}})
	})
}

// emptied runs what empties notes and counts them; none is a conflict.
func emptied(ctx context.Context, tx pgx.Tx, args []any, queries ...string) (int, error) {
	n := int64(0)
	for _, q := range queries {
		tag, err := tx.Exec(ctx, q, args...)
		if err != nil {
			return 0, fmt.Errorf("forget notes: %w", err)
		}
		n += tag.RowsAffected()
	}
	if n == 0 {
		return 0, apperr.Conflict("Nothing of that is kept any more.")
	}
	return int(n), nil
}
