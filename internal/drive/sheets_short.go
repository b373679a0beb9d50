package drive

import (
	"fmt"
	"slices"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// shortReason stands in the ledger beside what was written when a sheet came up short.
const shortReason = "came up short"

// ComeUpShort books that of a sheet's cloth and what is left after it only so much is good,
// measured from the squared end: the piece is shorter than was booked, or has a flaw there.
// Where the sheet still fits, only what is left is recounted and the sheet stays as it is.
// Otherwise its cloth is promised no more, and it waits for the plan to be changed. free is
// what is free of the piece. As much as was booked, or more, is an invalid "found".
func (s Sheet) ComeUpShort(found, free Side, unit length.Unit, kits []SheetKit) (SheetMoves, error) {
	if s.State != SheetWaiting && s.State != SheetOnTable {
		return SheetMoves{}, s.isElsewhere()
	}
	booked := s.Used + free
	if found < 0 || found >= booked {
		return SheetMoves{}, apperr.Invalid("found", "Give less than the %s that are booked, or nothing is short.", length.Format(booked, unit))
	}
	m := SheetMoves{State: s.State, Helper: s.Helper, Found: &found}
	lost, err := (booked - found).Times(s.Width)
	if err != nil {
		return m, fmt.Errorf("cloth of sheet %d: %w", s.Number, err)
	}
	if found < s.Used {
		area, err := s.Used.Times(s.Width)
		if err != nil {
			return m, fmt.Errorf("cloth of sheet %d: %w", s.Number, err)
		}
		release := s.entry(FabricReleased, Promised, Free, area)
		release.Length, release.Reason = s.Used, shortReason
		m.Fabric = append(m.Fabric, release)
		m.State = SheetShort
	}
	recount := s.entry(FabricRecounted, Free, Out, lost)
	recount.Length, recount.Reason = booked-found, shortReason
	m.Fabric = append(m.Fabric, recount)
	return s.moveKits(m, kits)
}

// UndoShort takes back that a sheet came up short, as long as its cloth is still there: it
// waits on its shelf again. written are the entries of that, oldest first. One that was cut as
// it is drawn from narrower cloth is only as wide as booked again.
func (s Sheet) UndoShort(written []WrittenFabric, kits []SheetKit) (SheetMoves, error) {
	if s.NarrowStands() {
		return s.moveKits(SheetMoves{State: s.State, Helper: s.Helper, Wide: true}, kits)
	}
	if s.State != SheetShort {
		return SheetMoves{}, apperr.Conflict("Sheet %d did not come up short, so there is nothing to take back.", s.Number)
	}
	m := SheetMoves{State: SheetWaiting}
	for _, w := range slices.Backward(written) {
		e := w.FabricEntry
		e.Kind, e.From, e.To, e.Reason, e.Undoes = FabricUndone, w.To, w.From, undone, &w.ID
		m.Fabric = append(m.Fabric, e)
	}
	return s.moveKits(m, kits)
}

// NarrowStands says whether the sheet is to be cut as it is drawn from cloth that was reported
// narrower, so that this can be taken back.
func (s Sheet) NarrowStands() bool {
	return s.Narrow != nil && (s.State == SheetWaiting || s.State == SheetOnTable)
}
