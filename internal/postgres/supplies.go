package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const supplyColumns = `s.number, s.name, s.unit, s.have, s.used, s.per_kits, s.note, s.retired, s.created_at, s.version`

// Supplies gives what there is besides fabric, by name, and for how many kits
// that are planned or cut it has to suffice.
func (s *Store) Supplies(ctx context.Context, driveID string) ([]drive.Supply, int, error) {
	const q = `SELECT ` + supplyColumns + ` FROM supplies s WHERE s.drive_id = $1 AND NOT s.retired ORDER BY lower(s.name), s.number`
	const kits = `SELECT count(*) FROM kits WHERE drive_id = $1 AND state IN ('planned', 'on the table', 'cut')`
	var list []drive.Supply
	var coming int
	err := s.Together(ctx,
		func(ctx context.Context) error {
			rows, err := s.pool.Query(ctx, q, driveID)
			if err != nil {
				return fmt.Errorf("supplies: %w", err)
			}
			list, err = collect(rows, "supplies", pgx.RowToStructByName[drive.Supply])
			return err
		},
		func(ctx context.Context) error {
			if err := s.pool.QueryRow(ctx, kits, driveID).Scan(&coming); err != nil {
				return fmt.Errorf("kits to come: %w", err)
			}
			return nil
		})
	return list, coming, err
}

// Supply gives one of them.
func (s *Store) Supply(ctx context.Context, driveID string, number int64) (drive.Supply, error) {
	const q = `SELECT ` + supplyColumns + ` FROM supplies s WHERE s.drive_id = $1 AND s.number = $2`
	return oneSupply(ctx, s.pool, q, driveID, number)
}

// SaveSupply adds a supply, where its number is 0, or changes the one that is still
// at its version; a later one is a conflict. It refuses by field what
// drive.Supply.Check refuses.
func (s *Store) SaveSupply(ctx context.Context, act drive.Act, supply drive.Supply) (int64, error) {
	supply = supply.Tidy()
	return once(ctx, s, act, "save supply", supply, func(tx pgx.Tx) (int64, error) {
		saved := supply
		if err := saved.Check(); err != nil {
			return 0, err
		}
		if saved.Number != 0 {
			old, err := lockSupply(ctx, tx, act.Drive, saved.Number)
			if err != nil {
				return 0, err
			}
			if old.Version != saved.Version {
				return 0, stale(old.Name)
			}
			return saved.Number, updateSupply(ctx, tx, act, old, saved, "supply changed")
		}
		number, err := next(ctx, tx, act.Drive, "supply")
		if err != nil {
			return 0, err
		}
		const q = `INSERT INTO supplies (drive_id, number, name, unit, have, used, per_kits, note, created_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
		_, err = tx.Exec(ctx, q, act.Drive, number, saved.Name, saved.Unit, saved.Have, saved.Used, saved.PerKits, saved.Note, act.At)
		if err != nil {
			return 0, fmt.Errorf("add supply: %w", err)
		}
		return number, audit(ctx, tx, act, "supply added", "supply", number, changes{"name": {To: saved.Name}, "have": {To: saved.Have}})
	})
}

// MoveSupply books that so many came, or went, and gives what there is then.
func (s *Store) MoveSupply(ctx context.Context, act drive.Act, number int64, n int) (int, error) {
	return once(ctx, s, act, "move supply", [2]int64{number, int64(n)}, func(tx pgx.Tx) (int, error) {
		old, err := lockSupply(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		moved, err := old.Move(n)
		if err != nil {
			return 0, err
		}
		return moved.Have, updateSupply(ctx, tx, act, old, moved, "supply counted")
	})
}

// RetireSupply takes a supply off the list.
func (s *Store) RetireSupply(ctx context.Context, act drive.Act, number int64) (int64, error) {
	return once(ctx, s, act, "retire supply", number, func(tx pgx.Tx) (int64, error) {
		old, err := lockSupply(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		gone := old
		gone.Retired = true
		return number, updateSupply(ctx, tx, act, old, gone, "supply taken off the list")
	})
}

func lockSupply(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Supply, error) {
	const q = `SELECT ` + supplyColumns + ` FROM supplies s WHERE s.drive_id = $1 AND s.number = $2 FOR NO KEY UPDATE`
	return oneSupply(ctx, tx, q, driveID, number)
}

func oneSupply(ctx context.Context, db querier, q, driveID string, number int64) (drive.Supply, error) {
	return one[drive.Supply](ctx, db, "supply", apperr.NotFound("There is no such supply here."), q, driveID, number)
}

func updateSupply(ctx context.Context, tx pgx.Tx, act drive.Act, old, now drive.Supply, what string) error {
	const q = `UPDATE supplies SET name = $3, unit = $4, have = $5, used = $6, per_kits = $7, note = $8, retired = $9, version = version + 1
		WHERE drive_id = $1 AND number = $2`
	_, err := tx.Exec(ctx, q, act.Drive, now.Number, now.Name, now.Unit, now.Have, now.Used, now.PerKits, now.Note, now.Retired)
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	c := changes{}
	c.set("name", old.Name, now.Name)
	c.set("unit", old.Unit, now.Unit)
	c.set("have", old.Have, now.Have)
	c.set("used", old.Used, now.Used)
	c.set("per kits", old.PerKits, now.PerKits)
	c.set("retired", old.Retired, now.Retired)
	c.personal("note", old.Note, now.Note)
	return audit(ctx, tx, act, what, "supply", now.Number, c)
}
