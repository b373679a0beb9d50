package drive

import (
	"time"

	"boltward/internal/apperr"
)

// asideByMistake keeps a lot that was taken back out of every list that leaves out
// what is set aside.
const asideByMistake = "tagged by mistake"

// Untag takes the tagging of a lot back: its donor, tag and photo go, its number
// stays in the ledger with the counter-entry and is given to no other. It is refused
// once the lot was measured, even where that is undone, because its history speaks of
// cloth.
func Untag(lot Lot, entries []BookedFabric, at time.Time) (Lot, FabricEntry, error) {
	if lot.Measured() {
		return lot, FabricEntry{}, apperr.Conflict("Lot %d is measured. Undo that first, or change what is written about it.", lot.Number)
	}
	var tagged *BookedFabric
	for i, e := range entries {
		if e.Piece > 0 {
			return lot, FabricEntry{}, apperr.Conflict("Lot %d was measured before, so its number stays. Change it into what it is, or set it aside.", lot.Number)
		}
		if e.Kind == FabricTagged && !e.Undone {
			tagged = &entries[i]
		}
	}
	if tagged == nil {
		return lot, FabricEntry{}, apperr.Conflict("The tagging of lot %d is undone already.", lot.Number)
	}
	gone, counter := lot.takenBack(*tagged, at)
	return gone, counter, nil
}

// takenBack is the lot as its number alone stays, and the counter-entry of its tagging.
func (l Lot) takenBack(tagged BookedFabric, at time.Time) (Lot, FabricEntry) {
	counter := tagged.FabricEntry
	counter.Kind, counter.From, counter.To, counter.Undoes = FabricUndone, tagged.To, tagged.From, &tagged.ID
	return Lot{
		Number: l.Number, ReceivedOn: l.ReceivedOn, PiecesTold: l.PiecesTold, Ends: EndsCut, SetAside: asideByMistake,
		Make: Make{Turn: TurnEither, Colours: []string{}, Themes: []string{}}, CreatedAt: l.CreatedAt, UntaggedAt: &at, Version: l.Version,
	}, counter
}

// StillALot refuses, as a conflict, what somebody wants to do to a lot that was taken back.
func (l Lot) StillALot() error {
	if l.UntaggedAt == nil {
		return nil
	}
	return apperr.Conflict("Lot %d was tagged by mistake and taken back. Tag what lies there as a lot of its own.", l.Number)
}
