package postgres

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// UploadReading is how somebody said a spreadsheet is to be read: its sheet and
// line of headings, and what columns hold, by their headings as they are compared.
// An empty meaning leaves a column aside; a heading that is not named is understood
// as before.
type UploadReading struct {
	Sheet   string
	Heading int
	Means   map[string]string
	Forget  []string // headings to be understood by themselves again
}

// Check says what is wrong with a reading.
func (r UploadReading) Check() error {
	if r.Heading < 0 || r.Heading > 1_048_576 {
		return apperr.Invalid("heading", "Give the number of the line that holds the headings.")
	}
	for heading, means := range r.Means {
		if n := len([]rune(heading)); n == 0 || n > 120 || len(means) > 40 {
			return apperr.Invalid("means", "A heading is longer than 120 characters. Shorten it in the file.")
		}
	}
	return nil
}

// ReadUploadAs keeps how a file that waits is to be read, and what headings mean
// in this drive, for this kind of list, from now on. It is a conflict while the
// file is being taken in.
func (s *Store) ReadUploadAs(ctx context.Context, act drive.Act, number int64, r UploadReading) error {
	_, err := once(ctx, s, act, "read upload", struct {
		Number  int64
		Reading UploadReading
	}{number, r}, func(tx pgx.Tx) (bool, error) {
		if err := r.Check(); err != nil {
			return false, err
		}
		u, err := lockUpload(ctx, tx, act, number)
		if err != nil {
			return false, err
		}
		const read = `UPDATE uploads SET sheet = $3, heading = $4 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, read, act.Drive, number, r.Sheet, r.Heading); err != nil {
			return false, fmt.Errorf("read upload: %w", err)
		}
		const forget = `DELETE FROM heading_choices WHERE drive_id = $1 AND kind = $2 AND heading = ANY($3)`
		if _, err := tx.Exec(ctx, forget, act.Drive, u.Kind, r.Forget); err != nil {
			return false, fmt.Errorf("forget headings: %w", err)
		}
		// In one order, so that two who match columns at once wait for each other.
		for _, heading := range slices.Sorted(maps.Keys(r.Means)) {
			const keep = `INSERT INTO heading_choices (drive_id, kind, heading, means) VALUES ($1, $2, $3, $4)
				ON CONFLICT ON CONSTRAINT heading_choices_pkey DO UPDATE SET means = EXCLUDED.means`
			if _, err := tx.Exec(ctx, keep, act.Drive, u.Kind, heading, r.Means[heading]); err != nil {
				return false, fmt.Errorf("keep headings: %w", err)
			}
		}
		return true, audit(ctx, tx, act, "columns matched", "upload", number, changes{"headings": {To: len(r.Means)}})
	})
	return err
}

// HeadingChoices gives what somebody said headings mean in lists of this kind.
func (s *Store) HeadingChoices(ctx context.Context, driveID string, kind drive.BringKind) (map[string]string, error) {
	const q = `SELECT heading, means FROM heading_choices WHERE drive_id = $1 AND kind = $2`
	rows, err := s.pool.Query(ctx, q, driveID, kind)
	if err != nil {
		return nil, fmt.Errorf("heading choices: %w", err)
	}
	means := map[string]string{}
	var heading, field string
	_, err = pgx.ForEachRow(rows, []any{&heading, &field}, func() error {
		means[heading] = field
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("heading choices: %w", err)
	}
	return means, nil
}
