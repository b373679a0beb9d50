package drive

import (
	"testing"

	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// What is cut in rows can be cut, so it is never more than any cutting makes.
func TestInRowsIsNeverMoreThanCanBeCut(t *testing.T) {
	standard := cutSize(t, "standard")
	rapid.Check(t, func(t *rapid.T) {
		c := solid(length.Length(rapid.IntRange(8, 60).Draw(t, "width"))*length.Inch, length.Length(rapid.IntRange(8, 200).Draw(t, "length"))*length.Inch)
		c.Print = rapid.SampledFrom(Prints()).Draw(t, "print")
		c.Turn = rapid.SampledFrom(Turns()).Draw(t, "turn")
		got := c.InRows(standard)
		alone, err := MakesAlone(t.Context(), []Cloth{c}, []PlanSize{standard})
		require.NoError(t, err)
		if alone[0].Bodies {
			require.Zero(t, got.Cases)
			require.LessOrEqual(t, got.Bodies, alone[0].Most)
		} else {
			require.Zero(t, got.Bodies)
			require.LessOrEqual(t, got.Cases, alone[0].Most)
		}
	})
}

func TestInRows(t *testing.T) {
	standard := cutSize(t, "standard")
	var whole length.Length
	for _, p := range standard.Panels {
		whole += p.Along
	}
	body := standard.Panels[0]
	feature := solid(42*length.Inch, 3*body.Along+length.Inch)
	feature.Print = PrintFeature
	along := feature
	along.Turn = TurnAlong
	wide := solid(2*body.Around, whole)
	aside := solid(42*length.Inch, whole)
	aside.SetAside = "mildew"
	for _, tt := range []struct {
		name string
		c    Cloth
		want InRows
	}{
		{"three bodies deep", feature, InRows{Bodies: 3}},
		{"turned along", along, InRows{Bodies: int(along.Length/body.Around) * int(along.Width/body.Along)}},
		{"a body, a cuff and an accent", solid(42*length.Inch, whole), InRows{Cases: 1}},
		{"not quite", solid(42*length.Inch, whole-1), InRows{}},
		{"two abreast", wide, InRows{Cases: 2}},
		{"too narrow", solid(9*length.Inch, 9*length.Yard), InRows{}},
		{"set aside", aside, InRows{}},
	} {
		require.Equal(t, tt.want, tt.c.InRows(standard), tt.name)
	}
}

func TestShelfAddsUp(t *testing.T) {
	standard := cutSize(t, "standard")
	cloth := func(lot int64, weight string, colours ...string) Shelved {
		c := solid(42*length.Inch, 2*length.Yard)
		c.Weight, c.Colours = weight, colours
		return Shelved{Cloth: c, Lot: lot, Piece: 1}
	}
	list := []Shelved{cloth(1, "quilting", "navy"), cloth(1, "quilting", "navy"), cloth(2, "quilting", "navy", "white"), cloth(3, "flannel")}
	list[3].SetAside = "smell"
	got := SumShelf(list, &standard)
	require.Equal(t, 3, got.All.Lots)
	require.Equal(t, 4, got.All.Pieces)
	require.Equal(t, 8*length.Yard, got.All.Length)
	each := list[0].InRows(standard).Cases
	require.Positive(t, each)
	require.Equal(t, 3*each, got.All.Makes.Cases)
	require.Equal(t, 1, got.Aside.Lots)
	require.Equal(t, []string{"quilting cotton", "flannel cotton"}, []string{got.Kinds[0].Name, got.Kinds[1].Name})
	require.Equal(t, 2, got.Kinds[0].Lots)
	var names []string
	for _, c := range got.Colours {
		names = append(names, c.Name)
	}
	require.Equal(t, []string{"navy", "no colour noted", "white"}, names)
	require.Equal(t, ShelfTotals{All: ShelfSum{Name: "everything"}, Aside: ShelfSum{Name: "set aside"}}, SumShelf(nil, nil))
}
