package cutting

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// plainWithCost is plain with a price on each unit of length.
func plainWithCost(forms []Form, value []int64, length, width, cost int64) int64 {
	t := make([]int64, length+1)
	for h := int64(1); h <= length; h++ {
		strip := plainStrip(forms, value, h, width) - cost*h
		for l := h; l <= length; l++ {
			t[l] = max(t[l], t[l-1], t[l-h]+strip)
		}
	}
	return t[length]
}

// plainStrip gives the most that one strip holds, its columns cut at every unit of width.
func plainStrip(forms []Form, value []int64, height, width int64) int64 {
	row := make([]int64, width+1)
	for c := int64(1); c <= width; c++ {
		stack := make([]int64, height+1)
		for h := int64(1); h <= height; h++ {
			stack[h] = stack[h-1]
			for i, f := range forms {
				if f.W <= c && f.H <= h {
					stack[h] = max(stack[h], stack[h-f.H]+value[i])
				}
			}
		}
		for w := c; w <= width; w++ {
			row[w] = max(row[w], row[w-1], row[w-c]+stack[height])
		}
	}
	return row[width]
}

// What a programme keeps from run to run must show in no answer, whatever the prices before.
func TestEveryRunAnswersLikeTheFirst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		forms, _ := drawForms(t, 12)
		length := rapid.Int64Range(1, 40).Draw(t, "length")
		widths := rapid.SliceOfN(rapid.Int64Range(1, 30), 1, 4).Draw(t, "widths")
		p, err := NewProgram(forms, length, widths, 1<<14)
		require.NoError(t, err)
		for range 3 {
			value, cost := make([]int64, len(forms)), make([]int64, len(p.Widths()))
			worth := rapid.SampledFrom([]int64{3, 100, 1e12}).Draw(t, "worth")
			for i := range value {
				value[i] = rapid.Int64Range(-1, worth).Draw(t, "value")
			}
			for u := range cost {
				cost[u] = rapid.Int64Range(0, worth/8).Draw(t, "cost")
			}
			fresh, err := NewProgram(forms, length, widths, 1<<14)
			require.NoError(t, err)
			fresh.Price(value, cost)
			short := rapid.Int32Range(0, int32(p.Points()-1)).Draw(t, "short")
			p.PriceTo(value, cost, short)
			for at := range short + 1 {
				for u := range p.Widths() {
					require.Equal(t, fresh.Best(at, u), p.Best(at, u))
					require.Equal(t, fresh.Pattern(at, u), p.Pattern(at, u))
				}
			}
			for u, w := range p.Widths() {
				require.Equal(t, plainWithCost(forms, value, length, w, cost[u]), p.Best(p.Point(length), u))
				for at := range int32(p.Points()) {
					require.Equal(t, fresh.Best(at, u), p.Best(at, u))
					require.Equal(t, fresh.Pattern(at, u), p.Pattern(at, u))
				}
			}
		}
	})
}

// A fabric of kilometres in thousandths of a millimetre is answered like one of a few units.
func TestTheUnitOfLengthDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		forms, value := drawForms(t, 12)
		length, width := rapid.Int64Range(1, 40).Draw(t, "length"), rapid.Int64Range(1, 30).Draw(t, "width")
		unit := rapid.Int64Range(2, 1e10/40).Draw(t, "unit")
		var fine []Form
		for _, f := range forms {
			fine = append(fine, Form{f.W * unit, f.H * unit})
		}
		p, err := NewProgram(forms, length, []int64{width}, 1<<14)
		require.NoError(t, err)
		rest := rapid.Int64Range(0, unit-1).Draw(t, "rest")
		q, err := NewProgram(fine, length*unit+rest, []int64{width*unit + rest}, 1<<14)
		require.NoError(t, err)
		p.Price(value, nil)
		q.Price(value, nil)
		require.Equal(t, p.Points(), q.Points())
		for at := range int32(p.Points()) {
			require.Equal(t, p.Best(at, 0), q.Best(at, 0))
			require.Equal(t, p.Pattern(at, 0), q.Pattern(at, 0))
		}
	})
}

// Pricing, and counting what all pieces of a width hold, allocate nothing, however many pieces.
func TestPricingAllocatesNothing(t *testing.T) {
	forms, values := pricedForms()
	p, err := NewProgram(forms, 600, []int64{82, 84, 86, 110, 212}, 1<<14)
	require.NoError(t, err)
	pieces, into := make([]int64, p.Points()), make([]int64, len(forms))
	run := 0
	price := func() {
		run++
		p.Price(values[run%2], nil)
		for u := range p.Widths() {
			for at := range pieces {
				pieces[at] = 1000
			}
			p.CountAll(u, pieces, into)
		}
	}
	price()
	price()
	require.Zero(t, testing.AllocsPerRun(20, price))
}
