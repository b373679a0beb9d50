package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// made says what an import made, by number and at the version it left each; nil where it is no import.
type made []drive.Brought

func (m *made) add(kind drive.BroughtKind, number int64, version int) {
	if m == nil {
		return
	}
	*m = append(*m, drive.Brought{Kind: kind, Number: number, Version: version})
}

// keepImport keeps what an import made, so that it can be taken back.
func keepImport(ctx context.Context, tx pgx.Tx, act drive.Act, kind string, taken int, rows made) error {
	number, err := next(ctx, tx, act.Drive, "import")
	if err != nil {
		return err
	}
	const q = `INSERT INTO imports (drive_id, number, kind, taken, at, who) VALUES ($1, $2, $3, $4, $5, $6)`
	if _, err := tx.Exec(ctx, q, act.Drive, number, kind, taken, act.At, act.Who); err != nil {
		return fmt.Errorf("keep import: %w", err)
	}
	columns := []string{"drive_id", "import", "kind", "number", "version"}
	_, err = tx.CopyFrom(ctx, pgx.Identifier{"import_rows"}, columns, pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) {
		return []any{act.Drive, number, string(rows[i].Kind), rows[i].Number, rows[i].Version}, nil
	}))
	if err != nil {
		return fmt.Errorf("keep what an import made: %w", err)
	}
	return nil
}

// ImportLine is a spreadsheet that was brought in.
type ImportLine struct {
	Number int64           `db:"number"`
	Kind   drive.BringKind `db:"kind"`
	Taken  int             `db:"taken"` // rows of the file
	At     time.Time       `db:"at"`
	Who    string          `db:"who"`    // empty for the command line
	Left   int             `db:"left"`   // of what it made, not taken back
	Undone int             `db:"undone"` // taken back
}

const importLines = `SELECT i.number, i.kind, i.taken, i.at, coalesce(a.name, '') AS who,
		(SELECT count(*) FROM import_rows r WHERE r.drive_id = i.drive_id AND r.import = i.number AND r.undone_at IS NULL) AS left,
		(SELECT count(*) FROM import_rows r WHERE r.drive_id = i.drive_id AND r.import = i.number AND r.undone_at IS NOT NULL) AS undone
	FROM imports i LEFT JOIN signers a ON a.id = i.who
	WHERE i.drive_id = $1`

// Imports gives the spreadsheets that were brought in last, newest first.
func (s *Store) Imports(ctx context.Context, driveID string) ([]ImportLine, error) {
	rows, err := s.pool.Query(ctx, importLines+` ORDER BY i.number DESC LIMIT 20`, driveID)
	if err != nil {
		return nil, fmt.Errorf("imports: %w", err)
	}
	return collect(rows, "imports", pgx.RowToStructByName[ImportLine])
}

// ImportMade gives a spreadsheet that was brought in, with what it made that is not taken back, and why what stays
// would stay; not found where there is none.
func (s *Store) ImportMade(ctx context.Context, driveID string, number int64) (ImportLine, []drive.Brought, error) {
	line, err := one[ImportLine](ctx, s.pool, "import", noImport(), importLines+` AND i.number = $2`, driveID, number)
	if err != nil {
		return line, nil, err
	}
	found, err := importStands(ctx, s.pool, driveID, number, s.now())
	return line, found.all, err
}

func noImport() error { return apperr.NotFound("Nothing was brought in under this number.") }
