package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// writeFabric appends entries to the fabric ledger in their order.
func writeFabric(ctx context.Context, tx pgx.Tx, act drive.Act, entries []drive.FabricEntry) error {
	var batch pgx.Batch
	for _, e := range entries {
		queueFabric(&batch, act, e)
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("fabric ledger: %w", err)
	}
	return nil
}

func queueFabric(batch *pgx.Batch, act drive.Act, e drive.FabricEntry) {
	const q = `INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area,
			other_piece, plan, sheet, reason, undoes, deed, at, who, request)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)`
	batch.Queue(q, act.Drive, e.Lot, e.Piece, e.Kind, e.From, e.To, e.Length, e.Area,
		e.OtherPiece, e.Plan, e.Sheet, e.Reason, e.Undoes, e.Deed, act.At, act.Who, act.Request)
}

// writeKits appends entries to the whereabouts ledger in their order.
func writeKits(ctx context.Context, tx pgx.Tx, act drive.Act, day time.Time, entries []drive.KitEntry) error {
	const q = `INSERT INTO kit_entries (drive_id, kit, part, from_state, to_state, holder, due, day, cases, reason, at, who, request)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`
	var batch pgx.Batch
	for _, e := range entries {
		batch.Queue(q, act.Drive, e.Kit, e.Part, e.From, e.To, e.Holder, e.Due, day, e.Cases, e.Reason, act.At, act.Who, act.Request)
		if e.Returns() {
			batch.Queue(`UPDATE kits SET place = '' WHERE drive_id = $1 AND number = $2 AND part = $3`, act.Drive, e.Kit, e.Part)
		}
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("whereabouts of kits: %w", err)
	}
	return nil
}

// writeCases appends entries to the pillowcases ledger in their order.
func writeCases(ctx context.Context, tx pgx.Tx, act drive.Act, day time.Time, entries []drive.CaseEntry) error {
	_, err := writeCaseEntries(ctx, tx, act, day, entries)
	return err
}

// writeCaseEntries is writeCases, and gives the entries' ids in their order.
func writeCaseEntries(ctx context.Context, tx pgx.Tx, act drive.Act, day time.Time, entries []drive.CaseEntry) ([]int64, error) {
	if err := lockLaundry(ctx, tx, act.Drive, entries); err != nil {
		return nil, err
	}
	var batch pgx.Batch
	ids := make([]int64, len(entries))
	for i, e := range entries {
		queueCase(&batch, act, day, e).QueryRow(func(row pgx.Row) error { return row.Scan(&ids[i]) })
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return nil, fmt.Errorf("pillowcases ledger: %w", err)
	}
	for i, e := range entries {
		if err := laundryKeeps(ctx, tx, act.Drive, ids[i], e); err != nil {
			return nil, err
		}
	}
	return ids, nil
}

func queueCase(batch *pgx.Batch, act drive.Act, day time.Time, e drive.CaseEntry) *pgx.QueuedQuery {
	const q = `INSERT INTO case_entries (drive_id, size, n, asked, kit, part, from_state, to_asked, to_kit, to_part, to_state,
			person, box, delivery, reason, undoes, day, at, who, request)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20) RETURNING id`
	return batch.Queue(q, act.Drive, e.Size, e.N, e.Asked, e.Kit, e.Part, e.From, e.ToAsked, e.ToKit, e.ToPart, e.To,
		e.Person, e.Box, e.Delivery, e.Reason, e.Undoes, day, act.At, act.Who, act.Request)
}

// insertPieces makes rows for new pieces; the ledger then fills them.
func insertPieces(ctx context.Context, tx pgx.Tx, driveID string, pieces []drive.NewPiece) error {
	const q = `INSERT INTO pieces (drive_id, lot, piece, kind, origin, width) VALUES ($1, $2, $3, $4, $5, $6)`
	var batch pgx.Batch
	for _, p := range pieces {
		batch.Queue(q, driveID, p.Lot, p.Piece, p.Kind, p.Origin, p.Width)
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("new pieces: %w", err)
	}
	return nil
}
