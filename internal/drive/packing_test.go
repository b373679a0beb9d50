package drive

import (
	"testing"

	"boltward/internal/apperr"

	"github.com/stretchr/testify/require"
)

func TestRulesAreGoneThrough(t *testing.T) {
	rules := PackRules([]string{"no buttons", "bagged singly"}, true)
	require.Equal(t, []string{"no buttons", "bagged singly", RuleLaundered}, rules)
	all := []RuleKept{{Rule: "no buttons", Kept: true}, {Rule: "bagged singly", Kept: true}, {Rule: RuleLaundered, Kept: true}}
	kept, err := GoThrough(rules, all, 0)
	require.NoError(t, err)
	require.Equal(t, all, kept)
	_, err = GoThrough(rules, all, 2)
	require.Contains(t, apperr.Fields(err)["rules"], "2 pillowcases of this box lie in no batch", "a tick does not launder")
	_, err = GoThrough(rules, all[:1], 0)
	require.Contains(t, apperr.Fields(err)["rules"], "“bagged singly”, “laundered here”")
	all[1] = RuleKept{Rule: "bagged singly", Why: "  no bags left, Sister Hale agreed "}
	all[2] = RuleKept{Rule: RuleLaundered, Why: "they launder themselves"}
	kept, err = GoThrough(rules, append(all, RuleKept{Rule: "an older rule", Kept: true}), 2)
	require.NoError(t, err)
	require.Len(t, kept, 3, "what is asked no more is not gone through")
	require.Equal(t, "no bags left, Sister Hale agreed", kept[1].Why)

	require.True(t, BagsSingly([]string{"No scent", "Bagged singly, please"}))
	require.False(t, BagsSingly([]string{"no plastic bags", "sewn singly"}))
}

// What is in the wash goes in once.
func TestWashableCounts(t *testing.T) {
	for _, c := range []struct {
		w           Washable
		clean, free int
	}{
		{Washable{Here: 10}, 0, 10},
		{Washable{Here: 10, Washed: 4, InWash: 3}, 4, 3},
		{Washable{Here: 6, Washed: 3}, 3, 3},
		{Washable{Here: 2, Washed: 7}, 2, 0},
		{Washable{Here: 2, InWash: 5}, 0, 0},
	} {
		require.Equal(t, []int{c.clean, c.free}, []int{c.w.Clean(), c.w.Free()}, "%+v", c.w)
	}
	for _, c := range []struct {
		w          Washable
		good, sewn int
	}{
		{Washable{Here: 4, Good: 4, InWash: 1}, 1, 0},
		{Washable{Here: 4, InWash: 3}, 0, 3},
		{Washable{Here: 4, Good: 2, InWash: 1}, 0, 0}, // nobody knows which
		{Washable{Here: 4, Good: 2, InWash: 3}, 1, 1},
		{Washable{Here: 4, Good: 2, InWash: 4}, 2, 2},
	} {
		require.Equal(t, []int{c.good, c.sewn}, []int{c.w.GoodInWash(), c.w.SewnInWash()}, "%+v", c.w)
	}
	lines := []BoxLine{{Asked: 1, Size: 1, N: 5}, {Asked: 2, Size: 1, N: 2}}
	require.Equal(t, 4, Unlaundered(lines, []Washable{{Asked: 1, Size: 1, Here: 5, Washed: 3}}))
}
