package cutting

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// layouts goes through all ways of laying panels on the cells of a small sheet, those left
// out that cannot be worth as much as wanted.
type layouts struct {
	forms         []Form
	value         []int64
	width, length int64
	densest       float64
	taken         []bool
	rects         []Rect
	wanted        int64
	best          int64 // of those that the check accepts
}

func (l *layouts) from(cell int64, sum int64) {
	if cell == l.width*l.length {
		if sum > l.best {
			if _, err := Check(l.width, l.length, l.rects, 3); err == nil {
				l.best = sum
			}
		}
		return
	}
	free := 0
	for c := cell; c < l.width*l.length; c++ {
		if !l.taken[c] {
			free++
		}
	}
	if float64(sum)+float64(free)*l.densest < float64(max(l.wanted, l.best+1)) {
		return
	}
	x, y := cell%l.width, cell/l.width
	for i, f := range l.forms {
		r := Rect{x, y, f.W, f.H}
		if l.value[i] <= 0 || x+f.W > l.width || y+f.H > l.length || !l.free(r) {
			continue
		}
		l.mark(r, true)
		l.rects = append(l.rects, r)
		l.from(cell+1, sum+l.value[i])
		l.rects = l.rects[:len(l.rects)-1]
		l.mark(r, false)
	}
	l.from(cell+1, sum)
}

func (l *layouts) free(r Rect) bool {
	for y := r.Y; y < r.Y+r.H; y++ {
		for x := r.X; x < r.X+r.W; x++ {
			if l.taken[y*l.width+x] {
				return false
			}
		}
	}
	return true
}

func (l *layouts) mark(r Rect, taken bool) {
	for y := r.Y; y < r.Y+r.H; y++ {
		for x := r.X; x < r.X+r.W; x++ {
			l.taken[y*l.width+x] = taken
		}
	}
}

// On small sheets every layout can be looked at: the best that the check accepts must be
// worth what the programme says, no more (a bound would be false) and no less (a plan would be).
func TestTheBestOfAllLayoutsThatTheCheckAcceptsIsTheProgrammes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var forms []Form
		var value []int64
		for range rapid.IntRange(1, 3).Draw(t, "kinds") {
			f := Form{rapid.Int64Range(1, 4).Draw(t, "w"), rapid.Int64Range(2, 4).Draw(t, "h")}
			v := rapid.Int64Range(1, 20).Draw(t, "value")
			forms, value = append(forms, f), append(value, v)
			if rapid.Bool().Draw(t, "either turn") {
				forms, value = append(forms, Form{f.H, f.W}), append(value, v)
			}
		}
		w, l := rapid.Int64Range(1, 6).Draw(t, "width"), rapid.Int64Range(1, 6).Draw(t, "length")
		p, err := NewProgram(forms, l, []int64{w}, 1<<14)
		require.NoError(t, err)
		p.Price(value, nil)
		want := p.Best(p.Point(l), 0)
		all := &layouts{forms: forms, value: value, width: w, length: l, taken: make([]bool, w*l), wanted: want, best: -1}
		for i, f := range forms {
			all.densest = max(all.densest, float64(value[i])/float64(f.W*f.H)*(1+nearly))
		}
		all.from(0, 0)
		require.Equal(t, want, all.best)
	})
}
