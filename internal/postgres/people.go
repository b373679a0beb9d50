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

const sewerColumns = `number, kind, name, pickup, heads, french_seam, overlocker, beginner, pace, language, smoke, pets, note, active, created_at, erased_at, version`

const contactColumns = `contact, email, phone, address, agreed_on`

// Person gives somebody who sews, without how to reach them; not found where
// the drive has nobody of that number.
func (s *Store) Person(ctx context.Context, driveID string, number int64) (drive.Person, error) {
	const q = `SELECT ` + sewerColumns + ` FROM people WHERE drive_id = $1 AND number = $2`
	return onePerson(ctx, s.pool, q, driveID, number)
}

// Contacts gives how to reach somebody. It is a question of its own, so that a
// page for people who may not read it never holds it.
func (s *Store) Contacts(ctx context.Context, driveID string, number int64) (drive.Contacts, error) {
	const q = `SELECT ` + contactColumns + ` FROM people WHERE drive_id = $1 AND number = $2`
	return oneContacts(ctx, s.pool, q, driveID, number)
}

// ContactsOf gives how to reach everybody, by number. It is for whoever may read
// contacts.
func (s *Store) ContactsOf(ctx context.Context, driveID string) (map[int64]drive.Contacts, error) {
	const q = `SELECT number, ` + contactColumns + ` FROM people WHERE drive_id = $1`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("contacts: %w", err)
	}
	type row struct {
		Number int64 `db:"number"`
		drive.Contacts
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[row])
	if err != nil {
		return nil, fmt.Errorf("contacts: %w", err)
	}
	all := make(map[int64]drive.Contacts, len(list))
	for _, r := range list {
		all[r.Number] = r.Contacts
	}
	return all, nil
}

// PersonSaved says which person was kept and at which version. It holds nothing
// personal, since answers are kept for repeats.
type PersonSaved struct {
	Number  int64
	Version int
}

// CreatePerson adds somebody who sews and gives them a number; c is nil where
// whoever adds them may not write contacts. It refuses by field what
// drive.CheckPerson refuses, and a name that somebody else has.
func (s *Store) CreatePerson(ctx context.Context, act drive.Act, p drive.Person, c *drive.Contacts) (PersonSaved, error) {
	p, c = tidyPerson(p, c)
	p.Active = true
	return once(ctx, s, act, "create person", personBody{p, c}, func(tx pgx.Tx) (PersonSaved, error) {
		saved := PersonSaved{Version: 1}
		err := checkPerson(ctx, tx, act, p, c)
		if err != nil {
			return saved, err
		}
		if saved.Number, err = next(ctx, tx, act.Drive, "person"); err != nil {
			return saved, err
		}
		if c == nil {
			c = &drive.Contacts{}
		}
		const insert = `INSERT INTO people (drive_id, number, kind, name, contact, email, phone, address, agreed_on,
				pickup, heads, french_seam, overlocker, beginner, pace, language, smoke, pets, note, active, created_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21)`
		_, err = tx.Exec(ctx, insert, act.Drive, saved.Number, p.Kind, p.Name, c.Contact, c.Email, c.Phone, c.Address, c.AgreedOn,
			p.Pickup, p.Heads, p.FrenchSeam, p.Overlocker, p.Beginner, p.Pace, p.Language, p.Smoke, p.Pets, p.Note, p.Active, act.At)
		if err != nil {
			return saved, fmt.Errorf("create person: %w", err)
		}
		return saved, audit(ctx, tx, act, "person added", "person", saved.Number, personChanges(drive.Person{Active: true}, p, drive.Contacts{}, *c))
	})
}

// UpdatePerson changes somebody who is still at p.Version; a later one is a
// conflict. Contacts stay as they are where c is nil. Somebody who has kits may
// rest, but what they have stays with them.
func (s *Store) UpdatePerson(ctx context.Context, act drive.Act, p drive.Person, c *drive.Contacts) (PersonSaved, error) {
	p, c = tidyPerson(p, c)
	return once(ctx, s, act, "update person", personBody{p, c}, func(tx pgx.Tx) (PersonSaved, error) {
		saved := PersonSaved{Number: p.Number, Version: p.Version + 1}
		if err := checkPerson(ctx, tx, act, p, c); err != nil {
			return saved, err
		}
		const lock = `SELECT ` + sewerColumns + ` FROM people WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
		old, err := onePerson(ctx, tx, lock, act.Drive, p.Number)
		if err != nil {
			return saved, err
		}
		switch {
		case old.ErasedAt != nil:
			return saved, apperr.Conflict("They asked to be forgotten. Add them anew if they sew again.")
		case old.Version != p.Version:
			return saved, stale(old.Name)
		}
		p := p
		p.Name = drive.KeptName(old.Name, p.Name)
		const contacts = `SELECT ` + contactColumns + ` FROM people WHERE drive_id = $1 AND number = $2`
		before, err := oneContacts(ctx, tx, contacts, act.Drive, p.Number)
		if err != nil {
			return saved, err
		}
		after := before
		if c != nil {
			after = *c
		}
		const update = `UPDATE people SET kind = $3, name = $4, contact = $5, email = $6, phone = $7, address = $8, agreed_on = $9, pickup = $10, heads = $11,
				french_seam = $12, overlocker = $13, beginner = $14, pace = $15, language = $16, smoke = $17, pets = $18, note = $19, active = $20, version = $21
			WHERE drive_id = $1 AND number = $2`
		_, err = tx.Exec(ctx, update, act.Drive, p.Number, p.Kind, p.Name, after.Contact, after.Email, after.Phone, after.Address, after.AgreedOn,
			p.Pickup, p.Heads, p.FrenchSeam, p.Overlocker, p.Beginner, p.Pace, p.Language, p.Smoke, p.Pets, p.Note, p.Active, saved.Version)
		if err != nil {
			return saved, fmt.Errorf("update person: %w", err)
		}
		return saved, audit(ctx, tx, act, "person changed", "person", p.Number, personChanges(old, p, before, after))
	})
}

// personBody is what a wish about a person is recognised by; only its hash is kept.
type personBody struct {
	Person   drive.Person
	Contacts *drive.Contacts
}

func tidyPerson(p drive.Person, c *drive.Contacts) (drive.Person, *drive.Contacts) {
	if c != nil {
		tidy := c.Tidy()
		c = &tidy
	}
	return p.Tidy(), c
}

// checkPerson is drive.CheckPerson on the drive's own day.
func checkPerson(ctx context.Context, tx pgx.Tx, act drive.Act, p drive.Person, c *drive.Contacts) error {
	_, today, err := dayOf(ctx, tx, act, time.Time{})
	if err != nil {
		return err
	}
	return drive.CheckPerson(p, c, today)
}

func onePerson(ctx context.Context, db querier, q, driveID string, number int64) (drive.Person, error) {
	rows, err := db.Query(ctx, q, driveID, number)
	if err != nil {
		return drive.Person{}, fmt.Errorf("person: %w", err)
	}
	p, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Person])
	return p, noSuchPerson(err)
}

func oneContacts(ctx context.Context, db querier, q, driveID string, number int64) (drive.Contacts, error) {
	rows, err := db.Query(ctx, q, driveID, number)
	if err != nil {
		return drive.Contacts{}, fmt.Errorf("contacts: %w", err)
	}
	c, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Contacts])
	return c, noSuchPerson(err)
}

// holderIn gives who takes kits, and holds them, so that nobody forgets them meanwhile;
// nobody of that number is an invalid "person".
func holderIn(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Holder, error) {
	const q = `SELECT number, name, active FROM people WHERE drive_id = $1 AND number = $2 AND erased_at IS NULL FOR SHARE`
	rows, err := tx.Query(ctx, q, driveID, number)
	if err != nil {
		return drive.Holder{}, fmt.Errorf("holder: %w", err)
	}
	h, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Holder])
	if errors.Is(err, pgx.ErrNoRows) {
		return h, apperr.Invalid("person", "Choose who takes it from the list.")
	}
	if err != nil {
		return h, fmt.Errorf("holder: %w", err)
	}
	return h, nil
}

func noSuchPerson(err error) error {
	if errors.Is(err, pgx.ErrNoRows) {
		return apperr.NotFound("There is nobody of that number here.")
	}
	if err != nil {
		return fmt.Errorf("person: %w", err)
	}
	return nil
}

func personChanges(old, p drive.Person, before, after drive.Contacts) changes {
	c := changes{}
	c.set("kind", old.Kind, p.Kind)
	c.set("heads", old.Heads, p.Heads)
	c.set("french seam", old.FrenchSeam, p.FrenchSeam)
	c.set("overlocker", old.Overlocker, p.Overlocker)
	c.set("beginner", old.Beginner, p.Beginner)
	c.personal("language", old.Language, p.Language) // typed freely
	c.set("agreed", before.AgreedOn != nil, after.AgreedOn != nil)
	c.personal("smoke", string(old.Smoke), string(p.Smoke))
	c.personal("pets", string(old.Pets), string(p.Pets))
	c.set("pace", orZero(old.Pace), orZero(p.Pace))
	c.set("active", old.Active, p.Active)
	c.personal("name", old.Name, p.Name)
	c.personal("pickup", old.Pickup, p.Pickup)
	c.personal("note", old.Note, p.Note)
	c.personal("contact", before.Contact, after.Contact)
	c.personal("email", before.Email, after.Email)
	c.personal("phone", before.Phone, after.Phone)
	c.personal("address", before.Address, after.Address)
	return c
}
