package truth

import (
	"fmt"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/planning"
)

// drawMixed draws a quota that may be filled folded, or with a front and a back which fit cloth
// that a folded body does not, with and without a cuff.
func drawMixed(t *rapid.T) *planning.Problem {
	around, along := rapid.IntRange(4, 7).Draw(t, "around"), rapid.IntRange(2, 4).Draw(t, "along")
	half := (around + 1) / 2
	p := &planning.Problem{Unit: "cm", Trims: map[string][]string{"print": {"solid"}}, Kit: planning.KitRule{Cases: 3}}
	folded := planning.Case{ID: "folded", Panels: []planning.Panel{{Role: planning.Body, Around: planning.Whole(int64(around)), Along: planning.Whole(int64(along)), Pieces: 1}}}
	parted := planning.Case{ID: "front and back", Panels: []planning.Panel{{Role: planning.Body, Around: planning.Whole(int64(half)), Along: planning.Whole(int64(along)), Pieces: 2}}}
	if rapid.Bool().Draw(t, "cuffs") {
		folded.Panels = append(folded.Panels, planning.Panel{Role: "cuff", Around: planning.Whole(int64(around)), Along: planning.Whole(1), Pieces: 1})
		parted.Panels = append(parted.Panels, planning.Panel{Role: "cuff", Around: planning.Whole(int64(half)), Along: planning.Whole(1), Pieces: 2})
	}
	p.Cases = []planning.Case{folded, parted}
	turn := rapid.SampledFrom([]planning.Turn{planning.Across, planning.Either}).Draw(t, "turn")
	for n := range rapid.IntRange(1, 3).Draw(t, "prints") {
		p.Fabrics = append(p.Fabrics, planning.Fabric{
			ID: fmt.Sprint("print", n), Group: "print", Turn: turn, Roles: []string{planning.Body}, Pieces: 1,
			Length: planning.Whole(int64(along*rapid.IntRange(1, 3).Draw(t, "strips") + rapid.IntRange(0, 1).Draw(t, "over"))),
			Width:  planning.Whole(int64(rapid.SampledFrom([]int{half, around, around + half, around + half + 1, 2*around - 1}).Draw(t, "width"))),
		})
	}
	p.Fabrics = append(p.Fabrics, planning.Fabric{
		ID: "solid", Group: "solid", Turn: turn, Roles: []string{"cuff"}, Pieces: 1,
		Length: drawWhole(t, 2, 6, "length"), Width: planning.Whole(int64(around)),
	})
	p.Quotas = []planning.Quota{{ID: "ward", Cases: []string{"folded", "front and back"}, Wanted: 8, Weight: planning.Whole(1), Bodies: []string{"print"}}}
	require.NoError(t, p.Validate())
	return p
}

// Where a quota may be filled in two ways, and brute force finds that both together make more
// than either alone, the plan mixes them.
func TestWaysAreMixedInAQuotaWhereThatMakesMore(t *testing.T) {
	var n tally
	more := 0
	rapid.Check(t, func(t *rapid.T) {
		p := drawMixed(t)
		plan := planned(t, p, planning.Options{Effort: 60})
		best, ok := bruteForce(p)
		if !ok {
			n.left++
			return
		}
		n.hold(t, p, plan, best)
		alone := new(big.Rat)
		for _, c := range p.Cases {
			one := *p
			one.Quotas = []planning.Quota{p.Quotas[0]}
			one.Quotas[0].Cases = []string{c.ID}
			made, ok := bruteForce(&one)
			if !ok {
				n.left++
				return
			}
			if made.Cmp(alone) > 0 {
				alone = made
			}
		}
		if best.Cmp(alone) == 0 {
			return
		}
		more++
		require.Equal(t, 0, plan.Summary.WeightMade.Rat().Cmp(best), "the best mixes both ways: %s", text(t, p))
		made := map[string]bool{}
		for _, k := range plan.Kits {
			made[k.Case] = true
		}
		require.Len(t, made, 2)
	})
	t.Logf("%d problems tried in full (%d would take too long); in %d of them both ways together make more, and the plan does", n.tried, n.left, more)
}

// Two strips of 11 cm hold a folded body of 7 and a half of 4 each: three pillowcases, where
// either way alone makes two.
func TestFoldedBodiesLeaveRoomForHalves(t *testing.T) {
	panel := func(around int64, pieces int) []planning.Panel {
		return []planning.Panel{{Role: planning.Body, Around: planning.Whole(around), Along: planning.Whole(3), Pieces: pieces}}
	}
	p := &planning.Problem{
		Unit: "cm", Kit: planning.KitRule{Cases: 3},
		Fabrics: []planning.Fabric{{ID: "print", Group: "print", Turn: planning.Across, Roles: []string{planning.Body}, Pieces: 1, Length: planning.Whole(6), Width: planning.Whole(11)}},
		Cases:   []planning.Case{{ID: "folded", Panels: panel(7, 1)}, {ID: "front and back", Panels: panel(4, 2)}},
		Quotas:  []planning.Quota{{ID: "ward", Cases: []string{"folded", "front and back"}, Wanted: 8, Weight: planning.Whole(1), Bodies: []string{"print"}}},
	}
	require.Equal(t, 3, planned(t, p, planning.Options{Effort: 60}).Summary.CasesMade)
	for _, c := range p.Cases {
		one := *p
		one.Quotas = []planning.Quota{p.Quotas[0]}
		one.Quotas[0].Cases = []string{c.ID}
		require.Equal(t, 2, planned(t, &one, planning.Options{Effort: 60}).Summary.CasesMade, c.ID)
	}
}
