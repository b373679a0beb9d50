package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
)

// Device is where somebody signs in: the browser in words, and the fingerprints of what it keeps
// to be known again by and of the form that it sends. Without a mark it is neither known nor new;
// without a form none is the same.
type Device struct {
	Words string
	Mark  []byte
	Form  []byte
}

// Told is what is known of the browser of a sign-in and, where that is a new one, what became of
// telling whose account it is; empty where nobody looked.
type Told string

// What can become of it. A process that dies while it sends leaves Perhaps: no mail goes twice
// by itself.
const (
	ToldKnown   Told = "known"
	ToldFirst   Told = "first"       // sign-in of the account, and so no news
	ToldHere    Told = "on the page" // alone, since no mail is set up or one went just before
	ToldQueued  Told = "queued"
	ToldSending Told = "sending"
	ToldSent    Told = "sent"
	ToldFailed  Told = "failed"
	ToldPerhaps Told = "perhaps sent"
)

// New says that the browser was not known, though somebody had signed in before.
func (t Told) New() bool { return t != "" && t != ToldKnown && t != ToldFirst }

// tellTries is how often a mail about a sign-in is tried while it is certain that none was sent.
const tellTries = 6

// tellMost is how many mails go about new browsers in a day under one password: whoever signs in
// again and again must not fill the mailbox. The page tells of all.
const tellMost = 10

// formAgain is how soon a form whose answer was lost comes again: the key of one that was used long
// ago is no sign of who sends it.
const formAgain = 10 * time.Minute

// SignInsKept is how long it stays known where somebody signed in, and by which browsers they are
// known, where nothing else is said.
const SignInsKept = 90 * 24 * time.Hour

// SignInsKeptLeast is the least time for which it stays known where somebody signed in: a
// session lives as long.
const SignInsKeptLeast = 7 * 24 * time.Hour

// meet notes that an account, which is locked so that one sign-in sees the other, signs in at a
// browser, and says whether it is told of: where that one is not known. Its first sign-in of all
// is no news. A form sent again, by a browser that lost its cookie with the answer, is told of once:
// while the first answer to it stands, which is ended neither alone nor with its epoch, and from
// after browsers were last forgotten.
func (s *Store) meet(ctx context.Context, tx pgx.Tx, account int64, d Device, mails bool) (*Told, error) {
	if len(d.Mark) == 0 {
		return nil, nil
	}
	now := s.now()
	const known = `UPDATE devices SET seen_at = $3 WHERE account_id = $1 AND mark = $2`
	tag, err := tx.Exec(ctx, known, account, d.Mark, now)
	if err != nil {
		return nil, fmt.Errorf("known browsers: %w", err)
	}
	told := ToldKnown
	if tag.RowsAffected() > 0 {
		return &told, nil
	}
	const never = `SELECT created_at > $2 AND NOT EXISTS (SELECT FROM devices WHERE account_id = $1) AND NOT EXISTS (SELECT FROM sign_ins WHERE account_id = $1),
			EXISTS (SELECT FROM sign_ins i WHERE i.account_id = $1 AND i.form = $3 AND i.began_at > $6 AND i.ended_at IS NULL AND i.epoch = a.epoch
				AND i.told IN ('first', 'queued', 'sending', 'sent', 'perhaps sent')
				AND EXISTS (SELECT FROM devices d WHERE d.account_id = $1 AND d.first_at <= i.began_at))
			OR (SELECT count(*) >= $5 FROM sign_ins WHERE account_id = $1 AND began_at > $4 AND epoch >= a.password_epoch AND told IN ('queued', 'sending', 'sent', 'perhaps sent'))
		FROM accounts a WHERE id = $1`
	var first, enough bool
	if err := tx.QueryRow(ctx, never, account, now.Add(-SignInsKeptLeast), d.Form, now.Add(-24*time.Hour), tellMost, now.Add(-formAgain)).Scan(&first, &enough); err != nil {
		return nil, fmt.Errorf("known browsers: %w", err)
	}
	const meet = `INSERT INTO devices (account_id, mark, first_at, seen_at) VALUES ($1, $2, $3, $3)`
	if _, err = tx.Exec(ctx, meet, account, d.Mark, now); err != nil {
		return nil, fmt.Errorf("a new browser: %w", err)
	}
	switch {
	case first:
		told = ToldFirst
	case mails && !enough:
		told = ToldQueued
	default:
		told = ToldHere
	}
	return &told, nil
}

// NewSignIn is a sign-in that its account is told of by mail.
type NewSignIn struct {
	Name   string    `db:"name"`
	Email  string    `db:"email"`
	Device string    `db:"device"`
	Began  time.Time `db:"began_at"`
	Zone   string    `db:"zone"` // of the first of their drives, empty where they have none
}

// zoneOfAccount is that of the first of the drives of an account a.
const zoneOfAccount = `coalesce((SELECT d.zone FROM memberships m JOIN drives d ON d.id = m.drive_id
	WHERE m.account_id = a.id ORDER BY d.name, d.id LIMIT 1), '') AS zone`

// toldNow is what became of telling of a row, when mails that began to be sent before $3 are lost
// with the process that sent them, whether a worker has looked since or not.
const toldNow = `CASE WHEN told = 'sending' AND told_at < $3 THEN 'perhaps sent' ELSE coalesce(told, '') END AS told`

// BeginTelling takes the mail about a sign-in to send it: from here on it is sending, whatever
// becomes of the process. nil where there is nothing to send any more.
func (s *Store) BeginTelling(ctx context.Context, signIn int64) (*NewSignIn, error) {
	const q = `UPDATE sign_ins i SET told = 'sending', told_at = $2 FROM accounts a
		WHERE i.id = $1 AND i.told = 'queued' AND a.id = i.account_id AND a.email IS NOT NULL
		RETURNING a.name, a.email, i.device, i.began_at, ` + zoneOfAccount
	rows, err := s.pool.Query(ctx, q, signIn, s.now())
	if err != nil {
		return nil, fmt.Errorf("begin to tell of a sign-in: %w", err)
	}
	news, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[NewSignIn])
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("begin to tell of a sign-in: %w", err)
	}
	return &news, nil
}

// EndTelling writes what became of a mail that was being sent.
func (s *Store) EndTelling(ctx context.Context, signIn int64, told Told) error {
	const q = `UPDATE sign_ins SET told = $2 WHERE id = $1 AND told = 'sending'`
	if _, err := s.pool.Exec(ctx, q, signIn, told); err != nil {
		return fmt.Errorf("end telling of a sign-in: %w", err)
	}
	return nil
}

// LoseTelling settles what becomes of mails about signing in that nobody will settle any more, and
// says how many: those that a process died over were perhaps sent, and those whose job is gone,
// however it ended, were not.
func (s *Store) LoseTelling(ctx context.Context) (lost int64, err error) {
	const died = `UPDATE %s SET told = 'perhaps sent' WHERE told = 'sending' AND told_at < $1`
	const gone = `UPDATE %s i SET told = 'failed' WHERE i.told = 'queued' AND NOT EXISTS (SELECT FROM river.river_job j
		WHERE j.kind = $1 AND (j.args ->> '%s')::bigint = i.id AND j.state IN ('available', 'pending', 'retryable', 'running', 'scheduled'))`
	for _, of := range []struct{ table, arg, kind string }{
		{"sign_ins", "sign_in", task.TellSignIn{}.Kind()},
		{"half_sign_ins", "half", task.TellHalf{}.Kind()},
	} {
		tag, err := s.pool.Exec(ctx, fmt.Sprintf(died, of.table), s.now().Add(-reminderLost))
		if err != nil {
			return lost, fmt.Errorf("lost mails about signing in: %w", err)
		}
		lost += tag.RowsAffected()
		if tag, err = s.pool.Exec(ctx, fmt.Sprintf(gone, of.table, of.arg), of.kind); err != nil {
			return lost, fmt.Errorf("lost mails about signing in: %w", err)
		}
		lost += tag.RowsAffected()
	}
	return lost, nil
}

func (s *Store) queueTelling(ctx context.Context, tx pgx.Tx, signIn int64) error {
	if _, err := s.work.InsertTx(ctx, tx, task.TellSignIn{SignIn: signIn}, &river.InsertOpts{MaxAttempts: tellTries}); err != nil {
		return fmt.Errorf("enqueue a mail about a sign-in: %w", err)
	}
	return nil
}

// LastSignIns gives when somebody signed in, over by now or not, the latest first.
func (s *Store) LastSignIns(ctx context.Context, id int64, limit int) ([]SignIn, error) {
	const q = `SELECT id, device, began_at, seen_at, ` + toldNow + ` FROM sign_ins
		WHERE account_id = $1 ORDER BY began_at DESC, id DESC LIMIT $2`
	rows, err := s.pool.Query(ctx, q, id, limit, s.now().Add(-reminderLost))
	if err != nil {
		return nil, fmt.Errorf("last sign-ins: %w", err)
	}
	return collect(rows, "last sign-ins", pgx.RowToStructByName[SignIn])
}

// NotMe ends every session of the act's person but the one named, after a sign-in that was not
// theirs, and forgets every browser of theirs: whichever signs in next is told of.
func (s *Store) NotMe(ctx context.Context, act drive.Act, stays int64) error {
	_, err := once(ctx, s, act, "not me", stays, func(tx pgx.Tx) (bool, error) {
		if _, err := newEpoch(ctx, tx, act.At, act.Who, stays); err != nil {
			return false, err
		}
		const forget = `DELETE FROM devices WHERE account_id = $1`
		if _, err := tx.Exec(ctx, forget, act.Who); err != nil {
			return false, fmt.Errorf("forget browsers: %w", err)
		}
		return true, audit(ctx, tx, act, "a sign-in was not theirs", "account", act.Who, nil)
	})
	return err
}

// ForgetSignIns forgets sign-ins, passwords without a code, and browsers at which nobody has signed
// in, from before a time; it says how many. An alarm that nobody has dealt with stays.
func (s *Store) ForgetSignIns(ctx context.Context, kept time.Duration) (gone int64, err error) {
	past := s.now().Add(-max(kept, SignInsKeptLeast))
	const forgetHalves = `DELETE FROM half_sign_ins h USING accounts a WHERE a.id = h.account_id AND h.began_at < $1
		AND NOT (h.told IS NOT NULL AND h.mine_at IS NULL AND h.epoch >= a.password_epoch)`
	for _, q := range []string{`DELETE FROM sign_ins WHERE began_at < $1`, forgetHalves, `DELETE FROM devices WHERE seen_at < $1`} {
		tag, err := s.pool.Exec(ctx, q, past)
		if err != nil {
			return gone, fmt.Errorf("forget old sign-ins: %w", err)
		}
		gone += tag.RowsAffected()
	}
	return gone, nil
}
