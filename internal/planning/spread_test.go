package planning

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Two pieces of each of two prints, a pillowcase from each piece, kits of two: each kit can
// hold both prints in as many bundles.
func TestAWardsKitsHoldDifferentPrints(t *testing.T) {
	p := teaTable(t)
	p.Fabrics, p.Quotas, p.Kit.Cases = nil, p.Quotas[:1], 2
	for i, print := range []string{"boats", "boats", "owls", "owls"} {
		p.Fabrics = append(p.Fabrics, Fabric{ID: fmt.Sprint(print, i), Length: Whole(28), Width: Whole(42), Pieces: 1, Group: print, Roles: []string{Body}, Turn: Across})
	}
	p.Fabrics = append(p.Fabrics, Fabric{ID: "white", Length: Whole(50), Width: Whole(42), Pieces: 1, Group: "white", Roles: []string{"cuff", "accent"}, Turn: Across})
	plan := solved(t, p, Options{})
	require.Len(t, plan.Kits, 2)
	require.Equal(t, 8, plan.Summary.Bundles)
	require.Equal(t, plan.Summary.BundlesLeast, plan.Summary.Bundles)
	require.Zero(t, Repeats(p, plan))

	// Where two prints lie cut from one piece each, other prints would cost bundles.
	p.Fabrics = p.Fabrics[4:]
	for _, print := range []string{"boats", "owls"} {
		p.Fabrics = append(p.Fabrics, Fabric{ID: print, Length: Whole(54), Width: Whole(42), Pieces: 1, Group: print, Roles: []string{Body}, Turn: Across})
	}
	plan = solved(t, p, Options{})
	require.Equal(t, 6, plan.Summary.Bundles)
	require.Equal(t, 2, Repeats(p, plan))
}

// Spreading adds no bundle, leaves the index as it is true, and where it has come to an end
// nothing is left to gain by exchanging single pillowcases.
func TestSpreadingCostsNothing(t *testing.T) {
	gained := 0
	rapid.Check(t, func(t *rapid.T) {
		tb, s := cutOut(t, manyPrints(t), 20)
		tb.sorted(s)
		if len(tb.slots) == 0 {
			return
		}
		bundles, was := tb.total, tb.alikeInAll()
		tb.spread()
		require.LessOrEqual(t, tb.total, bundles)
		if tb.total == bundles { // an exchange that saves a bundle may leave kits more alike
			require.LessOrEqual(t, tb.alikeInAll(), was)
		}
		if tb.alikeInAll() < was {
			gained++
		}
		for b := range tb.bags {
			for o := range tb.bags {
				tb.requireSpread(t, int32(b), int32(o))
			}
		}
		tb.requireTaken(t, s)
	})
	t.Logf("%d problems had kits that could be less alike for nothing", gained)
	require.Positive(t, gained)
}

// manyPrints draws a ward that gets pillowcases of a few prints, cut from pieces of one to three
// bodies each, with cuffs from two solids.
func manyPrints(t *rapid.T) *Problem {
	p := &Problem{Unit: "in", Trims: map[string][]string{}, Kit: KitRule{rapid.IntRange(2, 4).Draw(t, "kit")}}
	p.Cases = []Case{{"case", []Panel{{Body, Whole(10), Whole(6), 1}, {"cuff", Whole(10), Whole(2), 1}}}}
	q := Quota{ID: "ward", Cases: []string{"case"}, Wanted: 60, Weight: Whole(1)}
	for g := range rapid.IntRange(2, 4).Draw(t, "prints") {
		print := fmt.Sprint("print", g)
		q.Bodies, p.Trims[print] = append(q.Bodies, print), []string{"navy", "white"}
		for n := range rapid.IntRange(1, 4).Draw(t, "pieces") {
			long := Whole(int64(6 * rapid.IntRange(1, 3).Draw(t, "bodies")))
			p.Fabrics = append(p.Fabrics, Fabric{ID: fmt.Sprint(print, n), Length: long, Width: Whole(10), Pieces: 1, Group: print, Roles: []string{Body}, Turn: Across})
		}
	}
	for _, solid := range []string{"navy", "white"} {
		p.Fabrics = append(p.Fabrics, Fabric{ID: solid, Length: Whole(int64(2 * rapid.IntRange(2, 20).Draw(t, "cuffs"))), Width: Whole(10), Pieces: 1, Group: solid, Roles: []string{"cuff"}, Turn: Across})
	}
	p.Quotas = []Quota{q}
	require.NoError(t, p.Validate())
	return p
}

func (t *table) alikeInAll() int {
	n := 0
	for b := range t.bags {
		n += t.alike(int32(b))
	}
	return n
}

// requireSpread tries every exchange of a pillowcase between two kits of a line.
func (t *table) requireSpread(r require.TestingT, b, o int32) {
	l := &t.lines[t.bags[b].line]
	if b >= o || t.bags[o].line != t.bags[b].line {
		return
	}
	for p := range t.bags[b].places {
		for q := range t.bags[o].places {
			x, w := t.bags[b].first+p*l.wide, t.bags[o].first+q*l.wide
			if t.slots[x] == none || t.slots[w] == none {
				continue
			}
			before := t.alike(b) + t.alike(o)
			t.done = t.done[:0]
			t.exchangeWhole(x, w, l.wide)
			delta, after := t.delta(b, o, 1<<len(l.roles)-1, 1<<len(l.roles)-1), t.alike(b)+t.alike(o)
			t.undo(0)
			require.False(r, delta <= 0 && after < before, "kits %d and %d could be less alike", b, o)
		}
	}
}

func TestSpreadingInventedDrives(t *testing.T) {
	for _, n := range []string{"40", "300"} {
		p := drive(t, "1", n)
		tb, s := cutOut(t, p, 60)
		tb.sorted(s)
		bundles, was := tb.total, tb.alikeInAll()
		tb.spread()
		tb.requireTaken(t, s)
		require.LessOrEqual(t, tb.total, bundles)
		t.Logf("%s fabrics: %d kits, %d bundles, alike %d before and %d after", n, len(tb.bags), tb.total, was, tb.alikeInAll())
	}
}

func TestRepeats(t *testing.T) {
	p := teaTable(t)
	plan := &Plan{
		Layouts: []Layout{{Fabric: "L1", Panels: []PlacedPanel{{ID: "a"}}}, {Fabric: "L2", Panels: []PlacedPanel{{ID: "b"}}}, {Fabric: "L3", Panels: []PlacedPanel{{ID: "c"}}}},
		Kits:    []Kit{{}},
	}
	for _, id := range strings.Split("a b c", " ") {
		plan.Kits[0].Pillowcases = append(plan.Kits[0].Pillowcases, map[string][]string{Body: {id}})
	}
	require.Equal(t, 1, Repeats(p, plan), "L1 and L2 are boats")
	plan.Kits = append(plan.Kits, Kit{Pillowcases: slices.Clone(plan.Kits[0].Pillowcases[:1])})
	require.Equal(t, 1, Repeats(p, plan))
}
