package drive

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"boltward/internal/apperr"
)

// BoxLine is pillowcases in a box, by the line they are for and the kit they
// come from, so that cloth can be followed to the ward. Confirmed of them
// arrived, Missing were settled as not received, Returned came back; the rest is
// open. Added came to light when the recipient counted: no note has them.
type BoxLine struct {
	Line      int   `db:"line"`
	Asked     int64 `db:"asked"`
	Size      int64 `db:"size"`
	Kit       int64 `db:"kit"`
	Part      int   `db:"part"`
	N         int   `db:"n"`
	Confirmed int   `db:"confirmed"`
	Missing   int   `db:"missing"`
	Returned  int   `db:"returned"`
	Added     bool  `db:"added"`
}

// Open is how many of the line are neither confirmed nor settled.
func (l BoxLine) Open() int { return l.N - l.Confirmed - l.Missing - l.Returned }

func (l BoxLine) stack(state CaseState) Stack {
	return Stack{Asked: l.Asked, Size: l.Size, Kit: l.Kit, Part: l.Part, State: state, N: l.N}
}

// Box is a numbered box for one recipient.
type Box struct {
	Number    int64     `db:"number"`
	Recipient int64     `db:"recipient"`
	Delivery  *int64    `db:"delivery"`
	PackedBy  string    `db:"packed_by"`
	CheckedBy string    `db:"checked_by"`
	Emptied   bool      `db:"emptied"`
	CreatedAt time.Time `db:"created_at"`
	Version   int       `db:"version"`
	Lines     []BoxLine `db:"-"`
}

// Cases is how many pillowcases lie in the box.
func (b Box) Cases() int {
	n := 0
	for _, l := range b.Lines {
		n += l.N
	}
	return n
}

// BoxSize is how many of one size a box holds: Noted stand on the delivery note.
type BoxSize struct {
	Size      int64
	N         int
	Noted     int
	Confirmed int
}

// BySize adds up what lies in the box, in the order in which the sizes first appear.
func (b Box) BySize() []BoxSize {
	var list []BoxSize
	at := map[int64]int{}
	for _, l := range b.Lines {
		i, seen := at[l.Size]
		if !seen {
			i = len(list)
			at[l.Size] = i
			list = append(list, BoxSize{Size: l.Size})
		}
		list[i].N += l.N
		list[i].Confirmed += l.Confirmed
		if !l.Added {
			list[i].Noted += l.N
		}
	}
	return list
}

// Pack is what somebody wants in a box: so many of a size for a line.
type Pack struct {
	Asked int64
	Size  int64
	N     int
}

// PackBox takes what is wanted from the good pillowcases, oldest kits first, and
// gives the lines of the box with the entries that fill it. Two people put their
// initials: who packed and who counted again. By field it refuses an empty
// box, missing initials, and more than are good: field "n.ASKED.SIZE".
func PackBox(box int64, packedBy, checkedBy string, want []Pack, good []Stack) ([]BoxLine, []CaseEntry, error) {
	var bad []apperr.Field
	refuse := func(field, format string, args ...any) {
		bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
	}
	for _, who := range []struct{ field, initials, what string }{{"packed_by", packedBy, "who packed it"}, {"checked_by", checkedBy, "who counted it again"}} {
		if n := len([]rune(strings.TrimSpace(who.initials))); n < 1 || n > 12 {
			refuse(who.field, "Give the initials of %s.", who.what)
		}
	}
	if len(bad) == 0 && strings.EqualFold(strings.TrimSpace(packedBy), strings.TrimSpace(checkedBy)) {
		refuse("checked_by", "Somebody else counts it again. Where initials are the same, add a letter.")
	}
	good = slices.Clone(good)
	slices.SortFunc(good, func(a, b Stack) int { return cmp.Or(cmp.Compare(a.Kit, b.Kit), cmp.Compare(a.Part, b.Part)) })
	var lines []BoxLine
	var entries []CaseEntry
	total := 0
	for _, w := range want {
		if w.N == 0 {
			continue
		}
		field := fmt.Sprintf("n.%d.%d", w.Asked, w.Size)
		if w.N < 0 || w.N > 10_000 {
			refuse(field, "Counts start at 0.")
			continue
		}
		left := w.N
		for i := range good {
			s := good[i]
			take := min(left, s.N)
			if s.State != CaseGood || s.Asked != w.Asked || s.Size != w.Size || take == 0 {
				continue
			}
			e := s.entry(take, CasePacked)
			e.Box = &box
			entries = append(entries, e)
			lines = append(lines, BoxLine{Line: len(lines) + 1, Asked: s.Asked, Size: s.Size, Kit: s.Kit, Part: s.Part, N: take})
			good[i].N -= take
			left -= take
		}
		if left > 0 {
			switch n := w.N - left; n {
			case 0:
				refuse(field, "None of these waits for a box any more: somebody may have packed them.")
			case 1:
				refuse(field, "Only 1 of these is good and not packed yet.")
			default:
				refuse(field, "Only %d of these are good and not packed yet.", n)
			}
		}
		total += w.N
	}
	if total == 0 && len(bad) == 0 {
		refuse("", "Say how many of which go into the box.")
	}
	if len(bad) > 0 {
		return nil, nil, apperr.InvalidFields(bad)
	}
	return lines, entries, nil
}

// Unpack gives the entries that take a box that was not sent apart again.
func (b Box) Unpack() ([]CaseEntry, error) {
	switch {
	case b.Emptied:
		return nil, apperr.Conflict("Box %d was unpacked already.", b.Number)
	case b.Delivery != nil:
		return nil, apperr.Conflict("Box %d goes with delivery %d.", b.Number, *b.Delivery)
	}
	list := make([]CaseEntry, 0, len(b.Lines))
	for _, l := range b.Lines {
		e := l.stack(CasePacked).entry(l.N, CaseGood)
		e.Box, e.Reason = &b.Number, "unpacked"
		list = append(list, e)
	}
	return list, nil
}
