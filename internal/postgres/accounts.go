package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const personColumns = `a.id, a.name, a.initials, a.email, a.epoch, a.opens`

// Member is one person's role in one drive.
type Member struct {
	DriveID   string       `db:"drive_id"`
	DriveName string       `db:"drive_name"`
	Role      account.Role `db:"role"`
	// AsksSecond says that this drive asks a second step of its organisers.
	AsksSecond bool   `db:"asks_second"`
	Zone       string `db:"zone"` // of the drive
}

// AccountLine is one person who signs in, with what they are in each drive.
type AccountLine struct {
	account.Person
	HasPassword bool
	Second      bool // has a second step
	Roles       []Member
}

// AnyAccount says whether anybody can sign in yet.
func (s *Store) AnyAccount(ctx context.Context) (bool, error) {
	const q = `SELECT EXISTS (SELECT 1 FROM accounts WHERE erased_at IS NULL)`
	var any bool
	if err := s.pool.QueryRow(ctx, q).Scan(&any); err != nil {
		return false, fmt.Errorf("any account: %w", err)
	}
	return any, nil
}

// Credentials gives the person of an e-mail address and the hash of their
// password; an empty hash where nobody has the address or no password is chosen.
func (s *Store) Credentials(ctx context.Context, email string) (account.Person, string, error) {
	const q = `SELECT ` + personColumns + `, a.password FROM accounts a WHERE a.email = $1`
	var p account.Person
	var hash string
	err := s.pool.QueryRow(ctx, q, email).Scan(&p.ID, &p.Name, &p.Initials, &p.Email, &p.Epoch, &p.Opens, &hash)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return p, "", fmt.Errorf("credentials: %w", err)
	}
	return p, hash, nil
}

// Account gives somebody who signs in; not found where there is none of that id, or
// they are erased.
func (s *Store) Account(ctx context.Context, id int64) (account.Person, error) {
	const q = `SELECT ` + personColumns + ` FROM accounts a WHERE a.id = $1 AND a.erased_at IS NULL`
	var p account.Person
	err := s.pool.QueryRow(ctx, q, id).Scan(&p.ID, &p.Name, &p.Initials, &p.Email, &p.Epoch, &p.Opens)
	if errors.Is(err, pgx.ErrNoRows) {
		return p, noAccount()
	}
	if err != nil {
		return p, fmt.Errorf("account: %w", err)
	}
	return p, nil
}

// MemberOf gives the drives a person has a role in, by name.
func (s *Store) MemberOf(ctx context.Context, id int64) ([]Member, error) {
	return memberOf(ctx, s.pool, id)
}

func memberOf(ctx context.Context, db querier, id int64) ([]Member, error) {
	const q = `SELECT m.drive_id, d.name AS drive_name, m.role, d.second_step AS asks_second, d.zone
		FROM memberships m JOIN drives d ON d.id = m.drive_id
		WHERE m.account_id = $1 ORDER BY d.name, d.id`
	rows, err := db.Query(ctx, q, id)
	if err != nil {
		return nil, fmt.Errorf("member of: %w", err)
	}
	members, err := pgx.CollectRows(rows, pgx.RowToStructByName[Member])
	if err != nil {
		return nil, fmt.Errorf("member of: %w", err)
	}
	return members, nil
}

// Accounts gives everybody who signs in, by e-mail address; nobody who is erased.
func (s *Store) Accounts(ctx context.Context) ([]AccountLine, error) {
	const q = `SELECT ` + personColumns + `, a.password <> '', t.on_at IS NOT NULL, coalesce(m.drive_id, ''), coalesce(d.name, ''), coalesce(m.role, '')
		FROM accounts a
		LEFT JOIN second_steps t ON t.account_id = a.id
		LEFT JOIN memberships m ON m.account_id = a.id
		LEFT JOIN drives d ON d.id = m.drive_id
		WHERE a.erased_at IS NULL
		ORDER BY a.email, d.name, d.id`
	rows, err := s.pool.Query(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("accounts: %w", err)
	}
	var lines []AccountLine
	var line AccountLine
	var role Member
	_, err = pgx.ForEachRow(rows, []any{
		&line.ID, &line.Name, &line.Initials, &line.Email, &line.Epoch, &line.Opens, &line.HasPassword, &line.Second,
		&role.DriveID, &role.DriveName, &role.Role,
	}, func() error {
		if n := len(lines); n == 0 || lines[n-1].ID != line.ID {
			lines = append(lines, line)
		}
		if role.DriveID != "" {
			last := &lines[len(lines)-1]
			last.Roles = append(last.Roles, role)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("accounts: %w", err)
	}
	return lines, nil
}

// AddAccount makes somebody who can sign in once they have chosen a password
// by their link. It refuses a bad name, a bad address, and one that is taken.
func (s *Store) AddAccount(ctx context.Context, act drive.Act, name, email string, opens bool) (account.Person, error) {
	p := account.Person{Epoch: 1, Opens: opens}
	var bad error
	if p.Name, bad = account.CleanName(name); bad != nil {
		return account.Person{}, bad
	}
	if p.Email, bad = account.CleanEmail(email); bad != nil {
		return account.Person{}, bad
	}
	p.Initials = account.Initials(p.Name)
	var err error
	p.ID, err = once(ctx, s, act, "add account", p, func(tx pgx.Tx) (int64, error) {
		id, err := insertAccount(ctx, tx, act.At, p, "")
		if err != nil {
			return 0, err
		}
		return id, audit(ctx, tx, act, "account added", "account", id, changes{"opens": {To: opens}})
	})
	return p, err
}

// SetRole gives somebody a role in the act's drive, or takes it away where role
// is empty. An address that nobody has and a drive that is not there are not
// found; the last organiser of a drive stays one.
func (s *Store) SetRole(ctx context.Context, act drive.Act, email string, role account.Role) error {
	if role != "" && !role.SignsIn() {
		return apperr.Invalid("role", "Nobody signs in as %q.", role)
	}
	type wish struct {
		Email string
		Role  account.Role
	}
	_, err := once(ctx, s, act, "set role", wish{email, role}, func(tx pgx.Tx) (bool, error) {
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return false, err
		}
		p, before, err := memberByEmail(ctx, tx, act.Drive, email)
		if err != nil {
			return false, err
		}
		if err := writeRole(ctx, tx, act, p.ID, role); err != nil {
			return false, err
		}
		if before == account.Organiser && role != account.Organiser {
			if err := keepOrganiser(ctx, tx, act.Drive); err != nil {
				return false, err
			}
		}
		return true, audit(ctx, tx, act, "role set", "account", p.ID, changes{"role": {From: before, To: role}})
	})
	return err
}

func lockDrive(ctx context.Context, tx pgx.Tx, id string) error {
	const q = `SELECT id FROM drives WHERE id = $1 FOR NO KEY UPDATE`
	err := tx.QueryRow(ctx, q, id).Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) {
		return apperr.NotFound("There is no drive %q here.", id)
	}
	if err != nil {
		return fmt.Errorf("lock drive: %w", err)
	}
	return nil
}

func memberByEmail(ctx context.Context, tx pgx.Tx, driveID, email string) (p account.Person, role account.Role, err error) {
	const q = `SELECT ` + personColumns + `, coalesce(m.role, '')
		FROM accounts a LEFT JOIN memberships m ON m.account_id = a.id AND m.drive_id = $2
		WHERE a.email = lower(btrim($1))`
	err = tx.QueryRow(ctx, q, email, driveID).Scan(&p.ID, &p.Name, &p.Initials, &p.Email, &p.Epoch, &p.Opens, &role)
	if errors.Is(err, pgx.ErrNoRows) {
		return p, "", apperr.NotFound("Nobody signs in with the address %q.", email)
	}
	if err != nil {
		return p, "", fmt.Errorf("member by e-mail: %w", err)
	}
	return p, role, nil
}

func writeRole(ctx context.Context, tx pgx.Tx, act drive.Act, id int64, role account.Role) error {
	const leave = `DELETE FROM memberships WHERE drive_id = $1 AND account_id = $2`
	const hold = `INSERT INTO memberships (drive_id, account_id, role, created_at) VALUES ($1, $2, $3, $4)
		ON CONFLICT ON CONSTRAINT memberships_pkey DO UPDATE SET role = EXCLUDED.role, version = memberships.version + 1`
	var err error
	if role != account.Organiser {
		if err := endWays(ctx, tx, act, id); err != nil {
			return err
		}
	}
	if role == "" {
		_, err = tx.Exec(ctx, leave, act.Drive, id)
	} else if err = holdAccount(ctx, tx, id); err != nil {
		return err
	} else {
		_, err = tx.Exec(ctx, hold, act.Drive, id, role, act.At)
	}
	if err != nil {
		return fmt.Errorf("write role: %w", err)
	}
	return nil
}

func keepOrganiser(ctx context.Context, tx pgx.Tx, driveID string) error {
	const q = `SELECT EXISTS (SELECT 1 FROM memberships WHERE drive_id = $1 AND role = 'organiser')`
	var left bool
	if err := tx.QueryRow(ctx, q, driveID).Scan(&left); err != nil {
		return fmt.Errorf("organisers left: %w", err)
	}
	if !left {
		return apperr.Conflict("This is the drive's only organiser. Make somebody else organiser first.")
	}
	return nil
}
