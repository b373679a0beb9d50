package postgres

import (
	"context"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// Mending is pillowcases that go out to somebody to be mended.
type Mending struct {
	At     drive.Stack
	N      int
	Person int64
	Due    *time.Time
}

// SendToMend gives pillowcases that lie here to mend to somebody, as a part of
// their kit, or as a kit of their own where they came without one; it gives the
// kit they are in now.
func (s *Store) SendToMend(ctx context.Context, act drive.Act, m Mending) (drive.KitRef, error) {
	m.At.State, m.At.N = drive.CaseToMend, 0
	return once(ctx, s, act, "send to mend", m, func(tx pgx.Tx) (drive.KitRef, error) {
		var ref drive.KitRef
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return ref, err
		}
		day := drive.Day(act.At, d.Location())
		to, err := holderIn(ctx, tx, act.Drive, m.Person)
		if err != nil {
			return ref, err
		}
		moves, err := sendToMend(ctx, tx, act.Drive, m, to, day)
		if err != nil {
			return ref, err
		}
		if err := moveKits(ctx, tx, act, day, day, moves); err != nil {
			return ref, err
		}
		ref = drive.KitRef{Number: moves.Kits[0].Kit, Part: moves.Kits[0].Part}
		return ref, audit(ctx, tx, act, "sent to be mended", "kit", ref, changes{"pillowcases": {To: m.N}, "person": {To: m.Person}})
	})
}

func sendToMend(ctx context.Context, tx pgx.Tx, driveID string, m Mending, to drive.Holder, day time.Time) (drive.KitMoves, error) {
	if m.At.Kit == 0 {
		stack, err := stackNow(ctx, tx, driveID, m.At)
		if err != nil {
			return drive.KitMoves{}, err
		}
		number, err := next(ctx, tx, driveID, "kit")
		if err != nil {
			return drive.KitMoves{}, err
		}
		return stack.SendToMendLoose(number, m.N, to, day, m.Due)
	}
	kits, err := lockKits(ctx, tx, driveID, m.At.KitRef())
	if err != nil {
		return drive.KitMoves{}, err
	}
	stack, err := stackNow(ctx, tx, driveID, m.At)
	if err != nil {
		return drive.KitMoves{}, err
	}
	return stack.SendToMend(kits[0], m.N, to, day, m.Due)
}
