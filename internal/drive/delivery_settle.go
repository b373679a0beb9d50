package drive

import (
	"fmt"
	"slices"
	"strings"

	"boltward/internal/apperr"
)

// SettleWay is how a count that differs is settled.
type SettleWay string

// The ways. Found, missing and back are of those that were sent and did not arrive;
// more and as the note are of those that were said to have come above the note.
const (
	SettleFound     SettleWay = "found"
	SettleMissing   SettleWay = "not received"
	SettleBackGood  SettleWay = "back good"
	SettleBackCheck SettleWay = "back to check"
	SettleMore      SettleWay = "more arrived"
	SettleAsNote    SettleWay = "as the note"
)

// SettleWays gives every way, those for what did not arrive first.
func SettleWays() []SettleWay {
	return []SettleWay{SettleFound, SettleMissing, SettleBackGood, SettleBackCheck, SettleMore, SettleAsNote}
}

// Above says whether the way is for what was said above the note.
func (w SettleWay) Above() bool { return w == SettleMore || w == SettleAsNote }

// Settlement is how somebody settles a count that differs: so many of one size in one box.
type Settlement struct {
	Box    int64
	Size   int64
	Way    SettleWay
	N      int
	Reason string // as people write it; needed where pillowcases end or begin
}

// Difference is one count that differs: of one size in one box.
type Difference struct {
	Box     int64
	Size    int64
	Sent    int
	Arrived int // as was said last; what was sent where nothing was said of it
	Short   int // sent, and neither confirmed nor settled
	More    int // said above what was sent
	Missing int // settled as not received, which may still be found
}

// Differences gives what is open of a delivery of which somebody said what arrived.
func (d Delivery) Differences() []Difference {
	if d.ConfirmedOn == nil {
		return nil
	}
	var list []Difference
	for _, c := range d.counts() {
		if c.Short > 0 || c.More > 0 {
			list = append(list, c)
		}
	}
	return list
}

// counts gives how every size in every box stands, in the order of the boxes.
func (d Delivery) counts() []Difference {
	var list []Difference
	for _, b := range d.Boxes {
		at := map[int64]int{}
		for _, l := range b.Lines {
			i, seen := at[l.Size]
			if !seen {
				i = len(list)
				at[l.Size] = i
				list = append(list, Difference{Box: b.Number, Size: l.Size})
			}
			list[i].Sent += l.N
			list[i].Short += l.Open()
			list[i].Missing += l.Missing
		}
		for i := range list {
			c := &list[i]
			if c.Box != b.Number {
				continue
			}
			c.Arrived = c.Sent
			if said, any := d.said(c.Box, c.Size); any {
				c.Arrived, c.More = said.Arrived, said.More
			}
		}
	}
	return list
}

// Count gives how one size in one box stands; false where none of it went there.
func (d Delivery) Count(box, size int64) (Difference, bool) {
	for _, c := range d.counts() {
		if c.Box == box && c.Size == size {
			return c, true
		}
	}
	return Difference{}, false
}

// MaySettle gives how many of a count may be settled in a way. What was given up as
// not received may be found after all.
func (d Delivery) MaySettle(c Difference, way SettleWay) int {
	switch way {
	case SettleFound:
		return c.Short + c.Missing
	case SettleMissing, SettleBackGood, SettleBackCheck:
		return c.Short
	case SettleMore, SettleAsNote:
		return c.More
	}
	return 0
}

// Settle books how a count that differs is settled and gives how the lines then stand
// and what is left above the note. Nothing moves but what is named; what was said stays
// as it was said. By field it refuses more than is open and a missing reason.
func (d Delivery) Settle(s Settlement) (Heard, error) {
	if d.ConfirmedOn == nil {
		return Heard{}, apperr.Conflict("Nobody has said yet what arrived of delivery %d. Note that first.", d.Number)
	}
	c, went := d.Count(s.Box, s.Size)
	if !went {
		return Heard{}, apperr.Conflict("None of that size went in box %d with delivery %d.", s.Box, d.Number)
	}
	if !slices.Contains(SettleWays(), s.Way) {
		return Heard{}, apperr.Invalid("way", "Choose what became of them.")
	}
	most := d.MaySettle(c, s.Way)
	var bad []apperr.Field
	switch {
	case most == 0:
		return Heard{}, apperr.Conflict("This was settled meanwhile. Look at what stands now.")
	case s.N < 1 || s.N > most:
		bad = append(bad, apperr.Field{Name: "n", Why: fmt.Sprintf("Say how many of them, 1 to %d.", most)})
	}
	if s.Way != SettleFound && strings.TrimSpace(s.Reason) == "" {
		bad = append(bad, apperr.Field{Name: "reason", Why: "Say what became of them, as far as anybody knows."})
	}
	bad = append(bad, tooLong("reason", s.Reason, 500)...)
	if len(bad) > 0 {
		return Heard{}, apperr.InvalidFields(bad)
	}
	return d.settled(s), nil
}

func (d Delivery) settled(s Settlement) Heard {
	heard := Heard{Lines: d.lines()}
	move := func(n int, from, to CaseState, why string) int {
		return heard.move(d.Number, s.Box, s.Size, n, from, to, why)
	}
	switch s.Way {
	case SettleFound:
		left := move(s.N, CaseDelivered, CaseConfirmed, "found after all")
		move(left, CaseNotReceived, CaseConfirmed, "found after all")
	case SettleMissing:
		move(s.N, CaseDelivered, CaseNotReceived, "not received")
	case SettleBackGood:
		move(s.N, CaseDelivered, CaseGood, "sent back")
	case SettleBackCheck:
		move(s.N, CaseDelivered, CaseSewn, "sent back, to be checked again")
	case SettleMore:
		// What had been given up comes to light first; the rest lay in the box uncounted.
		if left := move(s.N, CaseNotReceived, CaseConfirmed, "found after all"); left > 0 {
			heard.add(d.Number, s.Box, s.Size, left)
		}
	}
	if said, any := d.said(s.Box, s.Size); any && s.Way.Above() {
		said.More -= s.N
		heard.Counts = []SaidCount{said}
	}
	return heard
}

// add lets pillowcases be that lay in a box beside those that were counted: they went
// the whole way, and for the same line as the others of their size.
func (h *Heard) add(delivery, box, size int64, n int) {
	const why = "more arrived than noted"
	l := BoxLine{Size: size, N: n, Confirmed: n, Added: true}
	for _, other := range h.Lines[box] {
		l.Line = max(l.Line, other.Line)
		if other.Size == size && l.Asked == 0 {
			l.Asked = other.Asked
		}
	}
	l.Line++
	h.Lines[box] = append(h.Lines[box], l)
	born := l.stack(CaseBorn).entry(n, CasePacked)
	born.Box, born.Reason = &box, why
	sent, arrived := l.stack(CasePacked).entry(n, CaseDelivered), l.stack(CaseDelivered).entry(n, CaseConfirmed)
	for _, e := range []*CaseEntry{&sent, &arrived} {
		e.Box, e.Delivery, e.Reason = &box, &delivery, why
	}
	h.Entries = append(h.Entries, born, sent, arrived)
}
