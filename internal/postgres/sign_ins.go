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

// Visit is who a session belongs to, and what they are in the drive asked about.
type Visit struct {
	SignIn int64
	Person account.Person // whose ID is below zero for a helper at a tablet, 0 for one who has not said who they are
	Role   account.Role   // empty where they have none there
	Second bool           // this person has a second step, which this session has passed
	Pass   *PassVisit     // at a tablet
	Unused bool           // nobody used this session for too long: it is over
	// Here is when the person was last in the drive asked about, nil for never.
	Here *time.Time
}

// Looking is how a session is looked at.
type Looking struct {
	// Idle is after how long without use the session of an account is over; 0: never. A tablet's
	// pass has a day of its own.
	Idle time.Duration
	// Use says that a person does something by it, not a page by itself.
	Use bool
}

// usedEvery is how often it is noted that a session is used.
const usedEvery = time.Minute

// PassVisit is the pass that a tablet was opened with.
type PassVisit struct {
	Drive  string
	Number int64
	Place  string
	Until  time.Time
	Over   bool     // by the clock, or ended by an organiser
	Hands  []string // initials used at the tablet lately, the latest first
}

// SignIn is one place where somebody is signed in.
type SignIn struct {
	ID     int64     `db:"id"`
	Device string    `db:"device"`
	Began  time.Time `db:"began_at"`
	Seen   time.Time `db:"seen_at"`
	Told   Told      `db:"told"`
}

// Visit gives who is signed in by a session. It is not found where that was ended,
// where the account has begun a new epoch, where it has a second step that this session
// has not passed, where nothing is known of it, and where it lay unused for too long, which
// Unused then says.
//
// When it was used last is judged and noted by the database's own clock, which is one for
// all processes, whatever theirs say, and goes on while none runs. It is noted in the same
// statement and once in usedEvery, without waiting for the disk or for whoever else notes it;
// so a session may be over by that much sooner. Where the clock was set back, what seems to
// have been used in the time to come is noted anew.
func (s *Store) Visit(ctx context.Context, signIn int64, driveID string, how Looking) (Visit, error) {
	const q = `WITH due AS (
			SELECT id, set_config('synchronous_commit', 'off', true) FROM sign_ins
			WHERE id = $1 AND $4 AND ended_at IS NULL AND seen_at NOT BETWEEN now() - $5::interval AND now() + $5::interval
				AND (pass IS NOT NULL OR $3::interval = '0' OR seen_at > now() - $3::interval)
			FOR NO KEY UPDATE SKIP LOCKED),
		noted AS (UPDATE sign_ins SET seen_at = now() FROM due WHERE sign_ins.id = due.id)
		SELECT i.id, i.pass IS NULL AND $3::interval > '0' AND i.seen_at <= now() - $3::interval, m.seen_at, coalesce(a.id, h.id, 0), coalesce(a.name, ''), coalesce(a.initials, h.initials, ''), coalesce(a.email, ''),
			coalesce(a.epoch, 0), coalesce(a.opens, false), coalesce(m.role, p.role, ''), t.on_at IS NOT NULL,
			coalesce(i.drive_id, ''), coalesce(i.pass, 0), coalesce(p.place, ''), coalesce(p.until, i.seen_at), p.ended_at IS NOT NULL,
			ARRAY(SELECT o.initials FROM pass_hands o WHERE o.drive_id = i.drive_id AND o.pass = i.pass ORDER BY o.id LIMIT 6)
		FROM sign_ins i
		LEFT JOIN accounts a ON a.id = i.account_id
		LEFT JOIN memberships m ON m.account_id = a.id AND m.drive_id = $2
		LEFT JOIN second_steps t ON t.account_id = a.id
		LEFT JOIN passes p ON p.drive_id = i.drive_id AND p.number = i.pass
		LEFT JOIN pass_hands h ON h.id = i.hand
		WHERE i.id = $1 AND (i.ended_at IS NULL OR i.pass IS NULL AND $3::interval > '0' AND i.seen_at <= now() - $3::interval)
			AND (i.pass IS NOT NULL OR (a.epoch = i.epoch AND (i.second OR t.on_at IS NULL)))`
	var v Visit
	var pass PassVisit
	p := &v.Person
	err := s.pool.QueryRow(ctx, q, signIn, driveID, how.Idle, how.Use, usedEvery).Scan(&v.SignIn, &v.Unused, &v.Here, &p.ID, &p.Name, &p.Initials, &p.Email, &p.Epoch, &p.Opens, &v.Role, &v.Second,
		&pass.Drive, &pass.Number, &pass.Place, &pass.Until, &pass.Over, &pass.Hands)
	if errors.Is(err, pgx.ErrNoRows) {
		return Visit{}, apperr.NotFound("Nobody is signed in by this session.")
	}
	if err != nil {
		return Visit{}, fmt.Errorf("visit: %w", err)
	}
	if v.Unused {
		return Visit{SignIn: v.SignIn, Unused: true}, apperr.NotFound("Nobody used this session for too long.")
	}
	if pass.Number == 0 {
		return v, nil
	}
	if pass.Drive != driveID {
		v.Role = ""
	}
	pass.Over = pass.Over || !s.now().Before(pass.Until)
	v.Pass, p.Name = &pass, p.Initials
	return v, nil
}

// BeginSignIn notes that somebody is signed in from now on, at this device, and
// gives the number that their session holds; second says that they have passed their
// second step as well. Who is erased by now is not found. A device that is not known is told
// of: by mail, where mails says that there is one, else on their page.
func (s *Store) BeginSignIn(ctx context.Context, p account.Person, at Device, second, mails bool) (int64, error) {
	const q = `INSERT INTO sign_ins (account_id, epoch, device, second, began_at, seen_at, told, form) VALUES ($1, $2, $3, $4, $5, now(), $6, $7) RETURNING id`
	var id int64
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		if err := lockAccount(ctx, tx, p.ID); err != nil {
			return err
		}
		told, err := s.meet(ctx, tx, p.ID, at, mails)
		if err != nil {
			return err
		}
		if err := tx.QueryRow(ctx, q, p.ID, p.Epoch, at.Words, second, s.now(), told, at.Form).Scan(&id); err != nil {
			return fmt.Errorf("begin to be signed in: %w", err)
		}
		if told != nil && *told == ToldQueued {
			return s.queueTelling(ctx, tx, id)
		}
		return nil
	})
	return id, err
}

// NoteSeen says that somebody has just opened something of a drive.
func (s *Store) NoteSeen(ctx context.Context, id int64, driveID string) error {
	const q = `UPDATE memberships SET seen_at = $3 WHERE drive_id = $1 AND account_id = $2`
	if _, err := s.pool.Exec(ctx, q, driveID, id, s.now()); err != nil {
		return fmt.Errorf("note who was seen: %w", err)
	}
	return nil
}

// LeaveSignIn ends one session by the person or tablet that has it.
func (s *Store) LeaveSignIn(ctx context.Context, signIn int64) error {
	const q = `UPDATE sign_ins SET ended_at = $2 WHERE id = $1 AND ended_at IS NULL`
	if _, err := s.pool.Exec(ctx, q, signIn, s.now()); err != nil {
		return fmt.Errorf("sign out: %w", err)
	}
	return nil
}

// SignIns gives where a person is signed in, seen last first; since is when the
// oldest session that may still be good began, and none is that lay unused for idle, where
// that is not 0.
func (s *Store) SignIns(ctx context.Context, id int64, since time.Time, idle time.Duration) ([]SignIn, error) {
	const q = `SELECT i.id, i.device, i.began_at, i.seen_at, coalesce(i.told, '') AS told FROM sign_ins i JOIN accounts a ON a.id = i.account_id AND a.epoch = i.epoch
		WHERE i.account_id = $1 AND i.ended_at IS NULL AND i.began_at > $2 AND ($3::interval = '0' OR i.seen_at > now() - $3::interval) ORDER BY i.seen_at DESC, i.id DESC`
	rows, err := s.pool.Query(ctx, q, id, since, idle)
	if err != nil {
		return nil, fmt.Errorf("where signed in: %w", err)
	}
	return collect(rows, "where signed in", pgx.RowToStructByName[SignIn])
}

// EndSignIn ends one session of the act's person. One of somebody else, or that
// is over, is not found.
func (s *Store) EndSignIn(ctx context.Context, act drive.Act, signIn int64) error {
	_, err := once(ctx, s, act, "end sign-in", signIn, func(tx pgx.Tx) (bool, error) {
		const q = `UPDATE sign_ins SET ended_at = $3 WHERE id = $1 AND account_id = $2 AND ended_at IS NULL`
		tag, err := tx.Exec(ctx, q, signIn, act.Who, act.At)
		if err != nil {
			return false, fmt.Errorf("end sign-in: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return false, apperr.NotFound("You are not signed in there any more.")
		}
		return true, audit(ctx, tx, act, "signed out elsewhere", "account", act.Who, nil)
	})
	return err
}

// ChangePassword sets the password of the act's person, whose hash this is, and
// ends every session but the one named, which goes on in the new epoch, and every link
// to choose a password. What is kept of the wish tells nothing of the password: whoever
// asks under the same key for another one has to look which of them was set.
func (s *Store) ChangePassword(ctx context.Context, act drive.Act, hash string, stays int64) error {
	_, err := once(ctx, s, act, "change password", stays, func(tx pgx.Tx) (bool, error) {
		if err := holdAccount(ctx, tx, act.Who); err != nil {
			return false, err
		}
		if _, err := newPassword(ctx, tx, act.At, act.Who, hash, stays); err != nil {
			return false, err
		}
		if err := revokeAccountLinks(ctx, tx, act.At, act.Who); err != nil {
			return false, err
		}
		return true, audit(ctx, tx, act, "password changed", "account", act.Who, nil)
	})
	return err
}

// PasswordChanged says whether the act's form changed the password of its person when it
// was sent before.
func (s *Store) PasswordChanged(ctx context.Context, act drive.Act) (bool, error) {
	return kept[bool](ctx, s, act, "change password", nil)
}

// EndOtherSignIns ends every session of the act's person but the one named.
func (s *Store) EndOtherSignIns(ctx context.Context, act drive.Act, stays int64) error {
	_, err := once(ctx, s, act, "end other sign-ins", stays, func(tx pgx.Tx) (bool, error) {
		if _, err := newEpoch(ctx, tx, act.At, act.Who, stays); err != nil {
			return false, err
		}
		return true, audit(ctx, tx, act, "signed out everywhere else", "account", act.Who, nil)
	})
	return err
}

// newPassword sets the password of a person, in an epoch that begins with it.
func newPassword(ctx context.Context, tx pgx.Tx, at time.Time, id int64, hash string, stays int64) (epoch int, err error) {
	if epoch, err = newEpoch(ctx, tx, at, id, stays); err != nil {
		return 0, err
	}
	const q = `UPDATE accounts SET password = $2, password_epoch = epoch WHERE id = $1`
	_, err = tx.Exec(ctx, q, id, hash)
	return epoch, wrapped("set password", err)
}

// newEpoch ends every session of a person but one, which may be none, and gives
// the epoch that the account is in now.
func newEpoch(ctx context.Context, tx pgx.Tx, at time.Time, id, stays int64) (epoch int, err error) {
	const turn = `UPDATE accounts SET epoch = epoch + 1 WHERE id = $1 RETURNING epoch`
	const end = `UPDATE sign_ins SET ended_at = $3 WHERE account_id = $1 AND ended_at IS NULL AND id <> $2`
	const stay = `UPDATE sign_ins SET epoch = $3 WHERE account_id = $1 AND id = $2 AND ended_at IS NULL`
	if err := tx.QueryRow(ctx, turn, id).Scan(&epoch); err != nil {
		return 0, fmt.Errorf("end sessions: %w", err)
	}
	if _, err := tx.Exec(ctx, end, id, stays, at); err != nil {
		return 0, fmt.Errorf("end sessions: %w", err)
	}
	if _, err := tx.Exec(ctx, stay, id, stays, epoch); err != nil {
		return 0, fmt.Errorf("end sessions: %w", err)
	}
	return epoch, nil
}
