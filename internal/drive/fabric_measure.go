package drive

import (
	"fmt"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// What a piece of cloth may measure at most, in yards or metres and in inches or
// centimetres: more is a slip of the pen or of the unit. Whole bolts run to about
// 100 yd, wide backing to about 120 in (common practice, no source).
const (
	longestPiece = 500
	widestInches = 200
	widestMetric = 500
)

// Measured is what somebody measured of a lot with the cloth in hand.
type Measured struct {
	Make
	Torn        bool          // ends are torn, not cut
	BorderDepth length.Length // how deep the border strip is to part off; 0: it stays on
	Cuts        []Cuttings    // one for each size of piece in the lot
	Shelf       *string       // where it goes; nil leaves it where it is
}

// Cuttings are pieces of one size. Width is from selvedge to selvedge; where the
// usable width was measured, UsableWidth holds it and Width may be 0.
type Cuttings struct {
	Pieces      int
	Length      length.Length
	Width       length.Length
	UsableWidth length.Length
	Flaws       []sizing.Flaw // on each of the pieces
}

// MeasuredLot is what measuring decides: the lot as it stands then, its pieces
// with the usable length of each (0 where all of it was parted into others), and
// the entries that fill them.
type MeasuredLot struct {
	Lot     Lot
	Pieces  []NewPiece
	Lengths []length.Length // beside Pieces
	Entries []FabricEntry
	How     []string // how the usable rectangles came about, for people
}

// Measure gives a tagged lot its size. firstPiece is the first piece number that
// the lot has not used yet. All of what came in is booked: the usable rectangle
// is free, what borders and flaws part off becomes pieces of its own, the rest is
// squared off. It refuses by field what cannot be.
//
// Fields: fibre, weight, print, turn, border, border_depth, colours, themes, shelf,
// pieces, length, width, usable, flaws; those of the second and later cuts with
// their number, length2.
func Measure(d Drive, lot Lot, m Measured, firstPiece int) (MeasuredLot, error) {
	if lot.Measured() {
		return MeasuredLot{}, apperr.Conflict("Lot %d is measured already. Undo that first, then measure it again.", lot.Number)
	}
	m = m.tidy()
	bad := m.Make.check(true)
	if m.BorderDepth > 0 && m.Border == "" {
		bad = append(bad, apperr.Field{Name: "border", Why: "Say on which selvedge the border runs, or take its depth away."})
	}
	if m.Shelf != nil {
		lot.Shelf = *m.Shelf
		bad = append(bad, tooLong("shelf", lot.Shelf, 40)...)
	}
	if len(m.Cuts) == 0 {
		bad = append(bad, apperr.Field{Name: "length", Why: "Give the length, more than nothing."})
	}
	book := booking{d: d, lot: lot.Number, next: firstPiece}
	total := 0
	for i, c := range m.Cuts {
		total += c.Pieces
		bad = append(bad, book.cuttings(m, c, i)...)
	}
	if total > mostPieces {
		bad = append(bad, apperr.Field{Name: "pieces", Why: "A lot holds up to 500 pieces. Tag the rest as a lot of its own."})
	}
	if len(bad) > 0 {
		return MeasuredLot{}, apperr.InvalidFields(bad)
	}
	lot.Make, lot.Recounted = m.Make, &total
	lot.Ends = EndsCut
	if m.Torn {
		lot.Ends = EndsTorn
	}
	l, w := m.Cuts[0].Length, m.Cuts[0].rawWidth()
	lot.RawLength, lot.RawWidth = &l, &w
	book.out.Lot = lot
	return book.out, nil
}

func (m Measured) tidy() Measured {
	m.Make = m.Make.Tidy()
	// A border belongs round the case unless somebody chose otherwise.
	if m.Border != "" && m.Turn == TurnEither {
		m.Turn = TurnAlong
	}
	return m
}

// rawWidth is the width that came in: what was measured, or the usable width
// where that is all that anybody measured.
func (c Cuttings) rawWidth() length.Length {
	if c.Width == 0 {
		return c.UsableWidth
	}
	return c.Width
}

// booking collects pieces and entries, numbering as it goes.
type booking struct {
	d    Drive
	lot  int64
	next int
	out  MeasuredLot
}

// cuttings books pieces of one size, and gives what is wrong with it by field.
func (b *booking) cuttings(m Measured, c Cuttings, i int) []apperr.Field {
	bad := b.impossible(c)
	if len(bad) == 0 {
		usable, err := b.usable(m, c)
		if err == nil && len(usable.Parts) == 0 {
			bad = append(bad, apperr.Field{Name: "flaws", Why: "The flaws leave nothing that is worth keeping. Set the lot aside instead, or look at them again."})
		}
		if e := apperr.As(err); e != nil {
			bad = append(bad, e.Fields...)
		}
		for k := range bad {
			if bad[k].Name == "border" {
				bad[k].Name = "border_depth"
			}
		}
		if len(bad) == 0 {
			b.how(usable, c, len(m.Cuts))
			for range c.Pieces {
				b.piece(c, usable)
			}
		}
	}
	if i > 0 {
		for k := range bad {
			bad[k].Name += fmt.Sprint(i + 1)
		}
	}
	return bad
}

// impossible refuses what no piece of cloth measures.
func (b *booking) impossible(c Cuttings) []apperr.Field {
	var bad []apperr.Field
	refuse := func(field, format string, args ...any) {
		bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
	}
	yardage, unit := b.d.Yardage(), b.d.Unit
	longest, widest := longestPiece*yardage.Size(), widestInches*unit.Size()
	if unit.Metric() {
		widest = widestMetric * unit.Size()
	}
	if c.Pieces < 1 || c.Pieces > mostPieces {
		refuse("pieces", "Say how many pieces, 1 to 500.")
	}
	if c.Length > longest {
		refuse("length", "That is longer than any bolt: a piece has up to %s. Check the number and its unit.", length.Format(longest, yardage))
	}
	if max(c.Width, c.UsableWidth) > widest {
		field := "width"
		if c.Width == 0 {
			field = "usable"
		}
		refuse(field, "That is wider than any cloth, which has up to %s. Check the number and its unit.", length.Format(widest, unit))
	}
	return bad
}

func (b *booking) usable(m Measured, c Cuttings) (sizing.Usable, error) {
	lot := sizing.Lot{Length: c.Length, Width: c.Width, UsableWidth: c.UsableWidth, Class: m.Weight, Torn: m.Torn, Flaws: c.Flaws}
	if m.BorderDepth > 0 {
		lot.Border = sizing.Border{Edges: sizing.OneSelvedge, Depth: m.BorderDepth}
		if m.Border == BorderBoth {
			lot.Border.Edges = sizing.BothSelvedges
		}
	}
	return lot.Usable(b.d.Allowances(), b.d.Unit)
}

func (b *booking) how(u sizing.Usable, c Cuttings, sizes int) {
	how := strings.Join(u.How, " ")
	if sizes > 1 {
		how = fmt.Sprintf("%d of %s: %s", c.Pieces, length.Format(c.Length, b.d.Yardage()), how)
	}
	b.out.How = append(b.out.How, how)
}

// piece books one piece of cloth as it came in.
func (b *booking) piece(c Cuttings, u sizing.Usable) {
	// Lengths are at most 500 m by 6 m here, so areas always fit.
	raw := area(c.rawWidth(), c.Length)
	whole := b.add(PieceWhole, nil, u.Width, 0)
	squared, flawed := raw-area(u.Width, u.Length), area(u.Width, u.Length)
	if len(u.Parts) == 1 {
		only := u.Parts[0]
		last := len(b.out.Pieces) - 1
		b.out.Pieces[last].Kind, b.out.Pieces[last].Width = PieceKind(only.Kind), only.Width
		b.out.Lengths[last] = only.Length
		b.enter(whole, FabricMeasured, Outside, Free, only.Length, area(only.Width, only.Length), nil, "")
		flawed -= area(only.Width, only.Length)
	} else {
		for _, p := range u.Parts {
			part := b.add(PieceKind(p.Kind), &whole, p.Width, p.Length)
			b.enter(whole, FabricParted, Outside, Parted, p.Length, area(p.Width, p.Length), &part, why(p.Kind))
			b.enter(part, FabricParted, Origin, Free, p.Length, area(p.Width, p.Length), &whole, why(p.Kind))
			flawed -= area(p.Width, p.Length)
		}
	}
	if squared > 0 {
		b.enter(whole, FabricSquaredOff, Outside, Out, 0, squared, nil, "")
	}
	if flawed > 0 {
		b.enter(whole, FabricDiscarded, Outside, Out, 0, flawed, nil, b.flawWords(c.Flaws))
	}
}

func why(kind sizing.PartKind) string {
	switch kind {
	case sizing.BorderStrip:
		return "border strip"
	case sizing.BesideBorder:
		return "beside the border"
	}
	return "flaw"
}

func (b *booking) flawWords(flaws []sizing.Flaw) string {
	words := make([]string, len(flaws))
	for i, f := range flaws {
		words[i] = "flaw " + FlawText(f, b.d.Unit)
	}
	return strings.Join(words, "; ")
}

// FlawText says a flaw in the words that ParseFlaws in package workbook reads.
func FlawText(f sizing.Flaw, u length.Unit) string {
	text := fmt.Sprintf("from %s to %s", length.Format(f.From, u), length.Format(f.To, u))
	if f.Reach == 0 {
		return text + " across"
	}
	text += ", "
	if f.Clear > 0 {
		text += length.Format(f.Clear, u) + " to "
	}
	text += length.Format(f.Reach, u) + " in from the "
	if f.Far {
		text += "far "
	}
	return text + "edge"
}

// add makes a piece and gives its number.
func (b *booking) add(kind PieceKind, origin *int, width, usable length.Length) int {
	n := b.next
	b.next++
	b.out.Pieces = append(b.out.Pieces, NewPiece{Lot: b.lot, Piece: n, Kind: kind, Origin: origin, Width: width})
	b.out.Lengths = append(b.out.Lengths, usable)
	return n
}

func (b *booking) enter(piece int, kind FabricKind, from, to Account, l length.Length, a length.Area, other *int, reason string) {
	b.out.Entries = append(b.out.Entries, FabricEntry{
		Lot: b.lot, Piece: piece, Kind: kind, From: from, To: to, Length: l, Area: a, OtherPiece: other, Reason: reason,
	})
}

func area(width, long length.Length) length.Area { return length.Area(width) * length.Area(long) }

// BorderDepth is how deep a border strip is parted so that every size may use it:
// as deep as the longest body, cut. Sizes without a body to cut, and retired
// ones, do not count; 0 where none is left.
func BorderDepth(sizes []Size) length.Length {
	var depth length.Length
	for _, z := range sizes {
		panels, _, err := sizing.Cuts(z.Spec)
		if err != nil || z.Retired {
			continue
		}
		for _, p := range panels {
			if p.Role == sizing.Body {
				depth = max(depth, p.Along)
			}
		}
	}
	return depth
}
