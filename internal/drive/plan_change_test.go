package drive

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/length"
	"boltward/internal/planning"
)

func TestStillToChange(t *testing.T) {
	for _, c := range []struct {
		name               string
		wanted, alive      int
		open, spare, wants int
		closed             bool
	}{
		{"as planned", 12, 12, 12, 0, 12, false},
		{"more is asked for", 20, 12, 12, 0, 20, false},
		{"less is asked for", 5, 12, 12, 0, 5, false},
		{"some is begun", 12, 12, 4, 0, 4, false},
		{"more is begun than asked for", 6, 12, 4, 0, 0, false},
		{"some got lost", 12, 8, 4, 0, 8, false},
		{"spares that stand are not given up for rounding", 20, 23, 13, 15, 13, false},
		{"spares on what is missing", 10, 0, 0, 10, 11, false},
		{"closed", 12, 12, 12, 0, 0, true},
	} {
		a := Asked{Wanted: c.wanted, Closed: c.closed}
		require.Equal(t, c.wants, a.StillToChange(Counts{CasePlanned: c.alive}, c.open, c.spare), c.name)
	}
}

func TestClothOfSheetsIsNamed(t *testing.T) {
	id := laidID(Sheet{Number: 17, Lot: 42, Piece: 3})
	for text, want := range map[string][3]int64{
		"42/3": {42, 3, 0}, id: {42, 3, 17}, id + panelsOnly: {42, 3, 17}, id + " rest 1": {42, 3, 0}, "42/3 rest 1": {42, 3, 0},
	} {
		lot, piece, sheet, err := parseLaid(text)
		require.NoError(t, err)
		require.Equal(t, want, [3]int64{lot, int64(piece), sheet}, text)
	}
	for _, bad := range []string{"", "x/1", "42/", "42/1 shoot 3", "42/1 sheet x"} {
		_, _, _, err := parseLaid(bad)
		require.Error(t, err, bad)
	}
}

// standing is a plan that was accepted: cloth of one group, cut by sheets in some state.
func standingPlan(t require.TestingT, wanted int) Changing {
	return standingOf(t, inputOf(wanted, clothOf("1/1", PrintSolid, 120*inch, "navy"), clothOf("2/1", PrintSolid, 120*inch, "navy"), clothOf("3/1", PrintSolid, 90*inch, "navy")))
}

// standingOf is a plan of lots of one piece each that was accepted.
func standingOf(t require.TestingT, in PlanInput) Changing {
	problem, _ := in.Problem()
	plan, err := planning.Solve(context.Background(), problem, planning.Options{Effort: 40})
	require.NoError(t, err)
	a := Accepting{Number: 1, FirstNew: PlanNumbers{Sheet: 1, Kit: 1}, Problem: problem, Plan: plan, Now: in}
	free := map[string]length.Length{}
	for i, c := range in.Cloths {
		a.Shelf = append(a.Shelf, Shelved{Cloth: c, Lot: int64(i + 1), Piece: 1})
		free[c.ID] = c.Length
	}
	acc, err := a.Accept()
	require.NoError(t, err)
	c := Changing{Plan: 1, Now: in}
	for _, s := range acc.Sheets {
		free[ClothID(s.Lot, s.Piece)] -= s.Used
		c.Sheets = append(c.Sheets, StandingSheet{
			Sheet:  Sheet{Number: s.Number, Revision: 1, Plan: 1, Lot: s.Lot, Piece: s.Piece, State: SheetWaiting, Used: s.Used, Width: 43 * inch},
			Panels: s.Panels, Remnants: s.Remnants,
		})
	}
	for i := range a.Shelf {
		s := a.Shelf[i]
		s.Length = free[s.ID]
		c.Shelf = append(c.Shelf, s)
	}
	for i, k := range acc.Kits.Born {
		n := acc.Kits.Kits[i].Cases
		c.Kits = append(c.Kits, Kit{KitRef: k.KitRef, Asked: k.Asked, Size: k.Size, State: KitPlanned, Cases: n, Held: []KitHeld{{Asked: *k.Asked, Size: k.Size, State: CasePlanned, N: n}}})
	}
	return c
}

// begin puts sheets into states by chance, and the kits where those bring them.
func begin(t *rapid.T, c *Changing) {
	for i := range c.Sheets {
		s := &c.Sheets[i]
		s.State = rapid.SampledFrom([]SheetState{SheetWaiting, SheetWaiting, SheetOnTable, SheetCut, SheetShort}).Draw(t, fmt.Sprint("sheet ", s.Number))
		if s.State == SheetShort {
			good := length.Length(rapid.IntRange(0, int(s.Used/inch)).Draw(t, "good")) * inch
			for j := range c.Shelf {
				if c.Shelf[j].Lot == s.Lot {
					c.Shelf[j].Length = good
				}
			}
		}
	}
	for i := range c.Kits {
		k := &c.Kits[i]
		var states []SheetState
		for _, s := range c.Sheets {
			for _, p := range s.Panels {
				if p.Kit == k.KitRef {
					states = append(states, s.State)
					break
				}
			}
		}
		if k.State = kitBySheets(states); k.State == KitCut {
			k.Held[0].State = CaseCut
		}
	}
}

// Whatever is begun or short, the problem of a change is one, what is settled stays, and
// accepting the change at once succeeds and promises no more cloth than there is.
func TestAChangeCanBeAcceptedAsItWasMade(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := standingPlan(t, rapid.IntRange(1, 9).Draw(t, "wanted"))
		begin(t, &c)
		open := c.Open()[1]
		alive := 0
		for _, k := range c.Kits {
			alive += k.Cases
		}
		asked := Asked{Wanted: rapid.IntRange(0, 12).Draw(t, "wanted now")}
		c.Now.Wants[0].Wanted = asked.StillToChange(Counts{CasePlanned: alive}, open, 0)
		problem, stands := c.Problem()
		require.NoError(t, problem.Validate())
		if len(problem.Quotas) == 0 {
			return
		}
		r, err := planning.Replan(context.Background(), problem, stands.Plan, stands.Settled, planning.Options{Effort: 20})
		require.NoError(t, err)
		require.Empty(t, planning.Check(r.Problem, r.Plan))
		require.Subset(t, r.Kept, stands.Settled.Kits)
		change := PlanChange{Number: 2, FirstNew: PlanNumbers{Sheet: 50, Kit: 50}, Problem: r.Problem, Plan: r.Plan, Was: stands, Now: c}
		got, err := change.Accept()
		require.NoError(t, err)
		requireHolds(t, change, got)
		free := map[int64]length.Length{}
		for _, s := range c.Shelf {
			free[s.Lot] = s.Length
		}
		for _, e := range got.Fabric {
			if e.To == Free {
				free[e.Lot] += e.Length
			} else {
				free[e.Lot] -= e.Length
			}
		}
		for lot, left := range free {
			require.GreaterOrEqual(t, left, length.Length(0), "lot %d", lot)
		}
		for _, s := range got.Revised {
			if s.Begun() {
				require.Equal(t, len(s.Was.Panels), len(s.New.Panels), "what is begun keeps its panels")
			}
		}
		sheets, kits := change.Numbers()
		require.Equal(t, []int{sheets, kits}, []int{len(got.New), len(got.Kits.Born)})
		told := TellChange(r.Problem, r.Plan, stands)
		require.Len(t, told.Stay, len(got.KitsStay))
		require.Equal(t, kits, len(told.Change)+len(told.New))
		require.ElementsMatch(t, told.SheetsStay, got.Stay)
		require.Len(t, got.Revised, len(told.SheetsAnew)+len(told.SheetsRegiven))
		require.Len(t, got.Withdrawn, len(told.SheetsGone))
	})
}

// What is left of a kit that was taken apart once it was cut is sewn from by a change, before
// anything else is cut: the new kit has the same panels, and no sheet is new.
func TestAChangeSewsFromLoosePanels(t *testing.T) {
	for _, good := range []bool{true, false} {
		c := standingPlan(t, 6)
		for i := range c.Sheets {
			c.Sheets[i].State = SheetCut
		}
		for i := range c.Kits {
			c.Kits[i].State, c.Kits[i].Held[0].State = KitCut, CaseCut
		}
		apart := &c.Kits[0]
		lost := apart.Cases
		apart.State, apart.Held, apart.Cases, apart.Loose = KitTakenApart, nil, 0, good
		c.Now.Wants[0].Wanted = lost
		problem, stands := c.Problem()
		r, err := planning.Replan(context.Background(), problem, stands.Plan, stands.Settled, planning.Options{Effort: 40})
		require.NoError(t, err)
		require.Empty(t, planning.Check(r.Problem, r.Plan))
		require.Greater(t, r.Plan.Cases(), 6-lost)
		change := PlanChange{Number: 2, FirstNew: PlanNumbers{Sheet: 50, Kit: 50}, Problem: r.Problem, Plan: r.Plan, Was: stands, Now: c}
		got, err := change.Accept()
		require.NoError(t, err)
		if !good {
			require.NotEmpty(t, got.New, "panels that are not good are cut once more")
			continue
		}
		require.Equal(t, 6, r.Plan.Cases())
		require.Empty(t, got.New)
		require.Empty(t, got.Fabric, "no cloth is promised for it")
		require.Len(t, got.Kits.Born, 1)
		require.Equal(t, KitCut, got.Kits.Kits[len(got.Kits.Kits)-1].To, "all of it lies cut")
		n := 0
		for _, s := range got.Revised {
			for _, p := range s.New.Panels {
				if p.Kit == got.Kits.Born[0].KitRef {
					n++
				}
			}
		}
		require.Equal(t, 3*lost, n)
	}
}
