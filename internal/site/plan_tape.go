package site

import "fmt"

// planTape is what is asked of a plan, laid out as a tape measure: made, not
// settled between that and the proven bound, and more than the fabric can make.
// It moves while the plan is worked out.
type planTape struct {
	Wanted int
	Cases  int
	Bound  int  // 0 before any is proven
	Now    bool // it is being worked out
}

// most is where the second stretch ends: at all that is asked for, before a
// bound is proven.
func (t planTape) most() int {
	if t.Bound == 0 && t.Now {
		return max(t.Wanted, t.Cases)
	}
	return t.Bound
}

// KeyMade, KeyOpen and KeyBeyond name the stretches.
func (t planTape) KeyMade() string {
	if t.Now {
		return thousands(int64(t.Cases)) + " made so far"
	}
	return thousands(int64(t.Cases)) + " made"
}

func (t planTape) KeyOpen() string {
	if t.Now {
		return thousands(int64(t.most()-t.Cases)) + " not settled yet"
	}
	return thousands(int64(t.most()-t.Cases)) + " not settled"
}

func (t planTape) KeyBeyond() string {
	return thousands(int64(max(0, t.Wanted-t.most()))) + " more than this fabric can make"
}

// Words says the same as the drawing.
func (t planTape) Words() string {
	return fmt.Sprintf("Of %s asked for: %s, %s, %s", thousands(int64(t.Wanted)), t.KeyMade(), t.KeyOpen(), t.KeyBeyond())
}

// Rule is the outline and the marks.
func (t planTape) Rule() string { return tape{}.Rule() }

// MadeWidth, OpenX, OpenWidth and OpenDots are where the first two stretches lie.
func (t planTape) MadeWidth() string { return px(t.along(t.Cases)) }

func (t planTape) OpenX() string { return px(tapeLeft + t.along(t.Cases)) }

func (t planTape) OpenWidth() string { return px(t.along(t.most()) - t.along(t.Cases)) }

func (t planTape) OpenDots() string {
	_, dots := texture("planned", tapeLeft+t.along(t.Cases), tapeLeft+t.along(t.most()), tapeTop, tapeHigh)
	return dots
}

// along is how far so many pillowcases reach.
func (t planTape) along(n int) float64 {
	return tapeWidth * min(1, float64(n)/float64(max(t.Wanted, 1)))
}
