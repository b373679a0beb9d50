package drive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// DeedKind is what people do to cloth by hand, beside plans and cut sheets.
type DeedKind string

// The kinds of deed.
const (
	DeedWashed    DeedKind = "washed"
	DeedParted    DeedKind = "parted"
	DeedSquared   DeedKind = "squared off"
	DeedPutBack   DeedKind = "put back"
	DeedGivenAway DeedKind = "given away"
	DeedDiscarded DeedKind = "discarded"
	DeedRecounted DeedKind = "recounted"
	DeedUndone    DeedKind = "undone"
)

// ClothDeed is a deed as it was booked. Its entries name it.
type ClothDeed struct {
	Number int64     `db:"number"`
	Lot    int64     `db:"lot"`
	Kind   DeedKind  `db:"kind"`
	Reason string    `db:"reason"`
	Undoes *int64    `db:"undoes"`
	At     time.Time `db:"at"`
	Who    int64     `db:"who"`
	Undone bool      `db:"undone"` // another deed undoes it
}

// Handling is what somebody does to cloth of a measured lot. Which fields count
// depends on its kind:
//
//   - squared off, given away, discarded: Length of Piece, or All that is free of it; Reason
//   - recounted: what lies there of Piece, Length long and, where it was booked wrong, Width wide; Reason; far more than is booked is asked about, by the field sure too
//   - parted: Piece at its Flaws, or its Border strips Depth deep, or a strip Width wide along it, or across at Length
//   - put back: Length × Width of what left Piece; Reason
//   - washed: the Sizes of every piece with free cloth
type Handling struct {
	Kind   DeedKind
	Piece  int
	Length length.Length
	Width  length.Length
	All    bool
	Rest   bool // recounted: of what is free alone, whatever of the piece is promised
	Sure   bool // recounted: far more than is booked does lie there
	Reason string
	Flaws  []sizing.Flaw // lengths from the end of the piece that its free cloth begins with
	Border string        // BorderOne or BorderBoth
	Depth  length.Length
	Sizes  []WashedSize
}

// WashedSize is what is usable of a piece after the wash.
type WashedSize struct {
	Piece  int
	Width  length.Length
	Length length.Length
}

// Stock is a lot as it stands: its pieces, everything booked of it, and the
// number that its next piece gets.
type Stock struct {
	Lot     Lot
	Pieces  []Piece
	Entries []BookedFabric
	Deeds   []ClothDeed
	Next    int
}

// Handled is what a deed writes: the lot as it stands then, new pieces, and
// entries that keep each piece's balance.
type Handled struct {
	Kind    DeedKind
	Reason  string
	Lot     Lot
	Pieces  []NewPiece
	Entries []FabricEntry
	Washes  []Wash
	Undoes  *int64
}

// Wash is what a wash did to one piece.
type Wash struct {
	Piece         int           `db:"piece"`
	Fibre         string        `db:"fibre"`
	Weight        string        `db:"weight"`
	Width, Length length.Length // before
	WidthAfter    length.Length
	LengthAfter   length.Length
}

// Handle decides what a deed does to the cloth. It refuses by field what cannot
// be, and as a conflict what is promised or does not stand any more.
//
// Fields: piece, length, width, reason, flaws, border, depth; for a wash width
// and length with the piece's number, length3.
func (s Stock) Handle(d Drive, h Handling) (Handled, error) {
	if !s.Lot.Measured() {
		return Handled{}, apperr.Conflict("Lot %d is not measured yet. Measure it first, then book what happens to it.", s.Lot.Number)
	}
	h.Reason = strings.Join(strings.Fields(h.Reason), " ")
	if bad := tooLong("reason", h.Reason, 200); bad != nil {
		return Handled{}, apperr.InvalidFields(bad)
	}
	w := &handwork{Stock: s, d: d, next: s.Next}
	w.out = Handled{Kind: h.Kind, Reason: h.Reason, Lot: s.Lot}
	if h.Kind == DeedWashed {
		return w.wash(h.Sizes)
	}
	p, err := s.Of(h.Piece)
	if err != nil {
		return Handled{}, err
	}
	switch h.Kind {
	case DeedSquared, DeedGivenAway, DeedDiscarded:
		err = w.takeOff(p, h)
	case DeedRecounted:
		err = w.recount(p, h)
	case DeedParted:
		err = w.part(p, h)
	case DeedPutBack:
		err = w.putBack(p, h)
	default:
		err = apperr.Invalid("kind", "Choose what happened to the cloth.")
	}
	if err != nil {
		return Handled{}, err
	}
	return w.out, nil
}

// Last is the last entry that was booked of the lot; 0 for none.
func (s Stock) Last() int64 {
	if len(s.Entries) == 0 {
		return 0
	}
	return s.Entries[len(s.Entries)-1].ID
}

// Of gives one piece of the lot; not found where it has none of that number.
func (s Stock) Of(number int) (Piece, error) {
	for _, p := range s.Pieces {
		if p.Piece == number {
			return p, nil
		}
	}
	return Piece{}, apperr.NotFound("Lot %d has no piece %d.", s.Lot.Number, number)
}

// OnShelf is the length of a piece that lies on the shelf: what is free, and what
// is promised to sheets that are not cut.
func (p Piece) OnShelf() length.Length {
	if p.Width == 0 {
		return 0
	}
	return p.FreeLength + length.Length(p.Promised/length.Area(p.Width))
}

// Name is how people call the piece: 42/1.
func (p Piece) Name() string { return ClothID(p.Lot, p.Piece) }

// promisedTo names the cut sheets that a piece is promised to.
func (s Stock) promisedTo(p Piece) string {
	held := map[int64]length.Area{}
	for _, e := range s.Entries {
		if e.Piece != p.Piece || e.Sheet == nil {
			continue
		}
		if e.To == Promised {
			held[*e.Sheet] += e.Area
		}
		if e.From == Promised {
			held[*e.Sheet] -= e.Area
		}
	}
	var sheets []int64
	for sheet, area := range held {
		if area > 0 {
			sheets = append(sheets, sheet)
		}
	}
	slices.Sort(sheets)
	switch len(sheets) {
	case 0:
		return "a plan"
	case 1:
		return fmt.Sprintf("cut sheet %d", sheets[0])
	}
	words := make([]string, len(sheets))
	for i, n := range sheets {
		words[i] = strconv.FormatInt(n, 10)
	}
	return "cut sheets " + strings.Join(words, ", ")
}

// handwork collects what a deed writes.
type handwork struct {
	Stock
	d    Drive
	next int
	out  Handled
}

// size is a rectangle that a deed leaves.
type size struct {
	kind          PieceKind
	width, length length.Length
}

// enter books a move of a piece's cloth.
func (w *handwork) enter(piece int, kind FabricKind, from, to Account, l length.Length, a length.Area, other *int) {
	w.out.Entries = append(w.out.Entries, FabricEntry{
		Lot: w.Lot.Number, Piece: piece, Kind: kind, From: from, To: to, Length: l, Area: a, OtherPiece: other, Reason: w.out.Reason,
	})
}

// partOff books a rectangle of a piece as a piece of its own. l is by how much the
// free length of the piece falls with it; from is where the cloth was.
func (w *handwork) partOff(p Piece, from Account, kind FabricKind, l length.Length, s size) {
	number, origin := w.next, p.Piece
	w.next++
	w.out.Pieces = append(w.out.Pieces, NewPiece{Lot: p.Lot, Piece: number, Kind: s.kind, Origin: &origin, Width: s.width})
	a := area(s.width, s.length)
	w.enter(p.Piece, kind, from, Parted, l, a, &number)
	w.enter(number, kind, Origin, Free, s.length, a, &origin)
}

// reshape makes what is free of a piece into the rectangles given. The first that
// is as wide as the piece stays its own; every other becomes a new piece. Cloth
// that is left over goes out under the kind loss.
func (w *handwork) reshape(p Piece, into []size, loss FabricKind) {
	stays := slices.IndexFunc(into, func(s size) bool { return s.width == p.Width })
	falls := p.FreeLength
	left := p.Free
	if stays >= 0 {
		falls -= into[stays].length
		left -= area(into[stays].width, into[stays].length)
	}
	for i, s := range into {
		if i == stays {
			continue
		}
		// What is parted off carries its own length as far as the free length reaches.
		l := min(falls, s.length)
		falls -= l
		left -= area(s.width, s.length)
		w.partOff(p, Free, FabricParted, l, s)
	}
	if left > 0 {
		w.enter(p.Piece, loss, Free, Out, falls, left, nil)
	} else if falls > 0 {
		// Everything went into parts: the last part off carries the rest of the length.
		last := len(w.out.Entries) - 2
		w.out.Entries[last].Length += falls
	}
}
