package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
)

// HalfLife is how long the code of the second step may take after the password.
const HalfLife = 10 * time.Minute

// The bounds of what is kept and mailed of passwords without a code. Who knows the password
// may come as often as they like, and must neither fill the database nor the mailbox.
const (
	halvesADay    = 20 // are kept of an account with one password
	halfMailsADay = 3  // go to an account, and one of one password
	halfDay       = 24 * time.Hour
	halfAtMost    = 3 * HalfLife // one browser may begin anew before it is told of
	wrongMany     = 3            // refused codes are told by mail at a browser that is known too
	wrongEnough   = 5            // refused codes are told of before the time is over: no more are let through
)

// HalfSignIn is a right password after which the code of the second step did not come.
type HalfSignIn struct {
	ID     int64     `db:"id"`
	Device string    `db:"device"`
	Began  time.Time `db:"began_at"`
	Wrong  int       `db:"wrong"` // codes that were refused
	Told   Told      `db:"told"`
	Mine   bool      `db:"mine"` // whose password it is says that it was them
	Open   bool      `db:"open"` // nobody said so, and the password is the same
}

// BeginHalf notes that somebody's right password was given at a browser, and not their code yet,
// and gives its number for those who give it; 0 where enough are kept of that day, or the browser
// keeps nothing to be known by. A browser that begins anew gets time anew, but not for ever.
func (s *Store) BeginHalf(ctx context.Context, account int64, epoch int, at Device) (id int64, err error) {
	if len(at.Mark) == 0 {
		return 0, nil
	}
	now := s.now()
	err = pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		if err := lockAccount(ctx, tx, account); err != nil {
			return err
		}
		const anew = `UPDATE half_sign_ins SET until = least($3, began_at + $4::interval)
			WHERE account_id = $1 AND mark = $2 AND told IS NULL AND began_at + $4::interval > $5 AND epoch = $6 RETURNING id`
		err := tx.QueryRow(ctx, anew, account, at.Mark, now.Add(HalfLife), halfAtMost, now, epoch).Scan(&id)
		if err == nil || !errors.Is(err, pgx.ErrNoRows) {
			return wrapped("begin half a sign-in anew", err)
		}
		const begin = `INSERT INTO half_sign_ins (account_id, epoch, device, mark, began_at, until, form) SELECT $1, $2, $3, $4, $5, $6, $9
			WHERE (SELECT count(*) FROM half_sign_ins WHERE account_id = $1 AND epoch >= (SELECT password_epoch FROM accounts WHERE id = $1) AND began_at > $7) < $8 RETURNING id`
		err = tx.QueryRow(ctx, begin, account, epoch, at.Words, at.Mark, now, now.Add(HalfLife), now.Add(-halfDay), halvesADay, at.Form).Scan(&id)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil
		}
		return wrapped("begin half a sign-in", err)
	})
	return id, err
}

// WrongCode counts a code that was refused.
func (s *Store) WrongCode(ctx context.Context, half int64) error {
	const q = `UPDATE half_sign_ins SET wrong = wrong + 1 WHERE id = $1 AND told IS NULL`
	_, err := s.pool.Exec(ctx, q, half)
	return wrapped("count a refused code", err)
}

// EndHalf forgets what was open once the code has come: at this browser, and by the same form that
// was sent again by who lost the answer, and with it the mark that it brought. What another form
// began stays to be told of, whatever its browser is called.
func (s *Store) EndHalf(ctx context.Context, account, half int64, at Device) error {
	const q = `DELETE FROM half_sign_ins WHERE account_id = $1 AND told IS NULL AND (id = $2 OR mark = $3
		OR form = (SELECT form FROM half_sign_ins WHERE id = $2 AND account_id = $1))`
	return pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		if err := lockAccount(ctx, tx, account); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, q, account, half, at.Mark)
		return wrapped("end half a sign-in", err)
	})
}

// TellHalves decides how each account is told of passwords after which no code came in time: on
// its page, and by mail where mails says that there is one, the browser is not known or several
// codes were refused, no such mail went lately, and the password is the one that was given still.
// It says how many are decided.
func (s *Store) TellHalves(ctx context.Context, mails bool) (told int64, err error) {
	const due = `SELECT DISTINCT account_id FROM half_sign_ins WHERE told IS NULL AND (until <= $1 OR wrong >= $2) ORDER BY account_id LIMIT 500`
	rows, err := s.pool.Query(ctx, due, s.now(), wrongEnough)
	if err != nil {
		return 0, fmt.Errorf("passwords without a code: %w", err)
	}
	accounts, err := collect(rows, "passwords without a code", pgx.RowTo[int64])
	if err != nil {
		return 0, err
	}
	for _, account := range accounts {
		n, err := s.tellHalvesOf(ctx, account, mails)
		if err != nil {
			return told, err
		}
		told += n
	}
	return told, nil
}

func (s *Store) tellHalvesOf(ctx context.Context, account int64, mails bool) (told int64, err error) {
	now := s.now()
	err = pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		const lock = `SELECT FROM accounts WHERE id = $1 FOR NO KEY UPDATE` // one that is being erased leaves no rows
		if _, err := tx.Exec(ctx, lock, account); err != nil {
			return fmt.Errorf("passwords without a code: %w", err)
		}
		const over = `h.account_id = $1 AND h.told IS NULL AND (h.until <= $2 OR h.wrong >= $3)`
		var mailed *int64
		if mails {
			const worst = `SELECT (SELECT h.id FROM half_sign_ins h JOIN accounts a ON a.id = h.account_id WHERE ` + over + ` AND h.epoch >= a.password_epoch
					AND (h.wrong >= $4 OR NOT EXISTS (SELECT FROM devices d WHERE d.account_id = $1 AND d.mark = h.mark))
					AND NOT EXISTS (SELECT FROM half_sign_ins o WHERE o.account_id = $1 AND o.epoch >= a.password_epoch AND o.mine_at IS NULL AND o.told_at > $5 AND o.told IN ('queued', 'sending', 'sent', 'perhaps sent'))
				ORDER BY h.wrong DESC, h.id LIMIT 1)
				WHERE (SELECT count(*) FROM half_sign_ins WHERE account_id = $1 AND told_at > $5 AND told IN ('queued', 'sending', 'sent', 'perhaps sent')) < $6`
			err := tx.QueryRow(ctx, worst, account, now, wrongEnough, wrongMany, now.Add(-halfDay), halfMailsADay).Scan(&mailed)
			if err != nil && !errors.Is(err, pgx.ErrNoRows) {
				return fmt.Errorf("passwords without a code: %w", err)
			}
		}
		const tell = `UPDATE half_sign_ins h SET told = CASE WHEN h.id = $4 THEN 'queued' ELSE 'on the page' END, told_at = $2 WHERE ` + over
		tag, err := tx.Exec(ctx, tell, account, now, wrongEnough, mailed)
		if err != nil {
			return fmt.Errorf("tell of passwords without a code: %w", err)
		}
		told = tag.RowsAffected()
		if mailed == nil {
			return nil
		}
		_, err = s.work.InsertTx(ctx, tx, task.TellHalf{Half: *mailed}, &river.InsertOpts{MaxAttempts: tellTries})
		return wrapped("enqueue a mail about a password without a code", err)
	})
	return told, err
}

// HalfNews is what a mail tells of a password without a code.
type HalfNews struct {
	NewSignIn
	Wrong int `db:"wrong"`
}

// BeginTellingHalf is BeginTelling for a password without a code; one of a password before, and one
// that its person says was them, is told of on the page alone.
func (s *Store) BeginTellingHalf(ctx context.Context, half int64) (*HalfNews, error) {
	const late = `UPDATE half_sign_ins i SET told = 'on the page' FROM accounts a
		WHERE i.id = $1 AND i.told = 'queued' AND a.id = i.account_id AND (i.epoch < a.password_epoch OR i.mine_at IS NOT NULL)`
	if _, err := s.pool.Exec(ctx, late, half); err != nil {
		return nil, fmt.Errorf("begin to tell of a password without a code: %w", err)
	}
	const q = `UPDATE half_sign_ins i SET told = 'sending', told_at = $2 FROM accounts a
		WHERE i.id = $1 AND i.told = 'queued' AND a.id = i.account_id AND a.email IS NOT NULL AND i.epoch >= a.password_epoch AND i.mine_at IS NULL
		RETURNING a.name, a.email, i.device, i.began_at, i.wrong, ` + zoneOfAccount
	rows, err := s.pool.Query(ctx, q, half, s.now())
	if err != nil {
		return nil, fmt.Errorf("begin to tell of a password without a code: %w", err)
	}
	news, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[HalfNews])
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	return &news, wrapped("begin to tell of a password without a code", err)
}

// EndTellingHalf writes what became of a mail that was being sent.
func (s *Store) EndTellingHalf(ctx context.Context, half int64, told Told) error {
	const q = `UPDATE half_sign_ins SET told = $2 WHERE id = $1 AND told = 'sending'`
	_, err := s.pool.Exec(ctx, q, half, told)
	return wrapped("end telling of a password without a code", err)
}

// LastHalves gives when somebody's password was given and the code did not come in time, the latest
// first. Where there are more than the limit, those that nobody has dealt with are among them.
func (s *Store) LastHalves(ctx context.Context, account int64, limit int) ([]HalfSignIn, error) {
	const q = `SELECT * FROM (SELECT id, device, began_at, wrong, ` + toldNow + `, mine_at IS NOT NULL AS mine,
				mine_at IS NULL AND epoch >= (SELECT password_epoch FROM accounts WHERE id = $1) AS open
			FROM half_sign_ins WHERE account_id = $1 AND told IS NOT NULL ORDER BY open DESC, began_at DESC, id DESC LIMIT $2) last
		ORDER BY began_at DESC, id DESC`
	rows, err := s.pool.Query(ctx, q, account, limit, s.now().Add(-reminderLost))
	if err != nil {
		return nil, fmt.Errorf("passwords without a code: %w", err)
	}
	return collect(rows, "passwords without a code", pgx.RowToStructByName[HalfSignIn])
}

// WasMe says for the act's person that it was them who gave their password, and not the code, at the
// time of this number. One of somebody else's, and one of which they said so, is not found.
func (s *Store) WasMe(ctx context.Context, act drive.Act, half int64) error {
	_, err := once(ctx, s, act, "was me", half, func(tx pgx.Tx) (bool, error) {
		if err := holdAccount(ctx, tx, act.Who); err != nil {
			return false, err
		}
		const q = `UPDATE half_sign_ins SET mine_at = $3 WHERE id = $2 AND account_id = $1 AND told IS NOT NULL AND mine_at IS NULL`
		tag, err := tx.Exec(ctx, q, act.Who, half, act.At)
		if err != nil {
			return false, fmt.Errorf("a password without a code: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return false, apperr.NotFound("It is not open any more. Look at the list of your sign-ins.")
		}
		return true, audit(ctx, tx, act, "a password without the code was theirs", "account", act.Who, nil)
	})
	return err
}
