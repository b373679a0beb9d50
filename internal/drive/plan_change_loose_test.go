package drive

import (
	"context"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
)

// backInPart is a plan of six pillowcases, all cut, of whose first kit one came back sewn; the rest
// of it was taken apart and lies loose.
func backInPart(t *testing.T) Changing {
	c := standingPlan(t, 6)
	for i := range c.Sheets {
		c.Sheets[i].State = SheetCut
		for j := range c.Sheets[i].Panels {
			p := &c.Sheets[i].Panels[j]
			p.Gone = p.Kit.Number == 1 && p.Pillowcase == 1
		}
	}
	for i := range c.Kits {
		c.Kits[i].State, c.Kits[i].Held[0].State = KitCut, CaseCut
	}
	first := &c.Kits[0]
	require.Greater(t, first.Cases, 2)
	back := *first
	back.Part, back.State, back.Cases = 2, KitBack, 1
	back.Held = []KitHeld{{Asked: *first.Asked, Size: first.Size, State: CaseSewn, N: 1}}
	first.State, first.Held, first.Cases, first.Loose = KitTakenApart, nil, 0, true
	c.Kits = slices.Insert(c.Kits, 1, back)
	return c
}

// What lies loose of a kit that came back in part, and that a change needs no more, goes on lying
// loose: it is in no kit of the changed plan.
func TestWhatAChangeDoesNotNeedStaysLoose(t *testing.T) {
	for _, wanted := range []int{0, 1} {
		c := backInPart(t)
		c.Now.Wants[0].Wanted = wanted
		problem, stands := c.Problem()
		r, err := planning.Replan(context.Background(), problem, stands.Plan, stands.Settled, planning.Options{Effort: 40})
		require.NoError(t, err)
		changes := map[string]PlanChange{
			"": {Number: 2, FirstNew: PlanNumbers{Sheet: 50, Kit: 50}, Problem: r.Problem, Plan: r.Plan, Was: stands, Now: c},
		}
		if wanted == 0 {
			changes["as it was put down before"] = laidAsSettled(t, c)
		}
		for name, change := range changes {
			got, err := change.Accept()
			require.NoError(t, err, "%d wanted %s", wanted, name)
			require.Len(t, got.Kits.Born, wanted)
			lie := map[KitRef]int{}
			for _, s := range c.Sheets {
				panels := s.Panels
				for _, other := range got.Revised {
					if other.Was.Number == s.Number {
						panels = other.New.Panels
					}
				}
				for _, p := range panels {
					lie[p.Kit]++
				}
			}
			was := map[KitRef]int{}
			for _, s := range c.Sheets {
				for _, p := range s.Panels {
					was[p.Kit]++
				}
			}
			was[KitRef{Number: 1, Part: 1}] -= 3 * wanted
			if wanted > 0 {
				was[KitRef{Number: 50, Part: 1}] = 3 * wanted
			}
			require.Equal(t, was, lie, "%d wanted %s", wanted, name)
		}
	}
}

// laidAsSettled is a change that was asked for when loose panels of such a kit were put down with
// what is settled, so that the plan has them though nothing is sewn from them.
func laidAsSettled(t *testing.T, c Changing) PlanChange {
	problem, stands := c.Problem()
	require.NotEmpty(t, stands.Settled.Laid)
	for _, l := range stands.Plan.Layouts {
		id, laid := strings.CutSuffix(l.Fabric, panelsOnly)
		if at := stands.Plan.LayoutOf(id, 1); laid && at != nil {
			at.Panels = append(at.Panels, l.Panels...)
			at.Used = mm(c.Sheets[slices.IndexFunc(c.Sheets, func(s StandingSheet) bool { return laidID(s.Sheet) == id })].Used)
			at.Remnants = nil
		}
	}
	stands.Plan.Layouts = slices.DeleteFunc(stands.Plan.Layouts, func(l planning.Layout) bool { return strings.HasSuffix(l.Fabric, panelsOnly) })
	problem.Fabrics = slices.DeleteFunc(problem.Fabrics, func(f planning.Fabric) bool { return strings.HasSuffix(f.ID, panelsOnly) })
	stands.Settled.Laid = nil
	r, err := planning.Replan(context.Background(), problem, stands.Plan, stands.Settled, planning.Options{Effort: 40})
	require.NoError(t, err)
	return PlanChange{Number: 2, FirstNew: PlanNumbers{Sheet: 50, Kit: 50}, Problem: r.Problem, Plan: r.Plan, Was: stands, Now: c}
}

// Of a sheet that waits and that begun kits have panels on, the remnants that are left have the
// numbers they had; laid out anew, without a strip that nothing lies on, they are counted anew.
func TestRemnantsAreNumberedAnew(t *testing.T) {
	at := func(x, y, w, h int) Place {
		return Place{X: Side(x) * inch, Y: Side(y) * inch, W: Side(w) * inch, H: Side(h) * inch}
	}
	n := NewSheet{
		Panels:   []Panel{{Panel: 4, Place: at(0, 0, 20, 9)}, {Panel: 7, Place: at(0, 9, 30, 9)}},
		Remnants: []Remnant{{Remnant: 2, Place: at(20, 0, 22, 9)}, {Remnant: 5, Place: at(30, 9, 12, 9)}},
	}
	numberInCuttingOrder(&n)
	require.Equal(t, []int{1, 2}, []int{n.Panels[0].Panel, n.Panels[1].Panel})
	require.Equal(t, []Remnant{{Remnant: 1, Place: at(20, 0, 22, 9)}, {Remnant: 2, Place: at(30, 9, 12, 9)}}, n.Remnants)
}
