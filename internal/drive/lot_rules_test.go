package drive

import (
	"context"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/planning"
)

func never(lot, other int64, roles RuleRoles) LotRule {
	return LotRule{Kind: LotNever, Lot: lot, Other: &other, Roles: roles}
}

func always(lot, other int64, roles RuleRoles) LotRule {
	return LotRule{Kind: LotAlways, Lot: lot, Other: &other, Roles: roles}
}

// underRules plans two prints and two plains that all go together, and a rust plain that goes
// with nothing, under rules; it gives what meets.
func underRules(t *testing.T, rules ...LotRule) [][]Together {
	in := inputOf(6, clothOf("1/1", PrintFeature, 81*inch, "navy"), clothOf("2/1", PrintFeature, 81*inch, "navy"),
		clothOf("3/1", PrintSolid, 66*inch, "navy"), clothOf("4/1", PrintSolid, 66*inch, "white"), clothOf("5/1", PrintFeature, 66*inch, "rust"))
	for _, r := range rules {
		require.NoError(t, r.Check())
		in.Cloths = r.On(in.Cloths)
	}
	for i := range in.Cloths {
		if slices.Contains([]string{"3/1", "4/1", "5/1"}, in.Cloths[i].ID) {
			in.Cloths[i].Themes = []string{"plain"}
		}
	}
	in.Wants[0].ThemesAvoid = []string{"plain"}
	p, _ := in.Problem()
	plan, err := planning.Solve(context.Background(), p, planning.Options{Effort: 100})
	require.NoError(t, err)
	require.Empty(t, planning.Check(p, plan))
	kits, err := ByEye(plan)
	require.NoError(t, err)
	var all [][]Together
	n := 0
	for _, k := range kits {
		n += k.Cases
		all = append(all, k.Different...)
	}
	require.Equal(t, 6, n, "cloth is enough for all, whatever is trimmed with what")
	return all
}

func lotsOf(one []Together, role string) []int64 {
	for _, t := range one {
		if t.Role == role {
			return t.Lots
		}
	}
	return nil
}

func TestRulesSpeakOfRoles(t *testing.T) {
	for _, one := range underRules(t, never(1, 3, BodyAndCuff)) {
		if lotsOf(one, "body")[0] == 1 {
			require.Equal(t, []int64{4}, lotsOf(one, "cuff"))
		}
	}
	for _, one := range underRules(t, never(2, 4, BodyAndAccent)) {
		if lotsOf(one, "body")[0] == 2 {
			require.Equal(t, []int64{3}, lotsOf(one, "accent"))
		}
	}
	for _, one := range underRules(t, never(3, 1, BodyAndTrim)) {
		if lotsOf(one, "body")[0] == 1 {
			require.Equal(t, [][]int64{{4}, {4}}, [][]int64{lotsOf(one, "cuff"), lotsOf(one, "accent")})
		}
	}
	for _, rule := range []LotRule{never(3, 4, CuffAndAccent), never(4, 3, CuffAndAccent)} {
		for _, one := range underRules(t, rule) {
			require.Equal(t, lotsOf(one, "cuff"), lotsOf(one, "accent"), "navy and white never trim one pillowcase")
		}
	}
}

// A body that is always sewn with one cuff has it, even where intake would not put the two
// together; other bodies may have it only where they could before.
func TestABodyAlwaysWithOneCuff(t *testing.T) {
	seen := 0
	for _, one := range underRules(t, always(1, 5, BodyAndCuff)) {
		if lotsOf(one, "body")[0] == 1 {
			seen++
			require.Equal(t, []int64{5}, lotsOf(one, "cuff"))
			require.NotEqual(t, []int64{5}, lotsOf(one, "accent"))
		} else {
			require.NotEqual(t, []int64{5}, lotsOf(one, "cuff"))
		}
	}
	require.Positive(t, seen)
}

func TestNoRule(t *testing.T) {
	two, nobody := int64(2), int64(9)
	for name, r := range map[string]LotRule{
		"lot":       {Kind: LotNever, Other: &two, Roles: BodyAndTrim},
		"kind":      {Lot: 1, Other: &two, Roles: BodyAndTrim},
		"other":     {Kind: LotNever, Lot: 2, Other: &two, Roles: BodyAndTrim},
		"roles":     {Kind: LotAlways, Lot: 1, Other: &two, Roles: CuffAndAccent},
		"recipient": {Kind: LotKeptFor, Lot: 1, Recipient: &nobody, Roles: BodyAndCuff},
	} {
		require.Contains(t, apperr.Fields(r.Check()), name)
	}
}
