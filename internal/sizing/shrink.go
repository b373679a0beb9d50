package sizing

import (
	"fmt"
	"math/bits"
	"strconv"

	"boltward/internal/length"
)

// Percent is a share in hundredths of a percent: 250 is 2.5 %.
type Percent int64

const wholePercent = 100_00

// mostShrink is beyond what any cloth does; past it, a number is a slip.
const mostShrink = 50_00

// Shrink says by how much cloth will shrink in its first wash, so that it is cut
// larger: by the cloth's own length and width apart. The zero Shrink changes
// nothing: all fabric is washed before cutting.
type Shrink struct {
	Along  Percent       `json:"along"`          // of the cloth's length
	Across Percent       `json:"across"`         // of the cloth's width
	Step   length.Length `json:"step,omitempty"` // cut sizes are rounded up to this; 0 for not at all
}

// DefaultStep is the cutting step of rulers in u: 1/4 in or 5 mm.
func DefaultStep(u length.Unit) length.Length {
	if u.Metric() {
		return 5 * length.Millimetre
	}
	return length.Inch / 4
}

// CutLarger gives what to cut of unwashed cloth so that wanted is left: wanted / (1
// − s), rounded up to a whole step, or to 1/1600 mm when step is 0. (Change % = 100 ·
// (after − before) / before by AATCC TM135 and ISO 5077, s = −change/100.) It
// panics when s is not from 0 to under 100 %, or wanted is below nothing.
func CutLarger(wanted length.Length, s Percent, step length.Length) length.Length {
	if s < 0 || s >= wholePercent || wanted < 0 {
		panic("sizing: CutLarger of less than nothing, or shrunk to nothing")
	}
	if step <= 0 {
		step = 1
	}
	left := uint64(wholePercent - s)
	hi, lo := bits.Mul64(uint64(wanted), wholePercent)
	lo, carry := bits.Add64(lo, left*uint64(step)-1, 0)
	steps, _ := bits.Div64(hi+carry, lo, left*uint64(step))
	return length.Length(steps) * step
}

// AfterWash gives what is left of a length that shrinks by s, rounded down.
func AfterWash(l length.Length, s Percent) length.Length {
	if s < 0 || s >= wholePercent || l < 0 {
		panic("sizing: AfterWash of less than nothing, or shrunk to nothing")
	}
	hi, lo := bits.Mul64(uint64(l), uint64(wholePercent-s))
	left, _ := bits.Div64(hi, lo, wholePercent)
	return length.Length(left)
}

// Change gives the change of a measured length in the wash, 100 · (after − before)
// / before, to the nearest hundredth of a percent: −278 is 2.78 % shorter (AATCC
// TM135, ISO 5077). Before must be more than nothing and both at most length.Max.
func Change(before, after length.Length) Percent {
	return change(int64(before), int64(after))
}

// ChangeOfArea is Change for a rectangle measured both ways.
func ChangeOfArea(alongBefore, alongAfter, acrossBefore, acrossAfter length.Length) (Percent, error) {
	before, err := alongBefore.Times(acrossBefore)
	if err != nil {
		return 0, err
	}
	after, err := alongAfter.Times(acrossAfter)
	if err != nil {
		return 0, err
	}
	return change(int64(before), int64(after)), nil
}

func change(before, after int64) Percent {
	if before <= 0 || after < 0 {
		panic("sizing: Change from nothing")
	}
	hi, lo := bits.Mul64(uint64(after), wholePercent)
	lo, carry := bits.Add64(lo, uint64(before)/2, 0)
	if hi+carry >= uint64(before) {
		panic("sizing: Change beyond counting")
	}
	q, _ := bits.Div64(hi+carry, lo, uint64(before))
	return Percent(q) - wholePercent
}

// String writes 250 as 2.5 %.
func (p Percent) String() string {
	sign := ""
	if p < 0 {
		sign, p = "-", -p
	}
	s := strconv.FormatInt(int64(p/100), 10)
	switch c := p % 100; {
	case c == 0:
	case c%10 == 0:
		s += "." + strconv.FormatInt(int64(c/10), 10)
	default:
		s += fmt.Sprintf(".%02d", int64(c))
	}
	return sign + s + " %"
}

// Panels lie across the cloth unless somebody turns them: around takes the width's
// shrinkage, along the length's.

func (s Shrink) none() bool { return s.Along == 0 && s.Across == 0 }

// step is what cut sizes are whole multiples of.
func (s Shrink) step() length.Length {
	if s.none() || s.Step == 0 {
		return 1
	}
	return s.Step
}

func (s Shrink) around(l length.Length) length.Length { return s.grow(l, s.Across) }
func (s Shrink) along(l length.Length) length.Length  { return s.grow(l, s.Along) }

func (s Shrink) grow(l length.Length, p Percent) length.Length {
	if s.none() {
		return l
	}
	return CutLarger(l, p, s.step())
}

func (s Shrink) washedAround(l length.Length) length.Length { return AfterWash(l, s.Across) }
func (s Shrink) washedAlong(l length.Length) length.Length  { return AfterWash(l, s.Along) }

// fault says what is wrong with a Shrink; empty when nothing is.
func (s Shrink) fault() string {
	switch {
	case s.Along < 0 || s.Across < 0:
		return "Shrinkage is less than nothing: write 5 for cloth that becomes 5 % shorter."
	case s.Along > mostShrink || s.Across > mostShrink:
		return "Shrinkage of more than 50 %: check the numbers; cotton shrinks by 2 to 5 %."
	case s.Step < 0 || s.Step > length.Metre:
		return "The cutting step must be from nothing to 1 m: 1/4 in or 5 mm is usual."
	}
	return ""
}
