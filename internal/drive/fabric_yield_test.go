package drive

import (
	"testing"

	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

// cutSize is a built-in size as it is cut, by its name.
func cutSize(t testing.TB, name string) PlanSize {
	t.Helper()
	built, ok := sizing.CaseNamed(name)
	require.True(t, ok)
	panels, _, err := sizing.Cuts(built.Spec)
	require.NoError(t, err)
	return PlanSize{ID: name, Panels: panels}
}

// sheet of cloth, solid unless it says otherwise.
func solid(width, long length.Length) Cloth {
	return Cloth{ID: "1/1", Pieces: 1, Width: width, Length: long, Fibre: "cotton", Weight: "quilting", Print: PrintSolid, Turn: TurnEither}
}

func TestMakesAlone(t *testing.T) {
	standard := cutSize(t, "standard")
	body := standard.Panels[0]
	require.Equal(t, sizing.Body, body.Role)
	feature := solid(42*length.Inch, 3*body.Along+length.Inch)
	feature.Print = PrintFeature
	turned := feature
	turned.Turn = TurnAlong
	var whole length.Length
	for _, p := range standard.Panels {
		whole += p.Along
	}
	for _, tt := range []struct {
		name   string
		cloths []Cloth
		cases  int
		bodies bool
	}{
		{"three bodies deep", []Cloth{feature}, 3, true},
		{"lying along, a body takes 41 in of length and two do not fit the width", []Cloth{turned}, int(turned.Length / body.Around), true},
		{"a body, a cuff and an accent", []Cloth{solid(42*length.Inch, whole)}, 1, false},
		{"not quite", []Cloth{solid(42*length.Inch, whole-1)}, 0, false},
		{"too narrow", []Cloth{solid(9*length.Inch, 9*length.Yard)}, 0, false},
		{"nothing", nil, 0, true},
	} {
		got, err := MakesAlone(t.Context(), tt.cloths, []PlanSize{standard})
		require.NoError(t, err, tt.name)
		require.Equal(t, tt.cases, got[0].Cases, tt.name)
		require.Equal(t, tt.bodies, got[0].Bodies, tt.name)
		require.GreaterOrEqual(t, got[0].Most, got[0].Cases, tt.name)
	}
}

// While somebody waits at the desk: a bolt in five sizes.
func BenchmarkMakesAlone(b *testing.B) {
	var sizes []PlanSize
	for _, name := range []string{"standard", "queen", "king", "travel", "child"} {
		sizes = append(sizes, cutSize(b, name))
	}
	for b.Loop() {
		_, err := MakesAlone(b.Context(), []Cloth{solid(41*length.Inch, 10*length.Yard)}, sizes)
		require.NoError(b, err)
	}
}
