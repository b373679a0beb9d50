package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const recipientColumns = `number, kind, name, ages, contact, email, phone, address, fibres, rules, homes, note, created_at, version`

// Recipients gives everybody who asks for pillowcases, by name.
func (s *Store) Recipients(ctx context.Context, driveID string) ([]drive.Recipient, error) {
	const q = `SELECT ` + recipientColumns + ` FROM recipients WHERE drive_id = $1 ORDER BY lower(name), number`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("recipients: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Recipient])
	if err != nil {
		return nil, fmt.Errorf("recipients: %w", err)
	}
	return list, nil
}

// Recipient gives one recipient; not found where the drive has none of that number.
func (s *Store) Recipient(ctx context.Context, driveID string, number int64) (drive.Recipient, error) {
	const q = `SELECT ` + recipientColumns + ` FROM recipients WHERE drive_id = $1 AND number = $2`
	return oneRecipient(ctx, s.pool, q, driveID, number)
}

// CreateRecipient adds a recipient and gives it its number. It refuses by field
// what drive.Recipient.Check refuses, and a name that another recipient has.
func (s *Store) CreateRecipient(ctx context.Context, act drive.Act, r drive.Recipient) (drive.Recipient, error) {
	r = r.Tidy()
	if err := r.Check(); err != nil {
		return drive.Recipient{}, err
	}
	saved, err := once(ctx, s, act, "create recipient", r, func(tx pgx.Tx) (recipientSaved, error) {
		number, err := next(ctx, tx, act.Drive, "recipient")
		if err != nil {
			return recipientSaved{}, err
		}
		return recipientSaved{Number: number, Version: 1, CreatedAt: act.At}, insertRecipient(ctx, tx, act, number, r)
	})
	return saved.with(r), err
}

// recipientSaved is what is kept for repeats: nothing personal.
type recipientSaved struct {
	Number    int64
	Version   int
	CreatedAt time.Time
}

func (saved recipientSaved) with(r drive.Recipient) drive.Recipient {
	r.Number, r.Version, r.CreatedAt = saved.Number, saved.Version, saved.CreatedAt
	return r
}

// insertRecipient adds a recipient that was checked, under this number.
func insertRecipient(ctx context.Context, tx pgx.Tx, act drive.Act, number int64, r drive.Recipient) error {
	const insert = `INSERT INTO recipients (drive_id, number, kind, name, ages, contact, email, phone, address, fibres, rules, homes, note, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)`
	_, err := tx.Exec(ctx, insert, act.Drive, number, r.Kind, r.Name, r.Ages, r.Contact, r.Email, r.Phone, r.Address, r.Fibres, r.Rules, r.Homes, r.Note, act.At)
	if err != nil {
		return fmt.Errorf("create recipient: %w", err)
	}
	return audit(ctx, tx, act, "recipient added", "recipient", number, changes{"name": {To: r.Name}})
}

// UpdateRecipient changes a recipient that is still at r.Version; a later one is
// a conflict. It refuses by field as CreateRecipient does.
func (s *Store) UpdateRecipient(ctx context.Context, act drive.Act, r drive.Recipient) (drive.Recipient, error) {
	r = r.Tidy()
	if err := r.Check(); err != nil {
		return drive.Recipient{}, err
	}
	saved, err := once(ctx, s, act, "update recipient", r, func(tx pgx.Tx) (recipientSaved, error) {
		saved := recipientSaved{Number: r.Number, Version: r.Version + 1}
		const lock = `SELECT ` + recipientColumns + ` FROM recipients WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
		old, err := oneRecipient(ctx, tx, lock, act.Drive, r.Number)
		if err != nil {
			return saved, err
		}
		if old.Version != r.Version {
			return saved, stale(old.Name)
		}
		saved.CreatedAt = old.CreatedAt
		r.Name = drive.KeptName(old.Name, r.Name)
		const update = `UPDATE recipients SET kind = $3, name = $4, ages = $5, contact = $6, email = $7, phone = $8, address = $9,
				fibres = $10, rules = $11, homes = $12, note = $13, version = $14
			WHERE drive_id = $1 AND number = $2`
		_, err = tx.Exec(ctx, update, act.Drive, r.Number, r.Kind, r.Name, r.Ages, r.Contact, r.Email, r.Phone, r.Address, r.Fibres, r.Rules, r.Homes, r.Note, saved.Version)
		if err != nil {
			return saved, fmt.Errorf("update recipient: %w", err)
		}
		return saved, audit(ctx, tx, act, "recipient changed", "recipient", r.Number, recipientChanges(old, r))
	})
	return saved.with(r), err
}

func oneRecipient(ctx context.Context, db querier, q, driveID string, number int64) (drive.Recipient, error) {
	rows, err := db.Query(ctx, q, driveID, number)
	if err != nil {
		return drive.Recipient{}, fmt.Errorf("recipient: %w", err)
	}
	r, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Recipient])
	if errors.Is(err, pgx.ErrNoRows) {
		return drive.Recipient{}, apperr.NotFound("There is no such recipient here.")
	}
	if err != nil {
		return drive.Recipient{}, fmt.Errorf("recipient: %w", err)
	}
	return r, nil
}

func recipientChanges(old, r drive.Recipient) changes {
	c := changes{}
	c.set("kind", old.Kind, r.Kind)
	c.set("name", old.Name, r.Name)
	c.set("ages", old.Ages, r.Ages)
	c.set("fibres", old.Fibres, r.Fibres)
	c.set("rules", old.Rules, r.Rules)
	c.set("homes", old.Homes, r.Homes)
	c.personal("note", old.Note, r.Note)
	c.personal("contact", old.Contact, r.Contact)
	c.personal("email", old.Email, r.Email)
	c.personal("phone", old.Phone, r.Phone)
	c.personal("address", old.Address, r.Address)
	return c
}
