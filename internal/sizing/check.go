package sizing

import (
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

const (
	// largest is the longest side of a case; anything beyond is a slip of the unit.
	largest = 3 * length.Metre
	// widestSeam bounds seams and joins in the same way.
	widestSeam = 5 * length.Inch
	// trimmedTo is what the first of two French seams is trimmed to, and clearance
	// what the second must exceed that by. Common practice, no source.
	trimmedTo = length.Inch / 8
	clearance = length.Inch / 16
)

// Check refuses a spec that cannot be sewn, with every reason by field and the
// nearest size that works.
func (s Spec) Check() error {
	if s.Unit.Size() == 0 {
		return apperr.Invalid("unit", "Choose inches or centimetres.")
	}
	c := checker{s: s}
	c.sizes()
	c.seams()
	c.makeUp()
	if len(c.bad) == 0 {
		c.proportions()
	}
	return apperr.InvalidFields(c.bad)
}

// checker gathers what is wrong with a spec.
type checker struct {
	s   Spec
	bad []apperr.Field
}

func (c *checker) add(field, format string, args ...any) {
	c.bad = append(c.bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
}

// within refuses a length that is below nothing, is nothing where it may not be, or absurd.
func (c *checker) within(field, name string, l, most length.Length, zero bool) {
	switch {
	case l < 0:
		c.add(field, "%s is less than nothing: give a length.", name)
	case l == 0 && !zero:
		c.add(field, "%s is nothing: give a length.", name)
	case l > most:
		c.add(field, "%s of %s is too much: at most %s; check the number and its unit.", name, c.s.text(l), c.s.atMost(most))
	}
}

func (c *checker) sizes() {
	s := c.s
	c.within("width", "The finished width", s.Width, largest, false)
	c.within("length", "The finished length", s.Length, largest, false)
	c.within("cuff", "The cuff", s.Cuff, largest, true)
	c.within("accent", "The accent", s.Accent, largest, true)
	c.within("hem", "The hem", s.Hem.Depth, largest, true)
	c.within("hem", "The hem's turn-under", s.Hem.Turn, largest, true)
	c.within("flap", "The flap", s.Flap, largest, true)
	c.within("ease", "What may be cut more", s.Ease, largest, true)
	if s.Pillow != (Rect{}) {
		c.within("pillow", "The pillow's width", s.Pillow.Width, largest, false)
		c.within("pillow", "The pillow's length", s.Pillow.Length, largest, false)
	}
	if why := s.Shrink.fault(); why != "" {
		c.add("shrink", "%s", why)
	}
}

func (c *checker) seams() {
	s := c.s
	switch s.Seam.Kind {
	case Plain:
		c.within("seam", "The seam", s.Seam.First, widestSeam, false)
		if s.Seam.Second != 0 {
			c.add("seam", "A plain seam is sewn once: give one width, or choose a French seam.")
		}
	case French:
		before := len(c.bad)
		c.within("seam", "The first of the French seams", s.Seam.First, widestSeam, false)
		c.within("seam", "The second of the French seams", s.Seam.Second, widestSeam, false)
		if len(c.bad) > before {
			return
		}
		trimmed := min(s.Seam.First, trimmedTo)
		if least := trimmed + clearance; s.Seam.Second < least {
			c.add("seam", "The second French seam of %s does not clear the first one, which is trimmed to %s: make the second at least %s.",
				s.text(s.Seam.Second), s.text(trimmed), s.atLeast(least))
		}
	default:
		c.add("seam", "Choose a plain or a French seam.")
	}
	if s.Opening() == ByCuff {
		c.within("join", "The seam that joins the cuff", s.Join, widestSeam, false)
	} else {
		c.within("join", "The joining seam", s.Join, widestSeam, true)
	}
}

// makeUp refuses parts that do not belong together.
func (c *checker) makeUp() {
	s := c.s
	if s.Body != Folded && s.Body != FrontAndBack {
		c.add("body", "The body is cut in 1 piece, folded, or in 2, a front and a back.")
	}
	switch s.Opening() {
	case ByCuff:
		if s.Hem != (Hem{}) {
			c.add("hem", "A case with a cuff has no hem: leave one of them out.")
		}
	case ByFlap:
		if s.Cuff != 0 {
			c.add("flap", "A case with a flap has no cuff: leave one of them out.")
		}
		if s.Body == FrontAndBack {
			c.add("body", "A case with a flap is cut in one piece: choose a body of 1.")
		}
	case ByHem:
		if s.Hem.Depth == 0 {
			c.add("hem", "The hem has a turn-under but no depth: give its depth.")
		}
	default:
		c.add("cuff", "Say how the open end is made: with a cuff, a hem or a flap.")
	}
	if s.Accent != 0 && s.Opening() != ByCuff {
		c.add("accent", "An accent lies between cuff and body: give a cuff too, or leave the accent out.")
	}
	if (s.PiecedCuff || s.PiecedAccent) && s.Opening() != ByCuff {
		c.add("cuff", "Only a cuff or an accent is pieced, and this case has none.")
	}
	if s.PiecedAccent && s.Accent == 0 {
		c.add("accent", "There is no accent to piece.")
	}
}

// proportions refuses parts that do not fit into the whole.
func (c *checker) proportions() {
	s := c.s
	if s.Opening() == ByCuff {
		// Something of the body has to show, or there is no body.
		most := s.Length - max(s.Accent, s.Unit.Fine())
		shows := s.Length - s.Cuff
		switch {
		case shows <= 0 && most > 0:
			c.add("cuff", "A cuff of %s is as long as the case or longer: at most %s.", s.text(s.Cuff), s.atMost(most))
		case shows <= 0:
			c.add("cuff", "A cuff of %s is as long as the case or longer: make the case longer.", s.text(s.Cuff))
		case s.Accent > shows:
			c.add("accent", "An accent of %s is deeper than the %s of the body that show: at most %s.", s.text(s.Accent), s.text(shows), s.atMost(shows))
		}
	}
	if s.Opening() == ByFlap && s.Flap > s.Length {
		c.add("flap", "A flap of %s is longer than the case: at most %s.", s.text(s.Flap), s.atMost(s.Length))
	}
	for role, spare := range s.Spare {
		if max(spare.Around, spare.Along, -spare.Around, -spare.Along) > largest {
			c.add("cut", "The %s is cut far beyond what the size needs; check the number and its unit.", role)
		}
	}
	if len(c.bad) > 0 {
		return
	}
	for _, p := range s.panels() {
		if p.Around <= 0 || p.Along <= 0 {
			c.add("cut", "The %s would have no size: check what it is cut short by.", p.Role)
		}
	}
}
