package main

import (
	"context"
	"errors"

	"boltward/internal/length"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// listShelf writes the list of the shelf as CSV.
func listShelf(ctx context.Context, env Env, f fabricFlags) (err error) {
	db, err := openDatabase(ctx, env)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	store := postgres.New(db.pool, env.Now)
	d, err := store.Drive(ctx, f.drive)
	if err != nil {
		return err
	}
	found, err := store.Lots(ctx, d.ID, f.query)
	if err != nil {
		return err
	}
	cloth, err := store.OnShelf(ctx, d.ID, f.query)
	if err != nil {
		return err
	}
	whole := map[int64]length.Length{}
	for _, c := range cloth {
		whole[c.Lot] += c.Length
	}
	lines := make([]workbook.ShelfLine, len(found.Lots))
	for i, l := range found.Lots {
		lines[i] = workbook.ShelfLine{
			Lot: l.Lot, DonorName: l.DonorName, Pieces: l.Pieces, Width: l.Width, Length: l.Length, Whole: whole[l.Number], Free: l.Free, Promised: l.Promised,
		}
	}
	return workbook.WriteShelf(env.Stdout, d, "", lines)
}
