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

// Erased is somebody who was erased, by number: a person who sews or a donor of a drive, or an
// account, which is of none. It holds nothing of who it was.
type Erased struct {
	Kind    string    `db:"kind"` // "person", "donor" or "account"
	Drive   string    `db:"drive"`
	Number  int64     `db:"number"`
	Created time.Time `db:"created_at"` // when the number was given; a number may be given again after a restore. Zero: not known
	At      time.Time `db:"erased_at"`
}

// The kinds of who can be erased.
const (
	ErasedPerson  = "person"
	ErasedDonor   = "donor"
	ErasedAccount = "account"
)

// Erased gives everybody who was erased in this database, in an order that stays.
func (s *Store) Erased(ctx context.Context) ([]Erased, error) {
	const q = `SELECT 'account' AS kind, '' AS drive, id AS number, created_at, erased_at FROM accounts WHERE erased_at IS NOT NULL
		UNION ALL SELECT 'donor', drive_id, number, created_at, erased_at FROM donors WHERE erased_at IS NOT NULL
		UNION ALL SELECT 'person', drive_id, number, created_at, erased_at FROM people WHERE erased_at IS NOT NULL
		ORDER BY 1, 2, 3`
	rows, err := s.pool.Query(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("who was erased: %w", err)
	}
	return collect(rows, "who was erased", pgx.RowToStructByName[Erased])
}

// StillToErase gives who is in this database again since a restore put them back, and was not
// erased anew because it was cut off.
func (s *Store) StillToErase(ctx context.Context) ([]Erased, error) {
	const q = `SELECT kind, drive, number, created_at, erased_at FROM erase_again ORDER BY kind, drive, number, erased_at`
	rows, err := s.pool.Query(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("who is still to be erased: %w", err)
	}
	return collect(rows, "who is still to be erased", func(row pgx.CollectableRow) (e Erased, err error) {
		var created *time.Time
		if err = row.Scan(&e.Kind, &e.Drive, &e.Number, &created, &e.At); err == nil && created != nil {
			e.Created = *created
		}
		return e, err
	})
}

// NobodyToErase returns nil where nobody is still to be erased, and else a conflict that says what to
// do: until then the database is not as people were told, and nobody may be let in.
func (s *Store) NobodyToErase(ctx context.Context) error { return nobodyToErase(ctx, s.pool) }

func nobodyToErase(ctx context.Context, db querier) error {
	const q = `SELECT count(*) FROM erase_again`
	var n int64
	if err := db.QueryRow(ctx, q).Scan(&n); err != nil {
		return fmt.Errorf("who is still to be erased: %w", err)
	}
	if n == 0 {
		return nil
	}
	return apperr.Conflict("A restore was cut off here before it had erased again who was erased since its backup was made; %d of its list are still to be gone through. Finish it first: boltward restore --finish", n)
}

// StillToErase keeps who is to be erased again, in the transaction that puts them back.
func (f *Filling) StillToErase(ctx context.Context, list []Erased) error {
	const q = `INSERT INTO erase_again (kind, drive, number, created_at, erased_at) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`
	var all pgx.Batch
	for _, e := range list {
		all.Queue(q, e.Kind, e.Drive, e.Number, whenKnown(e.Created), e.At)
	}
	return wrapped("keep who is still to be erased", f.tx.SendBatch(ctx, &all).Close())
}

func whenKnown(at time.Time) *time.Time {
	if at.IsZero() {
		return nil
	}
	return &at
}

// ErasedAgain says what came of erasing somebody again.
type ErasedAgain struct {
	Done  bool // false where they are erased already, or are not here
	Here  bool
	Other bool `json:",omitempty"` // they are not here: somebody else has the number
	// What is left to do by hand.
	Kits        []drive.KitRef `json:",omitempty"` // that stand with them still
	NoOrganiser []string       `json:",omitempty"` // drives of which they were the last
}

// EraseAgain erases who was erased after the backup was made from which this database comes. It
// does not wait for what would have to be done first at a desk: kits that stand with them as on
// that day, and a drive that has no organiser then, are told. The act is in the drive of whom it
// erases. Where it is known when they were given the number, whoever was given it at another moment
// is another, and stays; where it is not, so does whoever was given it after they were erased.
// Whichever it was, they are no longer still to be erased: where it is known when they were given
// the number, by whichever of several moments they are said to have been erased at.
func (s *Store) EraseAgain(ctx context.Context, act drive.Act, e Erased) (ErasedAgain, error) {
	if act.Drive != e.Drive {
		return ErasedAgain{}, fmt.Errorf("erase %s %d of %q again: the act is in %q", e.Kind, e.Number, e.Drive, act.Drive)
	}
	if e.At.IsZero() {
		return ErasedAgain{}, apperr.Invalid("erased", "When %s %d was erased is missing: somebody else may have the number by now.", e.Kind, e.Number)
	}
	return once(ctx, s, act, "erase again", e, func(tx pgx.Tx) (ErasedAgain, error) {
		var out ErasedAgain
		const due = `DELETE FROM erase_again WHERE kind = $1 AND drive = $2 AND number = $3 AND (created_at = $4 OR created_at IS NULL AND $4::timestamptz IS NULL AND erased_at = $5)`
		if _, err := tx.Exec(ctx, due, e.Kind, e.Drive, e.Number, whenKnown(e.Created), e.At); err != nil {
			return out, fmt.Errorf("erase again: %w", err)
		}
		q, known := map[string]string{
			ErasedPerson:  `SELECT created_at, erased_at IS NOT NULL FROM people WHERE drive_id = $1 AND number = $2`,
			ErasedDonor:   `SELECT created_at, erased_at IS NOT NULL FROM donors WHERE drive_id = $1 AND number = $2`,
			ErasedAccount: `SELECT created_at, erased_at IS NOT NULL FROM accounts WHERE $1 = '' AND id = $2`,
		}[e.Kind]
		if !known {
			return out, apperr.Invalid("kind", "%q is nobody who can be erased: person, donor or account.", e.Kind)
		}
		var created time.Time
		var erased bool
		err := tx.QueryRow(ctx, q, e.Drive, e.Number).Scan(&created, &erased)
		if errors.Is(err, pgx.ErrNoRows) {
			return out, nil
		}
		if err != nil {
			return out, fmt.Errorf("look for who was erased: %w", err)
		}
		if out.Here = e.Created.Equal(created); e.Created.IsZero() {
			out.Here = !created.After(e.At)
		}
		if out.Other = !out.Here; out.Other || erased {
			return out, nil
		}
		out.Done = true
		switch e.Kind {
		case ErasedDonor:
			_, err = eraseDonor(ctx, tx, act, e.Number)
		case ErasedAccount:
			out.NoOrganiser, err = eraseAccount(ctx, tx, act, e.Number)
		default:
			if _, err = erasePerson(ctx, tx, act, e.Number); err == nil {
				out.Kits, err = kitsWith(ctx, tx, act.Drive, e.Number)
			}
		}
		return out, err
	})
}

func kitsWith(ctx context.Context, tx pgx.Tx, driveID string, person int64) ([]drive.KitRef, error) {
	const q = `SELECT number, part FROM kits WHERE drive_id = $1 AND holder = $2 AND state = 'out' ORDER BY number, part`
	return kitsOf(ctx, tx, q, driveID, person)
}

// eraseAccount erases an account whatever it leaves behind, and gives the drives that have no
// organiser then.
func eraseAccount(ctx context.Context, tx pgx.Tx, act drive.Act, id int64) (without []string, err error) {
	held, err := lockMember(ctx, tx, id)
	if err != nil {
		return nil, err
	}
	for _, m := range held {
		switch err := leave(ctx, tx, act, id, m); {
		case apperr.Is(err, apperr.KindConflict):
			without = append(without, m.DriveID)
		case err != nil:
			return nil, err
		}
	}
	if err := forgetAccount(ctx, tx, act, id); err != nil {
		return nil, err
	}
	return without, auditErased(ctx, tx, act, id, held)
}
