package postgres

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// EraseAccount forgets who somebody is who signs in: name, address, initials, password,
// second step and roles go, and so does where they were signed in; links of theirs, and
// passes and invitations they made, end, and what they sent is known again no more. What they
// did keeps their number. People erase themselves; organisers those who work for no drive but
// theirs and may start none, else it is a conflict; the command line anybody. The last
// organiser of a drive is a conflict, and so is who is
// erased already.
func (s *Store) EraseAccount(ctx context.Context, act drive.Act, id int64) error {
	_, err := once(ctx, s, act, "erase account", id, func(tx pgx.Tx) (bool, error) {
		held, err := lockMember(ctx, tx, id)
		if err != nil {
			return false, err
		}
		if err := mayErase(ctx, tx, act, id, held); err != nil {
			return false, err
		}
		for _, m := range held {
			if err := leave(ctx, tx, act, id, m); err != nil {
				return false, err
			}
		}
		if err := forgetAccount(ctx, tx, act, id); err != nil {
			return false, err
		}
		return true, auditErased(ctx, tx, act, id, held)
	})
	return err
}

// leave takes somebody's role in one drive away, where it is not without organisers then.
func leave(ctx context.Context, tx pgx.Tx, act drive.Act, id int64, m Member) error {
	act.Drive = m.DriveID
	if err := writeRole(ctx, tx, act, id, ""); err != nil {
		return err
	}
	if m.Role != account.Organiser {
		return nil
	}
	err := keepOrganiser(ctx, tx, m.DriveID)
	if apperr.Is(err, apperr.KindConflict) {
		return apperr.Conflict("%s has no other organiser. Make somebody else organiser there first.", m.DriveName)
	}
	return err
}

// auditErased tells it in every drive they worked for; outside the drives where there was none.
func auditErased(ctx context.Context, tx pgx.Tx, act drive.Act, id int64, held []Member) error {
	if len(held) == 0 {
		held = []Member{{}}
	}
	for _, m := range held {
		act.Drive = m.DriveID
		if err := audit(ctx, tx, act, "account erased", "account", id, nil); err != nil {
			return err
		}
	}
	return nil
}

// lockMember holds somebody who signs in and every drive they work for, which it gives.
// Drives go first, as where a role is given; then links, as where one is used.
func lockMember(ctx context.Context, tx pgx.Tx, id int64) ([]Member, error) {
	held, err := memberOf(ctx, tx, id)
	if err != nil {
		return nil, err
	}
	drives := make([]string, len(held))
	for i, m := range held {
		drives[i] = m.DriveID
	}
	slices.Sort(drives)
	for _, d := range drives {
		if err := lockDrive(ctx, tx, d); err != nil {
			return nil, err
		}
	}
	const links = `SELECT id FROM links WHERE account_id = $1 ORDER BY id FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, links, id); err != nil {
		return nil, fmt.Errorf("lock links: %w", err)
	}
	// Nothing new can be hung on the account from here on.
	const who = `SELECT erased_at IS NOT NULL FROM accounts WHERE id = $1 FOR UPDATE`
	var gone bool
	if err := tx.QueryRow(ctx, who, id).Scan(&gone); errors.Is(err, pgx.ErrNoRows) {
		return nil, noAccount()
	} else if err != nil {
		return nil, fmt.Errorf("lock account: %w", err)
	}
	if gone {
		return nil, apperr.Conflict("This account is erased already.")
	}
	now, err := memberOf(ctx, tx, id)
	if err != nil {
		return nil, err
	}
	same := func(a, b Member) bool { return a.DriveID == b.DriveID }
	if !slices.EqualFunc(held, now, same) {
		return nil, apperr.Conflict("Roles were changed at this moment. Nothing is erased; send it again.")
	}
	return now, nil
}

func mayErase(ctx context.Context, tx pgx.Tx, act drive.Act, id int64, held []Member) error {
	// Whoever comes by a personal link has no account either, and is not the command line.
	if act.Who == id || act.Who == 0 && act.Link == "" {
		return nil
	}
	mine, err := memberOf(ctx, tx, act.Who)
	if err != nil {
		return err
	}
	organises := func(in Member) bool {
		return slices.ContainsFunc(mine, func(m Member) bool { return m.DriveID == in.DriveID && m.Role.Allows(account.Drive) >= account.Write })
	}
	if !slices.ContainsFunc(held, func(m Member) bool { return m.DriveID == act.Drive && organises(m) }) {
		return apperr.NotFound("Nobody of that number signs in for this drive.")
	}
	for _, m := range held {
		if !organises(m) {
			return apperr.Conflict("They work for another drive too, of which you are no organiser. They can erase themselves on the page of their account, or whoever looks after the server can: boltward user erase.")
		}
	}
	const q = `SELECT opens FROM accounts WHERE id = $1`
	var opens bool
	if err := tx.QueryRow(ctx, q, id).Scan(&opens); err != nil {
		return fmt.Errorf("may they start drives: %w", err)
	}
	if opens {
		return apperr.Conflict("They may start drives on this server. They can erase themselves on the page of their account, or whoever looks after the server can: boltward user erase.")
	}
	return nil
}

// erasedAccount stands where the name of somebody was who signed in.
const erasedAccount = "Erased account %d"

func forgetAccount(ctx context.Context, tx pgx.Tx, act drive.Act, id int64) error {
	if err := dropSecondStep(ctx, tx, id); err != nil {
		return err
	}
	if err := revokeAccountLinks(ctx, tx, act.At, id); err != nil {
		return err
	}
	const places = `DELETE FROM sign_ins WHERE account_id = $1`
	if _, err := tx.Exec(ctx, places, id); err != nil {
		return fmt.Errorf("erase account: %w", err)
	}
	const halves = `DELETE FROM half_sign_ins WHERE account_id = $1`
	if _, err := tx.Exec(ctx, halves, id); err != nil {
		return fmt.Errorf("erase account: %w", err)
	}
	const browsers = `DELETE FROM devices WHERE account_id = $1`
	if _, err := tx.Exec(ctx, browsers, id); err != nil {
		return fmt.Errorf("erase account: %w", err)
	}
	if err := forgetTyped(ctx, tx, id); err != nil {
		return err
	}
	const wishes = `DELETE FROM once WHERE who = $1 AND (drive_id, key) <> ($2, $3)` // all but this one
	if _, err := tx.Exec(ctx, wishes, id, act.Drive, act.Key); err != nil {
		return fmt.Errorf("erase account: %w", err)
	}
	const who = `UPDATE accounts SET name = $2, email = NULL, initials = '', password = '', opens = false, epoch = epoch + 1, erased_at = $3 WHERE id = $1`
	if _, err := tx.Exec(ctx, who, id, fmt.Sprintf(erasedAccount, id), act.At); err != nil {
		return fmt.Errorf("erase account: %w", err)
	}
	return nil
}

// lastBy says that an account, $1, was the last that did something to a row r, by the trail.
func lastBy(kind, done string) string {
	return `(SELECT a.who FROM audit a WHERE a.drive_id = r.drive_id AND a.kind = '` + kind + `' AND a.subject = r.number::text AND a.act = '` + done + `' ORDER BY a.id DESC LIMIT 1) = $1`
}

// ownInitials are the columns in which the initials of an account, $1, stand at what it did
// itself, each with what it did there; where says so of a row r. Those of others are not among
// them, though it was this account that typed them; nor are initials that others typed, which may be anybody's.
func ownInitials() []struct{ table, column, done, where string } {
	list := []struct{ table, column, done, where string }{
		{"checks", "initials", "check", "r.who = $1"},
		{"laundry", "started_by", "laundry put in", "r.who = $1"},
		{"laundry", "done_by", "laundry taken out", lastBy("laundry", "laundry done")},
		{"boxes", "packed_by", "box packed", lastBy("box", "box packed")},
		{"boxes", "checked_by", "box counted again", lastBy("box", "box packed")},
		{"sheets", "helper", "sheet signed out", lastBy("sheet", "sheet signed out")},
	}
	for i, at := range list {
		list[i].where = `upper(btrim(r.` + at.column + `)) = (SELECT upper(nullif(initials, '')) FROM accounts WHERE id = $1) AND ` + at.where
	}
	return list
}

// initialsTold selects where the initials of an account stand at what it did.
func initialsTold() string {
	var all []string
	for _, at := range ownInitials() {
		all = append(all, `SELECT r.drive_id AS "Drive", '`+at.done+`' AS "Beside", r.number::text AS "Which" FROM `+at.table+` r WHERE `+at.where)
	}
	return strings.Join(all, ` UNION ALL `) + ` ORDER BY 1, 2, 3`
}

// forgetTyped empties the initials of an account, which it still has, at what it did itself.
func forgetTyped(ctx context.Context, tx pgx.Tx, id int64) error {
	for _, at := range ownInitials() {
		if _, err := tx.Exec(ctx, `UPDATE `+at.table+` r SET `+at.column+` = '' WHERE `+at.where, id); err != nil {
			return fmt.Errorf("initials in %s: %w", at.table, err)
		}
	}
	return nil
}

// holdSigner keeps the account of whoever acts, where they have one, from being erased until
// the transaction ends, and refuses where it is erased: their initials, which are written
// after it, would else outlive it. Rows that have initials are locked after it.
func holdSigner(ctx context.Context, tx pgx.Tx, act drive.Act) error {
	const q = `SELECT erased_at IS NOT NULL FROM accounts WHERE id = $1 FOR KEY SHARE`
	var gone bool
	if err := tx.QueryRow(ctx, q, act.Who).Scan(&gone); err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return fmt.Errorf("hold account: %w", err)
	}
	if gone {
		return noAccount()
	}
	return nil
}

// holdAccount refuses what would be hung on an account that is erased, and keeps it from
// being erased until the transaction ends.
func holdAccount(ctx context.Context, tx pgx.Tx, id int64) error {
	return keepAccount(ctx, tx, id, "FOR KEY SHARE")
}

// lockAccount is holdAccount, of one transaction at a time.
func lockAccount(ctx context.Context, tx pgx.Tx, id int64) error {
	return keepAccount(ctx, tx, id, "FOR NO KEY UPDATE")
}

func keepAccount(ctx context.Context, tx pgx.Tx, id int64, lock string) error {
	q := `SELECT FROM accounts WHERE id = $1 AND erased_at IS NULL ` + lock
	tag, err := tx.Exec(ctx, q, id)
	if err != nil {
		return fmt.Errorf("hold account: %w", err)
	}
	if tag.RowsAffected() == 0 {
		return noAccount()
	}
	return nil
}

func noAccount() error { return apperr.NotFound("There is no such account.") }
