package planning

import (
	"fmt"

	"pgregory.net/rapid"
)

// smallProblem draws a problem small enough to try everything: a few pieces, coarse sizes.
func smallProblem(t *rapid.T) *Problem {
	p := &Problem{Unit: "cm", Trims: map[string][]string{}, Kit: KitRule{Cases: rapid.IntRange(1, 3).Draw(t, "kit")}}
	groups := []string{"a", "b", "c"}[:rapid.IntRange(1, 3).Draw(t, "groups")]
	for _, g := range groups {
		turn := rapid.SampledFrom([]Turn{Across, Along, Either}).Draw(t, "turn")
		roles := rapid.SampledFrom([][]string{{"body"}, {"body", "cuff"}, {"cuff", "accent"}, {"body", "cuff", "accent"}}).Draw(t, "roles")
		for n := range rapid.IntRange(1, 2).Draw(t, "fabrics") {
			p.Fabrics = append(p.Fabrics, Fabric{
				ID: fmt.Sprint(g, n), Group: g, Turn: turn, Roles: roles, Pieces: rapid.IntRange(0, 2).Draw(t, "pieces"),
				Length: Whole(int64(rapid.IntRange(2, 9).Draw(t, "length"))), Width: Whole(int64(rapid.IntRange(2, 7).Draw(t, "width"))),
			})
		}
		p.Trims[g] = rapid.SliceOfNDistinct(rapid.SampledFrom(groups), 0, len(groups), rapid.ID[string]).Draw(t, "trims")
	}
	for c := range rapid.IntRange(1, 2).Draw(t, "cases") {
		one := Case{ID: fmt.Sprint("case", c)}
		for _, role := range []string{"body", "cuff", "accent"}[:rapid.IntRange(1, 3).Draw(t, "panels")] {
			one.Panels = append(one.Panels, Panel{
				Role: role, Pieces: rapid.IntRange(1, 2).Draw(t, "count"),
				Around: Whole(int64(rapid.IntRange(1, 5).Draw(t, "around"))), Along: Whole(int64(rapid.IntRange(1, 4).Draw(t, "along"))),
			})
		}
		p.Cases = append(p.Cases, one)
	}
	for q := range rapid.IntRange(1, 2).Draw(t, "quotas") {
		quota := Quota{ID: fmt.Sprint("q", q), Wanted: rapid.IntRange(0, 3).Draw(t, "wanted"), Weight: Whole(int64(rapid.SampledFrom([]int{1, 2, 3, 10}).Draw(t, "weight")))}
		for _, c := range p.Cases {
			if rapid.Bool().Draw(t, "takes") || len(quota.Cases) == 0 {
				quota.Cases = append(quota.Cases, c.ID)
			}
		}
		quota.Bodies = rapid.SliceOfNDistinct(rapid.SampledFrom(groups), 1, len(groups), rapid.ID[string]).Draw(t, "bodies")
		p.Quotas = append(p.Quotas, quota)
	}
	return p
}
