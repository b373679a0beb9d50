package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// PersonLink gives the id of the personal link of somebody who sews, good for
// account.PersonalLinkLife from now: the same each time, so that it can be
// printed again. With renew it is a new one, and the old one stops working.
// Nobody of that number is not found.
func (s *Store) PersonLink(ctx context.Context, act drive.Act, person int64, renew bool) (string, error) {
	type body struct {
		Person int64
		Renew  bool
	}
	return once(ctx, s, act, "personal link", body{person, renew}, func(tx pgx.Tx) (string, error) {
		if err := lockPerson(ctx, tx, act.Drive, person); err != nil {
			return "", err
		}
		if renew {
			if _, err := endPersonLink(ctx, tx, act, person); err != nil {
				return "", err
			}
		}
		id, err := account.NewLinkID()
		if err != nil {
			return "", err
		}
		if id, err = personLink(ctx, tx, id, act.Drive, person, act.At); err != nil {
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
		ended, err := endPersonLink(ctx, tx, act, person)
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
	const q = `SELECT drive_id, person FROM links WHERE id = $1 AND purpose = 'person' AND revoked_at IS NULL AND expires_at > $2`
	var driveID string
	var person int64
	err := s.pool.QueryRow(ctx, q, id, s.now()).Scan(&driveID, &person)
	if errors.Is(err, pgx.ErrNoRows) {
		return Guest{}, apperr.NotFound("This link does not work any more.")
	}
	if err != nil {
		return Guest{}, fmt.Errorf("personal link: %w", err)
	}
	var g Guest
	if g.Drive, err = s.Drive(ctx, driveID); err != nil {
		return g, err
	}
	g.Person, err = s.Person(ctx, driveID, person)
	return g, err
}

// personLink keeps id as somebody's personal link, or gives the one that is there,
// good for its life from now.
func personLink(ctx context.Context, tx pgx.Tx, id, driveID string, person int64, now time.Time) (string, error) {
	const q = `INSERT INTO links AS l (id, purpose, drive_id, person, created_at, expires_at) VALUES ($1, 'person', $2, $3, $4, $5)
		ON CONFLICT (drive_id, person) WHERE person IS NOT NULL AND revoked_at IS NULL
		DO UPDATE SET expires_at = greatest(l.expires_at, EXCLUDED.expires_at) RETURNING id`
	if err := tx.QueryRow(ctx, q, id, driveID, person, now, now.Add(account.PersonalLinkLife)).Scan(&id); err != nil {
		return "", fmt.Errorf("personal link: %w", err)
	}
	return id, nil
}

func endPersonLink(ctx context.Context, tx pgx.Tx, act drive.Act, person int64) (bool, error) {
	const q = `UPDATE links SET revoked_at = $3 WHERE drive_id = $1 AND person = $2 AND revoked_at IS NULL`
	tag, err := tx.Exec(ctx, q, act.Drive, person, act.At)
	if err != nil {
		return false, fmt.Errorf("end personal link: %w", err)
	}
	return tag.RowsAffected() > 0, nil
}

// lockPerson holds somebody's row, so that two wishes about them follow each other.
func lockPerson(ctx context.Context, tx pgx.Tx, driveID string, person int64) error {
	const q = `SELECT created_at FROM people WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	var at time.Time
	return noSuchPerson(tx.QueryRow(ctx, q, driveID, person).Scan(&at))
}
