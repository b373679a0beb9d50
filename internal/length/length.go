// Package length holds lengths of cloth exactly: reading them as people write
// them, printing them as people read them, adding them, and the areas they make.
//
// A Length is a whole number of 1/1600 mm, the largest unit in which 1/64 in,
// 0.1 in and 1 mm are all whole. No binary float ever holds one. A number that
// falls between two of them is rounded in the direction the caller names: down
// for measured cloth, up for sizes that will be cut. Errors are sentences for
// the person who typed the length; the caller knows the field and adds its name.
package length

import (
	"errors"
	"fmt"
	"math"
	"math/bits"
	"unicode"
)

// Length is a length in 1/1600 mm. It is a plain int64, so a database column
// of type bigint and a JSON number hold it exactly.
type Length int64

// Exact lengths of the units. 1 in = 25.4 mm and 1 yd = 0.9144 m by the yard
// and pound agreement of 1959 (NBS Circular 572, addendum of 1960).
const (
	Millimetre Length = 1600
	Centimetre        = 10 * Millimetre
	Metre             = 1000 * Millimetre
	Inch       Length = 40640
	Foot              = 12 * Inch
	Yard              = 36 * Inch
)

// Max is the longest length that Parse takes: 10 km. Sums of several hundred
// million such lengths still fit a Length.
const Max = 10_000 * Metre

// ErrOverflow says that a sum or a product does not fit. Lengths that came from
// Parse reach it only by way of areas beyond about 3.6 square kilometres.
var ErrOverflow = errors.New("that is more cloth than can be counted")

// Error is a refusal of a length. Its text is a whole sentence for a person.
type Error struct {
	Typed string // what was typed, shortened; empty where nothing was typed
	Why   string // what is wrong and what would be right
}

func (e *Error) Error() string { return e.Why }

// refusal makes a sentence of what is wrong with what was typed.
func refusal(typed, why string) *Error {
	r := []rune(why)
	r[0] = unicode.ToUpper(r[0])
	return &Error{Typed: shorten(typed), Why: string(r) + "."}
}

// Add gives l + m, or ErrOverflow.
func (l Length) Add(m Length) (Length, error) {
	s := l + m
	if (s > l) != (m > 0) && m != 0 {
		return 0, ErrOverflow
	}
	return s, nil
}

// Sum adds any number of lengths, or gives ErrOverflow.
func Sum(ls ...Length) (Length, error) {
	var s Length
	for _, l := range ls {
		var err error
		if s, err = s.Add(l); err != nil {
			return 0, err
		}
	}
	return s, nil
}

// Repeat gives n times l, or ErrOverflow.
func (l Length) Repeat(n int64) (Length, error) {
	p, ok := product(int64(l), n)
	if !ok {
		return 0, ErrOverflow
	}
	return Length(p), nil
}

// Rounding says where a length goes that falls between two marks.
type Rounding int

const (
	// Down is for cloth that was measured: never count on more than there is.
	Down Rounding = iota
	// Up is for sizes that will be cut: never cut too short.
	Up
	// Nearest is for showing; halfway goes away from zero.
	Nearest
)

// Round gives the multiple of step that lies below l, above it or nearest to
// it. A multiple of step stays as it is. It panics when step is not positive;
// l and step must lie within ±Max.
func (l Length) Round(step Length, r Rounding) Length {
	if step <= 0 {
		panic("length: Round with a step that is not positive")
	}
	rest := l % step
	if rest < 0 {
		rest += step
	}
	below := l - rest
	switch {
	case rest == 0, r == Down:
		return below
	case r == Up:
		return below + step
	case rest > step-rest, rest == step-rest && l > 0:
		return below + step
	}
	return below
}

// Within refuses a length below lo or above hi, in a sentence that gives the
// limits in u.
func Within(l, lo, hi Length, u Unit) error {
	switch {
	case l < lo && lo == 1:
		return refusal("", "it must be more than nothing")
	case l < lo:
		return refusal("", fmt.Sprintf("%s is too short: at least %s", Format(l, u), Format(lo, u)))
	case l > hi:
		return refusal("", fmt.Sprintf("%s is too long: at most %s; check the number and its unit", Format(l, u), Format(hi, u)))
	}
	return nil
}

// product multiplies, and says whether the result fits.
func product(a, b int64) (int64, bool) {
	hi, lo := bits.Mul64(magnitude(a), magnitude(b))
	if hi != 0 || lo > math.MaxInt64 {
		return 0, false
	}
	if (a < 0) != (b < 0) {
		return -int64(lo), true
	}
	return int64(lo), true
}

// magnitude is |a|, right for the least int64 too.
func magnitude(a int64) uint64 {
	if a < 0 {
		return -uint64(a)
	}
	return uint64(a)
}
