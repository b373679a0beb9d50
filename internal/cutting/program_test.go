package cutting

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// plain computes the best three-stage value on every unit of a grid, with no raster points,
// no dominance and no pruning: slow, and simple enough to believe.
func plain(forms []Form, value []int64, length, width int64) int64 {
	stack := make([][]int64, width+1) // by column width, by height
	for w := range stack {
		stack[w] = make([]int64, length+1)
		for h := int64(1); h <= length; h++ {
			stack[w][h] = stack[w][h-1]
			for i, f := range forms {
				if f.W <= int64(w) && f.H <= h {
					stack[w][h] = max(stack[w][h], stack[w][h-f.H]+value[i])
				}
			}
		}
	}
	strip := make([]int64, length+1)
	for h := range strip {
		row := make([]int64, width+1)
		for w := int64(1); w <= width; w++ {
			for c := int64(1); c <= w; c++ {
				row[w] = max(row[w], row[w-c]+stack[c][h])
			}
		}
		strip[h] = row[width]
	}
	t := make([]int64, length+1)
	for l := int64(1); l <= length; l++ {
		for h := int64(1); h <= l; h++ {
			t[l] = max(t[l], t[l-h]+strip[h])
		}
	}
	return t[length]
}

func drawForms(t *rapid.T, most int64) ([]Form, []int64) {
	n := rapid.IntRange(1, 5).Draw(t, "forms")
	var forms []Form
	var value []int64
	for range n {
		forms = append(forms, Form{rapid.Int64Range(1, most).Draw(t, "w"), rapid.Int64Range(1, most).Draw(t, "h")})
		value = append(value, rapid.Int64Range(-1, 30).Draw(t, "value"))
	}
	return forms, value
}

func TestProgramAgreesWithThePlainOneAndRebuildsWhatItSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		forms, value := drawForms(t, 12)
		length := rapid.Int64Range(1, 30).Draw(t, "length")
		widths := rapid.SliceOfN(rapid.Int64Range(1, 24), 1, 3).Draw(t, "widths")
		p, err := NewProgram(forms, length, widths, 1<<14)
		require.NoError(t, err)
		for range 2 { // the second run uses the tables of the first
			p.Price(value, nil)
			for _, w := range widths {
				u := p.Width(w)
				for l := int64(0); l <= length; l++ {
					at := p.Point(l)
					best := p.Best(at, u)
					if l == length {
						require.Equal(t, plain(forms, value, l, w), best, "best of %d × %d", w, l)
					}
					requireHonest(t, p, forms, value, at, u, w, l, best)
				}
			}
			for i := range value {
				value[i] = rapid.Int64Range(-1, 30).Draw(t, "value")
			}
		}
	})
}

// requireHonest holds a rebuilt pattern to its value, its counts and the independent check.
func requireHonest(t *rapid.T, p *Program, forms []Form, value []int64, at int32, u int, w, l, best int64) {
	pattern := p.Pattern(at, u)
	panels, waste, used := pattern.Place(forms, w)
	require.LessOrEqual(t, used, l)
	var sum, area int64
	var rects []Rect
	for _, x := range panels {
		sum += value[x.Form]
		rects = append(rects, x.Rect)
	}
	require.Equal(t, best, sum, "value of the rebuilt pattern")
	_, err := Check(w, l, rects, 3)
	require.NoError(t, err)
	rects = append(rects, waste...)
	_, err = Check(w, l, rects, 3)
	require.NoError(t, err, "with what is left beside and above the columns")
	for _, r := range rects {
		area += r.W * r.H
	}
	require.LessOrEqual(t, area, w*used)
	counts, again, all := make([]int64, len(forms)), make([]int64, len(forms)), make([]int64, len(forms))
	pattern.Counts(counts)
	p.Counts(at, u, 1, again)
	require.Equal(t, counts, again)
	pieces := make([]int64, p.Points())
	pieces[at] = 3
	p.CountAll(u, pieces, all)
	for i := range counts {
		require.Equal(t, 3*counts[i], all[i])
	}
}

// Whatever layout the check accepts, the programme must know one as good: else a bound
// proven with it would be false.
func TestNoLayoutThatTheCheckAcceptsBeatsTheProgramme(t *testing.T) {
	accepted := 0
	rapid.Check(t, func(t *rapid.T) {
		forms, value := drawForms(t, 5)
		w, l := rapid.Int64Range(3, 10).Draw(t, "width"), rapid.Int64Range(3, 10).Draw(t, "length")
		p, err := NewProgram(forms, l, []int64{w}, 1<<14)
		require.NoError(t, err)
		for i := range value {
			value[i] = max(value[i], 1)
		}
		p.Price(value, nil)
		var rects []Rect
		var sum int64
		for range rapid.IntRange(2, 12).Draw(t, "tries") {
			i := rapid.IntRange(0, len(forms)-1).Draw(t, "form")
			f := forms[i]
			if f.W > w || f.H > l {
				continue
			}
			r := Rect{rapid.Int64Range(0, w-f.W).Draw(t, "x"), rapid.Int64Range(0, l-f.H).Draw(t, "y"), f.W, f.H}
			more := append(rects[:len(rects):len(rects)], r)
			if _, err := Check(w, l, more, 3); err == nil {
				rects, sum = more, sum+value[i]
			}
		}
		if len(rects) > 2 {
			accepted++
		}
		require.LessOrEqual(t, sum, p.Best(p.Point(l), 0), "a layout of %v", rects)
	})
	require.Positive(t, accepted, "no layout of three panels was ever drawn")
}

func TestCostOfLengthMakesPatternsShorter(t *testing.T) {
	p, err := NewProgram([]Form{{4, 6}, {4, 1}}, 10, []int64{4}, 1<<14)
	require.NoError(t, err)
	p.Price([]int64{10, 1}, []int64{1})
	require.EqualValues(t, 4, p.Best(p.Point(10), 0), "the small form is worth no more than its cloth")
	_, _, used := p.Pattern(p.Point(10), 0).Place([]Form{{4, 6}, {4, 1}}, 4)
	require.EqualValues(t, 6, used)
}

func TestTooFineSidesAreSaid(t *testing.T) {
	_, err := NewProgram([]Form{{1, 1_000_003}, {1, 1_000_033}, {1, 1_000_211}}, 1e12, []int64{1}, 1<<14)
	var fine *ErrTooFine
	require.True(t, errors.As(err, &fine), "got %v", err)
}

func TestCheckRefuses(t *testing.T) {
	pinwheel := []Rect{{0, 0, 2, 1}, {2, 0, 1, 2}, {1, 2, 2, 1}, {0, 1, 1, 2}}
	four := []Rect{{0, 0, 4, 4}, {4, 0, 2, 2}, {6, 0, 1, 1}, {4, 2, 3, 2}, {0, 4, 7, 1}}
	for _, c := range []struct {
		name   string
		rects  []Rect
		stages int
		want   string
	}{
		{"outside", []Rect{{6, 0, 2, 2}}, 3, "lies outside"},
		{"empty", []Rect{{0, 0, 0, 2}}, 3, "0 × 2"},
		{"overlap", []Rect{{0, 0, 2, 2}, {1, 1, 2, 2}}, 3, "overlap"},
		{"pinwheel", pinwheel, 9, "no edge-to-edge cuts"},
		{"too deep", four, 3, "4 stages"},
		{"deep enough", four, 4, ""},
	} {
		_, err := Check(7, 7, c.rects, c.stages)
		if c.want == "" {
			require.NoError(t, err, c.name)
		} else {
			require.ErrorContains(t, err, c.want, c.name)
		}
	}
}

// pricedForms gives eight kinds in both turns, and two sets of prices: a run with the values
// of the last one costs nothing.
func pricedForms() ([]Form, [2][]int64) {
	sides := [][2]int64{{82, 54}, {82, 18}, {82, 4}, {82, 61}, {82, 20}, {82, 5}, {58, 35}, {58, 14}}
	var forms []Form
	for _, s := range sides {
		forms = append(forms, Form{s[0], s[1]}, Form{s[1], s[0]})
	}
	var values [2][]int64
	for k := range values {
		for i, f := range forms {
			values[k] = append(values[k], f.W*f.H*1000+int64(i*37%11)*5000+int64(k*i*i%7)*800)
		}
	}
	return forms, values
}

// The pricing step of a group: short, usual, long and many widths.
func BenchmarkPrice(b *testing.B) {
	forms, values := pricedForms()
	var many []int64
	for w := range int64(18) {
		many = append(many, 60+4*w)
	}
	for _, c := range []struct {
		name   string
		length int64
		widths []int64
	}{
		{"short", 80, []int64{84}},
		{"usual", 220, []int64{82, 83, 84, 85, 86}},
		{"long", 600, []int64{82, 84, 86, 110, 212}},
		{"widths", 440, many},
	} {
		b.Run(c.name, func(b *testing.B) {
			p, err := NewProgram(forms, c.length, c.widths, 1<<14)
			require.NoError(b, err)
			p.Price(values[1], nil)
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				p.Price(values[i%2], nil)
			}
		})
	}
}
