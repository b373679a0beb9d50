package sizing

import (
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// Cut is the size of one panel as it was cut.
type Cut struct {
	Role          string
	Around, Along length.Length
}

// FromCuts answers what one gets from given cuts: the spec whose Cuts are these,
// exactly. how says everything that the cuts do not: seams, join, number of bodies,
// pieced trims, hem, flap, pillow, shrinkage, unit; its sizes and Spare are not
// looked at. Panels are trimmed to the narrowest. A finished size that falls on
// half of 1/1600 mm is rounded down and the rest kept as spare.
func FromCuts(cuts []Cut, how Spec) (Spec, error) {
	s := how
	s.Width, s.Length, s.Cuff, s.Accent, s.Spare = 0, 0, 0, 0, nil
	if s.Unit.Size() == 0 {
		return Spec{}, apperr.Invalid("unit", "Choose inches or centimetres.")
	}
	byRole, err := sortCuts(cuts, s)
	if err != nil {
		return Spec{}, err
	}
	if err := s.finish(byRole); err != nil {
		return Spec{}, err
	}
	if err := s.Check(); err != nil {
		return Spec{}, err
	}
	for _, p := range s.needed() {
		c := byRole[p.Role]
		spare := Spare{Around: c.Around - p.Around, Along: c.Along - p.Along}
		if spare == (Spare{}) {
			continue
		}
		if s.Spare == nil {
			s.Spare = map[string]Spare{}
		}
		s.Spare[p.Role] = spare
	}
	if err := s.Check(); err != nil {
		return Spec{}, err
	}
	return s, nil
}

// CutsOf gives panels as the cuts that FromCuts takes.
func CutsOf(panels []Panel) []Cut {
	cuts := make([]Cut, len(panels))
	for i, p := range panels {
		cuts[i] = Cut{Role: p.Role, Around: p.Around, Along: p.Along}
	}
	return cuts
}

// sortCuts checks the list itself: known roles, each once, sizes that can be.
func sortCuts(cuts []Cut, s Spec) (map[string]Cut, error) {
	byRole := map[string]Cut{}
	var bad []apperr.Field
	add := func(format string, args ...any) {
		bad = append(bad, apperr.Field{Name: "cut", Why: fmt.Sprintf(format, args...)})
	}
	for _, c := range cuts {
		if c.Role != Body && c.Role != Cuff && c.Role != Accent {
			add("%q is no panel known here: give body, cuff or accent.", c.Role)
			continue
		}
		if _, twice := byRole[c.Role]; twice {
			add("The %s is given twice: give it once.", c.Role)
			continue
		}
		byRole[c.Role] = c
		for _, l := range []length.Length{c.Around, c.Along} {
			if l <= 0 {
				add("The %s has a side of nothing: give around × along.", c.Role)
			} else if l > 4*largest {
				add("The %s has a side of %s: at most %s; check the number and its unit.", c.Role, s.text(l), s.atMost(4*largest))
			}
		}
	}
	if _, ok := byRole[Body]; !ok {
		add("A body is missing: give it like body=42x27in.")
	}
	_, cuff := byRole[Cuff]
	_, accent := byRole[Accent]
	if accent && !cuff {
		add("An accent lies between cuff and body: give the cuff too.")
	}
	if !cuff && s.Opening() == "" {
		add("Say how the open end is made: give a cuff among the cuts, or a hem or a flap.")
	}
	return byRole, apperr.InvalidFields(bad)
}

// finish solves the equations of Cuts for the finished sizes.
func (s *Spec) finish(byRole map[string]Cut) error {
	t, j := s.TakeUp(), s.Join
	var bad []apperr.Field
	refuse := func(role, side string, cut, loses length.Length) {
		bad = append(bad, apperr.Field{Name: "cut", Why: fmt.Sprintf("The %s, cut %s %s, is lost in the seams: cut it more than %s.",
			role, s.text(cut), side, s.atLeast(loses))})
	}
	first := true
	for _, role := range []string{Body, Cuff, Accent} {
		c, ok := byRole[role]
		if !ok {
			continue
		}
		w, loses := s.widthFrom(role, s.Shrink.washedAround(c.Around))
		if w <= 0 {
			refuse(role, "around", c.Around, loses)
			continue
		}
		if first || w < s.Width {
			s.Width, first = w, false
		}
	}
	if c, ok := byRole[Cuff]; ok {
		if s.Cuff = s.Shrink.washedAlong(c.Along)/2 - j; s.Cuff <= 0 {
			refuse(Cuff, "along", c.Along, 2*j)
		}
	}
	if c, ok := byRole[Accent]; ok {
		if s.Accent = s.Shrink.washedAlong(c.Along)/2 - j; s.Accent <= 0 {
			refuse(Accent, "along", c.Along, 2*j)
		}
	}
	body, loses := s.Shrink.washedAlong(byRole[Body].Along), t
	switch {
	case s.Flap != 0:
		loses = s.Flap + 2*s.Hem.total()
		s.Length = (body - loses) / 2
	case s.Cuff != 0:
		loses = j + t
		s.Length = body - loses + s.Cuff
	default:
		loses += s.Hem.total()
		s.Length = body - loses
	}
	if body <= loses {
		refuse(Body, "along", byRole[Body].Along, loses)
	}
	return apperr.InvalidFields(bad)
}

// widthFrom gives the finished width that a panel's around makes, rounded down,
// and what of it the seams take.
func (s Spec) widthFrom(role string, around length.Length) (w, loses length.Length) {
	t := s.TakeUp()
	pieced := role == Cuff && s.PiecedCuff || role == Accent && s.PiecedAccent
	switch {
	case s.Flap != 0, s.Body == FrontAndBack:
		return around - 2*t, 2 * t
	case pieced:
		return around - t - s.Join, t + s.Join
	}
	return (around - 2*t) / 2, 2 * t
}
