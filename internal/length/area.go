package length

import (
	"fmt"
	"math/bits"
	"strconv"
)

// Area is an area in (1/1600 mm)², a plain int64; it reaches to about 3.6 km².
type Area int64

// Exact areas. 1 yd² = 0.83612736 m² (NIST SP 811, appendix B.8).
const (
	SquareInch  = Area(Inch * Inch)
	SquareYard  = Area(Yard * Yard)
	SquareMetre = Area(Metre * Metre)
)

// Times gives the area of l by m, or ErrOverflow.
func (l Length) Times(m Length) (Area, error) {
	p, ok := product(int64(l), int64(m))
	if !ok {
		return 0, ErrOverflow
	}
	return Area(p), nil
}

// Add gives a + b, or ErrOverflow.
func (a Area) Add(b Area) (Area, error) {
	s := a + b
	if (s > a) != (b > 0) && b != 0 {
		return 0, ErrOverflow
	}
	return s, nil
}

// Format gives a to a hundredth as people read it: m² for mm, cm and m, yd² for
// in, ft and yd.
func (a Area) Format(u Unit) string {
	if u.Metric() {
		return a.hundredths(SquareMetre) + " m²"
	}
	return a.hundredths(SquareYard) + " yd²"
}

// hundredths divides by one, rounds half away from zero and drops needless zeros.
func (a Area) hundredths(one Area) string {
	hi, lo := bits.Mul64(magnitude(int64(a)), 100)
	lo, carry := bits.Add64(lo, uint64(one)/2, 0)
	n, _ := bits.Div64(hi+carry, lo, uint64(one))
	s := strconv.FormatUint(n/100, 10)
	switch c := n % 100; {
	case c == 0:
	case c%10 == 0:
		s += "." + strconv.FormatUint(c/10, 10)
	default:
		s += fmt.Sprintf(".%02d", c)
	}
	if a < 0 && n > 0 {
		return "-" + s
	}
	return s
}
