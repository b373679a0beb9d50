package drive

import (
	"slices"
	"time"

	"boltward/internal/apperr"
)

// BroughtKind is what a spreadsheet made.
type BroughtKind string

// What a spreadsheet makes: lots and the size of lots that were here, those it names for the
// first time, and lines of what is asked for.
const (
	BroughtLot       BroughtKind = "lot"
	BroughtSize      BroughtKind = "lot size"
	BroughtDonor     BroughtKind = "donor"
	BroughtPerson    BroughtKind = "person"
	BroughtRecipient BroughtKind = "recipient"
	BroughtAsked     BroughtKind = "asked"
)

// Brought is one thing that a spreadsheet made and that is not taken back: at which version the
// file left it, and why it stays; empty where nobody has touched it since.
type Brought struct {
	Kind    BroughtKind `db:"kind"`
	Number  int64       `db:"number"`
	Name    string      `db:"name"`
	Version int         `db:"version"`
	Why     string      `db:"why"`
}

// UndoBroughtLot takes back what a spreadsheet made of a lot: its size, and unless the lot was here
// before (BroughtSize), its tagging too. The counter-entries stand beside what they undo, and the
// number is given to no other. It is refused, as a conflict that says why, once anybody has changed the lot or
// used its cloth.
func UndoBroughtLot(b Brought, lot Lot, pieces []Piece, entries []BookedFabric, at time.Time) (Lot, []FabricEntry, error) {
	if err := lot.StillALot(); err != nil {
		return lot, nil, err
	}
	if lot.Version != b.Version {
		return lot, nil, apperr.Conflict("Lot %d was changed since.", lot.Number)
	}
	if lot.Photo != nil && b.Kind == BroughtLot {
		return lot, nil, apperr.Conflict("Somebody took a photo of lot %d.", lot.Number)
	}
	var undo []FabricEntry
	if lot.Measured() {
		bare, counter, err := UndoMeasure(lot, pieces, entries)
		if err != nil {
			return lot, nil, err
		}
		lot, undo = bare, counter
	}
	if b.Kind == BroughtSize {
		return lot, undo, nil
	}
	tagged := slices.IndexFunc(entries, func(e BookedFabric) bool { return e.Kind == FabricTagged && !e.Undone })
	if tagged < 0 {
		return lot, nil, apperr.Conflict("The tagging of lot %d is undone already.", lot.Number)
	}
	gone, counter := lot.takenBack(entries[tagged], at)
	return gone, append(undo, counter), nil
}
