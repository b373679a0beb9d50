package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// UploadKept is how long a spreadsheet waits to be taken.
const UploadKept = 24 * time.Hour

// Upload is a spreadsheet that waits between its preview and somebody's word.
type Upload struct {
	Number  int64           `db:"number"`
	Kind    drive.BringKind `db:"kind"`
	Name    string          `db:"name"` // of the file
	Content []byte          `db:"content"`
	Who     int64           `db:"who"`
	At      time.Time       `db:"at"`
	Sheet   string          `db:"sheet"`   // that somebody chose; empty for the one that fits
	Heading int             `db:"heading"` // the line of headings that somebody chose; 0 for the one that fits
	Take
}

// KeepUpload keeps a spreadsheet to be looked at, and gives it a number. Those
// that waited too long go.
func (s *Store) KeepUpload(ctx context.Context, act drive.Act, kind drive.BringKind, name string, content []byte) (int64, error) {
	name = lastRunes(name, 200)
	body := struct {
		Kind    drive.BringKind
		Name    string
		Content []byte
	}{kind, name, content}
	return once(ctx, s, act, "keep upload", body, func(tx pgx.Tx) (int64, error) {
		const tidy = `DELETE FROM uploads WHERE at < $1`
		if _, err := tx.Exec(ctx, tidy, act.At.Add(-UploadKept)); err != nil {
			return 0, fmt.Errorf("old uploads: %w", err)
		}
		number, err := next(ctx, tx, act.Drive, "upload")
		if err != nil {
			return 0, err
		}
		const insert = `INSERT INTO uploads (drive_id, number, kind, name, content, who, at) VALUES ($1, $2, $3, $4, $5, $6, $7)`
		if _, err := tx.Exec(ctx, insert, act.Drive, number, kind, name, content, act.Who, act.At); err != nil {
			return 0, fmt.Errorf("keep upload: %w", err)
		}
		return number, audit(ctx, tx, act, "file kept", "upload", number, changes{"kind": {To: kind}})
	})
}

// Upload gives a spreadsheet that waits; not found where it is gone.
func (s *Store) Upload(ctx context.Context, driveID string, number int64) (Upload, error) {
	return s.upload(ctx, driveID, number, s.now().Add(-UploadKept))
}

// UploadLine is a spreadsheet that waits, without what is in it.
type UploadLine struct {
	Number int64           `db:"number"`
	Name   string          `db:"name"`
	At     time.Time       `db:"at"`
	State  drive.TakeState `db:"state"`
}

// Uploads gives the spreadsheets that wait or were taken in lately, newest first.
func (s *Store) Uploads(ctx context.Context, driveID string) ([]UploadLine, error) {
	const q = `SELECT number, name, at, state FROM uploads WHERE drive_id = $1 AND at >= $2 ORDER BY number DESC LIMIT 20`
	rows, err := s.pool.Query(ctx, q, driveID, s.now().Add(-UploadKept))
	if err != nil {
		return nil, fmt.Errorf("uploads: %w", err)
	}
	return collect(rows, "uploads", pgx.RowToStructByName[UploadLine])
}

func (s *Store) upload(ctx context.Context, driveID string, number int64, since time.Time) (Upload, error) {
	const q = `SELECT number, kind, name, content, who, at, sheet, heading, ` + takeColumns + `
		FROM uploads WHERE drive_id = $1 AND number = $2 AND at >= $3`
	return one[Upload](ctx, s.pool, "upload", uploadGone(), q, driveID, number, since)
}

func uploadGone() error {
	return apperr.NotFound("This file waits here no longer: it was left, or forgotten after a day. Bring it once more.")
}

// DropUpload forgets a spreadsheet; one that is gone already is forgotten too. It
// is a conflict while the file is being taken in.
func (s *Store) DropUpload(ctx context.Context, act drive.Act, number int64) error {
	_, err := once(ctx, s, act, "drop upload", number, func(tx pgx.Tx) (bool, error) {
		if _, err := lockUpload(ctx, tx, act, number); err != nil && !apperr.Is(err, apperr.KindNotFound) {
			return false, err
		}
		const q = `DELETE FROM uploads WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, q, act.Drive, number); err != nil {
			return false, fmt.Errorf("drop upload: %w", err)
		}
		return true, audit(ctx, tx, act, "file left", "upload", number, nil)
	})
	return err
}

// ForgetUploads removes spreadsheets that waited too long and says how many.
func (s *Store) ForgetUploads(ctx context.Context) (int64, error) {
	const q = `DELETE FROM uploads WHERE at < $1`
	tag, err := s.pool.Exec(ctx, q, s.now().Add(-UploadKept))
	if err != nil {
		return 0, fmt.Errorf("forget uploads: %w", err)
	}
	return tag.RowsAffected(), nil
}

// lastRunes keeps the end of a name, where its kind stands.
func lastRunes(s string, n int) string {
	r := []rune(s)
	return string(r[max(0, len(r)-n):])
}
