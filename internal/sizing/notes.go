package sizing

import (
	"fmt"
	"strings"

	"boltward/internal/length"
)

// Note is something to know about a size. A warning is a size that can be made
// and is probably not what anybody wants.
type Note struct {
	Code    string // stable, for programs: fit, trim, width, french, …
	Warning bool
	Text    string // a sentence or two for people
}

// roomAlong is how much longer than its pillow an open case should be: 2 in, or 5 cm where
// people measure in centimetres, since nobody cuts by 5.08. Common practice, no source.
func (s Spec) roomAlong() length.Length {
	if s.Unit.Metric() {
		return 5 * length.Centimetre
	}
	return 2 * length.Inch
}

// Fit says where a case does not fit a pillow: it should be at least as wide as the
// pillow laid flat, and at least 2 in or 5 cm longer; where a flap closes it, at least
// as long. Nothing is said where it fits.
func (s Spec) Fit(pillow Rect) []Note {
	var notes []Note
	if s.Width < pillow.Width {
		notes = append(notes, Note{"fit", true, fmt.Sprintf("The case is %s wide, narrower than the pillow's %s: make it at least %s wide.",
			s.text(s.Width), s.text(pillow.Width), s.atLeast(pillow.Width))})
	}
	room := s.roomAlong()
	least, why := pillow.Length+room, fmt.Sprintf(", %s more than the pillow", length.Format(room, s.Unit))
	if s.Opening() == ByFlap {
		least, why = pillow.Length, ""
	}
	if s.Length < least {
		notes = append(notes, Note{"fit", true, fmt.Sprintf("The case is %s long, too short for a pillow of %s: make it at least %s long%s.",
			s.text(s.Length), s.text(pillow.Length), s.atLeast(least), why)})
	}
	return notes
}

// notes gives what Cuts has to say, warnings first.
func (s Spec) notes() []Note {
	var notes []Note
	if s.Pillow != (Rect{}) {
		notes = append(notes, s.Fit(s.Pillow)...)
	}
	notes = append(notes, s.trimNotes()...)
	notes = append(notes, s.widthNote())
	if s.Seam.Kind == French && s.Seam.First > trimmedTo {
		notes = append(notes, Note{Code: "french", Text: fmt.Sprintf("French seam: trim the first seam to %s before sewing the second.", s.text(trimmedTo))})
	}
	switch s.Opening() {
	case ByCuff:
		notes = append(notes, s.cuffNotes()...)
	case ByFlap:
		if s.Hem == (Hem{}) {
			notes = append(notes, Note{Code: "hem", Text: "No hem is counted at the two short ends: let them be selvedges, or add a hem."})
		}
	}
	if !s.Shrink.none() {
		notes = append(notes, s.shrinkNote())
	}
	return notes
}

// trimNotes names the panels that real cuts left wider than the narrowest.
func (s Spec) trimNotes() []Note {
	var notes []Note
	for _, role := range []string{Body, Cuff, Accent} {
		// Less than a mark of the ruler is nobody's mistake.
		if spare := s.Spare[role].Around; spare >= s.Unit.Fine() && spare > s.Shrink.Step {
			notes = append(notes, Note{"trim", true, fmt.Sprintf("The %s is cut %s wider around than the narrowest panel needs: trim it to match.", role, s.text(spare))})
		}
	}
	return notes
}

func (s Spec) widthNote() Note {
	body := s.panels()[0]
	names := []string{Body}
	if s.Cuff > 0 {
		names = append(names, Cuff)
	}
	if s.Accent > 0 {
		names = append(names, Accent)
	}
	full := "its full width, "
	if body.Pieces > 1 || s.Opening() == ByFlap {
		full = "" // several lie side by side
	}
	text := fmt.Sprintf("Around is the least that gives this size. Where the cloth is wider, cut %sup to %s for the body", full, s.text(body.MostAround))
	if len(names) > 1 {
		text += fmt.Sprintf(", and trim %s and %s to the narrowest", strings.Join(names[:len(names)-1], ", "), names[len(names)-1])
	}
	return Note{Code: "width", Text: fmt.Sprintf("%s; the case then comes out up to %s wider.", text, s.text(s.ease()/2))}
}

func (s Spec) cuffNotes() []Note {
	notes := []Note{{Code: "tube", Text: "The cuff is sewn as a tube: it lies double, with both raw edges in the joining seam."}}
	if s.Accent > 0 {
		notes = append(notes, Note{Code: "accent", Text: "The accent is folded, lies on the body and adds no length."})
	}
	switch {
	case s.Body == FrontAndBack:
		notes = append(notes, Note{Code: "pieced", Text: "Front and back: the side seams run through every panel, so each is cut twice."})
	case s.PiecedCuff && s.PiecedAccent:
		notes = append(notes, s.piecedNote("cuff and the accent"))
	case s.PiecedCuff:
		notes = append(notes, s.piecedNote("cuff"))
	case s.PiecedAccent:
		notes = append(notes, s.piecedNote("accent"))
	}
	return notes
}

func (s Spec) piecedNote(what string) Note {
	return Note{Code: "pieced", Text: fmt.Sprintf("Join the two pieces of the %s first, with a seam of %s.", what, s.text(s.Join))}
}

func (s Spec) shrinkNote() Note {
	step := ""
	if s.Shrink.Step > 0 {
		step = ", rounded up to " + s.text(s.Shrink.Step)
	}
	return Note{Code: "shrink", Text: fmt.Sprintf("Cut larger for unwashed cloth that shrinks by %v along and %v across%s, for panels that lie across the cloth. "+
		"Washed and unwashed cloth never meet in one pillowcase, flannel and plain weave neither.", s.Shrink.Along, s.Shrink.Across, step)}
}
