package drive

import (
	"time"

	"boltward/internal/apperr"
)

// Split parts n of a kit's pillowcases, none of them sewn, off into a kit of their
// own: out of one that lies here as a smaller bag, such as one for a beginner; out
// of one that somebody has to somebody else, from hand to hand. to and due count
// for the second alone. As many as the kit holds, or none, is an invalid "split".
func (k Kit) Split(n int, to *Holder, due *time.Time, day time.Time) (KitMoves, error) {
	if k.State != KitOut && !k.State.InHouse() {
		return KitMoves{}, apperr.Conflict("Kit %s %s, so nothing of it can be parted off.", k.KitRef, k.Where())
	}
	if k.Cases < 2 {
		return KitMoves{}, apperr.Invalid("split", "Kit %s holds a single pillowcase and cannot be split.", k.KitRef)
	}
	if n < 1 || n >= k.Cases {
		return KitMoves{}, apperr.Invalid("split", "Kit %s holds %s: part off 1 to %d of them.", k.KitRef, pillowcases(k.Cases), k.Cases-1)
	}
	if err := k.notBefore(day); err != nil {
		return KitMoves{}, err
	}
	if k.State == KitOut {
		return k.splitOut(n, to, due)
	}
	cases, moved := k.move(n, []CaseState{CaseCut}, k.LastPart+1, CaseCut, nil, splitReason)
	m := k.part(KitReady, n, splitReason)
	rest := k
	rest.Cases -= n
	m.Add(KitMoves{Kits: []KitEntry{rest.enter(k.State, splitReason)}, Cases: cases})
	return m, k.counts(moved, n)
}

// splitReason stands in both ledgers with what a split wrote.
const splitReason = "split"

// splitOut parts some of a kit that is out off to somebody else.
func (k Kit) splitOut(n int, to *Holder, due *time.Time) (KitMoves, error) {
	switch {
	case to == nil:
		return KitMoves{}, apperr.Invalid("split_to", "Kit %s is with %s: choose who gets the part.", k.KitRef, k.HolderName)
	case *k.Holder == to.Number:
		return KitMoves{}, apperr.Invalid("split_to", "%s has kit %s already. Choose who gets the part.", to.Name, k.KitRef)
	case !to.Active:
		return KitMoves{}, apperr.Invalid("split_to", "%s is not sewing at the moment. Change that on their page first.", to.Name)
	}
	cases, moved := k.move(n, []CaseState{CaseOut}, k.LastPart+1, CaseOut, &to.Number, splitReason)
	if moved != n {
		return KitMoves{}, apperr.Invalid("split", "Only %d of kit %s wait to be sewn; the others went out to be mended.", moved, k.KitRef)
	}
	child := Kit{KitRef: KitRef{k.Number, k.LastPart + 1}, State: KitBorn, Cases: n}
	m := k.part(KitOut, n, splitReason)
	m.Kits = []KitEntry{child.enterOut(&to.Number, due, splitReason)}
	rest := k
	rest.Cases -= n
	m.Add(KitMoves{Kits: []KitEntry{rest.enterOut(k.Holder, k.Due, splitReason)}, Cases: cases})
	return m, nil
}

// SplitOff says whether nothing has happened to a part of a kit but that it was split off,
// so that it can be undone.
func SplitOff(history []KitStep) bool {
	return len(history) == 1 && history[0].From == KitBorn && history[0].Reason == splitReason
}

// UndoSplit counts a part that was split off in the kit it came from again, by counter-entries.
// history is the part's, written are the case entries of the split. Both have to be where the
// split left them: here, or each with whom it was; had is who had the rest then. What is with
// two people goes back to whoever had the kit.
func (k Kit) UndoSplit(history []KitStep, written []WrittenCase, parent *Kit, had *int64) (KitMoves, error) {
	if !SplitOff(history) || parent == nil {
		return KitMoves{}, apperr.Conflict("Kit %s %s, and more happened to it than that it was split off, so that cannot be undone.", k.KitRef, k.Where())
	}
	together := k.State == KitOut && parent.State == KitOut && same(parent.Holder, had) || k.State.InHouse() && parent.State.InHouse()
	if !together {
		return KitMoves{}, apperr.Conflict("Kit %s %s, and not where it was when kit %s was split off, so that cannot be undone.", parent.KitRef, parent.Where(), k.KitRef)
	}
	cases, err := counter(k.Cases, written, func(w WrittenCase) bool { return w.Reason == splitReason })
	if err != nil || k.Count(CaseCut, CaseOut) != k.Cases {
		return KitMoves{}, apperr.Conflict("The pillowcases of kit %s have moved since it was split off, so that cannot be undone.", k.KitRef)
	}
	gone, more := k.enter(KitTakenApart, ReasonAgain), parent.enter(parent.State, undone)
	gone.Cases = 0
	more.Cases += k.Cases
	if parent.State == KitOut {
		more.Holder, more.Due = parent.Holder, parent.Due
	}
	return KitMoves{Kits: []KitEntry{gone, more}, Cases: cases}, nil
}

// ReasonAgain is the reason for which a part ends that never parted.
const ReasonAgain = "counted in its kit again"
