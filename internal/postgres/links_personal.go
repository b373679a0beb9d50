package postgres

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// PersonLink gives the id of the personal link of somebody who sews, good for
// account.PersonalLinkLife from now: the same each time, so that it can be
// printed again. With renew it is a new one, and the old one stops working.
// Nobody of that number is not found; somebody who is forgotten is a conflict.
func (s *Store) PersonLink(ctx context.Context, act drive.Act, person int64, renew bool) (string, error) {
	type body struct {
		Person int64
		Renew  bool
	}
	return once(ctx, s, act, "personal link", body{person, renew}, func(tx pgx.Tx) (string, error) {
		if err := lockPerson(ctx, tx, act.Drive, person); err != nil {
			return "", err
		}
		if err := notForgotten(ctx, tx, act.Drive, person); err != nil {
			return "", err
		}
		id, err := renewedLink(ctx, tx, act, linkHolder{person: &person}, renew)
		if err != nil {
			return "", err
		}
		return id, audit(ctx, tx, act, "personal link made", "person", person, nil)
	})
}

// EndPersonLink makes somebody's personal link stop working. It says whether
// there was one.
func (s *Store) EndPersonLink(ctx context.Context, act drive.Act, person int64) (bool, error) {
	return once(ctx, s, act, "end personal link", person, func(tx pgx.Tx) (bool, error) {
		if err := lockPerson(ctx, tx, act.Drive, person); err != nil {
			return false, err
		}
		ended, err := endHolderLink(ctx, tx, act, linkHolder{person: &person})
		if err != nil {
			return false, err
		}
		return ended, audit(ctx, tx, act, "personal link ended", "person", person, nil)
	})
}

// PersonLinks gives the ids of the personal links of these people that work, by
// person; who has none is left out.
func (s *Store) PersonLinks(ctx context.Context, driveID string, people []int64) (map[int64]string, error) {
	const q = `SELECT person, id FROM links WHERE drive_id = $1 AND person = ANY($2) AND revoked_at IS NULL AND expires_at > $3`
	rows, err := s.pool.Query(ctx, q, driveID, people, s.now())
	if err != nil {
		return nil, fmt.Errorf("personal links: %w", err)
	}
	links := map[int64]string{}
	var person int64
	var id string
	_, err = pgx.ForEachRow(rows, []any{&person, &id}, func() error { links[person] = id; return nil })
	if err != nil {
		return nil, fmt.Errorf("personal links: %w", err)
	}
	return links, nil
}

// Guest is whose personal link was opened.
type Guest struct {
	Drive  drive.Drive
	Person drive.Person
}

// PersonByLink gives whose link this is. One that is unknown, ended or past its
// time is not found, without saying which.
func (s *Store) PersonByLink(ctx context.Context, id string) (Guest, error) {
	const q = `SELECT d.*, p.* FROM links l
		CROSS JOIN LATERAL (SELECT ` + driveColumns + ` FROM drives WHERE id = l.drive_id) d
		CROSS JOIN LATERAL (SELECT ` + sewerColumns + ` FROM people WHERE drive_id = l.drive_id AND number = l.person) p
		WHERE l.id = $1 AND l.purpose = 'person' AND l.revoked_at IS NULL AND l.expires_at > $2`
	var g Guest
	var err error
	g.Drive, g.Person, err = linkFor[drive.Person](ctx, s, q, id)
	return g, err
}

// linkFor gives the drive and whom in it a link is for: q gives the columns of the drive
// and after them those of whom.
func linkFor[T any](ctx context.Context, s *Store, q, id string) (drive.Drive, T, error) {
	type both struct {
		drive drive.Drive
		whom  T
	}
	var none both
	rows, err := s.pool.Query(ctx, q, id, s.now())
	if err != nil {
		return none.drive, none.whom, fmt.Errorf("personal link: %w", err)
	}
	found, err := pgx.CollectExactlyOneRow(rows, func(row pgx.CollectableRow) (b both, err error) {
		of := strings.Count(driveColumns, ",") + 1
		if b.drive, err = pgx.RowToStructByName[drive.Drive](columns{row, 0, of}); err != nil {
			return b, err
		}
		b.whom, err = pgx.RowToStructByName[T](columns{row, of, len(row.FieldDescriptions())})
		return b, err
	})
	if errors.Is(err, pgx.ErrNoRows) {
		return none.drive, none.whom, apperr.NotFound("This link does not work any more.")
	}
	if err != nil {
		return none.drive, none.whom, fmt.Errorf("personal link: %w", err)
	}
	return found.drive, found.whom, nil
}

// columns is some of a row, for a statement that gives two things which call columns alike.
type columns struct {
	pgx.CollectableRow
	from, to int
}

func (c columns) FieldDescriptions() []pgconn.FieldDescription {
	return c.CollectableRow.FieldDescriptions()[c.from:c.to]
}

func (c columns) Scan(into ...any) error {
	all := make([]any, len(c.CollectableRow.FieldDescriptions()))
	copy(all[c.from:c.to], into)
	return c.CollectableRow.Scan(all...)
}

// linkHolder is whose personal link it is: somebody who sews, or a recipient.
type linkHolder struct {
	person    *int64
	recipient *int64
}

func (h linkHolder) purpose() string {
	if h.person != nil {
		return "person"
	}
	return "recipient"
}

// holderLink keeps a new id as somebody's personal link, or gives the one that is there,
// good for its life from now.
func holderLink(ctx context.Context, tx pgx.Tx, driveID string, holder linkHolder, now time.Time) (string, error) {
	id, err := account.NewLinkID()
	if err != nil {
		return "", err
	}
	until := now.Add(account.PersonalLinkLife)
	const insert = `INSERT INTO links (id, purpose, drive_id, person, recipient, created_at, expires_at) VALUES ($1, $2, $3, $4, $5, $6, $7)
		ON CONFLICT DO NOTHING`
	tag, err := tx.Exec(ctx, insert, id, holder.purpose(), driveID, holder.person, holder.recipient, now, until)
	if err != nil {
		return "", fmt.Errorf("personal link: %w", err)
	}
	if tag.RowsAffected() > 0 {
		return id, nil
	}
	const longer = `UPDATE links SET expires_at = greatest(expires_at, $4)
		WHERE drive_id = $1 AND (person = $2 OR recipient = $3) AND revoked_at IS NULL RETURNING id`
	if err := tx.QueryRow(ctx, longer, driveID, holder.person, holder.recipient, until).Scan(&id); err != nil {
		return "", fmt.Errorf("personal link: %w", err)
	}
	return id, nil
}

func endHolderLink(ctx context.Context, tx pgx.Tx, act drive.Act, holder linkHolder) (bool, error) {
	const q = `UPDATE links SET revoked_at = $4 WHERE drive_id = $1 AND (person = $2 OR recipient = $3) AND revoked_at IS NULL`
	tag, err := tx.Exec(ctx, q, act.Drive, holder.person, holder.recipient, act.At)
	if err != nil {
		return false, fmt.Errorf("end personal link: %w", err)
	}
	return tag.RowsAffected() > 0, nil
}

// renewedLink gives somebody's personal link, a new one where renew is wished.
func renewedLink(ctx context.Context, tx pgx.Tx, act drive.Act, holder linkHolder, renew bool) (string, error) {
	if renew {
		if _, err := endHolderLink(ctx, tx, act, holder); err != nil {
			return "", err
		}
	}
	return holderLink(ctx, tx, act.Drive, holder, act.At)
}

// lockPerson holds somebody's row, so that two wishes about them follow each other.
func lockPerson(ctx context.Context, tx pgx.Tx, driveID string, person int64) error {
	const q = `SELECT created_at FROM people WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	var at time.Time
	return noSuchPerson(tx.QueryRow(ctx, q, driveID, person).Scan(&at))
}

func notForgotten(ctx context.Context, tx pgx.Tx, driveID string, person int64) error {
	const q = `SELECT erased_at IS NOT NULL FROM people WHERE drive_id = $1 AND number = $2`
	var gone bool
	if err := tx.QueryRow(ctx, q, driveID, person).Scan(&gone); err != nil {
		return noSuchPerson(err)
	}
	if gone {
		return apperr.Conflict("They asked to be forgotten. Add them anew if they sew again.")
	}
	return nil
}
