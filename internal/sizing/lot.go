package sizing

import (
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// Lot is a piece of fabric as it was measured at intake.
type Lot struct {
	Length length.Length // along the selvedge, end to end
	Width  length.Length // selvedge to selvedge; 0 when only UsableWidth was measured
	// UsableWidth is between the selvedges, measured; 0 to work it out from Width.
	UsableWidth length.Length
	Class       string // fibre or weight class that Allowances may know
	Torn        bool   // both ends were torn, so they are square to the threads
	Flaws       []Flaw
	Border      Border
}

// Flaw is a hole, a stain or a fault in the weave from From to To along the
// length, counted from the end that was measured first. It reaches Reach in from
// one selvedge, or, when Reach is 0, all the way across. Good cloth as wide as
// Clear may lie between that selvedge and the flaw, as beside a faded fold.
type Flaw struct {
	From, To length.Length
	Reach    length.Length
	Clear    length.Length
	Far      bool // counted from the far selvedge, not from the near one
}

// Border is a printed border to part from the rest: a strip as deep as the panel
// that will use it. The zero Border is none.
type Border struct {
	Edges Edges
	Depth length.Length
}

// Edges says along which selvedges a border runs.
type Edges int

// A border runs along the near selvedge or along both.
const (
	NoBorder Edges = iota
	OneSelvedge
	BothSelvedges
)

// Allowances are what a drive takes off, so that nobody counts on cloth that is
// not there.
type Allowances struct {
	Selvedges             length.Length            // off the width, both together, where the class has none of its own
	ByClass               map[string]length.Length // the same by class
	TornEnd               length.Length            // off each torn end to square it
	CutEnd                length.Length            // off each cut end
	KeepWidth, KeepLength length.Length            // least sides, either way, of a part that a flaw leaves
}

// DefaultAllowances: 45 in quilting cotton leaves 42 in (common practice, no
// source), 1/2 in off a torn end, 1 in off a cut one, and parts under 9 × 18 in are
// not kept.
func DefaultAllowances() Allowances {
	return Allowances{
		Selvedges: 3 * length.Inch,
		TornEnd:   length.Inch / 2,
		CutEnd:    length.Inch,
		KeepWidth: 9 * length.Inch, KeepLength: 18 * length.Inch,
	}
}

// PartKind says how a part of a lot came to be.
type PartKind string

// The kinds of parts. BesideBorder is what is left when border strips are parted.
const (
	Whole        PartKind = "whole"
	FlawPart     PartKind = "flaw part"
	BorderStrip  PartKind = "border strip"
	BesideBorder PartKind = "remnant"
)

// Part is a usable rectangle of a lot. X runs from the near usable edge, Y from the
// squared end; all parts of a lot have it as their one origin.
type Part struct {
	Kind          PartKind
	X, Y          length.Length
	Width, Length length.Length
}

// Usable is what can be counted on: Width × Length before borders and flaws, and
// the parts after them, none of which overlap. How says in u how it came about.
type Usable struct {
	Width, Length length.Length
	Parts         []Part
	How           []string
}

// widestLot and mostFlaws bound what people may type.
const (
	widestLot = 10 * length.Metre
	mostFlaws = 50
)

// Usable works out what is usable of the lot. It refuses, by the fields width,
// length, flaws and border, what cannot be or leaves nothing. u is for How and
// for messages.
func (l Lot) Usable(a Allowances, u length.Unit) (Usable, error) {
	if u.Size() == 0 {
		return Usable{}, apperr.Invalid("unit", "Choose inches or centimetres.")
	}
	text := func(l length.Length) string { return length.Format(l, u) }
	if err := l.check(text); err != nil {
		return Usable{}, err
	}
	var out Usable
	out.Width = l.UsableWidth
	if out.Width == 0 {
		off, ok := a.ByClass[l.Class]
		if !ok {
			off = a.Selvedges
		}
		out.Width = l.Width - off
		out.How = append(out.How, fmt.Sprintf("Width %s less %s for the selvedges leaves %s.", text(l.Width), text(off), text(out.Width)))
	} else {
		out.How = append(out.How, fmt.Sprintf("Usable width measured: %s.", text(out.Width)))
	}
	end, ends := a.CutEnd, "cut"
	if l.Torn {
		end, ends = a.TornEnd, "torn"
	}
	out.Length = l.Length - 2*end
	out.How = append(out.How, fmt.Sprintf("Length %s less %s for squaring off each %s end leaves %s.", text(l.Length), text(end), ends, text(out.Length)))
	var bad []apperr.Field
	if out.Width <= 0 {
		bad = append(bad, apperr.Field{Name: "width", Why: fmt.Sprintf("Nothing is left of %s between the selvedges: measure the usable width.", text(l.Width))})
	}
	if out.Length <= 0 {
		bad = append(bad, apperr.Field{Name: "length", Why: fmt.Sprintf("Nothing is left of %s when both ends are squared off.", text(l.Length))})
	}
	if len(bad) == 0 && l.Border.Edges != NoBorder && length.Length(l.Border.Edges)*l.Border.Depth >= out.Width {
		bad = append(bad, apperr.Field{Name: "border", Why: fmt.Sprintf("A border strip of %s leaves nothing of the usable width of %s: make it less deep.", text(l.Border.Depth), text(out.Width))})
	}
	if len(bad) > 0 {
		return Usable{}, apperr.InvalidFields(bad)
	}
	l.part(&out, end, a, text)
	return out, nil
}

// check refuses measures that cannot be.
func (l Lot) check(text func(length.Length) string) error {
	var bad []apperr.Field
	add := func(field, format string, args ...any) {
		bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
	}
	switch {
	case l.Width < 0 || l.UsableWidth < 0 || l.Width == 0 && l.UsableWidth == 0:
		add("width", "Give the width, from selvedge to selvedge or usable.")
	case max(l.Width, l.UsableWidth) > widestLot:
		add("width", "A width of %s is too much: at most %s; check the number and its unit.", text(max(l.Width, l.UsableWidth)), text(widestLot))
	case l.Width > 0 && l.UsableWidth > l.Width:
		add("width", "The usable width of %s is more than the whole of %s.", text(l.UsableWidth), text(l.Width))
	}
	switch {
	case l.Length <= 0:
		add("length", "Give the length, more than nothing.")
	case l.Length > length.Max:
		add("length", "A length of %s is too much: at most %s; check the number and its unit.", text(l.Length), text(length.Max))
	}
	if len(l.Flaws) > mostFlaws {
		add("flaws", "More than %d flaws: cut the piece up first and enter what is good.", mostFlaws)
	}
	for _, f := range l.Flaws {
		switch {
		case f.From < 0 || f.To <= f.From:
			add("flaws", "A flaw runs from a lesser to a greater length: like 30 to 33 in.")
		case f.From >= l.Length && l.Length > 0:
			add("flaws", "A flaw at %s lies beyond the end of the piece, %s long.", text(f.From), text(l.Length))
		case f.Reach < 0:
			add("flaws", "A flaw reaches in from the edge by more than nothing.")
		case f.Clear < 0 || f.Clear > 0 && f.Clear >= f.Reach:
			add("flaws", "A flaw with good cloth beside it lies from a lesser to a greater distance from the edge: like 10 to 12 in from the edge.")
		}
	}
	switch b := l.Border; {
	case b.Edges < NoBorder || b.Edges > BothSelvedges:
		add("border", "A border runs along one selvedge or both.")
	case b.Edges != NoBorder && b.Depth <= 0:
		add("border", "Give how deep the border strip is: as deep as the panel that will use it.")
	case b.Depth > widestLot:
		add("border", "A border strip of %s is too deep: at most %s.", text(b.Depth), text(widestLot))
	}
	return apperr.InvalidFields(bad)
}
