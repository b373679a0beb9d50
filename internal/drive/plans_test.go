package drive

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/apperr"
	"boltward/internal/cutting"
	"boltward/internal/length"
)

// accepting is a plan of 8 pillowcases from two lots, ready to be accepted.
func accepting(t *testing.T) Accepting {
	body := clothOf("4/1", PrintFeature, 220*inch, "navy")
	trim := clothOf("7/2", PrintSolid, 90*inch, "navy")
	in := inputOf(8, body, trim)
	p, plan := solved(t, in)
	require.Equal(t, 8, plan.Cases())
	in.Cloths = nil
	return Accepting{
		Number: 3, FirstNew: PlanNumbers{Sheet: 11, Kit: 107}, Problem: p, Plan: plan, Now: in,
		Shelf: []Shelved{{Cloth: body, Lot: 4, Piece: 1, Shelf: "B2"}, {Cloth: trim, Lot: 7, Piece: 2, Shelf: "a1"}},
	}
}

func TestAccept(t *testing.T) {
	a := accepting(t)
	got, err := a.Accept()
	require.NoError(t, err)

	require.Len(t, got.Sheets, 2)
	require.Equal(t, []int64{11, 7}, []int64{got.Sheets[0].Number, got.Sheets[0].Lot}, "sheets are numbered in the order of the shelves")
	require.Equal(t, []int64{12, 4}, []int64{got.Sheets[1].Number, got.Sheets[1].Lot})
	require.Len(t, got.Kits.Born, 2, "8 pillowcases in kits of 4")
	require.Equal(t, KitRef{107, 1}, got.Kits.Born[0].KitRef)
	require.Equal(t, int64(1), *got.Kits.Born[0].Asked)
	for i, e := range got.Kits.Cases {
		require.Equal(t, CaseEntry{Size: 1, N: 4, From: CaseBorn, ToAsked: 1, ToKit: 107 + int64(i), ToPart: 1, To: CasePlanned}, e)
	}
	panels := map[KitRef]int{}
	for i, s := range got.Sheets {
		e := got.Fabric[i]
		require.Equal(t, []any{FabricPromised, Free, Promised, s.Lot, s.Piece, s.Used},
			[]any{e.Kind, e.From, e.To, e.Lot, e.Piece, e.Length})
		require.Equal(t, length.Area(s.Used)*length.Area(43*inch), e.Area)
		for j, p := range s.Panels {
			require.Equal(t, j+1, p.Panel)
			panels[p.Kit]++
			require.NotZero(t, p.Pillowcase)
		}
	}
	require.Equal(t, map[KitRef]int{{107, 1}: 12, {108, 1}: 12}, panels, "body, cuff and accent for each of four")
}

func TestLayOut(t *testing.T) {
	a := accepting(t)
	laid, err := LayOut(a.Problem, a.Plan)
	require.NoError(t, err)
	got, err := a.Accept()
	require.NoError(t, err)
	require.Len(t, laid, 2)
	require.Equal(t, []any{"4/1", 43 * inch, 220 * inch}, []any{laid[0].Cloth, laid[0].Width, laid[0].Length})
	for i, p := range laid[0].Panels {
		want := got.Sheets[1].Panels[i]
		want.Kit.Number -= 106
		require.Equal(t, want, p, "as the sheet it becomes, with kits numbered from 1")
	}
}

func TestAcceptRefuses(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Accepting)
		says   string
	}{
		{"a piece was promised", func(a *Accepting) { a.Shelf[0].Length -= 27 * inch }, "lot 4 is promised elsewhere or changed"},
		{"both pieces are gone", func(a *Accepting) { a.Shelf = nil }, "lots 4 and 7 are promised elsewhere or changed"},
		{"a lot was set aside", func(a *Accepting) { a.Shelf[1].SetAside = "mildew" }, "lot 7 is"},
		{"a lot's colours were corrected", func(a *Accepting) { a.Shelf[1].Colours = []string{"rust"} }, "lot 7 is"},
		{"the two lots are never to meet", func(a *Accepting) { a.rule(LotRule{Kind: LotNever, Lot: 4, Other: new(int64(7)), Roles: BodyAndTrim}) }, "decided by eye of lots 4 and 7"},
		{"the print is kept for somebody else", func(a *Accepting) { a.rule(LotRule{Kind: LotKeptFor, Lot: 4, Recipient: new(int64(9))}) }, "decided by eye of lot 4"},
		{"a lot was found to have a direction", func(a *Accepting) { a.Shelf[0].Turn = "along" }, "lot 4 is"},
		{"less is asked for", func(a *Accepting) { a.Now.Wants[0].Wanted = 5 }, "Line 1 (Ward 4, standard) still asks for 5, and this plan makes 8"},
		{"the line is closed", func(a *Accepting) { a.Now.Wants = nil }, "Line 1 still asks for 0"},
		{"a theme is to be avoided now", func(a *Accepting) {
			a.Now.Wants[0].ThemesWanted = []string{"trains"}
		}, "Sizes, lines or cloth were changed"},
		{"the size is cut otherwise", func(a *Accepting) { a.Now.Sizes[0].Panels[0].Along += inch }, "Sizes, lines or cloth were changed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := accepting(t)
			c.change(&a)
			_, err := a.Accept()
			require.True(t, apperr.Is(err, apperr.KindConflict), "got %v", err)
			require.ErrorContains(t, err, c.says)
		})
	}
}

func (a *Accepting) rule(r LotRule) {
	for i := range a.Shelf {
		a.Shelf[i].Cloth = r.On([]Cloth{a.Shelf[i].Cloth})[0]
	}
}

// A print is pinned to the ward it is planned for after a cuff was taken by hand: that plan still stands.
func TestAcceptKeepsToRulesSince(t *testing.T) {
	a := accepting(t)
	a.Now.Wants[0].Recipient = "2"
	a.rule(LotRule{Kind: LotKeptFor, Lot: 4, Recipient: new(int64(2))})
	a.rule(LotRule{Kind: LotAlways, Lot: 4, Other: new(int64(7)), Roles: BodyAndCuff})
	_, err := a.Accept()
	require.NoError(t, err)
}

// What does not bear on the plan may change until it is accepted.
func TestAcceptMinds(t *testing.T) {
	a := accepting(t)
	a.Now.Wants[0].Wanted = 40
	a.Now.Wants[0].Weight = 100
	a.Now.Wants[0].KitCases = 2
	a.Now.KitCases = 6
	a.Now.Wants = append(a.Now.Wants, Want{ID: "9", Sizes: []string{"1"}, Wanted: 5, Weight: 1})
	a.Shelf[0].Shelf = "elsewhere"
	_, err := a.Accept()
	require.NoError(t, err)
}

// Whatever is planned can be accepted, and every sheet adds up when it is cut:
// panels, remnants and offcuts are the length it took.
func TestAcceptedSheetsAddUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var cloths []Cloth
		for i := range rapid.IntRange(1, 5).Draw(rt, "lots") {
			c := clothOf(ClothID(int64(i+1), 1), rapid.SampledFrom([]string{PrintSolid, PrintFeature}).Draw(rt, "print"),
				length.Length(rapid.IntRange(8, 120).Draw(rt, "length"))*inch, "navy")
			c.Width = length.Length(rapid.IntRange(20, 108).Draw(rt, "width")) * inch
			c.Turn = rapid.SampledFrom([]string{"either", "across", "along"}).Draw(rt, "turn")
			cloths = append(cloths, c)
		}
		in := inputOf(rapid.IntRange(1, 12).Draw(rt, "wanted"), cloths...)
		p, plan := solved(rt, in)
		if plan.Cases() == 0 {
			rt.Skip("nothing fits")
		}
		a := Accepting{Number: 1, FirstNew: PlanNumbers{1, 1}, Problem: p, Plan: plan, Now: in}
		for i, c := range cloths {
			a.Shelf = append(a.Shelf, Shelved{Cloth: c, Lot: int64(i + 1), Piece: 1})
		}
		got, err := a.Accept()
		require.NoError(rt, err)
		for i, s := range got.Sheets {
			sheet := Sheet{Number: s.Number, Plan: 1, Lot: s.Lot, Piece: s.Piece, State: SheetOnTable, Used: s.Used, Width: cloths[s.Lot-1].Width}
			m, err := sheet.Cut(s.Panels, s.Remnants, []int{1}, nil)
			require.NoError(rt, err)
			var out length.Area
			for _, e := range m.Fabric {
				require.Positive(rt, e.Area)
				if e.From == Promised {
					out += e.Area
				}
			}
			require.Equal(rt, got.Fabric[i].Area, out, "what was promised is what leaves")
			checkOrder(rt, s, sheet.Width)
		}
	})
}

// checkOrder holds the cutting order against the layout: every panel and remnant
// once, strips parted by straight cuts and in order.
func checkOrder(rt *rapid.T, s NewSheet, width Side) {
	strips := CutOrder(s.Panels, s.Remnants)
	var rects []cutting.Rect
	end, panel, remnant := Side(0), 0, 0
	for _, strip := range strips {
		require.GreaterOrEqual(rt, strip.Y, end)
		end = strip.Y + strip.H
		across := Side(0)
		for _, c := range strip.Columns {
			require.GreaterOrEqual(rt, c.X, across)
			across = c.X + c.W
			down := strip.Y
			for _, i := range c.Items {
				require.GreaterOrEqual(rt, i.Y, down, "the items of a column lie one after the other")
				down = i.Y + i.H
				rects = append(rects, cutting.Rect{X: int64(i.X), Y: int64(i.Y), W: int64(i.W), H: int64(i.H)})
				if i.Panel > 0 {
					panel++
					require.Equal(rt, panel, i.Panel, "panels are numbered as they come off the table")
				} else {
					remnant++
					require.Equal(rt, remnant, i.Remnant)
				}
			}
		}
	}
	require.Equal(rt, len(s.Panels), panel)
	require.Equal(rt, len(s.Remnants), remnant)
	_, err := cutting.Check(int64(width), int64(s.Used), rects, 3)
	require.NoError(rt, err)
}
