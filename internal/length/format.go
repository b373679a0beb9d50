package length

import (
	"strconv"
	"strings"
)

// Format gives l in u as people read it: 27 1/2 in, 5 ft 3 in, 3 1/2 yd, 1 yd 10
// in, 69.85 cm, 2.5 m. Yards show eighths as fractions and anything else in yards
// and inches. Fractions are written with plain digits, which every font has. What
// is not a multiple of 1/64 in or 0.1 mm is rounded to the nearest and preceded
// by "about"; without that word, Parse gives l back.
func Format(l Length, u Unit) string { return format(l, u, u.Fine()) }

// Other gives l in the other system, for the eye beside a length shown in u: cm
// for inches, m for yards, and the reverse. It is rounded as people speak of
// cloth, to 1/8 in, 1 mm or, in metres, 1 cm, and says "about" when it was.
func Other(l Length, u Unit) string {
	switch o := u.Other(); o {
	case M:
		return format(l, o, Centimetre)
	case CM:
		return format(l, o, Millimetre)
	default:
		return format(l, o, Inch/8)
	}
}

// Decimal gives l in u as a plain decimal: 27.5, 0.015625. It is exact, and says
// so, wherever a finite decimal exists: always in mm, cm and m, and in inches for
// whole multiples of 1/320 in. Otherwise it is rounded to the nearest 1/64 in, or
// to 1/10000 of a foot or yard. It panics when u is not a unit.
func Decimal(l Length, u Unit) (s string, exact bool) {
	size := u.Size()
	if size == 0 {
		panic("length: Decimal in no unit")
	}
	if s, ok := finite(l, size); ok {
		return s, true
	}
	if u == In {
		s, _ = finite(l.Round(u.Fine(), Nearest), size)
		return s, false
	}
	// Ten thousandths of a foot or yard are no whole lengths: count them instead.
	whole, rest := l/size, l%size
	const places = 10_000
	n := int64((rest*places*2 + sign(rest)*size) / (size * 2))
	s, _ = finite(whole*places+Length(n), places)
	return s, false
}

// String is for logs and test messages: exact, in millimetres.
func (l Length) String() string {
	s, _ := Decimal(l, MM)
	return s + " mm"
}

func format(l Length, u Unit, fine Length) string {
	if u.Size() == 0 {
		panic("length: Format in no unit")
	}
	shown := l.Round(fine, Nearest)
	var b strings.Builder
	if shown != l {
		b.WriteString("about ")
	}
	if shown < 0 {
		b.WriteString("-")
		shown = -shown
	}
	switch {
	case u.Metric():
		s, _ := finite(shown, u.Size())
		b.WriteString(s + " " + string(u))
	case u == Yd && shown%(Yard/8) == 0:
		b.WriteString(fraction(shown, Yard) + " yd")
	case u == Yd || u == Ft:
		big := u.Size()
		if shown >= big {
			b.WriteString(strconv.FormatInt(int64(shown/big), 10) + " " + string(u))
			if shown %= big; shown != 0 {
				b.WriteString(" ")
			}
		}
		if shown != 0 {
			b.WriteString(fraction(shown, Inch) + " in")
		} else if strings.HasSuffix(b.String(), "about ") || b.Len() == 0 {
			b.WriteString("0 " + string(u))
		}
	default:
		b.WriteString(fraction(shown, Inch) + " in")
	}
	return b.String()
}

// fraction writes l in units of size as a whole number and a reduced fraction.
// l must be a multiple of a 64th of size, or of an eighth of it.
func fraction(l, size Length) string {
	whole, rest := int64(l/size), l%size
	if rest == 0 {
		return strconv.FormatInt(whole, 10)
	}
	above, below := int64(rest/(size/64)), int64(64)
	for above%2 == 0 {
		above, below = above/2, below/2
	}
	f := strconv.FormatInt(above, 10) + "/" + strconv.FormatInt(below, 10)
	if whole == 0 {
		return f
	}
	return strconv.FormatInt(whole, 10) + " " + f
}

// finite divides by long division and gives up where the decimals do not end;
// they end within 9 places for every size in this package, or never.
func finite(l, size Length) (string, bool) {
	n, d := magnitude(int64(l)), uint64(size)
	out := []byte{}
	if l < 0 {
		out = append(out, '-')
	}
	out = strconv.AppendUint(out, n/d, 10)
	rest := n % d
	if rest == 0 {
		return string(out), true
	}
	out = append(out, '.')
	for range 9 {
		rest *= 10
		out = append(out, byte('0'+rest/d))
		if rest %= d; rest == 0 {
			return string(out), true
		}
	}
	return "", false
}

func sign(l Length) Length {
	if l < 0 {
		return -1
	}
	return 1
}
