package postgres

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// EraseAccount forgets who somebody is who signs in: name, address, initials, password,
// second step and roles go, and so does where they were signed in; links of theirs, and
// passes and invitations they made, end, and what they sent is known again no more. What they did keeps their number. People erase
// themselves; organisers those who work for no drive but theirs, else it is a conflict; the
// command line anybody. The last organiser of a drive is a conflict, and so is who is
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
		return nil, apperr.Conflict("Somebody has changed this moment what they work for. Look again.")
	}
	return now, nil
}

func mayErase(ctx context.Context, tx pgx.Tx, act drive.Act, id int64, held []Member) error {
	if act.Who == id || act.Who == 0 {
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
	const checks = `UPDATE checks SET initials = '' WHERE who = $1 AND initials <> ''`
	for _, q := range []string{places, checks} {
		if _, err := tx.Exec(ctx, q, id); err != nil {
			return fmt.Errorf("erase account: %w", err)
		}
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

// holdAccount refuses what would be hung on an account that is erased, and keeps it from
// being erased until the transaction ends.
func holdAccount(ctx context.Context, tx pgx.Tx, id int64) error {
	const q = `SELECT FROM accounts WHERE id = $1 AND erased_at IS NULL FOR KEY SHARE`
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
