package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// RecipientLink gives the id of a recipient's personal link, good for
// account.PersonalLinkLife from now: the same each time, so that it can be printed
// again. With renew it is a new one, and the old one stops working. A recipient
// that is not there is an invalid field.
func (s *Store) RecipientLink(ctx context.Context, act drive.Act, recipient int64, renew bool) (string, error) {
	type body struct {
		Recipient int64
		Renew     bool
	}
	return once(ctx, s, act, "recipient link", body{recipient, renew}, func(tx pgx.Tx) (string, error) {
		if err := lockRecipient(ctx, tx, act.Drive, recipient); err != nil {
			return "", err
		}
		id, err := renewedLink(ctx, tx, act, linkHolder{recipient: &recipient}, renew)
		if err != nil {
			return "", err
		}
		return id, audit(ctx, tx, act, "recipient link made", "recipient", recipient, nil)
	})
}

// EndRecipientLink makes a recipient's personal link stop working. It says whether
// there was one.
func (s *Store) EndRecipientLink(ctx context.Context, act drive.Act, recipient int64) (bool, error) {
	return once(ctx, s, act, "end recipient link", recipient, func(tx pgx.Tx) (bool, error) {
		if err := lockRecipient(ctx, tx, act.Drive, recipient); err != nil {
			return false, err
		}
		ended, err := endHolderLink(ctx, tx, act, linkHolder{recipient: &recipient})
		if err != nil {
			return false, err
		}
		return ended, audit(ctx, tx, act, "recipient link ended", "recipient", recipient, nil)
	})
}

// LinkOfRecipient gives the id of the personal link of a recipient that works; empty
// where there is none.
func (s *Store) LinkOfRecipient(ctx context.Context, driveID string, recipient int64) (string, error) {
	const q = `SELECT id FROM links WHERE drive_id = $1 AND recipient = $2 AND revoked_at IS NULL AND expires_at > $3`
	var id string
	err := s.pool.QueryRow(ctx, q, driveID, recipient, s.now()).Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("link of a recipient: %w", err)
	}
	return id, nil
}

// Receiver is whose link was opened that is a recipient's.
type Receiver struct {
	Drive     drive.Drive
	Recipient drive.Recipient
}

// RecipientByLink gives the recipient whose link this is. One that is unknown, ended
// or past its time is not found, without saying which.
func (s *Store) RecipientByLink(ctx context.Context, id string) (Receiver, error) {
	const q = `SELECT d.*, r.* FROM links l
		CROSS JOIN LATERAL (SELECT ` + driveColumns + ` FROM drives WHERE id = l.drive_id) d
		CROSS JOIN LATERAL (SELECT ` + recipientColumns + ` FROM recipients WHERE drive_id = l.drive_id AND number = l.recipient) r
		WHERE l.id = $1 AND l.purpose = 'recipient' AND l.revoked_at IS NULL AND l.expires_at > $2`
	var r Receiver
	var err error
	r.Drive, r.Recipient, err = linkFor[drive.Recipient](ctx, s, q, id)
	return r, err
}
