package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// pastRows is a table of which rows are past their time: those of the drive $1 until the
// day $2, named r, with what empties them.
type pastRows struct{ table, set, where string }

// dayHere gives the day of a moment in the drive's zone.
func dayHere(moment string) string {
	return `(` + moment + ` AT TIME ZONE (SELECT zone FROM drives WHERE id = $1))::date <= $2`
}

// pastInitials are initials of helpers: at passes, and those that were typed at work that
// is done. Who has a sheet, a batch or a box here in hand stays known.
func pastInitials() []pastRows {
	return []pastRows{
		{"pass_hands", `initials = ''`, `r.initials <> '' AND EXISTS (SELECT FROM passes p WHERE p.drive_id = r.drive_id AND p.number = r.pass AND ` + dayHere("p.until") + `)`},
		{"checks", `initials = ''`, `r.initials <> '' AND r.day <= $2`},
		{"laundry", `started_by = '', done_by = ''`, `(r.started_by <> '' OR r.done_by <> '') AND (r.done_on <= $2 OR ` + dayHere("r.undone_at") + `)`},
		{"boxes", `packed_by = '', checked_by = ''`, `(r.packed_by <> '' OR r.checked_by <> '') AND (r.delivery IS NOT NULL OR r.emptied) AND ` + dayHere("r.created_at")},
		{"sheets", `helper = ''`, `r.helper <> '' AND r.state IN ('cut', 'withdrawn') AND ` + dayHere("coalesce(r.cut_at, r.out_at, r.created_at)")},
	}
}

// pastThings are photos and notes of cloth that is used up or gone, of kits that came
// back or never will, and of sheets that are cut.
func pastThings() []pastRows {
	const usedUp = `(r.measured_at IS NOT NULL OR r.set_aside <> '' OR r.untagged_at IS NOT NULL)
		AND NOT EXISTS (SELECT FROM pieces p WHERE p.drive_id = r.drive_id AND p.lot = r.number AND p.free + p.promised > 0)`
	return []pastRows{
		{"lots", `photo = NULL, note = '', version = r.version + 1`, `(r.photo IS NOT NULL OR r.note <> '') AND ` + usedUp + ` AND ` +
			dayHere("coalesce((SELECT max(e.at) FROM fabric_entries e WHERE e.drive_id = r.drive_id AND e.lot = r.number), r.created_at)")},
		{"kits", `note = '', place = ''`, `(r.note <> '' OR r.place <> '') AND r.state IN ('back', 'lost', 'taken apart') AND coalesce(r.since <= $2, ` + dayHere("r.created_at") + `)`},
		{"sheets", `short_why = ''`, `r.short_why <> '' AND r.state IN ('cut', 'withdrawn') AND ` + dayHere("coalesce(r.cut_at, r.out_at, r.created_at)")},
	}
}

func countPast(ctx context.Context, db querier, driveID string, until time.Time, rows []pastRows) (n int, err error) {
	for _, r := range rows {
		var one int
		if err := db.QueryRow(ctx, `SELECT count(*) FROM `+r.table+` r WHERE r.drive_id = $1 AND `+r.where, driveID, until).Scan(&one); err != nil {
			return 0, fmt.Errorf("past keeping, %s: %w", r.table, err)
		}
		n += one
	}
	return n, nil
}

// ForgetInitials empties the initials of helpers at what was done until a day, that day
// too, and says of how many things those were. That somebody did it, and which helper of
// a pass did what, stays. A day to come is an invalid "until"; nothing there is a conflict.
func (s *Store) ForgetInitials(ctx context.Context, act drive.Act, until time.Time) (int, error) {
	return s.forgetRows(ctx, act, "forget initials", "initials forgotten", until, pastInitials())
}

// ForgetThings takes away the photos and notes of cloth that is used up, and the notes of
// kits that are done with, since a day or before, and says of how many things those were.
// Photos go for good by ForgetPhotos. A day to come is an invalid "until"; nothing there is
// a conflict.
func (s *Store) ForgetThings(ctx context.Context, act drive.Act, until time.Time) (int, error) {
	return s.forgetRows(ctx, act, "forget photos and notes", "photos and notes forgotten", until, pastThings())
}

func (s *Store) forgetRows(ctx context.Context, act drive.Act, operation, done string, until time.Time, rows []pastRows) (int, error) {
	return once(ctx, s, act, operation, until, func(tx pgx.Tx) (int, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		if until.After(drive.Day(act.At, d.Location())) {
			return 0, apperr.Invalid("until", "That day is still to come.")
		}
		queries := make([]string, len(rows))
		for i, r := range rows {
			queries[i] = `UPDATE ` + r.table + ` r SET ` + r.set + ` WHERE r.drive_id = $1 AND ` + r.where
		}
		n, err := emptied(ctx, tx, []any{act.Drive, until}, queries...)
		if err != nil {
			return 0, err
		}
		return n, audit(ctx, tx, act, done, "drive", act.Drive, changes{"things": {To: n}})
	})
}
