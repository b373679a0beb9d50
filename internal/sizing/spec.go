// Package sizing works out pillowcases: from the finished size to the cut size
// of every panel and back, exactly; what does not work, with the nearest size
// that does; what to watch for; how much larger to cut cloth that will shrink;
// and what is usable of a piece of fabric.
//
// Lengths are package length's whole 1/1600 mm. The words are the trade's: around
// is the direction round the pillow, along runs from the open end to the closed
// end, and a panel's size is always given around × along. Take-up is what one
// edge loses in a seam at the side or the closed end; j is the joining seam
// between body and cuff. Errors are *apperr.Error by field: unit, width, length,
// cuff, accent, join, seam, body, hem, flap, pillow, shrink, cut.
package sizing

import "boltward/internal/length"

// Bodies: folded with one side seam, or a front and a back with two.
const (
	Folded       = 1
	FrontAndBack = 2
)

// Roles of panels.
const (
	Body   = "body"
	Cuff   = "cuff"
	Accent = "accent"
)

// Spec says how one size of pillowcase is made. Its JSON holds lengths as whole
// 1/1600 mm, so that it can be stored and read back exactly.
type Spec struct {
	Unit length.Unit `json:"unit"` // what messages are written in: in or cm, or another unit

	Width  length.Length `json:"width"`  // finished, laid flat
	Length length.Length `json:"length"` // finished, laid flat

	Cuff   length.Length `json:"cuff,omitempty"`   // that shows; 0 for a case with a plain hem or a flap
	Accent length.Length `json:"accent,omitempty"` // that shows; 0 for none
	Join   length.Length `json:"join,omitempty"`   // seam allowance between body and cuff
	Seam   Seam          `json:"seam"`             // at the side and the closed end

	Body         int  `json:"body"` // Folded or FrontAndBack
	PiecedCuff   bool `json:"pieced_cuff,omitempty"`
	PiecedAccent bool `json:"pieced_accent,omitempty"`

	Hem  Hem           `json:"hem,omitzero"`   // of a case without a cuff
	Flap length.Length `json:"flap,omitempty"` // depth of the flap that closes a one-piece case
	Ease length.Length `json:"ease,omitempty"` // how much more round the case may be cut than Width needs; 0 for DefaultEase

	Pillow Rect   `json:"pillow,omitzero"` // the pillow it must fit; none when zero
	Shrink Shrink `json:"shrink,omitzero"` // none when zero

	// Spare is how real cuts differ from what the finished size needs, by role: a
	// cuff cut wider than the body it is trimmed to, or the odd 1/1600 mm of half an
	// odd length. FromCuts sets it so that Cuts gives the same cuts again.
	Spare map[string]Spare `json:"spare,omitempty"`
}

// SeamKind is plain or french.
type SeamKind string

// The seams at the side and the closed end.
const (
	Plain  SeamKind = "plain"
	French SeamKind = "french"
)

// Seam is sewn once with First, or as a French seam with First and then Second.
type Seam struct {
	Kind   SeamKind      `json:"kind"`
	First  length.Length `json:"first"`
	Second length.Length `json:"second,omitempty"`
}

// TakeUp is what one edge loses in the seam.
func (s Seam) TakeUp() length.Length {
	if s.Kind == French {
		return s.First + s.Second
	}
	return s.First
}

// Hem is folded by Turn and then by Depth.
type Hem struct {
	Depth length.Length `json:"depth"`
	Turn  length.Length `json:"turn,omitempty"`
}

func (h Hem) total() length.Length { return h.Depth + h.Turn }

// Rect is a pillow's size laid flat, before it is filled out by its filling.
type Rect struct {
	Width  length.Length `json:"width"`
	Length length.Length `json:"length"`
}

// Spare is cut beyond what the finished size needs; after rounding to a cutting
// step it may be less than nothing.
type Spare struct {
	Around length.Length `json:"around,omitempty"`
	Along  length.Length `json:"along,omitempty"`
}

// DefaultEase is how much more round the pillow a case may be cut where a spec does
// not say, 2 in or 5 cm: sewists cut the full width and trim to the narrowest panel.
// Common practice, no source.
func DefaultEase(u length.Unit) length.Length {
	if u.Metric() {
		return 5 * length.Centimetre
	}
	return 2 * length.Inch
}

func (s Spec) ease() length.Length {
	if s.Ease == 0 {
		return DefaultEase(s.Unit)
	}
	return s.Ease
}

// Opening is how the open end of a case is made.
type Opening string

// The openings. A spec with none of them is refused.
const (
	ByCuff Opening = "cuff"
	ByHem  Opening = "hem"
	ByFlap Opening = "flap"
)

// Opening gives how the open end is made; empty when the spec does not say.
func (s Spec) Opening() Opening {
	switch {
	case s.Flap != 0:
		return ByFlap
	case s.Cuff != 0:
		return ByCuff
	case s.Hem != Hem{}:
		return ByHem
	}
	return ""
}

// FrontAndBack gives the same case with a front and a back, which narrower cloth
// can make. A flap case is one piece always and stays as it is.
func (s Spec) FrontAndBack() Spec {
	if s.Opening() == ByFlap {
		return s
	}
	s.Body, s.PiecedCuff, s.PiecedAccent, s.Spare = FrontAndBack, false, false, nil
	return s
}

// In gives the same case with what is said about it in another unit.
func (s Spec) In(u length.Unit) Spec {
	s.Ease, s.Unit = s.ease(), u
	return s
}

// text writes a length in the spec's unit.
func (s Spec) text(l length.Length) string { return length.Format(l, s.Unit) }

// atLeast and atMost write a limit so that what is written keeps it.
func (s Spec) atLeast(l length.Length) string {
	return length.Format(l.Round(s.Unit.Fine(), length.Up), s.Unit)
}

func (s Spec) atMost(l length.Length) string {
	return length.Format(l.Round(s.Unit.Fine(), length.Down), s.Unit)
}
