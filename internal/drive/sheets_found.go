package drive

import (
	"fmt"
	"slices"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// ClothFound is what somebody at the table found of a sheet's cloth, as it lies there from
// the squared end, before anything is cut: how much of it is good, how wide it is, where it
// is flawed. Exactly one of them is said.
type ClothFound struct {
	Length *Side
	Width  Side
	Flaws  []sizing.Flaw
	Sure   bool // far more than is booked does lie there, or hardly any of it
}

// Check refuses what says nothing or several things at once, by field.
func (f ClothFound) Check() error {
	said := 0
	for _, is := range []bool{f.Length != nil, f.Width > 0, len(f.Flaws) > 0} {
		if is {
			said++
		}
	}
	switch said {
	case 0:
		return apperr.Invalid("found", "Say what is wrong: how much is good, how wide it is, or where it is flawed.")
	case 1:
		return nil
	}
	return apperr.Invalid("found", "Report one thing at a time: a length, a width, or flaws.")
}

// Handling gives what is booked of the sheet's piece once nothing of it is promised to the
// sheet: counted at another width, or parted at its flaws. unit is the drive's.
func (f ClothFound) Handling(s Sheet, free Side, unit length.Unit) (Handling, error) {
	h := Handling{Piece: s.Piece, Reason: "sheet " + s.Ref().String() + " " + shortReason}
	if f.Width > 0 {
		if f.Width >= s.Width {
			return h, apperr.Invalid("wide", "Give less than the %s that are booked, or nothing is narrow.", OnTape(s.Width, unit))
		}
		return s.Narrower(f.Width, s.Used+free), nil
	}
	h.Kind, h.Flaws = DeedParted, f.Flaws
	return h, nil
}

// Narrower books what is free of the sheet's piece at the width it really has. What other
// sheets are promised of the piece is theirs to see to.
func (s Sheet) Narrower(wide, free Side) Handling {
	return Handling{Kind: DeedRecounted, Piece: s.Piece, Width: wide, Length: free, Rest: true, Reason: "sheet " + s.Ref().String() + " was narrower"}
}

// Left gives the remnants that a sheet leaves: cloth that is narrower than it is drawn leaves
// less of those at its far selvedge.
func (s Sheet) Left(remnants []Remnant) []Remnant {
	if s.Narrow == nil {
		return remnants
	}
	var left []Remnant
	for _, r := range remnants {
		if r.W = min(r.W, *s.Narrow-r.X); r.W > 0 {
			left = append(left, r)
		}
	}
	return left
}

// FitsNarrower keeps a sheet as it is drawn, though its cloth is narrower: all its panels fit.
// What it leaves has its true width from then on. there are the numbers of the lot's pieces: a
// remnant of a cut that was taken back is a piece already, of the width it was cut then.
func (s Sheet) FitsNarrower(f ClothFound, panels []Panel, kept []Remnant, there []int, unit length.Unit, kits []SheetKit) (m SheetMoves, fits bool, err error) {
	needs := Side(0)
	for _, p := range panels {
		needs = max(needs, p.X+p.W)
	}
	if f.Width <= 0 || f.Width < needs || f.Width >= s.Width {
		return SheetMoves{}, false, nil
	}
	if s.State != SheetWaiting && s.State != SheetOnTable {
		return SheetMoves{}, false, s.isElsewhere()
	}
	for _, r := range kept {
		if r.X+r.W > f.Width && slices.Contains(there, r.Label) {
			return SheetMoves{}, false, apperr.Conflict("Sheet %d was cut before, and remnant %s is on the books as wide as it was then. Cut it as it is drawn, then recount the remnant.", s.Number, ClothID(s.Lot, r.Label))
		}
	}
	m, err = s.moveKits(SheetMoves{State: s.State, Helper: s.Helper, Why: f.Words(unit), Narrow: &f.Width}, kits)
	return m, true, err
}

// Words says what was found, for people.
func (f ClothFound) Words(unit length.Unit) string {
	if f.Width > 0 {
		return "it is only " + OnTape(f.Width, unit) + " wide"
	}
	words := make([]string, len(f.Flaws))
	for i, flaw := range f.Flaws {
		words[i] = "flaw " + FlawText(flaw, unit)
	}
	return strings.Join(words, "; ")
}

// FoundOtherwise gives up a sheet whose cloth is narrower or flawed: its cloth is promised no
// more, and it waits for the plan to be changed. Flaws that meet nothing it is cut for are an
// invalid "flaws": the sheet is cut as it is drawn. free is what is left of the piece after it.
func (s Sheet) FoundOtherwise(f ClothFound, panels []Panel, kept []Remnant, free Side, unit length.Unit, kits []SheetKit) (SheetMoves, error) {
	if s.State != SheetWaiting && s.State != SheetOnTable {
		return SheetMoves{}, s.isElsewhere()
	}
	if len(f.Flaws) > 0 && s.missedBy(f.Flaws, panels, kept, free) {
		return SheetMoves{}, apperr.Invalid("flaws", "That meets no panel of this sheet and no remnant it keeps: cut it as it is drawn. Where it lies in what is left of the piece, note it there afterwards.")
	}
	area, err := s.Used.Times(s.Width)
	if err != nil {
		return SheetMoves{}, fmt.Errorf("cloth of sheet %d: %w", s.Number, err)
	}
	release := s.entry(FabricReleased, Promised, Free, area)
	release.Length, release.Reason = s.Used, shortReason
	return s.moveKits(SheetMoves{State: SheetShort, Helper: s.Helper, Why: f.Words(unit), Fabric: []FabricEntry{release}}, kits)
}

// missedBy says whether flaws within the piece meet nothing that the sheet is cut for. Good
// cloth between a selvedge and a flaw is not counted on: where it ends was measured from the
// selvedge, which may lie outside what is drawn.
func (s Sheet) missedBy(flaws []sizing.Flaw, panels []Panel, kept []Remnant, free Side) bool {
	places := make([]Place, 0, len(panels)+len(kept))
	for _, p := range panels {
		places = append(places, p.Place)
	}
	for _, r := range kept {
		places = append(places, r.Place)
	}
	for _, f := range flaws {
		if f.From >= s.Used+free { // beyond the piece, which is refused where it is parted
			return false
		}
		from, to := Side(0), s.Width
		if f.Reach > 0 && f.Far {
			from = max(s.Width-f.Reach, 0)
		} else if f.Reach > 0 {
			to = f.Reach
		}
		for _, p := range places {
			if f.From < p.Y+p.H && p.Y < f.To && from < p.X+p.W && p.X < to {
				return false
			}
		}
	}
	return true
}

// Longer gives what is booked where more cloth lies there than was thought: the sheet stays
// as it is, and what is left of its piece after it is more. whole is what is on the shelf of the
// piece, promised or free; far more than is booked for the sheet is asked about, as a recount by hand
// is, but in what was typed: the sheet's own cloth, in the unit of its tape.
func (s Sheet) Longer(d Drive, f ClothFound, free, whole Side) (Handling, error) {
	if s.State != SheetWaiting && s.State != SheetOnTable {
		return Handling{}, s.isElsewhere()
	}
	if bad := (PieceCount{s.Piece, s.Used + free, *f.Length}).asked(d, d.Unit, "for this sheet", "length"); bad != nil && !f.Sure {
		return Handling{}, apperr.InvalidFields(bad)
	}
	return Handling{Kind: DeedRecounted, Piece: s.Piece, Length: whole + *f.Length - s.Used - free, Sure: f.Sure, Reason: "sheet " + s.Ref().String() + " was longer"}, nil
}

// Hardly asks about a length that is hardly any of what is booked and would do as well for the same figure in
// the unit of yardage: the tape is in centimetres or inches, and bolts are spoken of in metres or yards. Whoever
// is sure is believed; 0 says that nothing is good.
//
// Fields: length, sure.
func (s Sheet) Hardly(d Drive, f ClothFound, free Side) error {
	booked, long, tape := s.Used+free, *f.Length, d.Yardage()
	meant := long * tape.Size() / d.Unit.Size()
	if f.Sure || long == 0 || meant > booked+tape.Size()/2 {
		return nil
	}
	return apperr.InvalidFields([]apperr.Field{
		{Name: "length", Why: fmt.Sprintf("%s is hardly any of the %s that are booked for this sheet. If another unit was meant, write it beside the figure, such as %s.", OnTape(long, d.Unit), OnTape(booked, d.Unit), length.Format(meant, tape))},
		{Name: "sure", Why: "Tick it where the tape says so, or mend the length."},
	})
}
