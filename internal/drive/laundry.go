package drive

import (
	"fmt"
	"strings"
	"time"

	"boltward/internal/apperr"
)

// Washable is pillowcases of one stack that lie here, sewn or good, and how far
// they have come in the laundry.
type Washable struct {
	Asked  int64 `db:"asked"`
	Size   int64 `db:"size"`
	Kit    int64 `db:"kit"`
	Part   int   `db:"part"`
	Here   int   `db:"here"`
	Good   int   `db:"good"`   // of those here
	Washed int   `db:"washed"` // in batches that are done, and not gone since
	InWash int   `db:"in_wash"`
}

// KitRef is the part of the kit they come from; its Number is 0 without one.
func (w Washable) KitRef() KitRef { return KitRef{Number: w.Kit, Part: w.Part} }

// Clean is how many of those here are laundered.
func (w Washable) Clean() int { return min(w.Washed, w.Here) }

// Free is how many of those here neither are laundered nor in a batch.
func (w Washable) Free() int { return max(w.Here-w.Clean()-w.InWash, 0) }

// GoodInWash is how many of the good ones are in a batch that is not done, for sure: as
// long as sewn ones lie here too, those may be what is in the wash.
func (w Washable) GoodInWash() int { return max(w.InWash-(w.Here-w.Good), 0) }

// SewnInWash is the same of those that wait to be checked.
func (w Washable) SewnInWash() int { return max(w.InWash-w.Good, 0) }

// Field is the field of a form that says how many of the stack go into a batch.
func (w Washable) Field() string {
	return fmt.Sprintf("n.%d.%d.%d.%d", w.Asked, w.Size, w.Kit, w.Part)
}

// WashableOf reads the stack back from its field; false for any other field.
func WashableOf(field string) (w Washable, ok bool) {
	_, err := fmt.Sscanf(field, "n.%d.%d.%d.%d", &w.Asked, &w.Size, &w.Kit, &w.Part)
	return w, err == nil && w.Field() == field
}

// LaundryLine is pillowcases of one stack in a batch.
type LaundryLine struct {
	Line  int   `db:"line"`
	Asked int64 `db:"asked"`
	Size  int64 `db:"size"`
	Kit   int64 `db:"kit"`
	Part  int   `db:"part"`
	N     int   `db:"n"`
}

// Batch is pillowcases that are laundered together.
type Batch struct {
	Number    int64         `db:"number"`
	StartedOn time.Time     `db:"started_on"`
	StartedBy string        `db:"started_by"` // initials
	DoneOn    *time.Time    `db:"done_on"`
	DoneBy    string        `db:"done_by"`
	Note      string        `db:"note"`
	UndoneAt  *time.Time    `db:"undone_at"`
	Lines     []LaundryLine `db:"-"`
}

// Cases is how many pillowcases are in the batch.
func (b Batch) Cases() int {
	n := 0
	for _, l := range b.Lines {
		n += l.N
	}
	return n
}

// StartBatch puts what is wanted into a new batch. By field it refuses missing
// initials, an empty batch, and more of a stack than lie here unlaundered.
func StartBatch(by, note string, want []LaundryLine, here []Washable) ([]LaundryLine, error) {
	var bad []apperr.Field
	refuse := func(field, format string, args ...any) {
		bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
	}
	if why := wrongInitials(by); why != "" {
		refuse("by", "Give the initials of who puts them in.")
	}
	bad = append(bad, tooLong("note", note, 500)...)
	var lines []LaundryLine
	total := 0
	for _, l := range want {
		w := Washable{Asked: l.Asked, Size: l.Size, Kit: l.Kit, Part: l.Part}
		for _, h := range here {
			if h.Asked == l.Asked && h.Size == l.Size && h.Kit == l.Kit && h.Part == l.Part {
				w = h
			}
		}
		switch {
		case l.N == 0:
			continue
		case l.N < 0:
			refuse(w.Field(), "Counts start at 0.")
		case l.N > w.Free():
			switch free := w.Free(); free {
			case 0:
				refuse(w.Field(), "None of these lies here unlaundered any more.")
			case 1:
				refuse(w.Field(), "Only 1 of these lies here and is not laundered.")
			default:
				refuse(w.Field(), "Only %d of these lie here and are not laundered.", free)
			}
		}
		total += l.N
		l.Line = len(lines) + 1
		lines = append(lines, l)
	}
	if total == 0 && len(bad) == 0 {
		refuse("", "Say how many of which go into the wash.")
	}
	return lines, apperr.InvalidFields(bad)
}

// Finish says that a batch is clean and dry on a day.
func (b Batch) Finish(by string, on, today time.Time) error {
	var bad []apperr.Field
	if why := wrongInitials(by); why != "" {
		bad = append(bad, apperr.Field{Name: "by", Why: "Give the initials of who took them out."})
	}
	switch why := wrongDay(on, today); {
	case b.UndoneAt != nil:
		return apperr.Conflict("Batch %d was undone.", b.Number)
	case b.DoneOn != nil:
		return apperr.Conflict("Batch %d is done already.", b.Number)
	case why != "":
		bad = append(bad, apperr.Field{Name: "on", Why: why})
	case on.Before(b.StartedOn):
		bad = append(bad, apperr.Field{Name: "on", Why: fmt.Sprintf("Batch %d was started on %s: it cannot have been done before.", b.Number, dayWords(b.StartedOn))})
	}
	return apperr.InvalidFields(bad)
}

// StaysDone refuses to take back that a batch is done where so many of it went on as laundered.
func StaysDone(number int64, gone int) error {
	if gone == 0 {
		return nil
	}
	return apperr.Conflict("Batch %d stays done: %s of it went on as laundered. They were packed, or found to mend or not usable. Undo that first (unpack the box, where it is still here), or leave the batch as it is.",
		number, pillowcases(gone))
}

func wrongInitials(typed string) string {
	if n := len([]rune(strings.TrimSpace(typed))); n < 1 || n > 12 {
		return "Give initials, up to 12 letters."
	}
	return ""
}
