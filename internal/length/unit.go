package length

import (
	"fmt"
	"strings"
)

// Unit is a unit of length by its usual sign.
type Unit string

// The units a length may be written in.
const (
	In Unit = "in"
	Ft Unit = "ft"
	Yd Unit = "yd"
	MM Unit = "mm"
	CM Unit = "cm"
	M  Unit = "m"
)

// ParseUnit reads a unit as people write it: in, inch, inches, ", ″, ft, ', yd,
// yds, yards, mm, cm, m, metres. Capitals and a full stop do not matter.
func ParseUnit(s string) (Unit, error) {
	word := strings.TrimSuffix(strings.TrimSpace(normalise(s)), ".")
	if u, ok := unitNamed(word); ok {
		return u, nil
	}
	if word == "" {
		return "", refusal("", "say the unit: in, ft, yd, mm, cm or m")
	}
	return "", refusal(s, fmt.Sprintf("%q is not a unit known here; use in, ft, yd, mm, cm or m", shorten(s)))
}

// Size is the length of one of the unit; 0 for a unit that is none of the six.
func (u Unit) Size() Length {
	switch u {
	case In:
		return Inch
	case Ft:
		return Foot
	case Yd:
		return Yard
	case MM:
		return Millimetre
	case CM:
		return Centimetre
	case M:
		return Metre
	}
	return 0
}

// Metric says whether the unit is mm, cm or m.
func (u Unit) Metric() bool { return u == MM || u == CM || u == M }

// Other is the unit of the other system that people would use for the same
// thing: cm beside inches, metres beside feet and yards, and the reverse.
func (u Unit) Other() Unit {
	switch u {
	case In:
		return CM
	case Ft, Yd:
		return M
	case M:
		return Yd
	}
	return In
}

// Fine is the finest mark that lengths are rounded to where they cannot be
// given exactly in u: 1/64 in, or 0.1 mm.
func (u Unit) Fine() Length {
	if u.Metric() {
		return Millimetre / 10
	}
	return Inch / 64
}

// unitNamed knows the words and marks, already normalised and without a stop.
func unitNamed(word string) (Unit, bool) {
	switch word {
	case "in", "ins", "inch", "inches", `"`:
		return In, true
	case "ft", "foot", "feet", "'":
		return Ft, true
	case "yd", "yds", "yard", "yards":
		return Yd, true
	case "mm", "millimetre", "millimetres", "millimeter", "millimeters":
		return MM, true
	case "cm", "cms", "centimetre", "centimetres", "centimeter", "centimeters":
		return CM, true
	case "m", "mtr", "mtrs", "metre", "metres", "meter", "meters":
		return M, true
	}
	return "", false
}
