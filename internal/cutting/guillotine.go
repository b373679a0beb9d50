package cutting

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Cut is a node of a guillotine pattern of any depth: a panel, a cut with two parts, or waste
// (neither).
type Cut struct {
	Rect
	Form  int // of a panel, −1 for none
	Parts []*Cut
}

// ErrTooMuch is returned where values could add up to more than a whole number of 64 bits holds.
var ErrTooMuch = errors.New("cutting: values add up to more than 64 bits hold")

// Guillotine finds the most valuable pattern of edge-to-edge cuts in any number of stages,
// each form as often as one likes, and the tree of its cuts. Values of 0 or less are never cut.
//
// Parts are only given sizes where sums of sides end: the far part is rounded down to a sum,
// the near part grown into what is left. Any pattern can be pushed into that shape without
// losing a panel, and the sizes that can then occur are few. It fails with *ErrTooFine where
// they are not, and with ErrTooMuch.
func Guillotine(forms []Form, value []int64, width, length int64) (int64, *Cut, error) {
	s := sheet{}
	var ws, hs []int64
	var densest float64
	for i, f := range forms {
		if f.W <= 0 || f.H <= 0 {
			return 0, nil, fmt.Errorf("cutting: a form of %d × %d", f.W, f.H)
		}
		if value[i] > 0 && f.W <= width && f.H <= length {
			s.forms, s.value, s.index = append(s.forms, f), append(s.value, value[i]), append(s.index, i)
			ws, hs = append(ws, f.W), append(hs, f.H)
			densest = max(densest, float64(value[i])/float64(f.W)/float64(f.H))
		}
	}
	if err := s.axes(ws, hs, width, length); err != nil {
		return 0, nil, err
	}
	// No part is worth more than the whole sheet filled by its densest form.
	switch most := densest * float64(width) * float64(length) * (1 + slack); {
	case most < math.MaxInt32:
		best, cut := newBoard[int32](&s).solve()
		return best, cut, nil
	case most < math.MaxInt64:
		best, cut := newBoard[int64](&s).solve()
		return best, cut, nil
	}
	return 0, nil, ErrTooMuch
}

// sheet is what is cut: the forms that fit it, what they are worth and which of the caller's
// forms they are, and the sizes its parts can have.
type sheet struct {
	forms []Form
	value []int64
	index []int
	x, y  axis
}

func (s *sheet) axes(ws, hs []int64, width, length int64) error {
	ws, hs = slices.Compact(slices.Sorted(slices.Values(ws))), slices.Compact(slices.Sorted(slices.Values(hs)))
	var err error
	if s.x, err = newAxis(ws, width); err != nil {
		return err
	}
	if s.y = s.x; width != length || !slices.Equal(ws, hs) {
		s.y, err = newAxis(hs, length)
	}
	return err
}

// Panels lists the panels below a cut.
func (c *Cut) Panels() []Placed {
	if c.Form >= 0 {
		return []Placed{{int32(c.Form), c.Rect}}
	}
	var out []Placed
	for _, p := range c.Parts {
		out = append(out, p.Panels()...)
	}
	return out
}
