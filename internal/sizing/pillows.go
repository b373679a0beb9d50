package sizing

import (
	"strings"

	"boltward/internal/length"
)

// Pillow is a pillow that cases are made for. There is no ISO, EN or BS standard of
// pillow sizes: the list is where a drive starts from, and every size can be edited.
type Pillow struct {
	Name   string
	Also   []string // other names for it
	Size   Rect
	Unit   length.Unit // what it is sold in
	Source string
}

// Pillows gives the usual pillows, each time a fresh list.
func Pillows() []Pillow {
	in := func(name string, w, l length.Length, source string, also ...string) Pillow {
		return Pillow{name, also, Rect{w * length.Inch, l * length.Inch}, length.In, source}
	}
	cm := func(name string, w, l length.Length, source string, also ...string) Pillow {
		return Pillow{name, also, Rect{w * length.Centimetre, l * length.Centimetre}, length.CM, source}
	}
	const (
		reference = "reference.com, pillowcase sizes"
		soak      = "soakandsleep.com"
		cushions  = "pillowsandcushions.com"
		memory    = "from memory"
	)
	return []Pillow{
		in("standard", 20, 26, reference),
		in("queen", 20, 30, reference),
		in("king", 20, 36, reference),
		in("euro", 26, 26, reference),
		in("travel", 12, 16, reference),
		in("toddler", 13, 18, memory, "child"),
		cm("UK standard", 50, 75, soak),
		cm("UK king", 50, 90, soak),
		cm("square 65", 65, 65, soak),
		cm("square 80", 80, 80, cushions),
		cm("40 by 80", 40, 80, cushions),
		cm("Australian", 48, 73, memory),
	}
}

// PillowNamed finds a usual pillow by its name; capitals do not matter.
func PillowNamed(name string) (Pillow, bool) {
	for _, p := range Pillows() {
		if named(name, p.Name, p.Also) {
			return p, true
		}
	}
	return Pillow{}, false
}

// named compares names as people write them: capitals, dashes and spaces aside.
func named(typed, name string, also []string) bool {
	plain := func(s string) string {
		return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ' ' || r == '-' || r == '_' }), " ")
	}
	typed = plain(typed)
	if typed == plain(name) {
		return true
	}
	for _, a := range also {
		if typed == plain(a) {
			return true
		}
	}
	return false
}
