package drive

import (
	"time"

	"boltward/internal/apperr"
)

// KitReturn is what came back of a kit: how many sewn, and whether the rest came
// back too, as it went out. Otherwise the rest stays with whoever has it.
type KitReturn struct {
	Sewn       int
	RestUnsewn bool
	Extra      int `json:",omitempty"` // more than the kit holds, sewn from own fabric; not promised yet
}

// KitCounted is what lies on the returns table of a kit, whatever the kit holds.
type KitCounted struct {
	Sewn       int
	RestUnsewn bool // what is not sewn of it lies here too, if anything is not
	OwnFabric  bool // what is more than the kit holds, if anything, is of own fabric
	StillLost  int  `json:",omitempty"` // of a kit that was lost, what did not turn up
}

// Return is what that is of a kit that holds so many.
func (c KitCounted) Return(cases int) KitReturn {
	r := KitReturn{Sewn: c.Sewn, RestUnsewn: c.RestUnsewn && c.Sewn < cases}
	if c.OwnFabric && c.Sewn > cases {
		r.Sewn, r.Extra = cases, c.Sewn-cases
	}
	return r
}

// TakeBack books what came back of a kit. When all of it is sewn the kit itself
// is back; in part, the sewn pillowcases are back as a new part and the kit
// goes on with the rest. A pillowcase that was out for mending counts as sewn
// again and waits to be checked. More than the kit holds, or nothing at all, is
// an invalid "sewn".
func (k Kit) TakeBack(r KitReturn, day time.Time) (KitMoves, error) {
	if k.State != KitOut {
		return KitMoves{}, apperr.Conflict("Kit %s %s, so nothing of it can come back.", k.KitRef, k.Where())
	}
	if err := k.notBefore(day); err != nil {
		return KitMoves{}, err
	}
	mending := k.Count(CaseToMend)
	switch {
	case r.Extra < 0 || r.Extra > 0 && r.Sewn != k.Cases:
		return KitMoves{}, apperr.Invalid("sewn", "Only when all %d of kit %s came back can there be more of own fabric. Count again.", k.Cases, k.KitRef)
	case r.Sewn > k.Cases:
		return KitMoves{}, apperr.Invalid("sewn", "Kit %s holds %s with %s, not %d. Count again, or bring in %d of them as their own fabric, without a kit.", k.KitRef, pillowcases(k.Cases), k.HolderName, r.Sewn, r.Sewn-k.Cases)
	case mending > 0 && r.Sewn <= 0 && !r.RestUnsewn:
		return KitMoves{}, apperr.Invalid("sewn", "Say how many came back, mended or not, 1 to %d.", k.Cases)
	case r.Sewn < 0 || r.Sewn == 0 && !r.RestUnsewn:
		return KitMoves{}, apperr.Invalid("sewn", "Say how many came back sewn, 1 to %d. Where none is sewn and the kit came back, say that too.", k.Cases)
	case r.RestUnsewn && mending > 0:
		return KitMoves{}, apperr.Invalid("rest", "The pillowcases of kit %s were sewn before and went out to be mended: count those that came back, mended or not.", k.KitRef)
	}
	if r.Sewn == k.Cases {
		cases, n := k.move(r.Sewn, []CaseState{CaseOut, CaseToMend}, k.Part, CaseSewn, k.Holder, "")
		if r.Extra > 0 {
			more, err := BringIn(BroughtIn{Size: k.Size, N: r.Extra, Maker: k.Holder})
			if err != nil {
				return KitMoves{}, apperr.Invalid("sewn", "%s", apperr.Fields(err)["n"])
			}
			cases = append(cases, more)
		}
		return KitMoves{Kits: []KitEntry{k.enter(KitBack, "")}, Cases: cases}, k.counts(n, r.Sewn)
	}
	var m KitMoves
	rest := k
	rest.Cases -= r.Sewn
	if r.Sewn > 0 {
		cases, n := k.move(r.Sewn, []CaseState{CaseOut, CaseToMend}, k.LastPart+1, CaseSewn, k.Holder, "")
		if err := k.counts(n, r.Sewn); err != nil {
			return KitMoves{}, err
		}
		m.Add(k.part(KitBack, r.Sewn, ""))
		m.Add(KitMoves{Kits: []KitEntry{rest.enterOut(k.Holder, k.Due, "")}, Cases: cases})
		rest.Held = without(rest.Held, cases)
	}
	if r.RestUnsewn {
		cases, n := rest.move(rest.Cases, []CaseState{CaseOut}, k.Part, CaseCut, nil, reasonUnsewn)
		m.Add(KitMoves{Kits: []KitEntry{rest.enter(KitReady, reasonUnsewn)}, Cases: cases})
		return m, k.counts(n, rest.Cases)
	}
	return m, nil
}

// reasonUnsewn stands on the entries of what came back as it went out.
const reasonUnsewn = "came back unsewn"

// Lose books a kit as lost: at somebody's home, or from the shelf.
func (k Kit) Lose(day time.Time, reason string) (KitMoves, error) {
	if k.State != KitOut && !k.State.InHouse() {
		return KitMoves{}, apperr.Conflict("Kit %s %s, so it cannot be booked as lost.", k.KitRef, k.Where())
	}
	if err := k.notBefore(day); err != nil {
		return KitMoves{}, err
	}
	cases, n := k.move(k.Cases, []CaseState{CaseCut, CaseOut, CaseToMend}, k.Part, CaseLost, k.Holder, reason)
	return KitMoves{Kits: []KitEntry{k.enter(KitLost, reason)}, Cases: cases}, k.counts(n, k.Cases)
}

// Find books a kit that was booked as lost as found, with so many of its
// pillowcases sewn: those are back and wait to be checked. So many more stay lost, and what
// is neither lies here and can be handed out. Of one that was out to be mended sewn turned up,
// and the rest stays lost, whatever lost is. maker is who had it last, nil where nobody had.
func (k Kit) Find(sewn, lost int, maker *int64, day time.Time) (KitMoves, error) {
	if k.State != KitLost {
		return KitMoves{}, apperr.Conflict("Kit %s %s: it is not lost.", k.KitRef, k.Where())
	}
	if err := k.notBefore(day); err != nil {
		return KitMoves{}, err
	}
	switch {
	case k.Mending:
		return k.findMending(sewn, maker)
	case sewn < 0 || sewn > k.Cases:
		return KitMoves{}, apperr.Invalid("sewn", "Kit %s holds %s: say how many of them are sewn, 0 to %d.", k.KitRef, pillowcases(k.Cases), k.Cases)
	case lost < 0 || lost >= k.Cases:
		return KitMoves{}, apperr.Invalid("still_lost", "Kit %s was lost with %s: say how many are lost still, 0 to %d.", k.KitRef, pillowcases(k.Cases), k.Cases-1)
	case sewn+lost > k.Cases:
		return KitMoves{}, apperr.Invalid("still_lost", "Kit %s was lost with %s: %d sewn and %d still lost are more than that.", k.KitRef, pillowcases(k.Cases), sewn, lost)
	}
	here := k.Cases - sewn - lost
	var m KitMoves
	counted, rest := 0, k
	turnUp := func(n int, to KitState, as CaseState, by *int64) {
		if n == 0 {
			return
		}
		part := rest.Part
		if n < rest.Cases {
			m.Add(rest.part(to, n, ReasonFound))
			rest.LastPart++
			part = rest.LastPart
		} else {
			m.Add(KitMoves{Kits: []KitEntry{rest.enter(to, ReasonFound)}})
		}
		cases, moved := rest.move(n, []CaseState{CaseLost}, part, as, by, ReasonFound)
		m.Cases = append(m.Cases, cases...)
		rest.Held = without(rest.Held, cases)
		rest.Cases -= n
		counted += moved
	}
	turnUp(sewn, KitBack, CaseSewn, maker)
	turnUp(here, KitFound, CaseCut, nil)
	if lost > 0 {
		m.Add(KitMoves{Kits: []KitEntry{rest.enter(KitLost, ReasonFound)}})
	}
	return m, k.counts(counted, sewn+here)
}

// ReasonFound stands on the entries of what was lost and turned up.
const ReasonFound = "found"

// findMending is Find of a kit that was lost while it was out to be mended: its pillowcases were sewn
// before, so the n that turned up are to mend again and, mended or not, wait to be checked; they count
// as sewn once. Where that is not all of them they are a part of their own, and the rest is lost still.
func (k Kit) findMending(n int, maker *int64) (KitMoves, error) {
	if n < 1 || n > k.Cases {
		return KitMoves{}, apperr.Invalid("sewn", "Kit %s was lost with %s that had gone out to be mended: say how many turned up, 1 to %d, mended or not.", k.KitRef, pillowcases(k.Cases), k.Cases)
	}
	part, m := k.Part, KitMoves{}
	if n == k.Cases {
		m.Kits = []KitEntry{k.enter(KitBack, ReasonFound)}
	} else {
		part, m = k.LastPart+1, k.part(KitBack, n, ReasonFound)
		rest := k
		rest.Cases -= n
		m.Kits = append(m.Kits, rest.enter(KitLost, ReasonFound))
	}
	cases, found := k.move(n, []CaseState{CaseLost}, part, CaseToMend, nil, ReasonFound)
	m.Cases = cases
	for _, e := range cases {
		e.Part, e.From, e.To, e.Person = part, CaseToMend, CaseSewn, maker
		m.Cases = append(m.Cases, e)
	}
	return m, k.counts(found, n)
}

// TakeApart gives a kit that lies here up: its pillowcases will not be sewn, so
// they stand for nobody any more. Its panels stay counted as cut cloth.
func (k Kit) TakeApart(day time.Time, reason string) (KitMoves, error) {
	if !k.State.InHouse() {
		return KitMoves{}, apperr.Conflict("Kit %s %s. Only a kit that lies here can be taken apart.", k.KitRef, k.Where())
	}
	if err := k.notBefore(day); err != nil {
		return KitMoves{}, err
	}
	cases, n := k.move(k.Cases, []CaseState{CaseCut}, k.Part, CaseWithdrawn, nil, reason)
	e := k.enter(KitTakenApart, reason)
	e.Cases = 0
	return KitMoves{Kits: []KitEntry{e}, Cases: cases}, k.counts(n, k.Cases)
}

// LeavesPanels says whether panels of our cloth can be left of the kit once it is taken apart:
// what parted from it took its own along.
func (k Kit) LeavesPanels() bool { return k.Part == 1 && !k.OwnFabric }

// MarkReady says that a cut kit, or one that was found, is checked, bagged and labelled.
func (k Kit) MarkReady() (KitMoves, error) {
	if k.State != KitCut && k.State != KitFound {
		return KitMoves{}, apperr.Conflict("Kit %s %s.", k.KitRef, k.Where())
	}
	return KitMoves{Kits: []KitEntry{k.enter(KitReady, "")}}, nil
}

// MadeReady says whether the last thing that happened to a kit, but for what was undone
// since, is that it was bagged and labelled, so that it can be undone.
func MadeReady(history []KitStep) bool {
	history = standingSteps(history)
	if len(history) == 0 {
		return false
	}
	last := history[len(history)-1]
	return last.To == KitReady && (last.From == KitCut || last.From == KitFound)
}

// UndoReady puts a kit that is not bagged and labelled after all back to where it was. It
// gives the day from which the kit has been there. A kit to which something else happened
// since is a conflict.
func (k Kit) UndoReady(history []KitStep) (KitMoves, time.Time, error) {
	if !MadeReady(history) {
		switch {
		case k.State == KitReady:
			return KitMoves{}, time.Time{}, apperr.Conflict("Kit %s is ready, but bagging it is not the last thing that happened to it, so that cannot be undone.", k.KitRef)
		case k.State == KitCut || k.State == KitFound:
			return KitMoves{}, time.Time{}, apperr.Conflict("Kit %s %s: it is not bagged and labelled, so there is nothing to undo.", k.KitRef, k.Where())
		}
		return KitMoves{}, time.Time{}, apperr.Conflict("Kit %s %s, so that it was bagged and labelled cannot be undone.", k.KitRef, k.Where())
	}
	history = standingSteps(history)
	before := history[:len(history)-1]
	return KitMoves{Kits: []KitEntry{k.enter(history[len(before)].From, undone)}}, heldSince(before), nil
}

// standingSteps leaves out of a history what was undone, and what undid it.
func standingSteps(history []KitStep) []KitStep {
	var steps []KitStep
	for _, step := range history {
		if n := len(steps); step.Reason == undone && n > 1 {
			if was := steps[n-2]; was.To == step.To && was.Cases == step.Cases && same(was.Holder, step.Holder) {
				steps = steps[:n-1]
				continue
			}
		}
		steps = append(steps, step)
	}
	return steps
}

// part makes the next part of a kit, born to a place with n pillowcases.
func (k Kit) part(to KitState, n int, reason string) KitMoves {
	child := Kit{KitRef: KitRef{k.Number, k.LastPart + 1}, State: KitBorn, Cases: n}
	parent := k.Part
	return KitMoves{
		Born: []NewKit{{KitRef: child.KitRef, Parent: &parent, Asked: k.Asked, Size: k.Size, Plan: k.Plan, OwnFabric: k.OwnFabric}},
		Kits: []KitEntry{child.enter(to, reason)},
	}
}

// counts refuses to go on where the kit's pillowcases are not those it says it holds.
func (k Kit) counts(n, want int) error {
	if n == want {
		return nil
	}
	return apperr.Conflict("Kit %s says it holds %s, but %d of them stand elsewhere. Nothing was changed.", k.KitRef, pillowcases(k.Cases), want-n)
}

// without gives what is held after entries took theirs.
func without(held []KitHeld, taken []CaseEntry) []KitHeld {
	left := make([]KitHeld, 0, len(held))
	for _, h := range held {
		for _, e := range taken {
			if e.Asked == h.Asked && e.Size == h.Size && e.From == h.State {
				h.N -= e.N
			}
		}
		left = append(left, h)
	}
	return left
}
