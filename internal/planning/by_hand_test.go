package planning

import (
	"context"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/apperr"
)

// twoPrints is two prints of two pillowcases each, one trimmed navy, one white, all of which
// go together, and some white that is left over.
func twoPrints(t *testing.T) (*Problem, *Plan) {
	p := teaTable(t)
	p.Fabrics, p.Quotas, p.Kit.Cases = nil, p.Quotas[:1], 2
	p.Quotas[0].Wanted = 4
	p.Trims = map[string][]string{"boats": {"navy", "white"}, "owls": {"navy", "white"}}
	p.Quotas[0].Bodies = []string{"boats", "owls"}
	for _, print := range []string{"boats", "owls"} {
		p.Fabrics = append(p.Fabrics, Fabric{ID: print, Length: Whole(54), Width: Whole(42), Pieces: 1, Group: print, Roles: []string{Body}, Turn: Across})
	}
	for _, plain := range []string{"navy", "white"} {
		p.Fabrics = append(p.Fabrics, Fabric{ID: plain, Length: Whole(100), Width: Whole(42), Pieces: 1, Group: plain, Roles: []string{"cuff", "accent"}, Turn: Across})
	}
	plan := solved(t, p, Options{})
	require.Equal(t, 4, plan.Cases())
	return p, plan
}

func cuffsOf(p *Problem, plan *Plan, kit string) []string {
	c := newChecker(p, plan)
	c.layouts()
	var list []string
	for _, one := range kitOf(plan, kit).Pillowcases {
		list = append(list, c.cut[one["cuff"][0]].fabric.ID)
	}
	return list
}

func other(cloth string) string {
	if cloth == "navy" {
		return "white"
	}
	return "navy"
}

// What another pillowcase can give is exchanged and nothing is cut otherwise; what none can
// is cut anew, and the rest of the plan stands.
func TestACuffIsSwappedByHand(t *testing.T) {
	p, plan := twoPrints(t)
	kit := plan.Kits[0].ID
	was := cuffsOf(p, plan, kit)
	w := ByHand{Kit: kit, Cases: []int{0, 1}, Role: "cuff", Fabrics: []string{other(was[0])}}

	swapped, err := Exchanged(p, plan, Settled{}, w)
	require.NoError(t, err)
	if swapped == nil { // all cuffs are cut from one cloth
		old, err := Taken(p, plan, Settled{}, w)
		require.NoError(t, err)
		r, err := Replan(t.Context(), p, old, Settled{Kits: []string{kit}}, Options{})
		require.NoError(t, err)
		require.Equal(t, 4, r.Plan.Cases())
		swapped, err = Tidied(p, r.Joined(p))
		require.NoError(t, err)
	}
	require.Empty(t, Check(p, swapped))
	require.Equal(t, []string{other(was[0]), other(was[0])}, cuffsOf(p, swapped, kit))
	require.Equal(t, was, cuffsOf(p, plan, kit), "the plan that was looked at stays as it was")

	back, err := Exchanged(p, swapped, Settled{}, ByHand{Kit: kit, Cases: []int{0}, Role: "cuff", Fabrics: []string{was[0]}})
	require.NoError(t, err)
	require.NotNil(t, back, "the other kit has that cuff")
	require.Empty(t, Check(p, back))
	require.Equal(t, swapped.Layouts, back.Layouts)

	_, err = Exchanged(p, plan, Settled{Kits: []string{kit}}, w)
	require.True(t, apperr.Is(err, apperr.KindConflict), "a kit that is begun stays")
	p.TrimRoles = map[string]map[string][]string{"boats": {"cuff": {was[0]}}, "owls": {"cuff": {was[0]}}}
	_, err = Exchanged(p, plan, Settled{}, w)
	require.True(t, apperr.Is(err, apperr.KindConflict), "cloth that is not to be this body's cuff")
}

// fewPrints draws some prints and plains that mostly go together, with cloth that may not do
// for all that is asked for.
func fewPrints(t *rapid.T, tea *Problem) *Problem {
	p := *tea
	p.Fabrics, p.Trims, p.Quotas = nil, map[string][]string{}, slices.Clone(tea.Quotas[:1])
	q := &p.Quotas[0]
	q.Wanted, q.Bodies, p.Kit.Cases = rapid.IntRange(2, 8).Draw(t, "wanted"), nil, rapid.IntRange(1, 3).Draw(t, "kit")
	plains := []string{"navy", "white", "rust"}
	for _, print := range []string{"boats", "owls", "ferns"} {
		p.Fabrics = append(p.Fabrics, Fabric{ID: print, Length: Whole(int64(rapid.IntRange(27, 90).Draw(t, "length"))), Width: Whole(42), Pieces: 1, Group: print, Roles: []string{Body}, Turn: Across})
		p.Trims[print] = rapid.SliceOfNDistinct(rapid.SampledFrom(plains), 1, 3, rapid.ID[string]).Draw(t, "trims")
		q.Bodies = append(q.Bodies, print)
	}
	for _, plain := range plains {
		p.Fabrics = append(p.Fabrics, Fabric{ID: plain, Length: Whole(int64(rapid.IntRange(12, 60).Draw(t, "length"))), Width: Whole(42), Pieces: 1, Group: plain, Roles: []string{"cuff", "accent"}, Turn: Across})
	}
	return &p
}

// Whatever cloth somebody wishes for, the plan that comes of it is valid, has it, and makes no
// more than is proven.
func TestSwapsByHandAreValid(t *testing.T) {
	done, lost, tea := 0, 0, teaTable(t)
	rapid.Check(t, func(rt *rapid.T) {
		p := fewPrints(rt, tea)
		plan, err := Solve(context.Background(), p, Options{})
		require.NoError(rt, err)
		var kits []*Kit
		for i := range plan.Kits {
			if len(p.CaseByID(plan.Kits[i].Case).Panels) > 1 {
				kits = append(kits, &plan.Kits[i])
			}
		}
		if len(kits) == 0 {
			return
		}
		k := rapid.SampledFrom(kits).Draw(rt, "kit")
		w := ByHand{Kit: k.ID, Cases: []int{0}, Role: p.CaseByID(k.Case).Panels[1].Role}
		h := newChecker(p, plan)
		h.layouts()
		group := rapid.SampledFrom(p.Trimming(h.cut[k.Pillowcases[0][Body][0]].fabric.Group, w.Role)).Draw(rt, "cloth")
		for _, o := range p.Fabrics {
			if o.Group == group {
				w.Fabrics = append(w.Fabrics, o.ID)
			}
		}
		swapped, err := Exchanged(p, plan, Settled{}, w)
		if err == nil && swapped == nil {
			var old *Plan
			if old, err = Taken(p, plan, Settled{}, w); err == nil {
				r, err := Replan(context.Background(), p, old, Settled{Kits: []string{k.ID}}, Options{})
				require.NoError(rt, err)
				require.Empty(rt, Check(r.Problem, r.Plan))
				m := &model{p: r.Problem, places: finest(r.Problem, r.Plan)}
				for _, l := range r.Plan.Layouts {
					require.Equal(rt, m.closedUp(l).Used, l.Used, "no strip of %s is cut for nothing", l.Fabric)
				}
				for id, from := range r.rests {
					of := p.fabric(from.of.Fabric)
					left, _ := minus(of.Length, r.Plan.LayoutOf(of.ID, from.of.Piece).Used)
					require.Zero(rt, left.Cmp(r.Problem.fabric(id).Length), "all that %s leaves can be planned with", of.ID)
				}
				require.LessOrEqual(rt, r.Plan.Summary.WeightMade.Cmp(plan.Summary.WeightBound), 0)
				if r.Plan.Cases() < plan.Cases() {
					lost++
				}
				require.Equal(rt, content(kitOf(old, k.ID)), content(kitOf(r.Plan, k.ID)))
				swapped, err = Tidied(p, r.Joined(p))
				require.NoError(rt, err)
				swapped.Summary.WeightBound, swapped.Summary.CasesBound = plan.Summary.WeightBound, plan.Summary.CasesBound
			}
		}
		if err != nil {
			require.NotNil(rt, apperr.As(err), "%v", err)
			return
		}
		done++
		require.Empty(rt, Check(p, swapped))
		c := newChecker(p, swapped)
		c.layouts()
		has := slices.ContainsFunc(swapped.Kits, func(k Kit) bool {
			return slices.ContainsFunc(k.Pillowcases, func(one map[string][]string) bool {
				return len(one[w.Role]) > 0 && slices.Contains(w.Fabrics, c.cut[one[w.Role][0]].fabric.ID)
			})
		})
		require.True(rt, has)
	})
	require.Greater(t, done, 20)
	t.Logf("%d swaps, %d cost pillowcases", done, lost)
}
