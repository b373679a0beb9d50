package sizing_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/length"
	"boltward/internal/sizing"
)

func TestCheckStock(t *testing.T) {
	in := func(s string) length.Length { return one(t, s) }
	cloth := func(w, l string, turn sizing.Turn) sizing.Cloth {
		return sizing.Cloth{Width: in(w), Length: in(l), Turn: turn}
	}
	pillow, _ := sizing.PillowNamed("standard")
	tests := []struct {
		name  string
		stock []sizing.Cloth
		want  string // empty: some cloth takes the body
	}{
		{"no stock yet", nil, ""},
		{"wide enough", []sizing.Cloth{cloth("40", "90", sizing.Either), cloth("42", "27", sizing.Across)}, ""},
		{
			"all three ways out",
			[]sizing.Cloth{cloth("41", "90", sizing.Either), cloth("40", "90", sizing.Along)},
			"No fabric in stock takes a body of 42 in around across its width; the widest is 41 in. You could cut it front and back, two pieces of 21 1/2 in × 27 in, " +
				"or turn it along the length of one of 2 pieces whose print allows that, or make the case 20 in wide instead of 20 1/2 in.",
		},
		{
			"a smaller case is narrower than its pillow",
			[]sizing.Cloth{cloth("40", "30", sizing.Across)},
			"No fabric in stock takes a body of 42 in around across its width; the widest is 40 in. You could cut it front and back, two pieces of 21 1/2 in × 27 in, " +
				"or make the case 19 1/2 in wide instead of 20 1/2 in, narrower than its pillow.",
		},
		{
			"wide enough, and too short",
			[]sizing.Cloth{cloth("44", "20", sizing.Either)},
			"No fabric in stock takes a body of 42 in around across its width; what is wide enough is too short or its print may not lie that way. Ask for wider fabric.",
		},
		{
			"wide enough, and the print lies along",
			[]sizing.Cloth{cloth("44", "90", sizing.Along)},
			"No fabric in stock takes a body of 42 in around across its width; what is wide enough is too short or its print may not lie that way. " +
				"You could cut it front and back, two pieces of 21 1/2 in × 27 in, or turn it along the length of a piece whose print allows that.",
		},
	}
	for _, tt := range tests {
		s := standard(t)
		s.Pillow = pillow.Size
		f, err := sizing.CheckStock(s, tt.stock)
		require.NoError(t, err, tt.name)
		if tt.want == "" {
			require.Nil(t, f, tt.name)
			continue
		}
		require.NotNil(t, f, tt.name)
		require.Equal(t, tt.want, f.Note().Text, tt.name)
		require.True(t, f.Note().Warning)
	}
	_, err := sizing.CheckStock(sizing.Spec{}, nil)
	require.Error(t, err)
}

// What is offered works, and a case one mark wider than the smaller one does not.
func TestOffersWork(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := someSpec(rt, true)
		var stock []sizing.Cloth
		for range rapid.IntRange(1, 4).Draw(rt, "pieces") {
			stock = append(stock, sizing.Cloth{
				Width:  length.Length(rapid.Int64Range(1, int64(2*length.Metre)).Draw(rt, "width")),
				Length: length.Length(rapid.Int64Range(1, int64(4*length.Metre)).Draw(rt, "length")),
				Turn:   rapid.SampledFrom([]sizing.Turn{sizing.Across, sizing.Along, sizing.Either}).Draw(rt, "turn"),
			})
		}
		across := func(s sizing.Spec) bool {
			panels, _, err := sizing.Cuts(s)
			require.NoError(rt, err)
			for _, c := range stock {
				if w, l := panels[0].Lying(sizing.Across); c.Turn != sizing.Along && w <= c.Width && l <= c.Length {
					return true
				}
			}
			return false
		}
		f, err := sizing.CheckStock(s, stock)
		require.NoError(rt, err)
		require.Equal(rt, across(s), f == nil)
		if f == nil || f.Smaller == nil {
			return
		}
		require.True(rt, across(*f.Smaller))
		require.Less(rt, f.Smaller.Width, s.Width)
		mark := length.Inch / 8
		if s.Unit.Metric() {
			mark = length.Millimetre
		}
		wider := *f.Smaller
		if wider.Width += mark; wider.Check() == nil {
			require.False(rt, across(wider), "%v wide would do too", wider.Width)
		}
	})
}
