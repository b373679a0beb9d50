package postgres

import (
	"context"
	"fmt"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// ErasePerson forgets who somebody is who sews: name, contacts, note and what they
// wrote on their own page go, their link ends, and reminders to them too. What they
// sewed and gave keeps their number. Who has kits still is a conflict.
func (s *Store) ErasePerson(ctx context.Context, act drive.Act, number int64) (PersonSaved, error) {
	return once(ctx, s, act, "erase person", number, func(tx pgx.Tx) (PersonSaved, error) {
		saved, err := erasePerson(ctx, tx, act, number)
		if err != nil {
			return PersonSaved{}, err
		}
		return saved, hasNoKits(ctx, tx, act.Drive, number)
	})
}

// erasePerson erases somebody, whatever stands with them.
func erasePerson(ctx context.Context, tx pgx.Tx, act drive.Act, number int64) (PersonSaved, error) {
	const lock = `SELECT ` + sewerColumns + ` FROM people WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	old, err := onePerson(ctx, tx, lock, act.Drive, number)
	if err != nil {
		return PersonSaved{}, err
	}
	if old.ErasedAt != nil {
		return PersonSaved{}, apperr.Conflict("They are forgotten already.")
	}
	const contacts = `SELECT ` + contactColumns + ` FROM people WHERE drive_id = $1 AND number = $2`
	before, err := oneContacts(ctx, tx, contacts, act.Drive, number)
	if err != nil {
		return PersonSaved{}, err
	}
	p := old.Erased(act.At)
	if err := forgetPerson(ctx, tx, act, p); err != nil {
		return PersonSaved{}, err
	}
	if _, err := endHolderLink(ctx, tx, act, linkHolder{person: &number}); err != nil {
		return PersonSaved{}, err
	}
	return PersonSaved{Number: number, Version: p.Version}, audit(ctx, tx, act, "person erased", "person", number, personChanges(old, p, before, drive.Contacts{}))
}

func hasNoKits(ctx context.Context, tx pgx.Tx, driveID string, person int64) error {
	const q = `SELECT number, part FROM kits WHERE drive_id = $1 AND holder = $2 AND state = 'out' ORDER BY number, part`
	rows, err := tx.Query(ctx, q, driveID, person)
	if err != nil {
		return fmt.Errorf("kits of somebody: %w", err)
	}
	kits, err := collect(rows, "kits of somebody", pgx.RowToStructByName[drive.KitRef])
	if err != nil {
		return err
	}
	if len(kits) > 0 {
		names := make([]string, len(kits))
		for i, k := range kits {
			names[i] = k.String()
		}
		return apperr.Conflict("They still have these kits: %s. Take them back, or book them as lost, before you forget who has them.", strings.Join(names, ", "))
	}
	return nil
}

func forgetPerson(ctx context.Context, tx pgx.Tx, act drive.Act, p drive.Person) error {
	const person = `UPDATE people SET name = $3, contact = '', email = '', phone = '', address = '', agreed_on = NULL, pickup = '',
			french_seam = false, overlocker = false, beginner = false, pace = NULL, language = '', smoke = '', pets = '', note = '', active = false, erased_at = $4, version = $5
		WHERE drive_id = $1 AND number = $2`
	if _, err := tx.Exec(ctx, person, act.Drive, p.Number, p.Name, p.ErasedAt, p.Version); err != nil {
		return fmt.Errorf("erase person: %w", err)
	}
	const said = `UPDATE kit_reports SET note = '' WHERE drive_id = $1 AND person = $2 AND note <> ''`
	if _, err := tx.Exec(ctx, said, act.Drive, p.Number); err != nil {
		return fmt.Errorf("erase what somebody said: %w", err)
	}
	const reminders = `UPDATE reminders SET state = CASE WHEN state IN ('draft', 'queued') THEN 'dropped' ELSE state END,
			ended_at = CASE WHEN state IN ('draft', 'queued') THEN $3 ELSE ended_at END, trouble = ''
		WHERE drive_id = $1 AND person = $2 AND (state IN ('draft', 'queued') OR trouble <> '')`
	if _, err := tx.Exec(ctx, reminders, act.Drive, p.Number, act.At); err != nil {
		return fmt.Errorf("erase reminders: %w", err)
	}
	return nil
}
