package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/sizing"

	"github.com/jackc/pgx/v5"
)

const sizeColumns = `s.number, s.name, s.spec, s.retired, s.created_at, s.version,
	EXISTS (SELECT FROM case_balances b WHERE b.drive_id = s.drive_id AND b.size = s.number)
		OR EXISTS (SELECT FROM kits k WHERE k.drive_id = s.drive_id AND k.size = s.number) AS used`

// Sizes gives every size of a drive: those in use first, then the retired, each in the order they were added.
func (s *Store) Sizes(ctx context.Context, driveID string) ([]drive.Size, error) {
	return sizesOf(ctx, s.pool, driveID)
}

func sizesOf(ctx context.Context, db querier, driveID string) ([]drive.Size, error) {
	const q = `SELECT ` + sizeColumns + ` FROM sizes s WHERE s.drive_id = $1 ORDER BY s.retired, s.number`
	rows, err := db.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("sizes: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Size])
	if err != nil {
		return nil, fmt.Errorf("sizes: %w", err)
	}
	return list, nil
}

// Size gives one size; not found where the drive has none of that number.
func (s *Store) Size(ctx context.Context, driveID string, number int64) (drive.Size, error) {
	const q = `SELECT ` + sizeColumns + ` FROM sizes s WHERE s.drive_id = $1 AND s.number = $2`
	return oneSize(ctx, s.pool, q, driveID, number)
}

// Stock gives the usable rectangles of cloth that a plan may draw on, for what
// package sizing says about widths.
func (s *Store) Stock(ctx context.Context, driveID string) ([]sizing.Cloth, error) {
	const q = `SELECT p.width, p.free_length AS length, l.turn
		FROM pieces p JOIN lots l ON l.drive_id = p.drive_id AND l.number = p.lot
		WHERE p.drive_id = $1 AND p.free_length > 0 AND l.measured_at IS NOT NULL AND l.set_aside = ''
		ORDER BY p.lot, p.piece`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("cloth in stock: %w", err)
	}
	stock, err := pgx.CollectRows(rows, pgx.RowToStructByName[sizing.Cloth])
	if err != nil {
		return nil, fmt.Errorf("cloth in stock: %w", err)
	}
	return stock, nil
}

// CreateSize adds a size and gives it its number. It refuses by field what
// drive.Size.Check refuses, and a name that another size has.
func (s *Store) CreateSize(ctx context.Context, act drive.Act, z drive.Size) (drive.Size, error) {
	z = z.Tidy()
	if err := z.Check(); err != nil {
		return drive.Size{}, err
	}
	return once(ctx, s, act, "create size", z, func(tx pgx.Tx) (drive.Size, error) {
		number, err := next(ctx, tx, act.Drive, "size")
		if err != nil {
			return z, err
		}
		z.Number, z.Retired, z.Used, z.CreatedAt, z.Version = number, false, false, act.At, 1
		const insert = `INSERT INTO sizes (drive_id, number, name, spec, created_at) VALUES ($1, $2, $3, $4, $5)`
		if _, err := tx.Exec(ctx, insert, act.Drive, z.Number, z.Name, z.Spec, act.At); err != nil {
			return z, fmt.Errorf("create size: %w", err)
		}
		return z, audit(ctx, tx, act, "size added", "size", z.Number, changes{"name": {To: z.Name}, "spec": {To: z.Spec}})
	})
}

// UpdateSize changes a size that is still at z.Version; a later one is a
// conflict. Its spec stays once pillowcases stand in it (drive.Size.MayBecome), and so does whether it is retired.
func (s *Store) UpdateSize(ctx context.Context, act drive.Act, z drive.Size) (drive.Size, error) {
	z = z.Tidy()
	if err := z.Check(); err != nil {
		return drive.Size{}, err
	}
	return once(ctx, s, act, "update size", z, func(tx pgx.Tx) (drive.Size, error) {
		z := z
		old, err := lockSize(ctx, tx, act.Drive, z.Number)
		if err != nil {
			return z, err
		}
		if old.Version != z.Version {
			return z, stale(old.Name)
		}
		if err := old.MayBecome(z); err != nil {
			return z, err
		}
		z.Retired, z.Used, z.CreatedAt, z.Version = old.Retired, old.Used, old.CreatedAt, old.Version+1
		const update = `UPDATE sizes SET name = $3, spec = $4, version = $5 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, z.Number, z.Name, z.Spec, z.Version); err != nil {
			return z, fmt.Errorf("update size: %w", err)
		}
		c := changes{}
		c.set("name", old.Name, z.Name)
		c.set("spec", old.Spec, z.Spec)
		return z, audit(ctx, tx, act, "size changed", "size", z.Number, c)
	})
}

// RetireSize stops offering a size for what is asked from now on.
func (s *Store) RetireSize(ctx context.Context, act drive.Act, number int64) (drive.Size, error) {
	return s.setSizeRetired(ctx, act, "size retired", number, true)
}

// RestoreSize undoes RetireSize.
func (s *Store) RestoreSize(ctx context.Context, act drive.Act, number int64) (drive.Size, error) {
	return s.setSizeRetired(ctx, act, "size restored", number, false)
}

func (s *Store) setSizeRetired(ctx context.Context, act drive.Act, what string, number int64, retired bool) (drive.Size, error) {
	return once(ctx, s, act, what, number, func(tx pgx.Tx) (drive.Size, error) {
		z, err := lockSize(ctx, tx, act.Drive, number)
		if err != nil || z.Retired == retired {
			return z, err
		}
		z.Retired, z.Version = retired, z.Version+1
		const update = `UPDATE sizes SET retired = $3, version = $4 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, number, z.Retired, z.Version); err != nil {
			return z, fmt.Errorf("%s: %w", what, err)
		}
		return z, audit(ctx, tx, act, what, "size", number, changes{"retired": {From: !retired, To: retired}})
	})
}

// lockSize reads in a statement of its own after the lock, so that it sees what
// whoever was first has made of the size.
func lockSize(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Size, error) {
	const lock = `SELECT number FROM sizes WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, lock, driveID, number); err != nil {
		return drive.Size{}, fmt.Errorf("lock size: %w", err)
	}
	const q = `SELECT ` + sizeColumns + ` FROM sizes s WHERE s.drive_id = $1 AND s.number = $2`
	return oneSize(ctx, tx, q, driveID, number)
}

// keepSizes makes whoever would cut these sizes otherwise wait until what is
// begun with them is done.
func keepSizes(ctx context.Context, tx pgx.Tx, driveID string, numbers ...int64) error {
	if _, err := tx.Exec(ctx, lockSizes, driveID, numbers); err != nil {
		return fmt.Errorf("keep sizes: %w", err)
	}
	return nil
}

const lockSizes = `SELECT number FROM sizes WHERE drive_id = $1 AND number = ANY((SELECT $2::bigint[])::bigint[]) ORDER BY number FOR SHARE`

func oneSize(ctx context.Context, db querier, q, driveID string, number int64) (drive.Size, error) {
	rows, err := db.Query(ctx, q, driveID, number)
	if err != nil {
		return drive.Size{}, fmt.Errorf("size: %w", err)
	}
	z, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Size])
	if errors.Is(err, pgx.ErrNoRows) {
		return drive.Size{}, apperr.NotFound("There is no such size here.")
	}
	if err != nil {
		return drive.Size{}, fmt.Errorf("size: %w", err)
	}
	return z, nil
}
