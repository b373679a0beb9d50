package drive

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"boltward/internal/apperr"
)

// Holder is who may take kits: somebody who sews, as kept.
type Holder struct {
	Number int64  `db:"number"`
	Name   string `db:"name"`
	Active bool   `db:"active"`
}

// CheckHandOut says what is wrong with the days of a hand-out, by field: "day"
// it happened, "due" it should be back. today is the day in the drive's zone.
func CheckHandOut(day time.Time, due *time.Time, today time.Time) error {
	var bad []apperr.Field
	if why := wrongDay(day, today); why != "" {
		bad = append(bad, apperr.Field{Name: "day", Why: why})
	}
	if why := wrongDueDay(day, due); why != "" {
		bad = append(bad, apperr.Field{Name: "due", Why: why})
	}
	return apperr.InvalidFields(bad)
}

// HandOut asks for kits to be given to somebody.
type HandOut struct {
	Kits   []KitRef
	Person int64
	Day    time.Time  // when they changed hands; zero: today
	Due    *time.Time // when they should be back; nil: no day agreed
}

// HandOut gives a kit that lies here to somebody. A kit that is elsewhere is a
// conflict that says where; a day before the kit came to lie here is an invalid "day".
func (k Kit) HandOut(to Holder, day time.Time, due *time.Time) (KitMoves, error) {
	if err := to.takes(); err != nil {
		return KitMoves{}, err
	}
	if !k.State.InHouse() {
		return KitMoves{}, apperr.Conflict("Kit %s %s.", k.KitRef, k.Where())
	}
	if err := k.notBefore(day); err != nil {
		return KitMoves{}, err
	}
	return k.giveTo(to, due, CaseCut, "")
}

// GiveAgain gives a kit that somebody has, or that was booked as lost, to
// somebody else: from hand to hand, without coming back here.
func (k Kit) GiveAgain(to Holder, day time.Time, due *time.Time) (KitMoves, error) {
	if err := to.takes(); err != nil {
		return KitMoves{}, err
	}
	switch {
	case k.State == KitLost:
		if err := k.notBefore(day); err != nil {
			return KitMoves{}, err
		}
		return k.giveTo(to, due, CaseLost, "given again")
	case k.State != KitOut:
		return KitMoves{}, apperr.Conflict("Kit %s %s: hand it out instead.", k.KitRef, k.Where())
	case *k.Holder == to.Number:
		return KitMoves{}, apperr.Invalid("person", "%s has kit %s already. Choose who gets it instead, or give it a later day.", to.Name, k.KitRef)
	}
	if err := k.notBefore(day); err != nil {
		return KitMoves{}, err
	}
	return KitMoves{Kits: []KitEntry{k.enterOut(&to.Number, due, "given again")}}, nil
}

// ExtendDue gives whoever has the kit another day, or none.
func (k Kit) ExtendDue(due *time.Time, today time.Time) (KitMoves, error) {
	if k.State != KitOut {
		return KitMoves{}, apperr.Conflict("Kit %s %s, so there is no day to change.", k.KitRef, k.Where())
	}
	if why := wrongDueDay(today, due); why != "" {
		return KitMoves{}, apperr.Invalid("due", "%s", why)
	}
	return KitMoves{Kits: []KitEntry{k.enterOut(k.Holder, due, "needs longer")}}, nil
}

// KitStep is an entry of a kit's history as it was written.
type KitStep struct {
	ID     int64      `db:"id"`
	From   KitState   `db:"from_state"`
	To     KitState   `db:"to_state"`
	Holder *int64     `db:"holder"`
	Due    *time.Time `db:"due"`
	Day    time.Time  `db:"day"`
	Cases  int        `db:"cases"`
	Reason string     `db:"reason"`
	At     time.Time  `db:"at"`
}

// WrittenCase is an entry of the pillowcases ledger as it was written.
type WrittenCase struct {
	ID int64
	CaseEntry
}

// HandedOut says whether the last thing that happened to a kit was that
// somebody got it, so that it can be undone.
func HandedOut(history []KitStep) bool {
	if len(history) < 2 {
		return false
	}
	last, before := history[len(history)-1], history[len(history)-2]
	if last.To != KitOut || last.Reason == undone {
		return false
	}
	return last.From.InHouse() || last.From == KitLost || last.From == KitOut && !same(last.Holder, before.Holder)
}

// HadBefore is who has a kit again once its last step is undone, nil where nobody has.
func HadBefore(history []KitStep) *int64 {
	if len(history) < 2 || history[len(history)-1].From != KitOut {
		return nil
	}
	return history[len(history)-2].Holder
}

// LastHolder is who had a kit last, nil where nobody ever had.
func LastHolder(history []KitStep) *int64 {
	for _, step := range slices.Backward(history) {
		if step.Holder != nil {
			return step.Holder
		}
	}
	return nil
}

// undone is the reason of the entries that take back what was written wrongly.
const undone = "undone"

// UndoHandOut puts a kit back where it was before its last hand-out, with
// counter-entries to the case entries that the hand-out wrote. history is the
// kit's whole history in order; written are those entries. It gives the day from
// which the kit has been where it goes back to. A kit to which
// something else happened since is a conflict.
func (k Kit) UndoHandOut(history []KitStep, written []WrittenCase) (KitMoves, time.Time, error) {
	if !HandedOut(history) {
		return KitMoves{}, time.Time{}, apperr.Conflict("Something else happened to kit %s since it was handed out, so that cannot be undone. It %s.", k.KitRef, k.Where())
	}
	last, before := history[len(history)-1], history[len(history)-2]
	e := k.enter(last.From, undone)
	if last.From == KitOut {
		e.Holder, e.Due = before.Holder, before.Due
	}
	var cases []CaseEntry
	if last.From != KitOut {
		var err error
		if cases, err = counter(k.Cases, written, func(w WrittenCase) bool { return w.From == CaseCut || w.From == CaseLost }); err != nil {
			return KitMoves{}, time.Time{}, apperr.Conflict("The pillowcases of kit %s have moved since it was handed out, so that cannot be undone.", k.KitRef)
		}
	}
	return KitMoves{Kits: []KitEntry{e}, Cases: cases}, heldSince(history[:len(history)-1]), nil
}

// counter gives the counter-entries to the newest written entries, which have to
// be n pillowcases together, and each one of those that are meant.
func counter(n int, written []WrittenCase, meant func(WrittenCase) bool) ([]CaseEntry, error) {
	newest := slices.SortedFunc(slices.Values(written), func(a, b WrittenCase) int { return cmp.Compare(b.ID, a.ID) })
	var list []CaseEntry
	for _, w := range newest {
		if n <= 0 {
			break
		}
		if !meant(w) {
			return nil, fmt.Errorf("entry %d came in between", w.ID)
		}
		n -= w.N
		list = append(list, CaseEntry{
			Size: w.Size, N: w.N, Asked: w.ToAsked, Kit: w.ToKit, Part: w.ToPart, From: w.To,
			ToAsked: w.Asked, ToKit: w.Kit, ToPart: w.Part, To: w.From, Person: w.Person, Reason: undone, Undoes: &w.ID,
		})
	}
	if n != 0 {
		return nil, fmt.Errorf("the entries are %d pillowcases apart", n)
	}
	return list, nil
}

// heldSince is the day from which a kit has been where the history ends.
func heldSince(history []KitStep) time.Time {
	i := len(history) - 1
	for i > 0 && history[i-1].To == history[i].To && same(history[i-1].Holder, history[i].Holder) {
		i--
	}
	return history[i].Day
}

func same(a, b *int64) bool { return (a == nil) == (b == nil) && (a == nil || *a == *b) }

func (k Kit) giveTo(to Holder, due *time.Time, from CaseState, reason string) (KitMoves, error) {
	work := CaseOut
	if k.Mending {
		work = CaseToMend // sewn before: taken back, they are not sewn a second time
	}
	cases, n := k.move(k.Cases, []CaseState{from}, k.Part, work, &to.Number, reason)
	if n != k.Cases || n == 0 {
		return KitMoves{}, apperr.Conflict("Kit %s holds %s, but only %d lie here to go with it. Look at the kit first.", k.KitRef, pillowcases(k.Cases), n)
	}
	return KitMoves{Kits: []KitEntry{k.enterOut(&to.Number, due, reason)}, Cases: cases}, nil
}

// notBefore refuses a day before the kit came to where it is, and one before some
// of it left from there.
func (k Kit) notBefore(day time.Time) error {
	switch {
	case k.Since != nil && day.Before(*k.Since):
		return apperr.Invalid("day", "Kit %s %s, so this cannot have been before.", k.KitRef, k.Where())
	case k.Moved != nil && day.Before(*k.Moved):
		return apperr.Invalid("day", "Some of kit %s came or went on %s, so the rest cannot have gone before.", k.KitRef, dayWords(*k.Moved))
	}
	return nil
}

func (h Holder) takes() error {
	if !h.Active {
		return apperr.Invalid("person", "%s is not sewing at the moment. Change that on their page first.", h.Name)
	}
	return nil
}

// CheckDay refuses, by the field "day", a day that has not come yet.
func CheckDay(day, today time.Time) error {
	if why := wrongDay(day, today); why != "" {
		return apperr.Invalid("day", "%s", why)
	}
	return nil
}

func wrongDay(day, today time.Time) string {
	if day.After(today) {
		return "That day has not come yet. Give today or a day before."
	}
	return ""
}

func wrongDueDay(day time.Time, due *time.Time) string {
	switch {
	case due == nil:
		return ""
	case due.Before(day):
		return "That is before " + dayWords(day) + ". Give a day from then on, or leave it empty."
	case due.After(day.AddDate(2, 0, 0)):
		return "That is more than two years away. Look at the year again."
	}
	return ""
}

func pillowcases(n int) string {
	if n == 1 {
		return "1 pillowcase"
	}
	return fmt.Sprintf("%d pillowcases", n)
}
