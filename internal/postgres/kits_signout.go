package postgres

import (
	"context"
	"maps"
	"slices"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// SignOutKits books the rows of a sign-out sheet, all of them or none; day zero is
// today. What stands against a row is refused at its cell, as
// drive.SignedOutField names it: a kit that is elsewhere too, since the paper is
// read again then.
func (s *Store) SignOutKits(ctx context.Context, act drive.Act, rows []drive.SignedOut, given time.Time) (KitsMoved, error) {
	type body struct {
		Rows []drive.SignedOut
		Day  time.Time
	}
	return once(ctx, s, act, "sign out kits", body{rows, given}, func(tx pgx.Tx) (KitsMoved, error) {
		var moved KitsMoved
		if len(rows) == 0 || len(rows) > drive.MostSignedOut {
			return moved, apperr.Invalid("rows", "Type in 1 to %d rows at once.", drive.MostSignedOut)
		}
		if err := takesMore(ctx, tx, act.Drive); err != nil {
			return moved, err
		}
		day, today, err := dayOf(ctx, tx, act, given)
		if err != nil {
			return moved, err
		}
		if err := drive.CheckSignedOut(rows, day, today); err != nil {
			return moved, err
		}
		kits, err := lockSignedOut(ctx, tx, act.Drive, rows)
		if err != nil {
			return moved, err
		}
		byDay := map[time.Time]*drive.KitMoves{}
		var bad []apperr.Field
		for _, r := range rows {
			m, err := handOutRow(ctx, tx, act.Drive, kits, r, r.Day(day))
			if apperr.As(err) == nil && err != nil {
				return moved, err
			}
			bad = append(bad, rowFields(r.Row, err)...)
			on := byDay[r.Day(day)]
			if on == nil {
				on = &drive.KitMoves{}
				byDay[r.Day(day)] = on
			}
			on.Add(m)
			moved.Cases += kits[r.Kit].Cases
			moved.Kits = append(moved.Kits, r.Kit)
		}
		if err := apperr.InvalidFields(bad); err != nil {
			return KitsMoved{}, err
		}
		for _, on := range slices.SortedFunc(maps.Keys(byDay), time.Time.Compare) {
			if err := moveKits(ctx, tx, act, on, on, *byDay[on]); err != nil {
				return moved, err
			}
		}
		for _, r := range rows {
			c := changes{"person": {To: r.Person}, "due": {To: dayText(r.Due)}}
			if err := audit(ctx, tx, act, "handed out", "kit", r.Kit, c); err != nil {
				return moved, err
			}
		}
		moved.Kits = drive.SortedKits(moved.Kits)
		return moved, nil
	})
}

// lockSignedOut locks the kits of the rows in key order; those that are not here are
// refused at their cells.
func lockSignedOut(ctx context.Context, tx pgx.Tx, driveID string, rows []drive.SignedOut) (map[drive.KitRef]drive.Kit, error) {
	numbers := make([]int64, len(rows))
	for i, r := range rows {
		numbers[i] = r.Kit.Number
	}
	known, err := loadKits(ctx, tx, driveID, numbers)
	if err != nil {
		return nil, err
	}
	var refs []drive.KitRef
	var bad []apperr.Field
	for _, r := range rows {
		if _, here := known[r.Kit]; !here {
			bad = append(bad, rowFields(r.Row, apperr.Invalid("kit", "There is no kit %s here.", r.Kit))...)
			continue
		}
		refs = append(refs, r.Kit)
	}
	if err := apperr.InvalidFields(bad); err != nil {
		return nil, err
	}
	locked, err := lockKits(ctx, tx, driveID, refs...)
	if err != nil {
		return nil, err
	}
	kits := make(map[drive.KitRef]drive.Kit, len(locked))
	for _, k := range locked {
		kits[k.KitRef] = k
	}
	return kits, nil
}

func handOutRow(ctx context.Context, tx pgx.Tx, driveID string, kits map[drive.KitRef]drive.Kit, r drive.SignedOut, day time.Time) (drive.KitMoves, error) {
	to, err := holderIn(ctx, tx, driveID, r.Person)
	if err != nil {
		return drive.KitMoves{}, err
	}
	return kits[r.Kit].HandOut(to, day, r.Due)
}

// rowFields puts what stands against a row at its cells.
func rowFields(row int, err error) []apperr.Field {
	if err == nil {
		return nil
	}
	cells := map[string]string{"person": "name", "due": "due", "day": "on"}
	var fields []apperr.Field
	for name, why := range apperr.Fields(err) {
		cell := cells[name]
		if cell == "" {
			cell = "kit"
		}
		fields = append(fields, apperr.Field{Name: drive.SignedOutField(row, cell), Why: why})
	}
	if len(fields) == 0 {
		fields = append(fields, apperr.Field{Name: drive.SignedOutField(row, "kit"), Why: err.Error()})
	}
	return fields
}
