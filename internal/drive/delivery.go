package drive

import (
	"time"

	"boltward/internal/apperr"
)

// DeliveryState is how far a delivery has come.
type DeliveryState string

// The states of a delivery. DeliveryDiffers: somebody said what arrived, and it is
// not what was sent, or not all of it; it stays so until somebody settles it.
const (
	DeliveryMade    DeliveryState = "made"
	DeliveryOnWay   DeliveryState = "on its way"
	DeliveryDiffers DeliveryState = "counts differ"
	DeliveryArrived DeliveryState = "arrived"
	DeliveryUndone  DeliveryState = "undone"
)

// Delivery is boxes that go to one recipient, and what was said of their arriving.
type Delivery struct {
	Number       int64      `db:"number"`
	Recipient    int64      `db:"recipient"`
	SentOn       *time.Time `db:"sent_on"` // none: still here
	CarriedBy    string     `db:"carried_by"`
	ConfirmedOn  *time.Time `db:"confirmed_on"`
	ConfirmedBy  string     `db:"confirmed_by"`
	ConfirmedHow string     `db:"confirmed_how"`
	Note         string     `db:"note"`
	CreatedAt    time.Time  `db:"created_at"`
	UndoneAt     *time.Time `db:"undone_at"`
	Version      int        `db:"version"`
	// BookedOn is the last day on which something was booked of it: nothing can be
	// said to have happened before, or the books of the days between would not hold.
	BookedOn *time.Time  `db:"-"`
	Boxes    []Box       `db:"-"`
	Said     []SaidCount `db:"-"` // what was said last, by box and size
}

// SaidCount is what was said of one size in one box. More of it was said above what
// was sent, and is neither settled nor said otherwise.
type SaidCount struct {
	Answer  int   `db:"answer"`
	Box     int64 `db:"box"`
	Size    int64 `db:"size"`
	Sent    int   `db:"sent"`
	Arrived int   `db:"arrived"`
	More    int   `db:"more"`
}

// State gives how far the delivery has come.
func (d Delivery) State() DeliveryState {
	switch {
	case d.UndoneAt != nil:
		return DeliveryUndone
	case d.SentOn == nil:
		return DeliveryMade
	case d.ConfirmedOn == nil:
		return DeliveryOnWay
	case d.Open() > 0 || d.More() > 0:
		return DeliveryDiffers
	}
	return DeliveryArrived
}

// Cases, Confirmed, Missing and Returned count the pillowcases of a delivery; Open
// are those that are neither confirmed nor settled.
func (d Delivery) Cases() int     { return d.sum(func(l BoxLine) int { return l.N }) }
func (d Delivery) Confirmed() int { return d.sum(func(l BoxLine) int { return l.Confirmed }) }
func (d Delivery) Missing() int   { return d.sum(func(l BoxLine) int { return l.Missing }) }
func (d Delivery) Returned() int  { return d.sum(func(l BoxLine) int { return l.Returned }) }
func (d Delivery) Open() int      { return d.sum(BoxLine.Open) }

// Noted counts those that stand on the delivery note.
func (d Delivery) Noted() int {
	return d.sum(func(l BoxLine) int {
		if l.Added {
			return 0
		}
		return l.N
	})
}

// More counts what was said to have come above what was sent and is still open.
func (d Delivery) More() int {
	n := 0
	for _, c := range d.Said {
		n += c.More
	}
	return n
}

func (d Delivery) sum(of func(BoxLine) int) int {
	n := 0
	for _, b := range d.Boxes {
		for _, l := range b.Lines {
			n += of(l)
		}
	}
	return n
}

// CheckDelivery says what is wrong with a delivery before it is made, by field.
// sentOn is the day it left; none: it is made and still here.
func CheckDelivery(sentOn *time.Time, today time.Time, boxes int, carriedBy, note string) error {
	var bad []apperr.Field
	if sentOn != nil {
		if why := wrongDay(*sentOn, today); why != "" {
			bad = append(bad, apperr.Field{Name: "sent_on", Why: why})
		}
	}
	if boxes == 0 {
		bad = append(bad, apperr.Field{Name: "boxes", Why: "Tick the boxes that go."})
	}
	bad = append(bad, tooLong("carried_by", carriedBy, 120)...)
	bad = append(bad, tooLong("note", note, 2000)...)
	return apperr.InvalidFields(bad)
}

// Takes says whether a box may go with a delivery to this recipient.
func (b Box) Takes(recipient int64) error {
	switch {
	case b.Recipient != recipient:
		return apperr.Conflict("Box %d is packed for somebody else.", b.Number)
	case b.Emptied || len(b.Lines) == 0:
		return apperr.Conflict("Box %d is empty.", b.Number)
	case b.Delivery != nil:
		return apperr.Conflict("Box %d goes with delivery %d.", b.Number, *b.Delivery)
	}
	return nil
}

// Send gives the entries that take the boxes of a delivery on their way, on a day that is
// not before the last on which something was booked of one of them.
func (d Delivery) Send(on, today time.Time, bookedOn map[int64]time.Time) ([]CaseEntry, error) {
	switch d.State() {
	case DeliveryMade:
	case DeliveryUndone:
		return nil, apperr.Conflict("Delivery %d was undone: its boxes wait to be sent anew.", d.Number)
	default:
		return nil, apperr.Conflict("Delivery %d left on %s.", d.Number, dayWords(*d.SentOn))
	}
	if why := wrongDay(on, today); why != "" {
		return nil, apperr.Invalid("sent_on", "%s", why)
	}
	var list []CaseEntry
	for _, b := range d.Boxes {
		if booked := bookedOn[b.Number]; on.Before(booked) {
			return nil, apperr.Invalid("sent_on", "Box %d was packed or taken back on %s: it cannot have left before.", b.Number, dayWords(booked))
		}
		for _, l := range b.Lines {
			e := l.stack(CasePacked).entry(l.N, CaseDelivered)
			e.Box, e.Delivery = &b.Number, &d.Number
			list = append(list, e)
		}
	}
	return list, nil
}

// Undo gives the entries that take the boxes of a delivery back, as long as nobody has
// said that anything of it arrived. Its number is given to no other.
func (d Delivery) Undo() ([]CaseEntry, error) {
	switch d.State() {
	case DeliveryMade:
		return nil, nil
	case DeliveryOnWay:
	case DeliveryUndone:
		return nil, apperr.Conflict("Delivery %d was undone already.", d.Number)
	default:
		return nil, apperr.Conflict("Somebody has said what arrived of delivery %d, so it cannot be undone. What is not so is said again on its page.", d.Number)
	}
	var list []CaseEntry
	for _, b := range d.Boxes {
		for _, l := range b.Lines {
			e := l.stack(CaseDelivered).entry(l.N, CasePacked)
			e.Box, e.Delivery, e.Reason = &b.Number, &d.Number, undone
			list = append(list, e)
		}
	}
	return list, nil
}
