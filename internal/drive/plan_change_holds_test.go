package drive

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/cutting"
	"boltward/internal/length"
	"boltward/internal/planning"
)

// requireHolds holds that after a change every kit has the panels of its pillowcases on the
// sheets, and that what is laid out anew can be cut, without a strip that nothing lies on.
func requireHolds(t require.TestingT, change PlanChange, done ChangeAcceptance) {
	lie := map[int64]map[string]int{} // panels of each kit, by size and role
	put := func(panels []Panel) {
		for _, p := range panels {
			if lie[p.Kit.Number] == nil {
				lie[p.Kit.Number] = map[string]int{}
			}
			lie[p.Kit.Number][NumberID(p.Size)+" "+p.Role]++
		}
	}
	laid := slices.Clone(done.New)
	for _, s := range done.Revised {
		put(s.New.Panels)
		if !s.Begun() {
			laid = append(laid, s.New)
		}
	}
	for _, s := range change.Now.Sheets {
		if slices.Contains(done.Stay, s.Number) {
			put(s.Panels)
		}
	}
	for _, s := range done.New {
		put(s.Panels)
	}
	var wanted []map[string]int
	for _, k := range change.Plan.Kits {
		n := map[string]int{}
		for _, one := range k.Pillowcases {
			for role, ids := range one {
				n[k.Case+" "+role] += len(ids)
			}
		}
		wanted = append(wanted, n)
	}
	var has []map[string]int
	for _, n := range done.KitsStay {
		has = append(has, lie[n])
	}
	for _, k := range done.Kits.Born {
		has = append(has, lie[k.Number])
	}
	require.ElementsMatch(t, wanted, has)
	for _, s := range laid {
		requireCuttable(t, change.Now, s)
	}
}

func requireCuttable(t require.TestingT, now Changing, s NewSheet) {
	var width length.Length
	for _, c := range now.Shelf {
		if c.Lot == s.Lot && c.Piece == s.Piece {
			width = c.Width
		}
	}
	var rects []cutting.Rect
	for _, p := range s.Panels {
		rects = append(rects, cutting.Rect{X: int64(p.X), Y: int64(p.Y), W: int64(p.W), H: int64(p.H)})
	}
	for _, p := range s.Remnants {
		rects = append(rects, cutting.Rect{X: int64(p.X), Y: int64(p.Y), W: int64(p.W), H: int64(p.H)})
	}
	_, err := cutting.Check(int64(width), int64(s.Used), rects, planning.Stages)
	require.NoError(t, err, "sheet %d", s.Number)
	slices.SortFunc(rects, func(a, b cutting.Rect) int { return int(a.Y - b.Y) })
	ends := int64(0)
	for _, r := range rects {
		require.LessOrEqual(t, r.Y, ends, "sheet %d has a strip that nothing lies on", s.Number)
		ends = max(ends, r.Y+r.H)
	}
	require.Equal(t, int64(s.Used), ends, "sheet %d", s.Number)
}

// onTheTable is six pillowcases of two kits, all but one cuff of navy, whose white sheet came up
// short while the navy one is on the table, cut for both kits.
func onTheTable(t *testing.T) (Changing, *planning.Problem, PlanStands) {
	c := Changing{Plan: 1, Now: inputOf(3, clothOf("1/1", PrintFeature, 81*inch, "navy"), clothOf("2/1", PrintFeature, 108*inch, "navy"),
		clothOf("3/1", PrintSolid, 66*inch, "navy"), clothOf("4/1", PrintSolid, 66*inch, "white"))}
	c.Now.Cloths[2].Themes, c.Now.Cloths[3].Themes = []string{"plain"}, []string{"plain"}
	c.Now.Wants[0].ThemesAvoid, c.Now.KitCases = []string{"plain"}, 3
	free := []length.Length{27 * inch, 0, 6 * inch, 0}
	states := []SheetState{SheetWaiting, SheetWaiting, SheetOnTable, SheetShort}
	for i, used := range []length.Length{54 * inch, 108 * inch, 60 * inch, 9 * inch} {
		cloth := c.Now.Cloths[i]
		cloth.Length = free[i]
		c.Shelf = append(c.Shelf, Shelved{Cloth: cloth, Lot: int64(i + 1), Piece: 1})
		c.Sheets = append(c.Sheets, StandingSheet{Sheet: Sheet{Number: int64(i + 1), Revision: 1, Plan: 1, Lot: int64(i + 1), Piece: 1, State: states[i], Used: used, Width: 43 * inch}})
	}
	lay := func(sheet int, role string, x, y, w, h length.Length, kit int64, pillowcase int) {
		s := &c.Sheets[sheet-1]
		s.Panels = append(s.Panels, Panel{Panel: len(s.Panels) + 1, Role: role, Size: 1, Place: Place{x * inch, y * inch, w * inch, h * inch}, Kit: KitRef{Number: kit, Part: 1}, Pillowcase: pillowcase})
	}
	for i, at := range []struct{ sheet, y length.Length }{{1, 0}, {1, 27}, {2, 0}, {2, 27}, {2, 54}, {2, 81}} {
		kit, one := int64(1+i/3), 1+i%3
		lay(int(at.sheet), "body", 0, at.y, 42, 27, kit, one)
		lay(3, "accent", 27+2*length.Length(i), 0, 2, 42, kit, one)
	}
	lay(3, "cuff", 0, 0, 9, 42, 1, 1)
	lay(3, "cuff", 9, 0, 9, 42, 1, 2)
	lay(3, "cuff", 18, 0, 9, 42, 2, 1)
	lay(3, "cuff", 0, 42, 42, 9, 2, 2)
	lay(3, "cuff", 0, 51, 42, 9, 2, 3)
	lay(4, "cuff", 0, 0, 42, 9, 1, 3)
	asked := int64(1)
	for n := int64(1); n <= 2; n++ {
		c.Kits = append(c.Kits, Kit{KitRef: KitRef{Number: n, Part: 1}, Asked: &asked, Size: 1, State: KitOnTable, Cases: 3, Held: []KitHeld{{Asked: 1, Size: 1, State: CasePlanned, N: 3}}})
	}
	problem, stands := c.Problem()
	require.NoError(t, problem.Validate())
	require.Equal(t, []string{"2"}, stands.Settled.Kits, "the other lacks its white cuff")
	return c, problem, stands
}

// A sheet that is on the table is not cut otherwise: where another kit's panels lie on it there
// is no room for a cuff, though nothing is said of them beside the panels that may change kits.
func TestASwapCutsNothingFromASheetOnTheTable(t *testing.T) {
	c, problem, stands := onTheTable(t)
	w := Swap{Kit: "1", Role: "cuff", Lot: 3, Case: 3}
	_, err := w.By(t.Context(), problem, stands.Plan, &stands, planning.Options{Effort: 20})
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	require.ErrorContains(t, err, "too little of that cloth")

	// Once there is cloth beside the sheet, it is cut from that.
	for i := range c.Shelf {
		if c.Shelf[i].Lot == 3 {
			c.Shelf[i].Length = 12 * inch
		}
	}
	problem, stands = c.Problem()
	got, err := w.By(t.Context(), problem, stands.Plan, &stands, planning.Options{Effort: 20})
	require.NoError(t, err)
	change := PlanChange{Number: 2, FirstNew: PlanNumbers{Sheet: 50, Kit: 50}, Problem: got.Problem, Plan: got.Plan, Was: stands, Now: c}
	done, err := change.Accept()
	require.NoError(t, err)
	requireHolds(t, change, done)
	require.Len(t, done.New, 1)
	require.Equal(t, int64(3), done.New[0].Lot)
}

// What a sheet keeps when a panel falls away that a whole strip was for, and what is kept with it.
func TestASheetIsClosedUp(t *testing.T) {
	at := func(x, y, w, h length.Length) Place { return Place{X: x * inch, Y: y * inch, W: w * inch, H: h * inch} }
	n := NewSheet{
		Used:     54 * inch,
		Panels:   []Panel{{Place: at(0, 0, 42, 9)}, {Place: at(0, 18, 20, 9)}, {Place: at(0, 36, 42, 9)}},
		Remnants: []Remnant{{Place: at(0, 9, 42, 9)}, {Place: at(20, 18, 20, 9)}, {Place: at(0, 45, 42, 9)}},
	}
	n.closeUp()
	require.Equal(t, []Panel{{Place: at(0, 0, 42, 9)}, {Place: at(0, 9, 20, 9)}, {Place: at(0, 18, 42, 9)}}, n.Panels)
	require.Equal(t, []Remnant{{Place: at(20, 9, 20, 9)}}, n.Remnants)
	require.Equal(t, 27*inch, n.Used)
}
