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
// arrived, Missing were settled as not received; the rest is open.
type BoxLine struct {
	Line      int   `db:"line"`
	Asked     int64 `db:"asked"`
	Size      int64 `db:"size"`
	Kit       int64 `db:"kit"`
	Part      int   `db:"part"`
	N         int   `db:"n"`
	Confirmed int   `db:"confirmed"`
	Missing   int   `db:"missing"`
}

// Open is how many of the line are neither confirmed nor settled.
func (l BoxLine) Open() int { return l.N - l.Confirmed - l.Missing }

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
			refuse(field, "Only %d of these are good and not packed yet.", w.N-left)
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
		return nil, apperr.Conflict("Box %d went out with delivery %d.", b.Number, *b.Delivery)
	}
	list := make([]CaseEntry, 0, len(b.Lines))
	for _, l := range b.Lines {
		e := l.stack(CasePacked).entry(l.N, CaseGood)
		e.Box, e.Reason = &b.Number, "unpacked"
		list = append(list, e)
	}
	return list, nil
}

// Send gives the entries that take a box on its way with a delivery, on a day that
// is not before the day it was packed in the drive's zone.
func (b Box) Send(delivery, recipient int64, on time.Time, zone *time.Location) ([]CaseEntry, error) {
	packed := Day(b.CreatedAt, zone)
	switch {
	case b.Recipient != recipient:
		return nil, apperr.Conflict("Box %d is packed for somebody else.", b.Number)
	case b.Emptied || len(b.Lines) == 0:
		return nil, apperr.Conflict("Box %d is empty.", b.Number)
	case b.Delivery != nil:
		return nil, apperr.Conflict("Box %d went out with delivery %d.", b.Number, *b.Delivery)
	case on.Before(packed):
		return nil, apperr.Invalid("sent_on", "Box %d was packed on %s: it cannot have left before.", b.Number, dayWords(packed))
	}
	list := make([]CaseEntry, 0, len(b.Lines))
	for _, l := range b.Lines {
		e := l.stack(CasePacked).entry(l.N, CaseDelivered)
		e.Box, e.Delivery = &b.Number, &delivery
		list = append(list, e)
	}
	return list, nil
}

// Delivery is boxes that went to one recipient, and who said that they arrived.
type Delivery struct {
	Number       int64      `db:"number"`
	Recipient    int64      `db:"recipient"`
	SentOn       time.Time  `db:"sent_on"`
	CarriedBy    string     `db:"carried_by"`
	ConfirmedOn  *time.Time `db:"confirmed_on"`
	ConfirmedBy  string     `db:"confirmed_by"`
	ConfirmedHow string     `db:"confirmed_how"`
	Note         string     `db:"note"`
	CreatedAt    time.Time  `db:"created_at"`
	Version      int        `db:"version"`
	Boxes        []Box      `db:"-"`
}

// Cases, Confirmed and Open count the pillowcases of a delivery.
func (d Delivery) Cases() int     { return d.sum(func(l BoxLine) int { return l.N }) }
func (d Delivery) Confirmed() int { return d.sum(func(l BoxLine) int { return l.Confirmed }) }
func (d Delivery) Open() int      { return d.sum(BoxLine.Open) }

func (d Delivery) sum(of func(BoxLine) int) int {
	n := 0
	for _, b := range d.Boxes {
		for _, l := range b.Lines {
			n += of(l)
		}
	}
	return n
}

// CheckSent says what is wrong with a delivery before it is made, by field.
func CheckSent(sentOn, today time.Time, boxes int, carriedBy, note string) error {
	var bad []apperr.Field
	if why := wrongDay(sentOn, today); why != "" {
		bad = append(bad, apperr.Field{Name: "sent_on", Why: why})
	}
	if boxes == 0 {
		bad = append(bad, apperr.Field{Name: "boxes", Why: "Tick the boxes that go."})
	}
	bad = append(bad, tooLong("carried_by", carriedBy, 120)...)
	bad = append(bad, tooLong("note", note, 2000)...)
	return apperr.InvalidFields(bad)
}

// Ways by which a recipient says that a delivery arrived.
const (
	ByPhone = "by phone"
	ByNote  = "signed note"
	InHand  = "in person"
)

// Arrived is what a recipient says arrived of one size in one box.
type Arrived struct {
	Box  int64
	Size int64
	N    int
}

// Confirmation is who said what arrived, when and how.
type Confirmation struct {
	By      string
	How     string
	On      time.Time
	Arrived []Arrived
}

// Confirm books what arrived. Counts below what was sent stay open until
// somebody settles them; a count above what is still open is refused, by field
// "n.BOX.SIZE". It gives the lines as they then stand, by box.
func (d Delivery) Confirm(c Confirmation, today time.Time) (map[int64][]BoxLine, []CaseEntry, error) {
	var bad []apperr.Field
	refuse := func(field, format string, args ...any) {
		bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
	}
	if n := len([]rune(strings.TrimSpace(c.By))); n < 1 || n > 120 {
		refuse("by", "Say who confirmed it.")
	}
	if c.How != ByPhone && c.How != ByNote && c.How != InHand {
		refuse("how", "Choose how it was confirmed.")
	}
	if why := wrongDay(c.On, today); why != "" {
		refuse("on", "%s", why)
	} else if c.On.Before(d.SentOn) {
		refuse("on", "It was sent on %s: it cannot have arrived before.", dayWords(d.SentOn))
	}
	if d.Open() == 0 {
		return nil, nil, apperr.Conflict("Everything of delivery %d is confirmed or settled already.", d.Number)
	}
	if len(bad) > 0 {
		return nil, nil, apperr.InvalidFields(bad)
	}
	// Who said so stands with the delivery, where it can be erased; ledgers name nobody.
	return d.settle(c.Arrived, CaseConfirmed, "confirmed "+c.How)
}

// NotReceived settles what is still open of a delivery: it did not arrive.
func (d Delivery) NotReceived(reason string) (map[int64][]BoxLine, []CaseEntry, error) {
	if d.ConfirmedOn == nil {
		return nil, nil, apperr.Conflict("Nobody confirmed delivery %d yet. Note first what arrived.", d.Number)
	}
	if d.Open() == 0 {
		return nil, nil, apperr.Conflict("Everything of delivery %d is confirmed or settled already.", d.Number)
	}
	if n := len([]rune(strings.TrimSpace(reason))); n < 1 || n > 500 {
		return nil, nil, apperr.Invalid("reason", "Say what became of them, as far as anybody knows.")
	}
	var rest []Arrived
	for _, b := range d.Boxes {
		for _, l := range b.Lines {
			rest = append(rest, Arrived{Box: b.Number, Size: l.Size, N: l.Open()})
		}
	}
	return d.settle(rest, CaseNotReceived, strings.TrimSpace(reason))
}

func (d Delivery) settle(said []Arrived, to CaseState, reason string) (map[int64][]BoxLine, []CaseEntry, error) {
	lines := map[int64][]BoxLine{}
	for _, b := range d.Boxes {
		lines[b.Number] = slices.Clone(b.Lines)
	}
	var bad []apperr.Field
	var entries []CaseEntry
	for _, a := range said {
		field := fmt.Sprintf("n.%d.%d", a.Box, a.Size)
		left, open := a.N, 0
		for i := range lines[a.Box] {
			l := &lines[a.Box][i]
			if l.Size != a.Size {
				continue
			}
			open += l.Open()
			take := min(left, l.Open())
			if take <= 0 {
				continue
			}
			e := l.stack(CaseDelivered).entry(take, to)
			e.Box, e.Delivery, e.Reason = &a.Box, &d.Number, reason
			entries = append(entries, e)
			if to == CaseConfirmed {
				l.Confirmed += take
			} else {
				l.Missing += take
			}
			left -= take
		}
		if a.N < 0 || left > 0 {
			bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf("%d went in this box and are not confirmed yet: give 0 to %d. What came above that is brought in as new.", open, open)})
		}
	}
	if len(bad) > 0 {
		return nil, nil, apperr.InvalidFields(bad)
	}
	return lines, entries, nil
}
