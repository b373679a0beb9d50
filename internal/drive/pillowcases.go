package drive

import (
	"time"

	"boltward/internal/apperr"
)

// Stack is pillowcases of one size that stand in one state: for one line asked
// for (0: not promised yet), from one part of a kit (0: brought in without one).
type Stack struct {
	Asked int64     `db:"asked"`
	Size  int64     `db:"size"`
	Kit   int64     `db:"kit"`
	Part  int       `db:"part"`
	State CaseState `db:"state"`
	N     int       `db:"n"`
}

// CountStacks adds stacks up by state.
func CountStacks(stacks []Stack) Counts {
	counts := Counts{}
	for _, s := range stacks {
		counts[s.State] += s.N
	}
	return counts
}

// KitRef is the part of the kit the stack comes from; its Number is 0 without one.
func (s Stack) KitRef() KitRef { return KitRef{Number: s.Kit, Part: s.Part} }

// entry takes n of the stack to another state.
func (s Stack) entry(n int, to CaseState) CaseEntry {
	return CaseEntry{
		Size: s.Size, N: n, Asked: s.Asked, Kit: s.Kit, Part: s.Part, From: s.State,
		ToAsked: s.Asked, ToKit: s.Kit, ToPart: s.Part, To: to,
	}
}

// BroughtIn is pillowcases that came without a kit, sewn from people's own fabric.
type BroughtIn struct {
	Size  int64
	N     int
	Asked int64  // the line they are for; 0: not promised yet
	Maker *int64 // who sewed them, where it is known
	Note  string // is kept apart from the ledger: people write names into notes
}

// BringIn lets pillowcases that came without a kit be: they start as sewn and
// wait to be checked. It refuses fewer than one or more than 1,000 at once.
func BringIn(b BroughtIn) (CaseEntry, error) {
	if b.N < 1 || b.N > 1000 {
		return CaseEntry{}, apperr.Invalid("n", "Say how many were brought in, 1 to 1,000 at once.")
	}
	if bad := tooLong("note", b.Note, 2000); bad != nil {
		return CaseEntry{}, apperr.InvalidFields(bad)
	}
	return CaseEntry{Size: b.Size, N: b.N, From: CaseBorn, ToAsked: b.Asked, To: CaseSewn, Person: b.Maker}, nil
}

// ReasonMendedHere stands on entries of pillowcases that were mended at the table.
const ReasonMendedHere = "mended here"

// MendedHere books pillowcases that were mended at the table: they wait to be
// checked once more.
func (s Stack) MendedHere(n int) (CaseEntry, error) {
	if s.State != CaseToMend {
		return CaseEntry{}, apperr.Conflict("Only pillowcases that wait to be mended can be mended.")
	}
	if n < 1 || n > s.N {
		return CaseEntry{}, apperr.Invalid("n", "Say how many were mended, 1 to %d.", s.N)
	}
	e := s.entry(n, CaseSewn)
	e.Reason = ReasonMendedHere
	return e, nil
}

// Promise gives pillowcases that nobody was promised yet to a line asked for.
func (s Stack) Promise(n int, asked int64) (CaseEntry, error) {
	switch {
	case s.Asked != 0 || asked == 0:
		return CaseEntry{}, apperr.Conflict("Only pillowcases that are not promised yet can be promised to a line.")
	case s.State != CaseSewn && s.State != CaseGood && s.State != CaseToMend:
		return CaseEntry{}, apperr.Conflict("These pillowcases have left the table already.")
	case n < 1 || n > s.N:
		return CaseEntry{}, apperr.Invalid("n", "Say how many of them, 1 to %d.", s.N)
	}
	e := s.entry(n, s.State)
	e.ToAsked, e.Reason = asked, ReasonPromised
	return e, nil
}

// SendToMend gives pillowcases of a kit that lie here to mend to somebody, as a
// new part of the kit, or as the kit itself where nothing else of it is here.
// They stay "to mend" while they are out. s is the stack, k its kit.
func (s Stack) SendToMend(k Kit, n int, to Holder, day time.Time, due *time.Time) (KitMoves, error) {
	if err := s.maySend(n, to, due, day); err != nil {
		return KitMoves{}, err
	}
	if k.State != KitBack {
		return KitMoves{}, apperr.Conflict("Kit %s %s, so nothing of it can be sent to be mended.", k.KitRef, k.Where())
	}
	if n == k.Cases {
		return KitMoves{Kits: []KitEntry{k.enterOut(&to.Number, due, "to mend")}}, nil
	}
	child := k.part(KitOut, n, "to mend")
	child.Kits[0].Holder, child.Kits[0].Due = &to.Number, due
	rest := k
	rest.Cases -= n
	e := s.entry(n, CaseToMend)
	e.ToPart, e.Person, e.Reason = child.Born[0].Part, &to.Number, "out to be mended"
	child.Kits = append(child.Kits, rest.enter(KitBack, "to mend"))
	child.Cases = []CaseEntry{e}
	return child, nil
}

// SendToMendLoose is SendToMend for pillowcases that came without a kit: they
// become a kit of that number, with no fabric of ours.
func (s Stack) SendToMendLoose(number int64, n int, to Holder, day time.Time, due *time.Time) (KitMoves, error) {
	if err := s.maySend(n, to, due, day); err != nil {
		return KitMoves{}, err
	}
	ref := KitRef{Number: number, Part: 1}
	var asked *int64
	if s.Asked != 0 {
		asked = &s.Asked
	}
	e := s.entry(n, CaseToMend)
	e.ToKit, e.ToPart, e.Person, e.Reason = number, 1, &to.Number, "out to be mended"
	out := Kit{KitRef: ref, State: KitBorn, Cases: n}.enterOut(&to.Number, due, "to mend")
	return KitMoves{
		Born:  []NewKit{{KitRef: ref, Asked: asked, Size: s.Size, OwnFabric: true}},
		Kits:  []KitEntry{out},
		Cases: []CaseEntry{e},
	}, nil
}

// mostMended is how many pillowcases go out to be mended at once: as many as a kit may hold.
const mostMended = 500

func (s Stack) maySend(n int, to Holder, due *time.Time, day time.Time) error {
	if s.State != CaseToMend {
		return apperr.Conflict("Only pillowcases that wait to be mended can be sent.")
	}
	if n < 1 || n > s.N {
		return apperr.Invalid("n", "Say how many go out to be mended, 1 to %d.", s.N)
	}
	if n > mostMended {
		return apperr.Invalid("n", "Send up to %d at once, and the rest as a kit of their own.", mostMended)
	}
	if err := to.takes(); err != nil {
		return err
	}
	if why := wrongDueDay(day, due); why != "" {
		return apperr.Invalid("due", "%s", why)
	}
	return nil
}

// Counter gives the counter-entry to a written entry: the way back.
func (w WrittenCase) Counter(reason string) CaseEntry {
	id := w.ID
	return CaseEntry{
		Size: w.Size, N: w.N, Asked: w.ToAsked, Kit: w.ToKit, Part: w.ToPart, From: w.To,
		ToAsked: w.Asked, ToKit: w.Kit, ToPart: w.Part, To: w.From,
		Person: w.Person, Box: w.Box, Delivery: w.Delivery, Reason: reason, Undoes: &id,
	}
}
