package drive

import (
	"slices"
	"time"

	"boltward/internal/apperr"
)

// TookBack says whether the last thing that happened to a kit was that it came
// back, sewn, whole or as a part of its own, or unsewn, or turned up from where it was lost, so that
// it can be undone.
func TookBack(history []KitStep) bool {
	if len(history) == 0 {
		return false
	}
	last := history[len(history)-1]
	return tookBackUnsewn(history) || turnedUpUnsewn(history) || last.To == KitBack && (last.From == KitOut || last.From == KitBorn || last.From == KitLost)
}

func tookBackUnsewn(history []KitStep) bool {
	last := history[len(history)-1]
	return last.From == KitOut && last.To == KitReady && last.Reason == reasonUnsewn
}

// turnedUpUnsewn says whether a kit, or a part of one, lies here since it turned up with nothing sewn.
func turnedUpUnsewn(history []KitStep) bool {
	last := history[len(history)-1]
	return last.To == KitFound && last.Reason == ReasonFound
}

// BackAtOnce says whether the rest of a kit came back unsewn, or turned up so, in the same act as the
// part with this history, so that both are undone together.
func BackAtOnce(part, rest []KitStep) bool {
	return len(rest) > 0 && (tookBackUnsewn(rest) || turnedUpUnsewn(rest)) && TookBack(part) && rest[len(rest)-1].At.Equal(part[len(part)-1].At)
}

// UndoTakeBack puts what was taken back wrongly into the hands it came from: the
// whole kit, or the part into its parent, which has to be with the same person
// still. What came back unsewn goes out again as it was. history is the kit's, written are the case entries of the taking back, and of finding
// what was lost while it was being mended.
// The day is the one since when the kit is out again, zero where that did not change.
// Nothing of it may have been checked or promised yet.
func (k Kit) UndoTakeBack(history []KitStep, written []WrittenCase, parent *Kit) (KitMoves, time.Time, error) {
	if !TookBack(history) {
		return KitMoves{}, time.Time{}, apperr.Conflict("Kit %s %s: there is no taking back to undo.", k.KitRef, k.Where())
	}
	if tookBackUnsewn(history) {
		unsewn := slices.DeleteFunc(slices.Clone(written), func(w WrittenCase) bool { return w.To != CaseCut })
		cases, err := counter(k.Cases, unsewn, func(w WrittenCase) bool { return w.From == CaseOut })
		if err != nil {
			return KitMoves{}, time.Time{}, apperr.Conflict("The pillowcases of kit %s have moved since it came back, so that cannot be undone.", k.KitRef)
		}
		before := history[:len(history)-1]
		with := before[len(before)-1]
		return KitMoves{Kits: []KitEntry{k.enterOut(with.Holder, with.Due, undone)}, Cases: cases}, heldSince(before), nil
	}
	if turnedUpUnsewn(history) {
		return k.undoUnsewnFind(history, written, parent)
	}
	sewn := slices.DeleteFunc(slices.Clone(written), func(w WrittenCase) bool { return w.To != CaseSewn })
	cases, err := counter(k.Cases, sewn, func(w WrittenCase) bool {
		return w.From == CaseOut || w.From == CaseLost || w.From == CaseToMend && w.Reason != ReasonMendedHere
	})
	if err != nil || len(cases) == 0 || k.Count(CaseSewn) != k.Cases {
		return KitMoves{}, time.Time{}, apperr.Conflict("Some of kit %s were checked or promised since they came back, so that cannot be undone.", k.KitRef)
	}
	// What was lost on its way to be mended went two steps as it turned up.
	foundMending := history[len(history)-1].Reason == ReasonFound && cases[0].To == CaseToMend
	if foundMending {
		found := slices.DeleteFunc(slices.Clone(written), func(w WrittenCase) bool { return w.To != CaseToMend })
		lost, err := counter(k.Cases, found, func(w WrittenCase) bool { return w.From == CaseLost })
		if err != nil {
			return KitMoves{}, time.Time{}, apperr.Conflict("The pillowcases of kit %s have moved since it was found, so that cannot be undone.", k.KitRef)
		}
		cases = append(cases, lost...)
	}
	if history[len(history)-1].From == KitLost {
		before := history[:len(history)-1]
		return KitMoves{Kits: []KitEntry{k.enter(KitLost, undone)}, Cases: cases}, heldSince(before), nil
	}
	if history[len(history)-1].From == KitOut {
		before := history[:len(history)-1]
		with := before[len(before)-1]
		e := k.enterOut(with.Holder, with.Due, undone)
		return KitMoves{Kits: []KitEntry{e}, Cases: cases}, heldSince(before), nil
	}
	if foundMending || cases[0].To == CaseLost && parent != nil && parent.State == KitLost {
		return k.lostAgain(history, cases, parent)
	}
	if slices.ContainsFunc(cases, func(e CaseEntry) bool { return e.To == CaseLost }) {
		return KitMoves{}, time.Time{}, apperr.Conflict("Kit %s came to light with the rest of kit %d, which is not lost any more, so this cannot be undone.", k.KitRef, k.Number)
	}
	maker := sewn[0].Person
	if parent == nil || parent.State != KitOut || !same(parent.Holder, maker) {
		return KitMoves{}, time.Time{}, apperr.Conflict("The rest of kit %d is not with the same person any more, so this cannot be undone.", k.Number)
	}
	gone, more := k.enter(KitTakenApart, ReasonAgain), *parent
	gone.Cases = 0
	more.Cases += k.Cases
	return KitMoves{
		Kits:  []KitEntry{gone, more.enterOut(parent.Holder, parent.Due, undone)},
		Cases: cases,
	}, time.Time{}, nil
}

// undoUnsewnFind is UndoTakeBack of what turned up with nothing sewn: the whole kit, what others of it left, or a part.
func (k Kit) undoUnsewnFind(history []KitStep, written []WrittenCase, parent *Kit) (KitMoves, time.Time, error) {
	found := slices.DeleteFunc(slices.Clone(written), func(w WrittenCase) bool { return w.To != CaseCut })
	cases, err := counter(k.Cases, found, func(w WrittenCase) bool { return w.From == CaseLost })
	if err != nil {
		return KitMoves{}, time.Time{}, apperr.Conflict("The pillowcases of kit %s have moved since it was found, so that cannot be undone.", k.KitRef)
	}
	if history[len(history)-1].From == KitBorn {
		return k.lostAgain(history, cases, parent)
	}
	return KitMoves{Kits: []KitEntry{k.enter(KitLost, undone)}, Cases: cases}, heldSince(history[:len(history)-1]), nil
}

// lostAgain counts a part that turned up of a kit of which the rest stayed lost in that kit again, by
// these entries. The rest has to be lost since before the part turned up.
func (k Kit) lostAgain(history []KitStep, cases []CaseEntry, parent *Kit) (KitMoves, time.Time, error) {
	if parent == nil || parent.State != KitLost || parent.Since == nil || parent.Since.After(history[0].Day) {
		return KitMoves{}, time.Time{}, apperr.Conflict("The rest of kit %d is not lost as it was then, so this cannot be undone.", k.Number)
	}
	gone, more := k.enter(KitTakenApart, ReasonAgain), *parent
	gone.Cases = 0
	more.Cases += k.Cases
	return KitMoves{Kits: []KitEntry{gone, more.enter(KitLost, undone)}, Cases: cases}, time.Time{}, nil
}
