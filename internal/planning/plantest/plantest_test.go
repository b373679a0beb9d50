package plantest

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/planning"
)

// A plain plan has to be valid, or tests that build on it show nothing.
func TestPlainPlansAreValid(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := &planning.Problem{
			Unit: "in", Kit: planning.KitRule{Cases: rapid.IntRange(1, 5).Draw(rt, "kit")},
			Cases: []planning.Case{
				{ID: "a", Panels: []planning.Panel{
					{Role: "body", Around: planning.Whole(42), Along: planning.Whole(27), Pieces: 1},
					{Role: "cuff", Around: planning.Whole(42), Along: planning.Whole(9), Pieces: 1},
				}},
				{ID: "b", Panels: []planning.Panel{
					{Role: "body", Around: planning.Whole(21), Along: planning.Whole(27), Pieces: 2},
				}},
			},
			Trims: map[string][]string{"g0": {"g1", "g0"}, "g1": {"g0"}},
		}
		for i := range rapid.IntRange(0, 6).Draw(rt, "fabrics") {
			g := rapid.IntRange(0, 2).Draw(rt, "group")
			p.Fabrics = append(p.Fabrics, planning.Fabric{
				ID: fmt.Sprint("f", i), Length: planning.Whole(rapid.Int64Range(5, 120).Draw(rt, "length")),
				Width: planning.Whole(rapid.Int64Range(10, 60).Draw(rt, "width")), Pieces: rapid.IntRange(1, 3).Draw(rt, "pieces"),
				Group: fmt.Sprint("g", g), Roles: [][]string{{"body", "cuff"}, {"cuff", "body"}, {"body"}}[g],
				Turn: []planning.Turn{planning.Either, planning.Along, planning.Across}[g],
			})
		}
		for i := range rapid.IntRange(0, 3).Draw(rt, "quotas") {
			p.Quotas = append(p.Quotas, planning.Quota{
				ID: fmt.Sprint("q", i), Cases: []string{"a", "b"}, Wanted: rapid.IntRange(0, 9).Draw(rt, "wanted"),
				Weight: planning.Whole(rapid.Int64Range(1, 100).Draw(rt, "weight")), Bodies: []string{"g2", "g0", "g1"},
			})
		}
		require.NoError(rt, p.Validate())
		require.Empty(rt, planning.Check(p, Plain(p)))
	})
}
