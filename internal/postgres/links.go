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

// Link is what a sign-in link is for: making the first organiser, or letting
// the person named choose a password.
type Link struct {
	First  bool
	Person account.Person // zero where First
}

// FirstLink gives the id of the link that makes the first organiser, good for
// account.FirstLinkLife from now; empty when somebody can sign in already. It
// is the same link each time until it is used.
func (s *Store) FirstLink(ctx context.Context) (string, error) {
	const q = `INSERT INTO links AS l (id, purpose, created_at, expires_at)
		SELECT $1, 'first', $2, $3 WHERE NOT EXISTS (SELECT 1 FROM accounts WHERE erased_at IS NULL)
		ON CONFLICT (purpose) WHERE purpose = 'first' AND used_at IS NULL AND revoked_at IS NULL
		DO UPDATE SET expires_at = greatest(l.expires_at, EXCLUDED.expires_at)
		RETURNING id`
	id, err := account.NewLinkID()
	if err != nil {
		return "", err
	}
	now := s.now()
	err = s.pool.QueryRow(ctx, q, id, now, now.Add(account.FirstLinkLife)).Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("first link: %w", err)
	}
	return id, nil
}

// AccountLink gives the id of a new link by which somebody chooses a password,
// good for account.AccountLinkLife. Earlier ones stop working. An address that
// nobody has is not found.
func (s *Store) AccountLink(ctx context.Context, act drive.Act, email string) (string, error) {
	return once(ctx, s, act, "account link", email, func(tx pgx.Tx) (string, error) {
		p, _, err := memberByEmail(ctx, tx, act.Drive, email)
		if err != nil {
			return "", err
		}
		if err := holdAccount(ctx, tx, p.ID); err != nil {
			return "", err
		}
		if err := revokeAccountLinks(ctx, tx, act.At, p.ID); err != nil {
			return "", err
		}
		id, err := account.NewLinkID()
		if err != nil {
			return "", err
		}
		const insert = `INSERT INTO links (id, purpose, account_id, created_at, expires_at) VALUES ($1, 'account', $2, $3, $4)`
		if _, err := tx.Exec(ctx, insert, id, p.ID, act.At, act.At.Add(account.AccountLinkLife)); err != nil {
			return "", fmt.Errorf("account link: %w", err)
		}
		return id, audit(ctx, tx, act, "link made", "account", p.ID, nil)
	})
}

// Link says what a link is for. One that is unknown, used, revoked or past its
// time is not found, without saying which.
func (s *Store) Link(ctx context.Context, id string) (Link, error) {
	return link(ctx, s.pool, id, s.now(), "")
}

// UsedBy gives the address of the account whose password a link has set; nothing for the
// link of a first organiser, who gives an address by its form. One that was not used,
// or whose account is erased, is not found.
func (s *Store) UsedBy(ctx context.Context, id string) (string, error) {
	const q = `SELECT coalesce(a.email, '') FROM links l LEFT JOIN accounts a ON a.id = l.account_id
		WHERE l.id = $1 AND l.used_at IS NOT NULL AND (l.purpose = 'first' OR l.purpose = 'account' AND a.erased_at IS NULL)`
	var email string
	err := s.pool.QueryRow(ctx, q, id).Scan(&email)
	if errors.Is(err, pgx.ErrNoRows) {
		return "", linkGone()
	}
	if err != nil {
		return "", fmt.Errorf("used link: %w", err)
	}
	return email, nil
}

// UseFirstLink makes the first organiser, of every drive that has none yet as
// well, and ends the link. The link must be good and nobody able to sign in yet;
// hash is that of the password.
func (s *Store) UseFirstLink(ctx context.Context, id, name, email, hash string) (account.Person, error) {
	p := account.Person{Epoch: 1, Opens: true}
	var bad error
	if p.Name, bad = account.CleanName(name); bad != nil {
		return account.Person{}, bad
	}
	if p.Email, bad = account.CleanEmail(email); bad != nil {
		return account.Person{}, bad
	}
	p.Initials = account.Initials(p.Name)
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		now := s.now()
		// The link's row is locked first: of two people with the same link, the
		// second finds it used.
		l, err := link(ctx, tx, id, now, " FOR NO KEY UPDATE OF l")
		if err != nil {
			return err
		}
		const q = `SELECT EXISTS (SELECT 1 FROM accounts WHERE erased_at IS NULL)`
		var any bool
		if err := tx.QueryRow(ctx, q).Scan(&any); err != nil {
			return fmt.Errorf("any account: %w", err)
		}
		if any || !l.First {
			return linkGone()
		}
		if p.ID, err = insertAccount(ctx, tx, now, p, hash); err != nil {
			return err
		}
		act := drive.Act{Who: p.ID, At: now}
		if err := joinOrphans(ctx, tx, act); err != nil {
			return err
		}
		if err := useLink(ctx, tx, id, now); err != nil {
			return err
		}
		return audit(ctx, tx, act, "first organiser", "account", p.ID, nil)
	})
	return p, person(err)
}

// joinOrphans makes somebody the organiser of the drives that were started from
// the command line, before anybody could sign in.
func joinOrphans(ctx context.Context, tx pgx.Tx, act drive.Act) error {
	const q = `INSERT INTO memberships (drive_id, account_id, role, created_at)
		SELECT d.id, $1, 'organiser', $2 FROM drives d
		WHERE NOT EXISTS (SELECT 1 FROM memberships m WHERE m.drive_id = d.id AND m.role = 'organiser')
		RETURNING drive_id`
	rows, err := tx.Query(ctx, q, act.Who, act.At)
	if err != nil {
		return fmt.Errorf("join drives without an organiser: %w", err)
	}
	joined, err := collect(rows, "join drives without an organiser", pgx.RowTo[string])
	if err != nil {
		return err
	}
	for _, act.Drive = range joined {
		if err := audit(ctx, tx, act, "role set", "account", act.Who, changes{"role": {To: account.Organiser}}); err != nil {
			return err
		}
	}
	return nil
}

// UseAccountLink sets the password of the person whose link it is, ends the
// link, and ends every session that person had.
func (s *Store) UseAccountLink(ctx context.Context, id, hash string) (account.Person, error) {
	var p account.Person
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		now := s.now()
		l, err := link(ctx, tx, id, now, " FOR NO KEY UPDATE OF l")
		if err != nil {
			return err
		}
		if l.First {
			return linkGone()
		}
		p = l.Person
		if p.Epoch, err = newPassword(ctx, tx, now, p.ID, hash, 0); err != nil {
			return err
		}
		if err := useLink(ctx, tx, id, now); err != nil {
			return err
		}
		if err := revokeAccountLinks(ctx, tx, now, p.ID); err != nil {
			return err
		}
		return audit(ctx, tx, drive.Act{Who: p.ID, At: now}, "password chosen", "account", p.ID, nil)
	})
	return p, err
}

// queryer is a pool or a transaction.
type queryer interface {
	QueryRow(ctx context.Context, q string, args ...any) pgx.Row
}

func link(ctx context.Context, db queryer, id string, now time.Time, lock string) (Link, error) {
	const q = `SELECT l.purpose = 'first', coalesce(a.id, 0), coalesce(a.name, ''), coalesce(a.initials, ''), coalesce(a.email, ''),
			coalesce(a.epoch, 0), coalesce(a.opens, false)
		FROM links l LEFT JOIN accounts a ON a.id = l.account_id
		WHERE l.id = $1 AND l.purpose IN ('first', 'account') AND l.used_at IS NULL AND l.revoked_at IS NULL AND l.expires_at > $2`
	var l Link
	p := &l.Person
	err := db.QueryRow(ctx, q+lock, id, now).Scan(&l.First, &p.ID, &p.Name, &p.Initials, &p.Email, &p.Epoch, &p.Opens)
	if errors.Is(err, pgx.ErrNoRows) {
		return Link{}, linkGone()
	}
	if err != nil {
		return Link{}, fmt.Errorf("link: %w", err)
	}
	return l, nil
}

// revokeAccountLinks ends every link by which somebody could still choose a password.
func revokeAccountLinks(ctx context.Context, tx pgx.Tx, at time.Time, id int64) error {
	const q = `UPDATE links SET revoked_at = $2 WHERE account_id = $1 AND used_at IS NULL AND revoked_at IS NULL`
	if _, err := tx.Exec(ctx, q, id, at); err != nil {
		return fmt.Errorf("revoke links: %w", err)
	}
	return nil
}

func useLink(ctx context.Context, tx pgx.Tx, id string, now time.Time) error {
	const q = `UPDATE links SET used_at = $2 WHERE id = $1`
	if _, err := tx.Exec(ctx, q, id, now); err != nil {
		return fmt.Errorf("use link: %w", err)
	}
	return nil
}

func linkGone() error {
	return apperr.NotFound("This link does not work any more: it was used, has run out, or was replaced by a newer one. Ask for a new one.")
}

func insertAccount(ctx context.Context, tx pgx.Tx, now time.Time, p account.Person, hash string) (int64, error) {
	const q = `INSERT INTO accounts (email, name, initials, password, epoch, opens, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7) RETURNING id`
	var id int64
	if err := tx.QueryRow(ctx, q, p.Email, p.Name, p.Initials, hash, p.Epoch, p.Opens, now).Scan(&id); err != nil {
		return 0, fmt.Errorf("insert account: %w", err)
	}
	return id, nil
}
