package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// KitsMoved says which kits an act moved and how many pillowcases are in them.
type KitsMoved struct {
	Kits   []drive.KitRef
	Person int64 `json:",omitempty"` // who got them
	Cases  int
	Now    *drive.KitRef `json:",omitempty"` // of a taking back that was undone: the kit that holds them again
	Tell   bool          `json:",omitempty"` // of a kit taken apart: somebody has to say which of its panels lie there
}

// HandOut gives kits to somebody, all of them or none. Kits that are elsewhere
// are a conflict that says of each where it is; a day that cannot be is refused
// by field, and so is an unknown kit or person.
func (s *Store) HandOut(ctx context.Context, act drive.Act, h drive.HandOut) (KitsMoved, error) {
	h.Kits = drive.SortedKits(h.Kits)
	return s.give(ctx, act, "hand out", "handed out", h, drive.Kit.HandOut)
}

// GiveAgain gives a kit that is with somebody, or was booked as lost, to somebody else.
func (s *Store) GiveAgain(ctx context.Context, act drive.Act, ref drive.KitRef, h drive.HandOut) (KitsMoved, error) {
	h.Kits = []drive.KitRef{ref}
	return s.give(ctx, act, "give again", "given again", h, drive.Kit.GiveAgain)
}

// give does what HandOut and GiveAgain have in common; said is what the audit says was done.
func (s *Store) give(ctx context.Context, act drive.Act, what, said string, h drive.HandOut, move func(drive.Kit, drive.Holder, time.Time, *time.Time) (drive.KitMoves, error)) (KitsMoved, error) {
	return once(ctx, s, act, what, h, func(tx pgx.Tx) (KitsMoved, error) {
		if err := takesMore(ctx, tx, act.Drive); err != nil {
			return KitsMoved{}, err
		}
		day, today, err := dayOf(ctx, tx, act, h.Day)
		if err != nil {
			return KitsMoved{}, err
		}
		if err := drive.CheckHandOut(day, h.Due, today); err != nil {
			return KitsMoved{}, err
		}
		to, err := holderIn(ctx, tx, act.Drive, h.Person)
		if err != nil {
			return KitsMoved{}, err
		}
		moved, err := moveEach(ctx, tx, act, day, h.Kits, func(k drive.Kit) (drive.KitMoves, error) { return move(k, to, day, h.Due) })
		moved.Person = to.Number
		if err != nil {
			return moved, err
		}
		return moved, auditKits(ctx, tx, act, said, moved.Kits, changes{"person": {To: to.Number}, "due": {To: dayText(h.Due)}})
	})
}

// ExtendDue gives whoever has the kits another day, or none.
func (s *Store) ExtendDue(ctx context.Context, act drive.Act, refs []drive.KitRef, due *time.Time) (KitsMoved, error) {
	type body struct {
		Kits []drive.KitRef
		Due  *time.Time
	}
	return once(ctx, s, act, "extend due", body{refs, due}, func(tx pgx.Tx) (KitsMoved, error) {
		_, today, err := dayOf(ctx, tx, act, time.Time{})
		if err != nil {
			return KitsMoved{}, err
		}
		moved, err := moveEach(ctx, tx, act, today, refs, func(k drive.Kit) (drive.KitMoves, error) { return k.ExtendDue(due, today) })
		if err != nil {
			return moved, err
		}
		return moved, auditKits(ctx, tx, act, "day changed", moved.Kits, changes{"due": {To: dayText(due)}})
	})
}

// MarkKitReady says that cut kits are checked, bagged and labelled: all of them or none.
func (s *Store) MarkKitReady(ctx context.Context, act drive.Act, refs []drive.KitRef) (KitsMoved, error) {
	return once(ctx, s, act, "mark ready", refs, func(tx pgx.Tx) (KitsMoved, error) {
		_, today, err := dayOf(ctx, tx, act, time.Time{})
		if err != nil {
			return KitsMoved{}, err
		}
		moved, err := moveEach(ctx, tx, act, today, refs, drive.Kit.MarkReady)
		if err != nil {
			return moved, err
		}
		return moved, auditKits(ctx, tx, act, "ready", moved.Kits, nil)
	})
}

// UndoKitReady puts kits that are not bagged and labelled after all back to where they
// were: all of them or none. It is a conflict once anything else happened to one of them.
func (s *Store) UndoKitReady(ctx context.Context, act drive.Act, refs []drive.KitRef) (KitsMoved, error) {
	refs = drive.SortedKits(refs)
	return once(ctx, s, act, "undo ready", refs, func(tx pgx.Tx) (KitsMoved, error) {
		moved := KitsMoved{Kits: refs}
		kits, err := lockKits(ctx, tx, act.Drive, refs...)
		if err != nil {
			return moved, err
		}
		since := map[drive.KitRef]time.Time{}
		m, err := decideKits(kits, func(k drive.Kit) (m drive.KitMoves, err error) {
			history, err := kitHistory(ctx, tx, act.Drive, k.KitRef)
			if err != nil {
				return m, err
			}
			moved.Cases += k.Cases
			m, since[k.KitRef], err = k.UndoReady(history)
			return m, err
		})
		if err != nil {
			return moved, err
		}
		for _, e := range m.Kits { // they lie there as they did since different days
			if err := writeKits(ctx, tx, act, since[drive.KitRef{Number: e.Kit, Part: e.Part}], []drive.KitEntry{e}); err != nil {
				return moved, err
			}
		}
		return moved, auditKits(ctx, tx, act, "bagging undone", refs, nil)
	})
}

// MakeOwnFabricKits makes kits without fabric of ours and, where there is a
// person, hands them out at once. By field it refuses what drive.OwnFabric.Check
// refuses, a retired size, and a line that is closed or not filled by the size.
func (s *Store) MakeOwnFabricKits(ctx context.Context, act drive.Act, o drive.OwnFabric) (KitsMoved, error) {
	return once(ctx, s, act, "make own fabric kits", o, func(tx pgx.Tx) (KitsMoved, error) {
		var moved KitsMoved
		if err := takesMore(ctx, tx, act.Drive); err != nil {
			return moved, err
		}
		_, today, err := dayOf(ctx, tx, act, time.Time{})
		if err != nil {
			return moved, err
		}
		if err := o.Check(today); err != nil {
			return moved, err
		}
		if err := checkSewn(ctx, tx, act.Drive, o); err != nil {
			return moved, err
		}
		var to *drive.Holder
		c := changes{"size": {To: o.Size}, "cases": {To: o.Cases}}
		if o.Person != nil {
			h, err := holderIn(ctx, tx, act.Drive, *o.Person)
			if err != nil {
				return moved, err
			}
			to, moved.Person = &h, h.Number
			c["person"], c["due"] = change{To: h.Number}, change{To: dayText(o.Due)}
		}
		first, err := nextN(ctx, tx, act.Drive, "kit", o.Kits)
		if err != nil {
			return moved, err
		}
		m, err := o.Make(first, to, today)
		if err != nil {
			return moved, err
		}
		if err := moveKits(ctx, tx, act, today, today, m); err != nil {
			return moved, err
		}
		for _, n := range m.Born {
			moved.Kits = append(moved.Kits, n.KitRef)
			moved.Cases += o.Cases
		}
		return moved, auditKits(ctx, tx, act, "own fabric kit made", moved.Kits, c)
	})
}

// checkSewn refuses, by field, a size or a line that nothing is sewn for any more;
// what it found stays so until the kits are made.
func checkSewn(ctx context.Context, tx pgx.Tx, driveID string, o drive.OwnFabric) error {
	if err := fitsLine(ctx, tx, driveID, orZero(o.Asked), o.Size); err != nil {
		return err
	}
	const size = `SELECT retired FROM sizes WHERE drive_id = $1 AND number = $2 FOR SHARE`
	var retired bool
	err := tx.QueryRow(ctx, size, driveID, o.Size).Scan(&retired)
	if errors.Is(err, pgx.ErrNoRows) {
		return apperr.Invalid("size", "Choose a size from the list.")
	}
	if err != nil {
		return fmt.Errorf("size of own fabric kits: %w", err)
	}
	if retired {
		return apperr.Invalid("size", "This size is not sewn any more. Choose another.")
	}
	return nil
}

// moveEach locks the kits, asks for a decision on each and writes it, all or nothing.
func moveEach(ctx context.Context, tx pgx.Tx, act drive.Act, day time.Time, refs []drive.KitRef, decide func(drive.Kit) (drive.KitMoves, error)) (KitsMoved, error) {
	var moved KitsMoved
	kits, err := lockKits(ctx, tx, act.Drive, refs...)
	if apperr.Is(err, apperr.KindNotFound) {
		return moved, apperr.Invalid("kit", "%s", err.Error())
	}
	if err != nil {
		return moved, err
	}
	m, err := decideKits(kits, decide)
	if err != nil {
		return moved, err
	}
	if err := moveKits(ctx, tx, act, day, day, m); err != nil {
		return moved, err
	}
	for _, k := range kits {
		moved.Kits = append(moved.Kits, k.KitRef)
		moved.Cases += k.Cases
	}
	return moved, nil
}

func auditKits(ctx context.Context, tx pgx.Tx, act drive.Act, what string, refs []drive.KitRef, c changes) error {
	for _, ref := range refs {
		if err := audit(ctx, tx, act, what, "kit", ref, c); err != nil {
			return err
		}
	}
	return nil
}
