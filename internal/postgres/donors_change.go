package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const donorColumns = `number, name, letter, note, no_letters, created_at, erased_at, version`

// Donor gives a donor, without how to reach them; not found where the drive has
// none of that number.
func (s *Store) Donor(ctx context.Context, driveID string, number int64) (drive.Donor, error) {
	const q = `SELECT ` + donorColumns + ` FROM donors WHERE drive_id = $1 AND number = $2`
	return oneDonor(ctx, s.pool, q, driveID, number)
}

// UpdateDonor changes a donor who is still at d.Version; a later one is a conflict.
// Contacts stay as they are where c is nil. Who was erased stays so.
func (s *Store) UpdateDonor(ctx context.Context, act drive.Act, d drive.Donor, c *drive.DonorContacts) (DonorSaved, error) {
	d = d.Tidy()
	if c != nil {
		tidy := c.Tidy()
		c = &tidy
	}
	if err := drive.CheckDonor(d, c); err != nil {
		return DonorSaved{}, err
	}
	body := struct {
		Donor    drive.Donor
		Contacts *drive.DonorContacts
	}{d, c}
	return once(ctx, s, act, "update donor", body, func(tx pgx.Tx) (DonorSaved, error) {
		saved := DonorSaved{Number: d.Number, Version: d.Version + 1}
		old, before, err := lockDonor(ctx, tx, act.Drive, d.Number)
		switch {
		case err != nil:
			return saved, err
		case old.ErasedAt != nil:
			return saved, apperr.Conflict("This donor asked to be forgotten. Add them anew if they give again.")
		case old.Version != d.Version:
			return saved, stale(old.Name)
		}
		after := before
		if c != nil {
			after = *c
		}
		d := d
		d.Name = drive.KeptName(old.Name, d.Name)
		d.CreatedAt, d.ErasedAt, d.Version = old.CreatedAt, nil, saved.Version
		if err := writeDonor(ctx, tx, act.Drive, d, after); err != nil {
			return saved, err
		}
		return saved, audit(ctx, tx, act, "donor changed", "donor", d.Number, donorChanges(old, d, before, after))
	})
}

// EraseDonor forgets who a donor is: name, contacts and note go, what they gave
// keeps its number. Notes on their lots stay, since they speak of cloth; so do
// letters that were printed before, on paper.
func (s *Store) EraseDonor(ctx context.Context, act drive.Act, number int64) (DonorSaved, error) {
	return once(ctx, s, act, "erase donor", number, func(tx pgx.Tx) (DonorSaved, error) { return eraseDonor(ctx, tx, act, number) })
}

func eraseDonor(ctx context.Context, tx pgx.Tx, act drive.Act, number int64) (DonorSaved, error) {
	old, before, err := lockDonor(ctx, tx, act.Drive, number)
	switch {
	case err != nil:
		return DonorSaved{}, err
	case old.ErasedAt != nil:
		return DonorSaved{}, apperr.Conflict("This donor is forgotten already.")
	}
	d := old.Erased(act.At)
	if err := writeDonor(ctx, tx, act.Drive, d, drive.DonorContacts{}); err != nil {
		return DonorSaved{}, err
	}
	return DonorSaved{Number: number, Version: d.Version}, audit(ctx, tx, act, "donor erased", "donor", number, donorChanges(old, d, before, drive.DonorContacts{}))
}

func lockDonor(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Donor, drive.DonorContacts, error) {
	const lock = `SELECT ` + donorColumns + ` FROM donors WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	d, err := oneDonor(ctx, tx, lock, driveID, number)
	if err != nil {
		return d, drive.DonorContacts{}, err
	}
	c, err := donorContacts(ctx, tx, driveID, number)
	return d, c, err
}

func writeDonor(ctx context.Context, tx pgx.Tx, driveID string, d drive.Donor, c drive.DonorContacts) error {
	const update = `UPDATE donors SET name = $3, email = $4, phone = $5, address = $6, letter = $7, note = $8, no_letters = $9, erased_at = $10, version = $11
		WHERE drive_id = $1 AND number = $2`
	_, err := tx.Exec(ctx, update, driveID, d.Number, d.Name, c.Email, c.Phone, c.Address, d.Letter, d.Note, d.NoLetters, d.ErasedAt, d.Version)
	if err != nil {
		return fmt.Errorf("write donor: %w", err)
	}
	return nil
}

func oneDonor(ctx context.Context, db querier, q, driveID string, number int64) (drive.Donor, error) {
	return one[drive.Donor](ctx, db, "donor", noDonor(), q, driveID, number)
}
