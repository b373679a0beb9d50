package drive

import (
	"fmt"
	"slices"
	"time"

	"boltward/internal/apperr"
)

// Beyond is what becomes of pillowcases that are good already when a line is lowered below them.
type Beyond string

// What may become of them.
const (
	BeyondUnsaid  Beyond = ""
	BeyondKeep    Beyond = "keep"    // the recipient gets them all the same
	BeyondRelease Beyond = "release" // not promised to anybody
)

// Reasons on entries that change whose pillowcases are.
const (
	ReasonPromised = "promised"
	ReasonMoved    = "moved to another line"
	ReasonReleased = "not asked for any more"
)

// LowerTo says how many good pillowcases of a line have to be released so that it can ask for no more
// than this. By field it refuses what was delivered already, and what is good where nobody said what becomes of it. Packed
// ones are never released: their box is emptied first.
func (c Counts) LowerTo(wanted int, beyond Beyond) (release int, err error) {
	st := c.Standing(wanted)
	packed := c[CasePacked]
	over := st.Delivered + st.Good - wanted
	switch {
	case wanted < st.Delivered:
		return 0, apperr.Invalid("wanted", "%d were delivered already. Ask for %d or more; or close the line, and nothing more is made for it.", st.Delivered, st.Delivered)
	case over <= 0 || beyond == BeyondKeep:
		return 0, nil
	case beyond != BeyondRelease:
		return 0, apperr.Invalid("beyond", "%s good already than are asked for then. Say what becomes of %s.", more(over), them(over))
	case over > c[CaseGood]:
		return 0, apperr.Invalid("beyond", "%d of them are packed in boxes. Empty a box first, or keep them for this recipient.", min(packed, over-c[CaseGood]))
	}
	return over, nil
}

// Takes refuses by field to give a line more than it lacks: what was delivered to it and what is good
// for it already is not given again.
func (c Counts) Takes(wanted, n int) error {
	switch lacks := c.Standing(wanted).Lacks(); {
	case lacks == 0:
		return apperr.Invalid("n", "Nothing is lacking here any more: what was asked for is delivered or good.")
	case n > lacks:
		return apperr.Invalid("n", "%d are lacking here, so give 1 to %d.", lacks, lacks)
	}
	return nil
}

func more(n int) string {
	if n == 1 {
		return "1 more is"
	}
	return fmt.Sprintf("%d more are", n)
}

func them(n int) string {
	if n == 1 {
		return "it"
	}
	return "them"
}

// Release takes n good pillowcases from the promise of a line, out of its stacks in turn.
func Release(stacks []Stack, n int) []CaseEntry {
	var list []CaseEntry
	for _, s := range stacks {
		if k := min(n, s.N); k > 0 {
			e := s.entry(k, s.State)
			e.ToAsked, e.Reason = 0, ReasonReleased
			list = append(list, e)
			n -= k
		}
	}
	return list
}

// Move gives good pillowcases that are promised to one line to another: somebody's decision. Those
// that nobody was promised are promised by Promise.
func (s Stack) Move(n int, asked int64) (CaseEntry, error) {
	switch {
	case s.Asked == 0 || asked == 0 || s.Asked == asked:
		return CaseEntry{}, apperr.Conflict("Choose another line that these pillowcases go to.")
	case s.State != CaseGood:
		return CaseEntry{}, apperr.Conflict("Only good pillowcases that lie here unpacked can go to another line.")
	case n < 1 || n > s.N:
		return CaseEntry{}, apperr.Invalid("n", "Say how many of them, 1 to %d.", s.N)
	}
	e := s.entry(n, s.State)
	e.ToAsked, e.Reason = asked, ReasonMoved
	return e, nil
}

// Spare is good pillowcases that lie here and could fill a line sooner than new ones.
type Spare struct {
	Stack
	SizeName string
	ForWhom  string     // whose they are now; empty: nobody's
	Due      *time.Time // by when those are due
	Most     int        // to give of them: no more than the line lacks
}

// Spares lists what is finished elsewhere and fits a line that lacks some: first what nobody was
// promised, then what is more than a line that goes before asks for, then what is due later, the latest
// first. stacks are of good pillowcases; lines are all that is asked for.
func (l AskedLine) Spares(stacks []Spare, lines []AskedLine) []Spare {
	lacks := l.Standing().Lacks()
	if l.Closed || lacks == 0 {
		return nil
	}
	of := map[int64]AskedLine{}
	for _, other := range lines {
		of[other.Number] = other
	}
	var free, over, later []Spare
	for _, s := range stacks {
		s.Most = min(s.N, lacks)
		switch other := of[s.Asked]; {
		case s.State != CaseGood || !slices.Contains(l.Sizes, s.Size) || s.Asked == l.Number:
		case s.Asked == 0:
			free = append(free, s)
		case l.before(other):
			later = append(later, s)
		default:
			st := other.Standing()
			if s.Most = min(s.Most, st.Delivered+st.Good-other.Wanted); s.Most > 0 {
				over = append(over, s)
			}
		}
	}
	return slices.Concat(free, over, later)
}

// before says whether a line goes before another for what lies here: it is due sooner, or the
// other asks for no more.
func (l AskedLine) before(other AskedLine) bool {
	if other.Closed {
		return true
	}
	if l.Due == nil {
		return false
	}
	return other.Due == nil || other.Due.After(*l.Due)
}
