package length

import (
	"fmt"
	"strings"
	"unicode"
)

// ParseRect reads two sides: 18 x 22 in, 18"x22", 46 × 56 cm, 18 in by 22 in.
// A side without a unit takes the other side's, and def when neither has one.
// The first side written comes back first.
func ParseRect(s string, def Unit, r Rounding) (first, second Length, err error) {
	first, second, _, err = ParseRectWritten(s, def, r)
	return first, second, err
}

// ParseRectWritten is ParseRect, and also gives the unit that was written, or def.
func ParseRectWritten(s string, def Unit, r Rounding) (first, second Length, u Unit, err error) {
	sides := splitSides(normalise(s))
	if len(sides) != 2 {
		return 0, 0, "", refusal(s, fmt.Sprintf("%q does not give two sides; write them like 18 x 22 in", shorten(s)))
	}
	a, err := read(sides[0])
	if err != nil {
		return 0, 0, "", refusal(s, "the first side: "+err.Error())
	}
	b, err := read(sides[1])
	if err != nil {
		return 0, 0, "", refusal(s, "the second side: "+err.Error())
	}
	u = a[0].unit
	if u == "" {
		u = b[0].unit
	}
	if u == "" {
		u = def
	}
	if first, _, err = a.length(u, r); err != nil {
		return 0, 0, "", refusal(s, "the first side: "+err.Error())
	}
	if second, _, err = b.length(u, r); err != nil {
		return 0, 0, "", refusal(s, "the second side: "+err.Error())
	}
	return first, second, u, nil
}

// IsRect says whether s looks like two sides rather than one length, so that a
// column may hold either.
func IsRect(s string) bool { return len(splitSides(normalise(s))) > 1 }

// IsBare says whether s gives a number without a unit.
func IsBare(s string) bool {
	return strings.IndexFunc(s, func(c rune) bool { return unicode.IsLetter(c) || c == '"' || c == '\'' || c == '″' || c == '”' }) < 0
}

// splitSides parts at x, ×, * and by, where they stand between the sides and
// not inside a word.
func splitSides(s string) []string {
	var sides []string
	r := []rune(s)
	start := 0
	letter := func(i int) bool { return i >= 0 && i < len(r) && unicode.IsLetter(r[i]) }
	for i := 0; i < len(r); i++ {
		n := 0
		switch {
		case r[i] == '×' || r[i] == '*':
			n = 1
		case r[i] == 'x' && !letter(i+1) && (!letter(i-1) || unitBefore(r[start:i])):
			n = 1
		case r[i] == 'b' && i+1 < len(r) && r[i+1] == 'y' && !letter(i-1) && !letter(i+2):
			n = 2
		}
		if n > 0 {
			sides = append(sides, strings.TrimSpace(string(r[start:i])))
			start = i + n
			i += n - 1
		}
	}
	return append(sides, strings.TrimSpace(string(r[start:])))
}

// unitBefore says whether the letters that end r are a unit, as in 18inx22in.
func unitBefore(r []rune) bool {
	i := len(r)
	for i > 0 && unicode.IsLetter(r[i-1]) {
		i--
	}
	_, ok := unitNamed(string(r[i:]))
	return ok
}
