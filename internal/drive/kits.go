package drive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
)

// KitRef names one part of a kit: 107 is its part 1, 107-2 what parted from it first.
type KitRef struct {
	Number int64 `db:"number" json:"number"`
	Part   int   `db:"part" json:"part"`
}

func (r KitRef) String() string { return KitName(r.Number, r.Part) }

// Compare orders kits as they are locked and listed: by number, then by part.
func (r KitRef) Compare(o KitRef) int {
	if r.Number != o.Number {
		return int(min(max(r.Number-o.Number, -1), 1))
	}
	return r.Part - o.Part
}

// KitName is what stands on a kit's label: "107", or "107-2" for what parted from it.
func KitName(number int64, part int) string {
	if part == 1 {
		return strconv.FormatInt(number, 10)
	}
	return fmt.Sprintf("%d-%d", number, part)
}

// ParseKitName reads what stands on a label, as KitName writes it; "107-1" is 107.
// Anything else is an invalid "kit".
func ParseKitName(typed string) (KitRef, error) {
	number, part, parted := strings.Cut(strings.TrimSpace(typed), "-")
	ref := KitRef{Part: 1}
	n, err := strconv.ParseUint(number, 10, 31)
	if err == nil && parted {
		var p uint64
		p, err = strconv.ParseUint(part, 10, 15)
		ref.Part = int(p)
	}
	ref.Number = int64(n)
	if err != nil || ref.Number == 0 || ref.Part == 0 {
		return KitRef{}, apperr.Invalid("kit", "A kit's number looks like 107, or 107-2 for what parted from it.")
	}
	return ref, nil
}

// SortedKits gives the kits in order, each once.
func SortedKits(refs []KitRef) []KitRef {
	sorted := slices.Clone(refs)
	slices.SortFunc(sorted, KitRef.Compare)
	return slices.Compact(sorted)
}

// KitHeld is how many pillowcases of a kit stand in one state for one line asked for.
type KitHeld struct {
	Asked int64     `db:"asked"`
	Size  int64     `db:"size"`
	State CaseState `db:"state"`
	N     int       `db:"n"`
}

// Kit is one part of a kit as it stands, with what its rules need to know: its
// pillowcases and who has it by name, for what is said to people.
type Kit struct {
	KitRef
	Parent     *int       `db:"parent"` // the part it parted from
	Asked      *int64     `db:"asked"`
	Size       int64      `db:"size"`
	Plan       *int64     `db:"plan"`
	OwnFabric  bool       `db:"own_fabric"` // a card and a due date; the cloth is the volunteer's
	Cases      int        `db:"cases"`
	State      KitState   `db:"state"`
	Holder     *int64     `db:"holder"`
	Since      *time.Time `db:"since"`
	Due        *time.Time `db:"due"`
	Note       string     `db:"note"`
	Place      string     `db:"place"` // where its bag lies while it is here; empty: nobody said
	Loose      bool       `db:"loose"` // taken apart, and its panels are good and lie loose
	HolderName string     `db:"holder_name"`
	LastPart   int        `db:"last_part"` // the highest part of its number
	Moved      *time.Time `db:"moved"`     // the latest day on which some of its pillowcases moved, undone steps left out
	Mending    bool       `db:"mending"`   // lost while its pillowcases, sewn before, were out to be mended
	Held       []KitHeld  `db:"-"`
}

// NewKit is a part about to be placed by its first entry.
type NewKit struct {
	KitRef
	Parent    *int
	Asked     *int64
	Size      int64
	Plan      *int64
	OwnFabric bool
	Note      string
}

// KitMoves is what one decision about kits writes: rows for new parts, then the
// entries of both ledgers, in this order.
type KitMoves struct {
	Born  []NewKit
	Kits  []KitEntry
	Cases []CaseEntry
}

// Add appends the moves of another decision.
func (m *KitMoves) Add(o KitMoves) {
	m.Born = append(m.Born, o.Born...)
	m.Kits = append(m.Kits, o.Kits...)
	m.Cases = append(m.Cases, o.Cases...)
}

// kitSteps are the allowed moves: where a kit may go from where it is.
var kitSteps = map[KitState][]KitState{
	KitBorn:    {KitPlanned, KitReady, KitOut, KitBack, KitFound},
	KitPlanned: {KitOnTable, KitCut, KitTakenApart},
	KitOnTable: {KitPlanned, KitCut, KitTakenApart},
	KitCut:     {KitCut, KitReady, KitOut, KitLost, KitTakenApart},
	KitReady:   {KitReady, KitOut, KitLost, KitTakenApart, KitCut, KitFound},          // cut or found again only where bagging is undone
	KitOut:     {KitOut, KitBack, KitReady, KitLost, KitCut, KitFound, KitTakenApart}, // taken apart only where a split is undone
	KitBack:    {KitOut, KitBack, KitLost, KitTakenApart},                             // lost again only where finding it is undone
	KitLost:    {KitFound, KitBack, KitOut, KitLost},                                  // still lost where only some of it turned up
	KitFound:   {KitFound, KitReady, KitOut, KitLost, KitTakenApart},
}

// MayGo says whether a kit may go from this place to that one.
func (s KitState) MayGo(to KitState) bool { return slices.Contains(kitSteps[s], to) }

// InHouse says whether a kit of this state lies here and can be handed out.
func (s KitState) InHouse() bool { return s == KitCut || s == KitReady || s == KitFound }

// DaysLate is how many days a kit has been due at a day, negative before; ok is
// false where no day was agreed.
func DaysLate(due *time.Time, today time.Time) (days int, ok bool) {
	if due == nil {
		return 0, false
	}
	return daysBetween(*due, today), true
}

// Late says whether a kit is out and past its day.
func (k Kit) Late(today time.Time) bool {
	days, ok := DaysLate(k.Due, today)
	return k.State == KitOut && ok && days > 0
}

// DueSoon says whether a kit is out and its day is today or within DueSoonDays.
func (k Kit) DueSoon(today time.Time) bool {
	days, ok := DaysLate(k.Due, today)
	return k.State == KitOut && ok && days <= 0 && days >= -DueSoonDays
}

// Count is how many of the kit's pillowcases stand in these states.
func (k Kit) Count(states ...CaseState) int {
	n := 0
	for _, h := range k.Held {
		if slices.Contains(states, h.State) {
			n += h.N
		}
	}
	return n
}

// Where says where the kit is, as a clause after its name.
func (k Kit) Where() string {
	switch k.State {
	case KitOut:
		return fmt.Sprintf("is with %s since %s", k.HolderName, k.sinceText())
	case KitBack:
		return "came back on " + k.sinceText()
	case KitLost:
		return "was booked as lost on " + k.sinceText()
	case KitTakenApart:
		return "was taken apart on " + k.sinceText()
	case KitPlanned, KitOnTable:
		return "is not cut yet"
	case KitFound:
		return "was found and lies here"
	}
	return "is " + string(k.State) + " and lies here"
}

func (k Kit) sinceText() string {
	if k.Since == nil {
		return "a day nobody wrote down"
	}
	return dayWords(*k.Since)
}

// dayWords writes a day as the pages do: 3 Dec 2026.
func dayWords(day time.Time) string { return day.Format("2 Jan 2006") }

// enter is the kit's entry to a place, holding as many pillowcases as before.
// It panics on a move that is not allowed: whoever calls it has decided by then.
func (k Kit) enter(to KitState, reason string) KitEntry {
	if !k.State.MayGo(to) {
		panic(fmt.Sprintf("kit %s may not go from %q to %q", k.KitRef, k.State, to))
	}
	return KitEntry{Kit: k.Number, Part: k.Part, From: k.State, To: to, Cases: k.Cases, Reason: reason}
}

// enterOut is the kit's entry to somebody's hands.
func (k Kit) enterOut(holder *int64, due *time.Time, reason string) KitEntry {
	e := k.enter(KitOut, reason)
	e.Holder, e.Due = holder, due
	return e
}

// move gives the entries that take up to n pillowcases of the kit from the
// states in turn to another part and state, and how many it found.
func (k Kit) move(n int, from []CaseState, part int, to CaseState, person *int64, reason string) ([]CaseEntry, int) {
	var list []CaseEntry
	moved := 0
	for _, state := range from {
		for _, h := range k.Held {
			take := min(h.N, n-moved)
			if h.State != state || take <= 0 {
				continue
			}
			list = append(list, CaseEntry{
				Size: h.Size, N: take, Asked: h.Asked, Kit: k.Number, Part: k.Part, From: h.State,
				ToAsked: h.Asked, ToKit: k.Number, ToPart: part, To: to, Person: person, Reason: reason,
			})
			moved += take
		}
	}
	return list, moved
}
