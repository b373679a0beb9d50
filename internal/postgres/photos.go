package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// PhotoKept is how long a photo waits for the form that brought it to be taken.
const PhotoKept = 24 * time.Hour

// Photo is a picture, shrunk, as package photo gives it.
type Photo struct {
	Full, Small   []byte // JPEG
	Width, Height int    // of Full
}

// KeepPhoto keeps a photo for a form that is about to be taken and gives its
// fingerprint. The same photo is kept once, so this may be repeated; nothing is
// booked by it.
func (s *Store) KeepPhoto(ctx context.Context, driveID string, p Photo) (string, error) {
	sum := sha256.Sum256(p.Full)
	hash := hex.EncodeToString(sum[:])
	const q = `INSERT INTO photos (drive_id, hash, full_jpg, small_jpg, width, height, kept_at) VALUES ($1, $2, $3, $4, $5, $6, $7)
		ON CONFLICT ON CONSTRAINT photos_pkey DO UPDATE SET kept_at = excluded.kept_at`
	if _, err := s.pool.Exec(ctx, q, driveID, hash, p.Full, p.Small, p.Width, p.Height, s.now()); err != nil {
		return "", person(fmt.Errorf("keep photo: %w", err))
	}
	return hash, nil
}

// PhotoWaits says whether a photo is still here.
func (s *Store) PhotoWaits(ctx context.Context, driveID, hash string) (bool, error) {
	const q = `SELECT EXISTS (SELECT FROM photos WHERE drive_id = $1 AND hash = $2)`
	var here bool
	if err := s.pool.QueryRow(ctx, q, driveID, hash).Scan(&here); err != nil {
		return false, fmt.Errorf("photo: %w", err)
	}
	return here, nil
}

// LotPhoto gives the photo of a lot as a JPEG, the small one or the full; not
// found where it has none.
func (s *Store) LotPhoto(ctx context.Context, driveID string, lot int64, small bool) ([]byte, error) {
	const q = `SELECT CASE WHEN $3 THEN p.small_jpg ELSE p.full_jpg END
		FROM lots l JOIN photos p ON p.drive_id = l.drive_id AND p.hash = l.photo
		WHERE l.drive_id = $1 AND l.number = $2`
	var jpg []byte
	err := s.pool.QueryRow(ctx, q, driveID, lot, small).Scan(&jpg)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, apperr.NotFound("There is no photo of lot %d here.", lot)
	}
	if err != nil {
		return nil, fmt.Errorf("photo of lot: %w", err)
	}
	return jpg, nil
}

// SetLotPhoto puts a photo that is kept in place of the one a lot has; an empty
// fingerprint takes it away. The words about the lot stay at their version: a
// photo collides with nobody's typing.
func (s *Store) SetLotPhoto(ctx context.Context, act drive.Act, number int64, hash string) (int64, error) {
	return once(ctx, s, act, "set photo", [2]any{number, hash}, func(tx pgx.Tx) (int64, error) {
		lot, err := lockLot(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		const q = `UPDATE lots SET photo = $3 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, q, act.Drive, number, drive.PhotoHash(hash)); err != nil {
			return 0, fmt.Errorf("photo of lot: %w", err)
		}
		c := changes{}
		c.personal("photo", orZero(lot.Photo), hash)
		return number, audit(ctx, tx, act, "photo changed", "lot", number, c)
	})
}

// ForgetPhotos removes photos that no lot has, after a day, and says how many.
func (s *Store) ForgetPhotos(ctx context.Context) (int64, error) {
	const q = `DELETE FROM photos p WHERE p.kept_at < $1
		AND NOT EXISTS (SELECT FROM lots l WHERE l.drive_id = p.drive_id AND l.photo = p.hash)`
	tag, err := s.pool.Exec(ctx, q, s.now().Add(-PhotoKept))
	if err != nil {
		return 0, fmt.Errorf("forget photos: %w", err)
	}
	return tag.RowsAffected(), nil
}
