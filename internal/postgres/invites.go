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

// InviteMade is an invitation that was just made, with the id of its link.
type InviteMade struct {
	Number int64
	Link   string
	Until  time.Time
}

// Invite is an invitation as its link opens it.
type Invite struct {
	Drive     string       `db:"drive_id"`
	DriveName string       `db:"drive_name"`
	Number    int64        `db:"number"`
	Role      account.Role `db:"role"`
	Name      string       `db:"name"`    // for whom it was meant; may be empty
	By        string       `db:"made_by"` // who invites
	Until     time.Time    `db:"expires_at"`
}

// MakeInvite makes an invitation into the act's drive for account.InviteLife; name
// says for whom, and may be empty. link is the id of the link it gets, unless the
// same wish got one before.
func (s *Store) MakeInvite(ctx context.Context, act drive.Act, role account.Role, name, link string) (InviteMade, error) {
	if _, err := account.ParseRole(string(role)); err != nil {
		return InviteMade{}, err
	}
	if name != "" {
		var err error
		if name, err = account.CleanName(name); err != nil {
			return InviteMade{}, err
		}
	}
	return once(ctx, s, act, "make invite", []string{string(role), name}, func(tx pgx.Tx) (InviteMade, error) {
		if err := letsIn(ctx, tx, act); err != nil {
			return InviteMade{}, err
		}
		made := InviteMade{Link: link, Until: act.At.Add(account.InviteLife)}
		var err error
		if made.Number, err = next(ctx, tx, act.Drive, "invite"); err != nil {
			return made, err
		}
		if err := insertDriveLink(ctx, tx, act, "invite", made.Link, made.Until); err != nil {
			return made, err
		}
		const insert = `INSERT INTO invites (drive_id, number, role, name, link, made_by, at) VALUES ($1, $2, $3, $4, $5, $6, $7)`
		if _, err := tx.Exec(ctx, insert, act.Drive, made.Number, role, name, made.Link, act.Who, act.At); err != nil {
			return made, fmt.Errorf("make invite: %w", err)
		}
		return made, audit(ctx, tx, act, "invited", "invite", made.Number, changes{"role": {To: role}})
	})
}

const invitesFrom = `SELECT i.drive_id, d.name AS drive_name, i.number, i.role, i.name, coalesce(a.name, '') AS made_by, l.expires_at
	FROM invites i JOIN links l ON l.id = i.link JOIN drives d ON d.id = i.drive_id LEFT JOIN accounts a ON a.id = i.made_by
	WHERE `

const openInvites = invitesFrom + `l.used_at IS NULL AND l.revoked_at IS NULL AND l.expires_at > $1 AND `

// Invites gives the invitations of a drive that can still be used, the latest first.
func (s *Store) Invites(ctx context.Context, driveID string) ([]Invite, error) {
	const q = openInvites + `i.drive_id = $2 ORDER BY i.number DESC`
	rows, err := s.pool.Query(ctx, q, s.now(), driveID)
	if err != nil {
		return nil, fmt.Errorf("invites: %w", err)
	}
	return collect(rows, "invites", pgx.RowToStructByName[Invite])
}

// InviteOf gives the invitation that a link opens. One that is unknown, used, ended
// or past its time is not found, without saying which; one that was used by the form of
// this key is given still.
func (s *Store) InviteOf(ctx context.Context, link, key string) (Invite, error) {
	const q = openInvites + `i.link = $2`
	const used = invitesFrom + `i.link = $1 AND EXISTS (SELECT 1 FROM once o WHERE o.drive_id = i.drive_id AND (o.who, o.key) IN ((0, $2), (i.used_by, $3)))`
	i, err := one[Invite](ctx, s.pool, "invite", linkGone(), q, s.now(), link)
	if key == "" || !apperr.Is(err, apperr.KindNotFound) {
		return i, err
	}
	return one[Invite](ctx, s.pool, "invite", linkGone(), used, link, strangersKey(joining, key), strangersKey(joinsToo, key))
}

// joining and joinsToo mark the wishes of those who come by an invitation.
const (
	joining  = "join"
	joinsToo = "take"
)

// EndInvite ends an invitation that nobody has used yet, and forgets for whom it was.
func (s *Store) EndInvite(ctx context.Context, act drive.Act, number int64) error {
	_, err := once(ctx, s, act, "end invite", number, func(tx pgx.Tx) (bool, error) {
		const q = `UPDATE links l SET revoked_at = $3 FROM invites i
			WHERE i.drive_id = $1 AND i.number = $2 AND l.id = i.link AND l.used_at IS NULL AND l.revoked_at IS NULL`
		tag, err := tx.Exec(ctx, q, act.Drive, number, act.At)
		if err != nil {
			return false, fmt.Errorf("end invite: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return false, apperr.NotFound("This invitation was used or ended already.")
		}
		const unnamed = `UPDATE invites SET name = '' WHERE drive_id = $1 AND number = $2 AND name <> ''`
		if _, err := tx.Exec(ctx, unnamed, act.Drive, number); err != nil {
			return false, fmt.Errorf("forget who was invited: %w", err)
		}
		return true, audit(ctx, tx, act, "invitation ended", "invite", number, nil)
	})
	return err
}

// Joining is what somebody new says who comes by an invitation.
type Joining struct {
	Link  string
	Name  string
	Email string
}

// JoinByInvite makes an account with this hash of a password, gives it the invitation's
// role, and ends the invitation. The same form, by its key, is answered as at first,
// until the person has begun a new epoch; whether its password is the first's is for whoever
// asks to look, since nothing that is kept of the form tells it.
func (s *Store) JoinByInvite(ctx context.Context, j Joining, key, hash string) (account.Person, error) {
	var bad error
	if j.Name, bad = account.CleanName(j.Name); bad != nil {
		return account.Person{}, bad
	}
	if j.Email, bad = account.CleanEmail(j.Email); bad != nil {
		return account.Person{}, bad
	}
	first := account.Person{Name: j.Name, Email: j.Email, Initials: account.Initials(j.Name), Epoch: 1}
	found, err := s.InviteOf(ctx, j.Link, key)
	if err != nil {
		return account.Person{}, err
	}
	act := drive.Act{Drive: found.Drive, Key: strangersKey(joining, key), At: s.now()}
	id, err := once(ctx, s, act, "join by invite", j, func(tx pgx.Tx) (int64, error) {
		i, err := lockInvite(ctx, tx, j.Link, act.At)
		if err != nil {
			return 0, err
		}
		id, err := insertAccount(ctx, tx, act.At, first, hash)
		if err != nil {
			return 0, err
		}
		return id, join(ctx, tx, drive.Act{Drive: i.Drive, Who: id, At: act.At}, i, j.Link)
	})
	if err != nil {
		return account.Person{}, err
	}
	p, err := s.Account(ctx, id)
	if err == nil && p.Epoch != first.Epoch {
		return account.Person{}, linkGone()
	}
	return p, err
}

// TakeInvite gives the invitation's role to somebody who signs in already, and ends
// the invitation. Whoever has a role in that drive keeps it, and so does the
// invitation. The same form, by its key, is answered as at first.
func (s *Store) TakeInvite(ctx context.Context, link, key string, p account.Person) (Invite, error) {
	found, err := s.InviteOf(ctx, link, key)
	if err != nil {
		return Invite{}, err
	}
	const came = `SELECT EXISTS (SELECT 1 FROM invites WHERE link = $1 AND used_by = $2)`
	var here bool
	if err := s.pool.QueryRow(ctx, came, link, p.ID).Scan(&here); err != nil {
		return Invite{}, fmt.Errorf("take invite: %w", err)
	}
	if here { // joined by this very form, and signed in since
		return found, nil
	}
	act := drive.Act{Drive: found.Drive, Who: p.ID, Key: strangersKey(joinsToo, key), At: s.now()}
	_, err = once(ctx, s, act, "take invite", link, func(tx pgx.Tx) (bool, error) {
		i, err := lockInvite(ctx, tx, link, act.At)
		if err != nil {
			return false, err
		}
		const q = `SELECT role FROM memberships WHERE drive_id = $1 AND account_id = $2`
		var role account.Role
		err = tx.QueryRow(ctx, q, i.Drive, p.ID).Scan(&role)
		if err == nil {
			return false, apperr.Conflict("You have a role in %s already: %s. An organiser can change it.", i.DriveName, role)
		}
		if !errors.Is(err, pgx.ErrNoRows) {
			return false, fmt.Errorf("take invite: %w", err)
		}
		return true, join(ctx, tx, act, i, link)
	})
	return found, err
}

// lockInvite gives an invitation that can be used, and holds it: of two people with
// the same link the second finds it used.
func lockInvite(ctx context.Context, tx pgx.Tx, link string, now time.Time) (Invite, error) {
	const lock = `SELECT 1 FROM links WHERE id = $1 FOR NO KEY UPDATE`
	const q = openInvites + `i.link = $2`
	var there int
	if err := tx.QueryRow(ctx, lock, link).Scan(&there); errors.Is(err, pgx.ErrNoRows) {
		return Invite{}, linkGone()
	} else if err != nil {
		return Invite{}, fmt.Errorf("lock invite: %w", err)
	}
	return one[Invite](ctx, tx, "invite", linkGone(), q, now, link)
}

func join(ctx context.Context, tx pgx.Tx, act drive.Act, i Invite, link string) error {
	const member = `INSERT INTO memberships (drive_id, account_id, role, created_at) VALUES ($1, $2, $3, $4)`
	const used = `UPDATE invites SET name = '', used_by = $3 WHERE drive_id = $1 AND number = $2`
	if err := holdAccount(ctx, tx, act.Who); err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, member, act.Drive, act.Who, i.Role, act.At); err != nil {
		return fmt.Errorf("join by invite: %w", err)
	}
	if _, err := tx.Exec(ctx, used, act.Drive, i.Number, act.Who); err != nil {
		return fmt.Errorf("join by invite: %w", err)
	}
	if err := useLink(ctx, tx, link, act.At); err != nil {
		return err
	}
	return audit(ctx, tx, act, "came by invitation", "account", act.Who, changes{"role": {To: i.Role}, "invite": {To: i.Number}})
}

// insertDriveLink makes a link of a drive that works until then.
func insertDriveLink(ctx context.Context, tx pgx.Tx, act drive.Act, purpose, id string, until time.Time) error {
	const q = `INSERT INTO links (id, purpose, drive_id, created_at, expires_at) VALUES ($1, $2, $3, $4, $5)`
	if _, err := tx.Exec(ctx, q, id, purpose, act.Drive, act.At, until); err != nil {
		return fmt.Errorf("%s link: %w", purpose, err)
	}
	return nil
}
