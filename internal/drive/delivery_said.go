package drive

import (
	"fmt"
	"strings"
	"time"

	"boltward/internal/apperr"
)

// Ways by which a recipient says what arrived.
const (
	ByPhone = "by phone"
	ByNote  = "signed note"
	InHand  = "in person"
	OwnPage = "own page"
)

// Arrived is what a recipient says arrived of one size in one box, all in all.
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
	Note    string
	Arrived []Arrived
}

// Heard is what follows from what was said: how the lines of each box then stand,
// the entries, and what was said of each size in each box.
type Heard struct {
	Lines   map[int64][]BoxLine
	Entries []CaseEntry
	Counts  []SaidCount
}

// Confirm books what a recipient says arrived, all in all. A count below what was sent
// leaves the rest open, one above it stays open as well: both until somebody settles
// them. Who says less than before takes back what they had confirmed; who repeats what
// they said changes nothing that was settled since. By field it refuses who, how and
// when, a box or size that did not go, and counts that must be a slip: "n.BOX.SIZE".
func (d Delivery) Confirm(c Confirmation, today time.Time) (Heard, error) {
	switch d.State() {
	case DeliveryMade:
		return Heard{}, apperr.Conflict("Delivery %d has not left yet. Note first when it was sent.", d.Number)
	case DeliveryUndone:
		return Heard{}, apperr.Conflict("Delivery %d was undone: nothing of it is on its way.", d.Number)
	}
	var bad []apperr.Field
	refuse := func(field, format string, args ...any) {
		bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
	}
	if n := len([]rune(strings.TrimSpace(c.By))); n < 1 || n > 120 {
		refuse("by", "Say who confirmed it, in up to 120 characters.")
	}
	if c.How != ByPhone && c.How != ByNote && c.How != InHand && c.How != OwnPage {
		refuse("how", "Choose how it was confirmed.")
	}
	switch why := wrongDay(c.On, today); {
	case why != "":
		refuse("on", "%s", why)
	case c.On.Before(*d.SentOn):
		refuse("on", "It was sent on %s: it cannot have arrived before.", dayWords(*d.SentOn))
	case d.BookedOn != nil && c.On.Before(*d.BookedOn):
		refuse("on", "Something was noted of it on %s. Give that day or a later one.", dayWords(*d.BookedOn))
	}
	bad = append(bad, tooLong("note", c.Note, 1000)...)
	if len(c.Arrived) == 0 {
		refuse("", "Say of each box what arrived.")
	}
	heard := Heard{Lines: d.lines()}
	seen := map[[2]int64]bool{}
	for _, a := range c.Arrived {
		if key := [2]int64{a.Box, a.Size}; seen[key] {
			refuse(arrivedField(a.Box, a.Size), "That is said twice.")
		} else {
			seen[key] = true
		}
		if why := d.hear(&heard, a, c.How); why != "" {
			refuse(arrivedField(a.Box, a.Size), "%s", why)
		}
	}
	if len(bad) > 0 {
		return Heard{}, apperr.InvalidFields(bad)
	}
	return heard, nil
}

// arrivedField names the field of a count.
func arrivedField(box, size int64) string { return fmt.Sprintf("n.%d.%d", box, size) }

// hear books what is said of one size in one box; it gives why that cannot be.
func (d Delivery) hear(heard *Heard, a Arrived, how string) string {
	lines := heard.Lines[a.Box]
	sent, confirmed, settled := 0, 0, 0
	for _, l := range lines {
		if l.Size == a.Size {
			sent, confirmed, settled = sent+l.N, confirmed+l.Confirmed, settled+l.Missing+l.Returned
		}
	}
	switch {
	case sent == 0:
		return "None of this size went in this box."
	case a.N < 0:
		return "Counts start at 0."
	case a.N > MostArrived(sent):
		return fmt.Sprintf("The note says %d, so %d must be a slip. Count once more; if it is so, tell us by phone.", sent, a.N)
	}
	said := SaidCount{Box: a.Box, Size: a.Size, Sent: sent, Arrived: a.N}
	if last, before := d.said(a.Box, a.Size); before && last.Arrived == a.N {
		said.More = last.More
		heard.Counts = append(heard.Counts, said)
		return ""
	}
	target := min(a.N, sent-settled)
	said.More = a.N - target
	heard.Counts = append(heard.Counts, said)
	// Ledgers name nobody: who said so stands beside the delivery.
	heard.move(d.Number, a.Box, a.Size, target-confirmed, CaseDelivered, CaseConfirmed, "confirmed "+how)
	heard.move(d.Number, a.Box, a.Size, confirmed-target, CaseConfirmed, CaseDelivered, "said otherwise "+how)
	return ""
}

// MostArrived is the most that may be said to have arrived where so many were sent:
// beyond it a figure was mistyped.
func MostArrived(sent int) int { return sent + max(10, sent) }

// said gives what was said last of one size in one box.
func (d Delivery) said(box, size int64) (SaidCount, bool) {
	for _, c := range d.Said {
		if c.Box == box && c.Size == size {
			return c, true
		}
	}
	return SaidCount{}, false
}

// lines gives the lines of each box, to be changed.
func (d Delivery) lines() map[int64][]BoxLine {
	lines := make(map[int64][]BoxLine, len(d.Boxes))
	for _, b := range d.Boxes {
		lines[b.Number] = append([]BoxLine(nil), b.Lines...)
	}
	return lines
}

// counted gives the count of a line that stands for a state after it was sent; nil
// for those that are still open.
func (l *BoxLine) counted(state CaseState) *int {
	switch state {
	case CaseConfirmed:
		return &l.Confirmed
	case CaseNotReceived:
		return &l.Missing
	case CaseGood, CaseSewn:
		return &l.Returned
	}
	return nil
}

// move takes n of one size in one box from one state to another, line by line, and
// gives how many it could not. None or fewer are nothing to do.
func (h *Heard) move(delivery, box, size int64, n int, from, to CaseState, reason string) int {
	for i := range h.Lines[box] {
		l := &h.Lines[box][i]
		there := l.Open()
		if from != CaseDelivered {
			there = *l.counted(from)
		}
		take := min(n, there)
		if l.Size != size || take <= 0 {
			continue
		}
		e := l.stack(from).entry(take, to)
		e.Box, e.Delivery, e.Reason = &box, &delivery, reason
		h.Entries = append(h.Entries, e)
		if from != CaseDelivered {
			*l.counted(from) -= take
		}
		if to != CaseDelivered {
			*l.counted(to) += take
		}
		n -= take
	}
	return max(n, 0)
}
