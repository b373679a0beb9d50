package drive

import (
	"slices"
	"time"

	"boltward/internal/apperr"
)

// BookedFabric is an entry as it stands in the fabric ledger.
type BookedFabric struct {
	ID int64
	FabricEntry
	At      time.Time
	Who     int64
	WhoName string // who signed in; empty for the command line
	Undone  bool   // another entry undoes it
}

// UndoMeasure takes a measuring back by counter-entries, last entry first, and
// gives the lot as it stood before: tagged, waiting to be measured. It is refused
// once any of the cloth was used, promised or given away, because what was used was
// measured.
func UndoMeasure(lot Lot, pieces []Piece, entries []BookedFabric) (Lot, []FabricEntry, error) {
	if !lot.Measured() {
		return lot, nil, apperr.Conflict("Lot %d is not measured, so there is nothing to undo.", lot.Number)
	}
	for _, e := range slices.Backward(entries) {
		if e.Deed != nil && !e.Undone && e.Kind != FabricUndone {
			return lot, nil, apperr.Conflict("Since lot %d was measured, cloth of it was %s. Undo that first.", lot.Number, e.Kind)
		}
	}
	var measured []BookedFabric
	for _, e := range entries {
		if e.Piece > 0 && !e.Undone && e.Kind != FabricUndone && (e.From == Outside || e.From == Origin) {
			measured = append(measured, e)
		}
	}
	for _, p := range pieces {
		if p.Promised > 0 {
			return lot, nil, apperr.Conflict("Cloth of lot %d is promised to a plan. Withdraw its cut sheet first, then undo.", lot.Number)
		}
		if p != asMeasured(p, measured) {
			return lot, nil, apperr.Conflict("Cloth of lot %d was used since it was measured, so its size stands. Recount what is left instead.", lot.Number)
		}
	}
	var undo []FabricEntry
	for _, e := range slices.Backward(measured) {
		id := e.ID
		counter := e.FabricEntry
		counter.Kind, counter.From, counter.To, counter.Undoes = FabricUndone, e.To, e.From, &id
		counter.Plan, counter.Sheet, counter.Reason = nil, nil, ""
		undo = append(undo, counter)
	}
	lot.MeasuredAt = nil
	return lot, undo, nil
}

// asMeasured is the piece as these entries alone leave it.
func asMeasured(p Piece, entries []BookedFabric) Piece {
	p.FreeLength, p.Received, p.Free, p.Promised, p.Cut, p.Out, p.Parted = 0, 0, 0, 0, 0, 0, 0
	for _, e := range entries {
		if e.Piece != p.Piece {
			continue
		}
		p.Received += e.Area
		switch e.To {
		case Free:
			p.Free += e.Area
			p.FreeLength += e.Length
		case Out:
			p.Out += e.Area
		case Parted:
			p.Parted += e.Area
		}
	}
	return p
}
