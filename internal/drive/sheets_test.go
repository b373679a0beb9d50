package drive

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

func sheetOf(state SheetState) Sheet {
	return Sheet{Number: 5, Plan: 1, Lot: 4, Piece: 1, State: state, Used: 36 * inch, Width: 43 * inch}
}

func kitAt(state KitState, cases CaseState, others ...SheetState) SheetKit {
	k := Kit{KitRef: KitRef{107, 1}, State: state, Size: 1, Cases: 3, Held: []KitHeld{{Asked: 2, Size: 1, State: cases, N: 3}}}
	return SheetKit{Kit: k, Others: others}
}

func TestWhereAKitIsWhileItsClothIsCut(t *testing.T) {
	for _, c := range []struct {
		sheets []SheetState
		want   KitState
	}{
		{[]SheetState{SheetWaiting, SheetWaiting}, KitPlanned},
		{[]SheetState{SheetWaiting, SheetOnTable}, KitOnTable},
		{[]SheetState{SheetWaiting, SheetCut}, KitOnTable},
		{[]SheetState{SheetCut, SheetOnTable}, KitOnTable},
		{[]SheetState{SheetCut, SheetCut}, KitCut},
	} {
		require.Equal(t, c.want, kitBySheets(c.sheets), "%v", c.sheets)
	}
}

func TestSignOutAndPutBack(t *testing.T) {
	m, err := sheetOf(SheetWaiting).SignOut("  Rosa  L. ", []SheetKit{kitAt(KitPlanned, CasePlanned, SheetWaiting)})
	require.NoError(t, err)
	require.Equal(t, "Rosa L.", m.Helper)
	require.Equal(t, []KitEntry{{Kit: 107, Part: 1, From: KitPlanned, To: KitOnTable, Cases: 3}}, m.Kits)
	require.Empty(t, m.Cases)

	m, err = sheetOf(SheetOnTable).PutBack([]SheetKit{kitAt(KitOnTable, CasePlanned, SheetWaiting)})
	require.NoError(t, err)
	require.Equal(t, []KitEntry{{Kit: 107, Part: 1, From: KitOnTable, To: KitPlanned, Cases: 3}}, m.Kits)

	m, err = sheetOf(SheetOnTable).PutBack([]SheetKit{kitAt(KitOnTable, CasePlanned, SheetCut)})
	require.NoError(t, err)
	require.Empty(t, m.Kits, "another sheet of the kit is cut")

	gone := kitAt(KitTakenApart, CaseWithdrawn)
	gone.Cases = 0
	for _, move := range []func(Sheet, []SheetKit) (SheetMoves, error){
		func(s Sheet, k []SheetKit) (SheetMoves, error) { s.State = SheetWaiting; return s.SignOut("Rosa", k) },
		Sheet.PutBack,
	} {
		m, err = move(sheetOf(SheetOnTable), []SheetKit{gone})
		require.NoError(t, err)
		require.Empty(t, m.Kits, "a kit that was given up meanwhile stays so")
	}

	_, err = sheetOf(SheetWaiting).SignOut("   ", nil)
	require.Contains(t, apperr.Fields(err), "helper")
	for _, state := range []SheetState{SheetOnTable, SheetCut, SheetWithdrawn} {
		_, err = sheetOf(state).SignOut("Rosa", nil)
		require.True(t, apperr.Is(err, apperr.KindConflict))
	}
	for _, state := range []SheetState{SheetWaiting, SheetCut, SheetWithdrawn} {
		_, err = sheetOf(state).PutBack(nil)
		require.True(t, apperr.Is(err, apperr.KindConflict))
	}
}

func TestCutAndUndone(t *testing.T) {
	sheet := sheetOf(SheetOnTable)
	panels := []Panel{
		{Panel: 1, Role: "body", Place: Place{0, 0, 42 * inch, 27 * inch}},
		{Panel: 2, Role: "cuff", Place: Place{0, 27 * inch, 20 * inch, 9 * inch}},
	}
	remnants := []Remnant{{Remnant: 1, Label: 2, Place: Place{20 * inch, 27 * inch, 23 * inch, 9 * inch}}}
	m, err := sheet.Cut(panels, remnants, []int{1}, []SheetKit{kitAt(KitOnTable, CasePlanned, SheetCut)})
	require.NoError(t, err)
	one, two := 1, 2
	plan, number := int64(1), int64(5)
	square := length.Area(inch) * length.Area(inch)
	require.Equal(t, []FabricEntry{
		{Lot: 4, Piece: 1, Kind: FabricCut, From: Promised, To: Cut, Area: (42*27 + 20*9) * square, Plan: &plan, Sheet: &number},
		{Lot: 4, Piece: 1, Kind: FabricParted, From: Promised, To: Parted, Area: 23 * 9 * square, OtherPiece: &two, Plan: &plan, Sheet: &number},
		{Lot: 4, Piece: 2, Kind: FabricParted, From: Origin, To: Free, Length: 9 * inch, Area: 23 * 9 * square, OtherPiece: &one, Plan: &plan, Sheet: &number},
		{Lot: 4, Piece: 1, Kind: FabricOffcut, From: Promised, To: Out, Area: 27 * square, Plan: &plan, Sheet: &number},
	}, m.Fabric)
	require.Equal(t, []NewPiece{{Lot: 4, Piece: 2, Kind: PieceRemnant, Origin: &one, Width: 23 * inch}}, m.Pieces)
	require.Equal(t, map[int]int{1: 2}, m.Remnants)
	require.Equal(t, []KitEntry{{Kit: 107, Part: 1, From: KitOnTable, To: KitCut, Cases: 3}}, m.Kits)
	require.Equal(t, CasePlanned, m.Cases[0].From)
	require.Equal(t, CaseCut, m.Cases[0].To)

	sheet.State = SheetCut
	var written []WrittenFabric
	for i, e := range m.Fabric {
		written = append(written, WrittenFabric{ID: int64(i + 1), FabricEntry: e})
	}
	back, err := sheet.UndoCut(written, map[int]bool{2: true}, []SheetKit{kitAt(KitCut, CaseCut, SheetCut)})
	require.NoError(t, err)
	require.Len(t, back.Fabric, 4)
	require.Equal(t, []KitEntry{{Kit: 107, Part: 1, From: KitCut, To: KitOnTable, Cases: 3}}, back.Kits)
	require.Equal(t, CasePlanned, back.Cases[0].To)
	for i, e := range back.Fabric {
		w := written[3-i]
		require.Equal(t, []any{FabricUndone, w.To, w.From, w.Area, w.ID}, []any{e.Kind, e.From, e.To, e.Area, *e.Undoes})
	}

	_, err = sheet.UndoCut(written, map[int]bool{}, []SheetKit{kitAt(KitCut, CaseCut, SheetCut)})
	require.ErrorContains(t, err, "remnant 4/2 of sheet 5 is in use")
	_, err = sheet.UndoCut(written, map[int]bool{2: true}, []SheetKit{kitAt(KitReady, CaseCut, SheetCut)})
	require.ErrorContains(t, err, "Kit 107 is ready")
}

func TestWithdraw(t *testing.T) {
	m, err := Withdraw(1, []Sheet{sheetOf(SheetWaiting)}, []Kit{kitAt(KitPlanned, CasePlanned).Kit})
	require.NoError(t, err)
	require.Equal(t, []any{FabricReleased, Promised, Free, 36 * inch}, []any{m.Fabric[0].Kind, m.Fabric[0].From, m.Fabric[0].To, m.Fabric[0].Length})
	require.Equal(t, KitTakenApart, m.Kits[0].To)
	require.Zero(t, m.Kits[0].Cases)
	require.Equal(t, CaseWithdrawn, m.Cases[0].To)

	_, err = Withdraw(1, []Sheet{sheetOf(SheetWaiting), sheetOf(SheetCut)}, nil)
	require.ErrorContains(t, err, "on the table or cut are sheets 5")
}

func TestCutStepsInWords(t *testing.T) {
	at := func(n int, role string, x, y, w, h Side) Panel {
		return Panel{Panel: n, Role: role, Size: 1, Place: Place{x * inch, y * inch, w * inch, h * inch}}
	}
	panels := []Panel{
		at(1, "body", 0, 0, 42, 27), at(2, "body", 0, 27, 42, 27),
		at(3, "cuff", 0, 54, 9, 42), at(4, "cuff", 9, 54, 9, 42), at(5, "accent", 18, 54, 20, 2), at(6, "accent", 18, 56, 18, 2),
	}
	remnants := []Remnant{{Remnant: 1, Place: Place{18 * inch, 60 * inch, 25 * inch, 36 * inch}}}
	steps := CutSteps(panels, CutOrder(panels, remnants), SheetCloth{Width: 43 * inch, Unit: length.In},
		func(p Panel) bool { return p.Role == "body" })
	require.Equal(t, []CutStep{
		{Text: "Press the cloth, lay a selvedge along the ruler and cut the end square. Everything is measured from here."},
		{Text: "Measure 27 in from the end and cut across the full width. Do this 2 times: strips A to B. Leave each the full width, then trim to the narrowest: at least 42 in is needed, and all parts of one pillowcase end as wide as the narrowest of them.", Panels: []int{1, 2}},
		{Text: "Measure 42 in from the end and cut across the full width: strip C."},
		{Text: "Lay strip C flat and cut it along, from the left selvedge at 9 in and 18 in.", Panels: []int{3, 4}},
		{Text: "Take the third piece from the left and cut it across at 2 in, 4 in and 6 in, then trim what is wider than needed to 20 in and 18 in. What lies from 4 in to 6 in is no panel.", Panels: []int{5, 6}, Remnants: []int{1}},
	}, steps)

	steps = CutSteps(panels[:1], CutOrder(panels[:1], nil), SheetCloth{Width: 43 * inch, Unit: length.In, Torn: true, OneWay: true},
		func(Panel) bool { return false })
	require.Contains(t, steps[0].Text, "snip one selvedge and tear across")
	require.Contains(t, steps[0].Text, "top towards this end")
	require.Contains(t, steps[1].Text, "snip and tear across the full width: strip A")
	require.Equal(t, "Lay strip A flat and cut it along, from the left selvedge at 42 in.", steps[2].Text)
}

// Where a kit was given another cuff, its cloth lies bare between what is still cut: whoever cuts is told, or
// the bare piece would be numbered as the first panel.
func TestStepsTellWhatIsNoPanel(t *testing.T) {
	mm := length.Millimetre
	cut := func(y ...Side) string {
		panels := []Panel{{Panel: 1, Role: "accent", Size: 1, Place: Place{X: 980 * mm, W: 54 * mm, H: 990 * mm}}}
		for i, at := range y {
			panels = append(panels, Panel{Panel: i + 2, Role: "cuff", Size: 1, Place: Place{Y: at * mm, W: 980 * mm, H: 234 * mm}})
		}
		steps := CutSteps(panels, CutOrder(panels, nil), SheetCloth{Width: 1043 * mm, Unit: length.CM}, func(Panel) bool { return false })
		return steps[len(steps)-1].Text
	}
	require.Equal(t, "Take the first piece from the left and cut it across at 23.4 cm, 46.8 cm, 70.2 cm and 93.6 cm.", cut(0, 234, 468, 702))
	require.Equal(t, "Take the first piece from the left and cut it across at 46.8 cm, 70.2 cm and 93.6 cm. What lies before 46.8 cm is no panel.", cut(468, 702))
	require.Equal(t, "Take the first piece from the left and cut it across at 23.4 cm, 70.2 cm and 93.6 cm. What lies from 23.4 cm to 70.2 cm is no panel.", cut(0, 702))
}

// A stretch along the selvedge that nothing is cut from is a piece too: those beside it are counted with it.
func TestStepsCountABarePieceFromTheLeft(t *testing.T) {
	mm := length.Millimetre
	panels := []Panel{
		{Panel: 1, Role: "cuff", Size: 1, Place: Place{X: 300 * mm, W: 200 * mm, H: 400 * mm}},
		{Panel: 2, Role: "cuff", Size: 1, Place: Place{X: 500 * mm, W: 200 * mm, H: 300 * mm}},
	}
	steps := CutSteps(panels, CutOrder(panels, nil), SheetCloth{Width: 1043 * mm, Unit: length.CM}, func(Panel) bool { return false })
	require.Equal(t, "Lay strip A flat and cut it along, from the left selvedge at 30 cm, 50 cm and 70 cm. What lies before 30 cm is no panel.", steps[2].Text)
	require.Equal(t, "Take the third piece from the left and cut it across at 30 cm.", steps[3].Text)
}

// How hard a sheet is reads after "Cutting it is", on the page and on paper.
func TestHardnessReadsAsASentence(t *testing.T) {
	wide := WholeSheet{Sheet: Sheet{Width: 41 * length.Inch}}
	narrow := wide
	narrow.Panels = []SheetPanel{{Panel: Panel{Place: Place{W: 41 * length.Inch, H: 2 * length.Inch}}}}
	require.Equal(t, "for anyone", hardness(wide, nil, false, length.In).Words)
	require.Equal(t, Difficulty{Words: "for careful hands", Why: []string{"strips of 2 in"}}, hardness(narrow, nil, false, length.In))
	require.Equal(t, "for practised hands", hardness(narrow, nil, true, length.In).Words)
}
