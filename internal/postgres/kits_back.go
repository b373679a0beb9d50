package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// TakenBack says what a taking back came to.
type TakenBack struct {
	Back  *drive.KitRef `json:",omitempty"` // the part that is back, to be checked; nil where nothing was sewn
	Sewn  int
	Extra int           `json:",omitempty"` // brought in beside it, from own fabric
	Left  int           // pillowcases of the kit that are not sewn yet: with its holder, or here again
	Apart *drive.KitRef `json:",omitempty"` // the part that lies here again, where that is not the kit itself
	Found bool          `json:",omitempty"` // it was lost until then
	Here  bool          `json:",omitempty"` // what is left lies here; told by TakeIn alone
	Lost  int           `json:",omitempty"` // pillowcases of it that stay lost
}

// TakeBack books what came back of a kit; day zero is today. More than the kit
// holds, or nothing, is refused by the field "sewn"; a kit that is not out is a conflict.
func (s *Store) TakeBack(ctx context.Context, act drive.Act, ref drive.KitRef, r drive.KitReturn, day time.Time) (TakenBack, error) {
	type body struct {
		Kit drive.KitRef
		drive.KitReturn
		Day time.Time
	}
	return once(ctx, s, act, "take back", body{ref, r, day}, func(tx pgx.Tx) (TakenBack, error) {
		var taken TakenBack
		m, err := moveOne(ctx, tx, act, ref, day, func(k drive.Kit, day time.Time) (drive.KitMoves, error) {
			taken.Left = k.Cases - r.Sewn
			return k.TakeBack(r, day)
		})
		if err != nil {
			return taken, err
		}
		taken.Back, taken.Sewn, taken.Extra = partBack(m), r.Sewn, r.Extra
		return taken, audit(ctx, tx, act, "taken back", "kit", ref, takenChanges(r, taken.Left))
	})
}

// TakeIn books what lies at the returns table of a kit, counted before anybody looked
// where the kit stands: as back where somebody has it, as found where it was lost. That is
// seen with the kit locked, so that the same form sent again is the same wish. Day zero is
// today; it refuses as TakeBack and KitFound do.
func (s *Store) TakeIn(ctx context.Context, act drive.Act, ref drive.KitRef, in drive.KitCounted, day time.Time) (TakenBack, error) {
	type body struct {
		Kit drive.KitRef
		drive.KitCounted
		Day time.Time
	}
	return once(ctx, s, act, "take in", body{ref, in, day}, func(tx pgx.Tx) (TakenBack, error) {
		var taken TakenBack
		var r drive.KitReturn
		m, err := moveOne(ctx, tx, act, ref, day, func(k drive.Kit, day time.Time) (drive.KitMoves, error) {
			if taken.Found = k.State == drive.KitLost; !taken.Found {
				r = in.Return(k.Cases)
				taken.Left, taken.Here = k.Cases-r.Sewn, r.RestUnsewn
				return k.TakeBack(r, day)
			}
			r, taken.Here = drive.KitReturn{Sewn: in.Sewn}, true
			return findKit(ctx, tx, act, k, &taken, in.Sewn, in.StillLost, day)
		})
		if err != nil {
			return taken, err
		}
		taken.Back, taken.Sewn, taken.Extra = partBack(m), r.Sewn, r.Extra
		if taken.Found {
			return taken, audit(ctx, tx, act, "found", "kit", ref, foundChanges(taken))
		}
		return taken, audit(ctx, tx, act, "taken back", "kit", ref, takenChanges(r, taken.Left))
	})
}

// takenChanges is what the trail keeps of a taking back.
func takenChanges(r drive.KitReturn, left int) changes {
	return changes{"sewn": {To: r.Sewn}, "left": {To: left}, "rest unsewn": {To: r.RestUnsewn}, "of own fabric": {To: r.Extra}}
}

// KitLost books a kit as lost, with a reason in a few words.
func (s *Store) KitLost(ctx context.Context, act drive.Act, ref drive.KitRef, reason string, day time.Time) (KitsMoved, error) {
	type body struct {
		Kit    drive.KitRef
		Reason string
		Day    time.Time
	}
	return once(ctx, s, act, "kit lost", body{ref, reason, day}, func(tx pgx.Tx) (KitsMoved, error) {
		moved := KitsMoved{Kits: []drive.KitRef{ref}}
		_, err := moveOne(ctx, tx, act, ref, day, func(k drive.Kit, day time.Time) (drive.KitMoves, error) {
			moved.Cases = k.Cases
			return k.Lose(day, reason)
		})
		if err != nil {
			return moved, err
		}
		return moved, audit(ctx, tx, act, "booked as lost", "kit", ref, nil)
	})
}

// KitFound books a lost kit as found, with so many of its pillowcases sewn and so many still lost, as
// drive.Kit.Find decides.
func (s *Store) KitFound(ctx context.Context, act drive.Act, ref drive.KitRef, sewn, lost int, day time.Time) (TakenBack, error) {
	type body struct {
		Kit  drive.KitRef
		Sewn int
		Lost int `json:",omitempty"`
		Day  time.Time
	}
	return once(ctx, s, act, "kit found", body{ref, sewn, lost, day}, func(tx pgx.Tx) (TakenBack, error) {
		taken := TakenBack{Sewn: sewn}
		m, err := moveOne(ctx, tx, act, ref, day, func(k drive.Kit, day time.Time) (drive.KitMoves, error) {
			return findKit(ctx, tx, act, k, &taken, sewn, lost, day)
		})
		if err != nil {
			return taken, err
		}
		taken.Back = partBack(m)
		return taken, audit(ctx, tx, act, "found", "kit", ref, foundChanges(taken))
	})
}

// findKit decides what it means that a lost kit turned up, and notes what is left of it.
func findKit(ctx context.Context, tx pgx.Tx, act drive.Act, k drive.Kit, taken *TakenBack, sewn, lost int, day time.Time) (drive.KitMoves, error) {
	history, err := kitHistory(ctx, tx, act.Drive, k.KitRef)
	if err != nil {
		return drive.KitMoves{}, err
	}
	if k.Mending {
		lost = k.Cases - sewn
	}
	taken.Lost, taken.Left = lost, k.Cases-sewn-lost
	m, err := k.Find(sewn, lost, drive.LastHolder(history), day)
	for _, e := range m.Kits {
		if e.To == drive.KitFound && e.Part != k.Part {
			taken.Apart = &drive.KitRef{Number: e.Kit, Part: e.Part}
		}
	}
	return m, err
}

// foundChanges is what the trail keeps of a find.
func foundChanges(taken TakenBack) changes {
	c := changes{"sewn": {To: taken.Sewn}}
	if taken.Lost > 0 {
		c["still lost"] = change{To: taken.Lost}
	}
	return c
}

// TakeKitApart gives up a kit that lies here: nobody will sew it. Where its panels are good they
// lie loose from then on, and a change of the plan sews from them first.
func (s *Store) TakeKitApart(ctx context.Context, act drive.Act, ref drive.KitRef, reason string, good bool) (KitsMoved, error) {
	type body struct {
		Kit    drive.KitRef
		Reason string
		Good   bool
	}
	return once(ctx, s, act, "take kit apart", body{ref, reason, good}, func(tx pgx.Tx) (KitsMoved, error) {
		moved := KitsMoved{Kits: []drive.KitRef{ref}}
		var was drive.Kit
		_, err := moveOne(ctx, tx, act, ref, time.Time{}, func(k drive.Kit, day time.Time) (drive.KitMoves, error) {
			moved.Cases, was = k.Cases, k
			return k.TakeApart(day, reason)
		})
		if err != nil {
			return moved, err
		}
		if was.LeavesPanels() {
			// Whether they are good or not: panels that are left out now may be found good after all.
			tell, err := markAway(ctx, tx, act.Drive, ref.Number, was.Cases)
			if err != nil {
				return moved, err
			}
			if good {
				moved.Tell = tell
				if err := leaveLoose(ctx, tx, act.Drive, ref.Number); err != nil {
					return moved, err
				}
			}
		}
		return moved, audit(ctx, tx, act, "taken apart", "kit", ref, changes{"panels lie loose": {To: good && was.LeavesPanels()}})
	})
}

// UndoHandOut puts kits back where they were before they were handed out or
// given again, by counter-entries: all of them or none. It is a conflict once
// anything else happened to one of them.
func (s *Store) UndoHandOut(ctx context.Context, act drive.Act, refs []drive.KitRef) (KitsMoved, error) {
	refs = drive.SortedKits(refs)
	return once(ctx, s, act, "undo hand out", refs, func(tx pgx.Tx) (KitsMoved, error) {
		var moved KitsMoved
		kits, err := lockKits(ctx, tx, act.Drive, refs...)
		if err != nil {
			return moved, err
		}
		for _, k := range kits {
			history, err := kitHistory(ctx, tx, act.Drive, k.KitRef)
			if err != nil {
				return moved, err
			}
			at := drive.CaseOut
			if k.Count(drive.CaseToMend) > 0 {
				at = drive.CaseToMend // given again after it was lost while it was being mended
			}
			written, err := writtenCases(ctx, tx, act.Drive, k.KitRef, at)
			if err != nil {
				return moved, err
			}
			m, since, err := k.UndoHandOut(history, written)
			if err != nil {
				return moved, err
			}
			if err := holdersKnown(ctx, tx, act.Drive, m); err != nil {
				return moved, err
			}
			// What was handed out by mistake was never out: on the day it was written for too.
			if err := moveKits(ctx, tx, act, since, history[len(history)-1].Day, m); err != nil {
				return moved, err
			}
			if err := saidAgain(ctx, tx, act.Drive, k.KitRef); err != nil {
				return moved, err
			}
			moved.Kits = append(moved.Kits, k.KitRef)
			moved.Cases += k.Cases
		}
		return moved, auditKits(ctx, tx, act, "hand-out undone", refs, nil)
	})
}

// UndoTakeBack puts what was taken back by mistake into the hands it came from, and what was found by
// mistake among what is lost, by counter-entries: all of it or nothing. refs are the parts that are back, or
// turned up; what came back unsewn of their kit in the same act goes there too. It is a conflict once some
// of it was checked.
func (s *Store) UndoTakeBack(ctx context.Context, act drive.Act, refs ...drive.KitRef) (KitsMoved, error) {
	return once(ctx, s, act, "undo take back", refs, func(tx pgx.Tx) (KitsMoved, error) {
		var all KitsMoved
		for _, ref := range refs {
			moved, err := undoTakeBack(ctx, tx, act, ref)
			if err != nil {
				return all, err
			}
			all.Kits, all.Cases, all.Now = append(all.Kits, ref), all.Cases+moved.Cases, moved.Now
		}
		return all, nil
	})
}

func undoTakeBack(ctx context.Context, tx pgx.Tx, act drive.Act, ref drive.KitRef) (KitsMoved, error) {
	moved := KitsMoved{Kits: []drive.KitRef{ref}}
	kits, err := lockKits(ctx, tx, act.Drive, ref)
	if err != nil {
		return moved, err
	}
	k := kits[0]
	moved.Cases = k.Cases
	var parent *drive.Kit
	if k.Parent != nil {
		with, err := lockKits(ctx, tx, act.Drive, drive.KitRef{Number: k.Number, Part: *k.Parent})
		if err != nil {
			return moved, err
		}
		parent = &with[0]
	}
	history, err := kitHistory(ctx, tx, act.Drive, ref)
	if err != nil {
		return moved, err
	}
	if parent != nil {
		m, since, day, err := undoRest(ctx, tx, act.Drive, history, parent)
		if err == nil && len(m.Kits) > 0 {
			moved.Cases += parent.Cases
			err = moveKits(ctx, tx, act, since, day, m)
		}
		if err != nil {
			return moved, err
		}
	}
	written, err := takenBack(ctx, tx, act.Drive, ref)
	if err != nil {
		return moved, err
	}
	m, since, err := k.UndoTakeBack(history, written, parent)
	if err != nil {
		return moved, err
	}
	last := m.Kits[len(m.Kits)-1]
	moved.Now = &drive.KitRef{Number: last.Kit, Part: last.Part}
	if err := holdersKnown(ctx, tx, act.Drive, m); err != nil {
		return moved, err
	}
	// What was taken back by mistake never came: on the day it was written for too.
	day := history[len(history)-1].Day
	if since.IsZero() {
		since = day
	}
	least, err := leastSewn(ctx, tx, act.Drive, ref, day)
	if err != nil {
		return moved, err
	}
	if k.State == drive.KitBack && least < k.Cases {
		return moved, apperr.Conflict("Some of kit %s were checked on another day since they came back, so that cannot be undone.", ref)
	}
	if err := moveKits(ctx, tx, act, since, day, m); err != nil {
		return moved, err
	}
	if err := saidAgain(ctx, tx, act.Drive, *moved.Now); err != nil {
		return moved, err
	}
	what := "taking back undone"
	if last.To == drive.KitLost {
		what = "find undone"
	}
	return moved, audit(ctx, tx, act, what, "kit", ref, changes{"pillowcases": {To: moved.Cases}})
}

// leastSewn gives how many pillowcases of a part waited to be checked at the end
// of the day, from this one on, on which they were fewest.
func leastSewn(ctx context.Context, tx pgx.Tx, driveID string, ref drive.KitRef, day time.Time) (int, error) {
	const q = `SELECT coalesce(min(n), 0) FROM (
			SELECT day, sum(sum(more)) OVER (ORDER BY day) AS n FROM (
				SELECT day, n AS more FROM case_entries WHERE drive_id = $1 AND to_kit = $2 AND to_kit > 0 AND to_part = $3 AND to_state = 'sewn'
				UNION ALL
				SELECT day, -n FROM case_entries WHERE drive_id = $1 AND to_kit = $2 AND to_kit > 0 AND kit = $2 AND part = $3 AND from_state = 'sewn') steps
			GROUP BY day) days
		WHERE day >= $4`
	var least int
	if err := tx.QueryRow(ctx, q, driveID, ref.Number, ref.Part, day).Scan(&least); err != nil {
		return 0, fmt.Errorf("what waited to be checked: %w", err)
	}
	return least, nil
}

// moveOne locks one kit, asks for a decision on it on the given day (zero:
// today) and writes it. A day that has not come is an invalid "day".
func moveOne(ctx context.Context, tx pgx.Tx, act drive.Act, ref drive.KitRef, given time.Time, decide func(drive.Kit, time.Time) (drive.KitMoves, error)) (drive.KitMoves, error) {
	day, today, err := dayOf(ctx, tx, act, given)
	if err != nil {
		return drive.KitMoves{}, err
	}
	if err := drive.CheckDay(day, today); err != nil {
		return drive.KitMoves{}, err
	}
	kits, err := lockKits(ctx, tx, act.Drive, ref)
	if err != nil {
		return drive.KitMoves{}, err
	}
	m, err := decide(kits[0], day)
	if apperr.Is(err, apperr.KindConflict) {
		return m, apperr.Conflict("%s Nothing was changed.", err.Error())
	}
	if err != nil {
		return m, err
	}
	return m, moveKits(ctx, tx, act, day, day, m)
}

// partBack is the part that came to lie here as sewn by these moves.
func partBack(m drive.KitMoves) *drive.KitRef {
	for _, e := range m.Kits {
		if e.To == drive.KitBack {
			return &drive.KitRef{Number: e.Kit, Part: e.Part}
		}
	}
	return nil
}

// holdersKnown holds whoever these moves give kits to again; somebody who was forgotten
// since is a conflict.
func holdersKnown(ctx context.Context, tx pgx.Tx, driveID string, m drive.KitMoves) error {
	for _, e := range m.Kits {
		if e.To != drive.KitOut || e.Holder == nil {
			continue
		}
		_, err := holderIn(ctx, tx, driveID, *e.Holder)
		if apperr.Is(err, apperr.KindInvalid) {
			return apperr.Conflict("Who had kit %s is forgotten, so it cannot be with them again.", drive.KitRef{Number: e.Kit, Part: e.Part})
		}
		if err != nil {
			return err
		}
	}
	return nil
}
