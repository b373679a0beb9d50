package drive

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// StocktakeState is how far a stocktake has come.
type StocktakeState string

// The states of a stocktake.
const (
	StocktakeOpen    StocktakeState = "open"
	StocktakePosted  StocktakeState = "posted"
	StocktakeDropped StocktakeState = "dropped"
)

// Stocktake is a round along the shelves: lots are scanned one after the other,
// what lies there is noted beside what is booked, and the differences are posted
// together at its end.
type Stocktake struct {
	Number   int64          `db:"number"`
	Shelf    string         `db:"shelf"` // empty: the whole store
	State    StocktakeState `db:"state"`
	Reason   string         `db:"reason"` // given when it was posted
	BegunAt  time.Time      `db:"begun_at"`
	BegunBy  int64          `db:"begun_by"`
	ClosedAt *time.Time     `db:"closed_at"`
}

// PieceCount is what lay of a piece on the shelf when it was counted, beside what
// was booked then. Both hold promised cloth too. Piece 0 is a lot that waits to be
// measured: it was seen, no more.
type PieceCount struct {
	Piece   int           `json:"piece"`
	Booked  length.Length `json:"booked"`
	Counted length.Length `json:"counted"`
}

// Differs says whether something else lay there than was booked.
func (c PieceCount) Differs() bool { return c.Counted != c.Booked }

// farMore says whether so much more was counted than is booked that a digit may have slipped: half as
// much again, and a yard or a metre at least (common practice, no source). Cloth is found seldom,
// and what is posted stands in the ledger.
func (c PieceCount) farMore(d Drive) bool {
	more := c.Counted - c.Booked
	return more > d.Yardage().Size() && 2*more > c.Booked
}

// asked asks about far more than is booked of what is counted, by the length's field and by sure, in
// the unit in which it was typed.
func (c PieceCount) asked(d Drive, unit length.Unit, of, field string) []apperr.Field {
	if !c.farMore(d) {
		return nil
	}
	return []apperr.Field{{Name: field, Why: fmt.Sprintf("%s is far more than the %s that are booked %s. Look at the tape once more.",
		OnTape(c.Counted, unit), OnTape(c.Booked, unit), of)}, {Name: "sure", Why: "Tick it where the tape says so, or mend the length."}}
}

// LotCount is what was counted of one lot. Last is the last entry that was booked
// of it by then.
type LotCount struct {
	Lot    int64
	Counts []PieceCount
	Last   int64
}

// Differs says whether any of its pieces does.
func (c LotCount) Differs() bool { return slices.ContainsFunc(c.Counts, PieceCount.Differs) }

// Count notes what lies there of a lot. counted holds what was typed, by piece; a
// piece that is left out is there as booked. Far more than is booked is asked about: where sure is
// false it is refused, by the field sure too.
//
// Fields: length with the piece's number, length3; sure.
func (s Stock) Count(d Drive, counted map[int]length.Length, sure bool) (LotCount, error) {
	// Of a lot that is used up no piece lies there: that was seen too.
	out := LotCount{Lot: s.Lot.Number, Counts: []PieceCount{}, Last: s.Last()}
	if !s.Lot.Measured() {
		out.Counts = []PieceCount{{}}
		return out, nil
	}
	var bad []apperr.Field
	for _, p := range s.Pieces {
		now, typed := counted[p.Piece]
		if !typed {
			if now = p.OnShelf(); now == 0 {
				continue
			}
		}
		bad = append(bad, wrongSize(d, now, 0, fmt.Sprintf("length%d", p.Piece), "")...)
		if promised := p.OnShelf() - p.FreeLength; now < promised && len(bad) == 0 {
			bad = append(bad, apperr.Field{Name: fmt.Sprintf("length%d", p.Piece), Why: fmt.Sprintf(
				"%s of piece %s is promised to %s. Where it is not there, report the sheet as short on its own page, then count.",
				OnTape(promised, d.Yardage()), p.Name(), s.promisedTo(p))})
		}
		c := PieceCount{Piece: p.Piece, Booked: p.OnShelf(), Counted: now}
		if !sure && len(bad) == 0 {
			bad = append(bad, c.asked(d, d.Yardage(), "of piece "+p.Name(), fmt.Sprintf("length%d", p.Piece))...)
		}
		out.Counts = append(out.Counts, c)
	}
	for piece := range counted {
		if _, err := s.Of(piece); err != nil {
			return out, err
		}
	}
	return out, apperr.InvalidFields(bad)
}

// Post books the differences of a count. What was promised, cut or released since
// does not matter; what somebody booked by hand of a piece since does, and the
// count of it has to be made again. It gives no entries where nothing differs.
func (s Stock) Post(d Drive, c LotCount, reason string) (Handled, error) {
	w := &handwork{Stock: s, d: d, next: s.Next}
	w.out = Handled{Kind: DeedRecounted, Reason: reason, Lot: s.Lot}
	for _, count := range c.Counts {
		if !count.Differs() {
			continue
		}
		p, err := s.Of(count.Piece)
		if err != nil {
			return w.out, err
		}
		for _, e := range s.Entries {
			// What people do by hand is a deed, or a measuring that was taken back: of no sheet.
			if e.ID > c.Last && e.Piece == p.Piece && (e.Deed != nil || e.Sheet == nil) {
				return w.out, apperr.Conflict("Piece %s was booked by hand after it was counted (%s). Count it again.", p.Name(), e.Kind)
			}
		}
		free := p.FreeLength + count.Counted - count.Booked
		switch {
		case free < 0:
			return w.out, apperr.Conflict("Of piece %s %s more is missing than is free by now: %s is promised to %s. Report the sheet as short, then count it again.",
				p.Name(), OnTape(-free, d.Yardage()), p.Promised.Format(d.Unit), s.promisedTo(p))
		case free < p.FreeLength:
			l := p.FreeLength - free
			w.enter(p.Piece, FabricRecounted, Free, Out, l, area(p.Width, l), nil)
		default:
			l := free - p.FreeLength
			w.enter(p.Piece, FabricRecounted, Outside, Free, l, area(p.Width, l), nil)
		}
	}
	return w.out, nil
}

// PostReason is the reason of a stocktake's entries in the books; it refuses one
// that says nothing, by the field reason.
func PostReason(take int64, why string) (string, error) {
	why = strings.Join(strings.Fields(why), " ")
	if why == "" {
		return "", apperr.Invalid("reason", "Say why the books differ, in a few words: counted, nobody knows where it went.")
	}
	if bad := tooLong("reason", why, 160); bad != nil {
		return "", apperr.InvalidFields(bad)
	}
	return fmt.Sprintf("stocktake %d: %s", take, why), nil
}
