package drive

import "boltward/internal/length"

// OnTape writes how much cloth there is as it is read off a tape: rounded down to
// 1/8 in or 1 mm, so that nobody counts on more than lies there. What is to be cut
// is written exactly instead.
func OnTape(l length.Length, u length.Unit) string {
	return length.Format(l.Round(mark(u), length.Down), u)
}

// AsMeasured writes a length in u where it falls on a mark of its tape, else in the
// other system where it falls on one there: what was measured as 2.5 m stays that.
func AsMeasured(l length.Length, u length.Unit) string {
	if l%mark(u) != 0 && l%mark(u.Other()) == 0 {
		return length.Format(l, u.Other())
	}
	return OnTape(l, u)
}

// mark is the least that people read off a tape in u.
func mark(u length.Unit) length.Length {
	if u.Metric() {
		return length.Millimetre
	}
	return length.Inch / 8
}
