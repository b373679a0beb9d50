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

// Keeping gives how long a drive keeps what is personal; without end where nobody
// has said.
func (s *Store) Keeping(ctx context.Context, driveID string) (drive.Keeping, error) {
	return keeping(ctx, s.pool, driveID, "")
}

func keeping(ctx context.Context, db querier, driveID, lock string) (drive.Keeping, error) {
	const q = `SELECT people, donors, writing, initials, things, version FROM keeping WHERE drive_id = $1`
	k, err := one[drive.Keeping](ctx, db, "keeping", pgx.ErrNoRows, q+lock, driveID)
	if errors.Is(err, pgx.ErrNoRows) {
		return drive.Keeping{}, nil
	}
	return k, err
}

// UpdateKeeping says how long a drive keeps what is personal. Somebody else's later
// wish is a conflict. It gives the new version.
func (s *Store) UpdateKeeping(ctx context.Context, act drive.Act, k drive.Keeping) (int, error) {
	if err := k.Check(); err != nil {
		return 0, err
	}
	return once(ctx, s, act, "update keeping", k, func(tx pgx.Tx) (int, error) {
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		old, err := keeping(ctx, tx, act.Drive, " FOR NO KEY UPDATE")
		if err != nil {
			return 0, err
		}
		if old.Version != k.Version {
			return 0, stale("How long what is kept")
		}
		const q = `INSERT INTO keeping (drive_id, people, donors, writing, initials, things, version) VALUES ($1, $2, $3, $4, $5, $6, $7)
			ON CONFLICT ON CONSTRAINT keeping_pkey DO UPDATE SET people = EXCLUDED.people, donors = EXCLUDED.donors, writing = EXCLUDED.writing,
				initials = EXCLUDED.initials, things = EXCLUDED.things, version = EXCLUDED.version`
		if _, err := tx.Exec(ctx, q, act.Drive, k.People, k.Donors, k.Writing, k.Initials, k.Things, old.Version+1); err != nil {
			return 0, fmt.Errorf("update keeping: %w", err)
		}
		c := changes{}
		c.set("people, months", orZero(old.People), orZero(k.People))
		c.set("donors, months", orZero(old.Donors), orZero(k.Donors))
		c.set("writing, months", orZero(old.Writing), orZero(k.Writing))
		c.set("initials, months", orZero(old.Initials), orZero(k.Initials))
		c.set("photos and notes, months", orZero(old.Things), orZero(k.Things))
		return old.Version + 1, audit(ctx, tx, act, "keeping changed", "drive", act.Drive, c)
	})
}

// PastKeeping gives what a drive would forget now under these months. People who
// have kits are of use, whatever they last did; whom somebody dealt with was of use
// then: an edit, a link and a new word of theirs that they are kept on count too.
func (s *Store) PastKeeping(ctx context.Context, driveID string, k drive.Keeping) (drive.PastKeeping, error) {
	var past drive.PastKeeping
	d, err := s.Drive(ctx, driveID)
	if err != nil {
		return past, err
	}
	now := s.now()
	if until, ok := drive.Until(now, k.People); ok {
		const q = `SELECT number, name, last FROM people p, LATERAL (SELECT greatest(p.created_at,
				(SELECT max(at) FROM kit_entries WHERE drive_id = $1 AND holder = p.number), (SELECT max(at) FROM case_entries WHERE drive_id = $1 AND person = p.number),
				(SELECT max(at) FROM kit_reports WHERE drive_id = $1 AND person = p.number), (SELECT max(at) FROM hours WHERE drive_id = $1 AND person = p.number),
				p.agreed_on::timestamp AT TIME ZONE 'UTC', (SELECT max(created_at) FROM links WHERE drive_id = $1 AND person = p.number),
				(SELECT max(at) FROM audit WHERE drive_id = $1 AND kind = 'person' AND subject = p.number::text)) AS last) l
			WHERE drive_id = $1 AND erased_at IS NULL AND last < $2 AND NOT EXISTS (SELECT FROM kits k WHERE k.drive_id = $1 AND k.holder = p.number AND k.state = 'out')
			ORDER BY number`
		if past.People, err = s.forgettable(ctx, q, driveID, until); err != nil {
			return past, err
		}
	}
	if until, ok := drive.Until(now, k.Donors); ok {
		const q = `SELECT number, name, last FROM donors d, LATERAL (SELECT greatest(d.created_at,
				(SELECT max(created_at) FROM lots WHERE drive_id = $1 AND donor = d.number), (SELECT max(at) FROM thanks WHERE drive_id = $1 AND donor = d.number),
				(SELECT max(at) FROM audit WHERE drive_id = $1 AND kind = 'donor' AND subject = d.number::text)) AS last) l
			WHERE drive_id = $1 AND erased_at IS NULL AND last < $2 ORDER BY number`
		if past.Donors, err = s.forgettable(ctx, q, driveID, until); err != nil {
			return past, err
		}
	}
	lastDay := func(until time.Time) time.Time { return drive.Day(until, d.Location()).AddDate(0, 0, -1) }
	if until, ok := drive.Until(now, k.Writing); ok {
		past.NotesUntil = lastDay(until)
		if err := s.pastWriting(ctx, driveID, &past); err != nil {
			return past, err
		}
	}
	if until, ok := drive.Until(now, k.Initials); ok {
		past.InitialsUntil = lastDay(until)
		if past.Initials, err = countPast(ctx, s.pool, driveID, past.InitialsUntil, pastInitials()); err != nil {
			return past, err
		}
	}
	if until, ok := drive.Until(now, k.Things); ok {
		past.ThingsUntil = lastDay(until)
		if past.Things, err = countPast(ctx, s.pool, driveID, past.ThingsUntil, pastThings()); err != nil {
			return past, err
		}
	}
	return past, nil
}

func (s *Store) forgettable(ctx context.Context, q, driveID string, until time.Time) ([]drive.Forgettable, error) {
	rows, err := s.pool.Query(ctx, q, driveID, until)
	if err != nil {
		return nil, fmt.Errorf("past keeping: %w", err)
	}
	return collect(rows, "past keeping", pgx.RowToStructByName[drive.Forgettable])
}

func (s *Store) pastWriting(ctx context.Context, driveID string, past *drive.PastKeeping) error {
	// A delivery that was undone, or that nobody ever answered, has a day too.
	const deliveries = `SELECT d.number FROM deliveries d JOIN drives w ON w.id = d.drive_id WHERE d.drive_id = $1
		AND coalesce(d.confirmed_on, (d.undone_at AT TIME ZONE w.zone)::date, d.sent_on, (d.created_at AT TIME ZONE w.zone)::date) <= $2 AND (d.confirmed_by NOT IN ('', $3) OR d.carried_by <> '' OR d.note <> ''
			OR EXISTS (SELECT FROM delivery_answers a WHERE a.drive_id = $1 AND a.delivery = d.number AND (a.said_by <> '' OR a.note <> ''))
			OR EXISTS (SELECT FROM delivery_settled s WHERE s.drive_id = $1 AND s.delivery = d.number AND s.reason <> '')
			OR EXISTS (SELECT FROM boxes b JOIN box_rules r ON r.drive_id = b.drive_id AND r.box = b.number
				WHERE b.drive_id = $1 AND b.delivery = d.number AND NOT r.kept AND r.why <> $3))
		ORDER BY d.number`
	rows, err := s.pool.Query(ctx, deliveries, driveID, past.NotesUntil, notKept)
	if err != nil {
		return fmt.Errorf("past keeping, deliveries: %w", err)
	}
	if past.Deliveries, err = collect(rows, "past keeping, deliveries", pgx.RowTo[int64]); err != nil {
		return err
	}
	const notes = `SELECT (SELECT count(*) FROM case_notes n JOIN case_entries e ON e.drive_id = n.drive_id AND e.id = n.entry WHERE n.drive_id = $1 AND e.day <= $2 AND n.note <> '')
		+ (SELECT count(*) FROM checks WHERE drive_id = $1 AND day <= $2 AND note <> '') + (SELECT count(*) FROM laundry WHERE drive_id = $1 AND started_on <= $2 AND note <> '')
		+ (SELECT count(*) FROM box_rules r WHERE r.drive_id = $1 AND NOT r.kept AND r.why <> $3 AND ` + boxStayed + `)`
	if err := s.pool.QueryRow(ctx, notes, driveID, past.NotesUntil, notKept).Scan(&past.Notes); err != nil {
		return fmt.Errorf("past keeping, notes: %w", err)
	}
	return nil
}

// ForgetPast forgets, in every drive, what is kept longer than the drive wants, as
// somebody would by hand: each one is in the audit trail. It gives how many things
// went. What somebody takes up in that moment, such as a kit, stays.
func (s *Store) ForgetPast(ctx context.Context) (int, error) {
	const q = `SELECT drive_id FROM keeping WHERE coalesce(people, donors, writing, initials, things) IS NOT NULL ORDER BY 1`
	rows, err := s.pool.Query(ctx, q)
	if err != nil {
		return 0, fmt.Errorf("drives that keep: %w", err)
	}
	drives, err := collect(rows, "drives that keep", pgx.RowTo[string])
	if err != nil {
		return 0, err
	}
	gone := 0
	var failed []error
	for _, id := range drives {
		n, err := s.forgetPastOf(ctx, id)
		if gone += n; err != nil {
			failed = append(failed, fmt.Errorf("drive %s: %w", id, err))
		}
	}
	return gone, errors.Join(failed...)
}

// forgetPastOf goes on after what fails, so that it holds nothing else up.
func (s *Store) forgetPastOf(ctx context.Context, driveID string) (int, error) {
	k, err := s.Keeping(ctx, driveID)
	if err != nil {
		return 0, err
	}
	past, err := s.PastKeeping(ctx, driveID, k)
	if err != nil {
		return 0, err
	}
	now, gone := s.now(), 0
	var failed []error
	try := func(what string, number int64, do func(act drive.Act) error) {
		err := do(drive.Act{Drive: driveID, Key: fmt.Sprintf("keeping-%s-%d-%d", what, number, now.UnixNano()), At: now, Request: "keeping"})
		switch {
		case err == nil:
			gone++
		case !apperr.Is(err, apperr.KindConflict):
			failed = append(failed, fmt.Errorf("%s %d: %w", what, number, err))
		}
	}
	for _, p := range past.People {
		try("person", p.Number, func(act drive.Act) error { _, err := s.ErasePerson(ctx, act, p.Number); return err })
	}
	for _, d := range past.Donors {
		try("donor", d.Number, func(act drive.Act) error { _, err := s.EraseDonor(ctx, act, d.Number); return err })
	}
	for _, number := range past.Deliveries {
		try("delivery", number, func(act drive.Act) error { _, err := s.ForgetWritten(ctx, act, number); return err })
	}
	if past.Notes > 0 {
		try("notes", 0, func(act drive.Act) error { _, err := s.ForgetNotes(ctx, act, past.NotesUntil); return err })
	}
	if past.Initials > 0 {
		try("initials", 0, func(act drive.Act) error { _, err := s.ForgetInitials(ctx, act, past.InitialsUntil); return err })
	}
	if past.Things > 0 {
		try("things", 0, func(act drive.Act) error { _, err := s.ForgetThings(ctx, act, past.ThingsUntil); return err })
	}
	return gone, errors.Join(failed...)
}
