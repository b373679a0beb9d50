package postgres

import (
	"errors"
	"flag"
	"fmt"
	"strconv"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// accepted is a planned drive whose plan was accepted.
func accepted(t testing.TB) (*testStore, drive.Asked, Accepted) {
	t.Helper()
	s, a := planned(t)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), makePlan(t, s))
	require.NoError(t, err)
	return s, a, got
}

func TestSheetsFromShelfToKit(t *testing.T) {
	s, a, got := accepted(t)
	act := s.act("out")
	moved, err := s.SignOutSheet(t.Context(), act, 1, "Rosa L.")
	require.NoError(t, err)
	require.Equal(t, drive.SheetOnTable, moved.State)
	again, err := s.SignOutSheet(t.Context(), act, 1, "Rosa L.")
	require.NoError(t, err)
	require.Equal(t, moved, again)
	_, err = s.SignOutSheet(t.Context(), s.fresh(), 1, "Ben")
	require.ErrorContains(t, err, "Sheet 1 is on the table with Rosa L. already")
	_, err = s.SignOutSheet(t.Context(), s.fresh(), 2, " ")
	require.Contains(t, apperr.Fields(err), "helper")
	_, err = s.SignOutSheet(t.Context(), s.fresh(), 99, "Ben")
	require.True(t, apperr.Is(err, apperr.KindNotFound))
	balances(t, s)

	open, err := s.Sheets(t.Context(), "spring", SheetsQuery{State: drive.SheetOnTable})
	require.NoError(t, err)
	require.Len(t, open.Sheets, 1)
	require.Equal(t, "Rosa L.", open.Sheets[0].Helper)
	require.NotNil(t, open.Sheets[0].OutAt)

	var cut []drive.KitRef
	for n := range got.Sheets {
		moved, err := s.MarkSheetCut(t.Context(), s.fresh(), int64(n+1))
		require.NoError(t, err)
		cut = append(cut, moved.KitsCut...)
		balances(t, s)
	}
	require.Len(t, cut, 3, "all kits are cut once all sheets are")
	require.Equal(t, 12, line(t, s, a.Number).Counts[drive.CaseCut])
	_, err = s.MarkSheetCut(t.Context(), s.fresh(), 1)
	require.ErrorContains(t, err, "is cut already")
	_, err = s.WithdrawPlan(t.Context(), s.fresh(), got.Plan)
	require.True(t, apperr.Is(err, apperr.KindConflict))

	undone, err := s.UndoSheetCut(t.Context(), s.fresh(), 2)
	require.NoError(t, err)
	require.Equal(t, drive.SheetOnTable, undone.State)
	balances(t, s)
	_, err = s.MarkSheetCut(t.Context(), s.fresh(), 2)
	require.NoError(t, err)
	balances(t, s)

	kits, err := s.Kits(t.Context(), "spring", KitsQuery{Where: KitsInHouse, Today: noon})
	require.NoError(t, err)
	require.Len(t, kits.Kits, 3)
	_, err = s.MarkKitReady(t.Context(), s.fresh(), []drive.KitRef{kits.Kits[0].KitRef})
	require.NoError(t, err)
	page, err := s.Sheet(t.Context(), "spring", 1)
	require.NoError(t, err)
	touched := page.Panels[0].Kit
	_, err = s.MarkKitReady(t.Context(), s.fresh(), []drive.KitRef{touched})
	require.True(t, err == nil || touched == kits.Kits[0].KitRef, "%v", err)
	_, err = s.UndoSheetCut(t.Context(), s.fresh(), 1)
	require.ErrorContains(t, err, "so the cut of sheet 1 stands")
}

func TestRemnantsBecomePieces(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 1)
	layCloth(t, s, 1, "B1", "solid", 60*length.Inch, "navy")
	// Twice as wide: beside each panel lies a remnant worth keeping.
	_, err := s.db.Owner().Exec(t.Context(), `UPDATE pieces SET width = width * 2, received = received * 2, free = free * 2`)
	require.NoError(t, err)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), makePlan(t, s))
	require.NoError(t, err)
	require.Equal(t, 1, got.Sheets)
	moved, err := s.MarkSheetCut(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	require.Equal(t, []int{2, 3}, moved.Remnants, "beside body and cuff; beside the accent it is too narrow")
	page, err := s.Sheet(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, 2, *page.Remnants[0].NewPiece)

	shelf, err := shelved(t.Context(), s.pool, "spring", nil)
	require.NoError(t, err)
	require.Len(t, shelf, 3, "what is left of the piece, and two remnants")
	require.Equal(t, page.Remnants[0].W, shelf[1].Width)
	require.Equal(t, page.Remnants[0].H, shelf[1].Length)

	_, err = s.UndoSheetCut(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	shelf, err = shelved(t.Context(), s.pool, "spring", nil)
	require.NoError(t, err)
	require.Len(t, shelf, 1)
	moved, err = s.MarkSheetCut(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	require.Equal(t, []int{2, 3}, moved.Remnants, "the labels on the remnants stay right")

	// A remnant that was promised since keeps the cut as it is.
	_, err = s.db.Owner().Exec(t.Context(), `UPDATE pieces SET free_length = 0, promised = promised + free, free = 0 WHERE piece = 2`)
	require.NoError(t, err)
	_, err = s.UndoSheetCut(t.Context(), s.fresh(), 1)
	require.ErrorContains(t, err, "remnant 1/2 of sheet 1 is in use")
}

// Two helpers mark the two sheets of a kit at the same moment: the kit is cut.
func TestSheetsOfOneKitCutAtOnce(t *testing.T) {
	s, a, got := accepted(t)
	var wg sync.WaitGroup
	errs := make([]error, got.Sheets)
	for i := range errs {
		act := s.act(fmt.Sprintf("cut-%d", i))
		wg.Go(func() { _, errs[i] = s.MarkSheetCut(t.Context(), act, int64(i+1)) })
	}
	wg.Wait()
	require.NoError(t, errors.Join(errs...))
	balances(t, s)
	require.Equal(t, 12, line(t, s, a.Number).Counts[drive.CaseCut])
}

func TestFindingSheets(t *testing.T) {
	s, _, got := accepted(t)
	_, err := s.SignOutSheet(t.Context(), s.fresh(), 2, "Rosa L.")
	require.NoError(t, err)
	_, err = s.MarkSheetCut(t.Context(), s.fresh(), 3)
	require.NoError(t, err)
	for _, c := range []struct {
		name string
		q    SheetsQuery
		want []int64
	}{
		{"still to cut", SheetsQuery{}, []int64{1, 2}},
		{"all", SheetsQuery{All: true}, []int64{1, 2, 3}},
		{"cut", SheetsQuery{State: drive.SheetCut}, []int64{3}},
		{"of the plan", SheetsQuery{All: true, Plan: got.Plan}, []int64{1, 2, 3}},
		{"of another", SheetsQuery{All: true, Plan: got.Plan + 1}, nil},
		{"helper", SheetsQuery{Q: "rosa"}, []int64{2}},
		{"shelf", SheetsQuery{Q: "b1"}, []int64{2}},
		{"colour", SheetsQuery{Q: "Gold"}, []int64{1}},
		{"number of sheet or lot", SheetsQuery{Q: "2"}, []int64{1, 2}},
		{"by lot, downwards", SheetsQuery{All: true, Sort: "lot", Desc: true}, []int64{3, 1, 2}},
		{"second page", SheetsQuery{All: true, Limit: 1, Offset: 1}, []int64{2}},
	} {
		t.Run(c.name, func(t *testing.T) {
			list, err := s.Sheets(t.Context(), "spring", c.q)
			require.NoError(t, err)
			var numbers []int64
			for _, l := range list.Sheets {
				numbers = append(numbers, l.Number)
			}
			require.Equal(t, c.want, numbers)
		})
	}
}

// Whatever is accepted, withdrawn, signed out, put back, cut and undone, in any
// order: the ledgers and the balances agree, and a refusal changes nothing.
func TestAnyOrderKeepsTheBalances(t *testing.T) {
	fewerChecks(t, 8)
	rapid.Check(t, func(rt *rapid.T) {
		s, a := planned(t)
		steps := rapid.SliceOfN(rapid.SampledFrom([]string{"plan", "accept", "withdraw", "out", "back", "cut", "undo"}), 6, 18).Draw(rt, "steps")
		var plans []int64
		for _, step := range steps {
			s.clock.forward(time.Minute)
			plan := int64(rapid.IntRange(1, max(1, len(plans))).Draw(rt, "plan"))
			sheet := int64(rapid.IntRange(1, 4).Draw(rt, "sheet"))
			var err error
			switch step {
			case "plan":
				var n int64
				if n, err = s.RequestPlan(t.Context(), s.fresh()); err == nil {
					workPlan(t, s, n)
					plans = append(plans, n)
				}
			case "accept":
				_, err = s.AcceptPlan(t.Context(), s.fresh(), plan)
			case "withdraw":
				_, err = s.WithdrawPlan(t.Context(), s.fresh(), plan)
			case "out":
				_, err = s.SignOutSheet(t.Context(), s.fresh(), sheet, "Rosa")
			case "back":
				_, err = s.PutBackSheet(t.Context(), s.fresh(), sheet)
			case "cut":
				_, err = s.MarkSheetCut(t.Context(), s.fresh(), sheet)
			case "undo":
				_, err = s.UndoSheetCut(t.Context(), s.fresh(), sheet)
			}
			require.True(t, err == nil || apperr.As(err) != nil, "%s: %v", step, err)
			balances(t, s)
		}
		l := line(t, s, a.Number)
		require.LessOrEqual(t, l.Counts.Alive(), 12, "no plan makes more than is asked for")
	})
}

// fewerChecks makes properties of a test run a share of the usual checks, as
// where each has a database of its own.
func fewerChecks(t *testing.T, share int) {
	t.Helper()
	checks := flag.Lookup("rapid.checks")
	usual := checks.Value.String()
	n, err := strconv.Atoi(usual)
	require.NoError(t, err)
	require.NoError(t, checks.Value.Set(strconv.Itoa(max(1, n/share))))
	t.Cleanup(func() { require.NoError(t, checks.Value.Set(usual)) })
}

// Cloth that is narrower than booked and still holds all panels is cut as it is drawn: what it
// leaves is booked as wide as it is, of the piece and of its remnants, and all of it is taken back.
func TestNarrowClothThatHoldsItsPanels(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 1)
	layWide(t, s, 1, "B1", "solid", 86*length.Inch, 60*length.Inch, "navy")
	_, err := s.AcceptPlan(t.Context(), s.fresh(), makePlan(t, s))
	require.NoError(t, err)
	drawn := sheetOf(t, s, 1)
	require.NotEmpty(t, drawn.Remnants)
	far := drawn.Remnants[0].X + drawn.Remnants[0].W
	narrow := far - 5*length.Inch
	shelf := func() (sizes [][2]length.Length) {
		list, err := shelved(t.Context(), s.pool, "spring", nil)
		require.NoError(t, err)
		for _, c := range list {
			sizes = append(sizes, [2]length.Length{c.Width, c.Length})
		}
		return sizes
	}
	before := shelf()
	report := func() SheetMoved {
		s.clock.forward(time.Minute)
		moved, err := s.SheetFound(t.Context(), s.fresh(), 1, drive.ClothFound{Width: narrow})
		require.NoError(t, err)
		balances(t, s)
		agrees(t, s)
		return moved
	}
	moved := report()
	require.Equal(t, []any{true, drive.SheetWaiting}, []any{moved.Narrow, moved.State})
	require.Equal(t, [][2]length.Length{{narrow, drawn.Left}}, shelf(), "what is left is as wide as it was found")
	sheet := sheetOf(t, s, 1)
	require.Equal(t, []any{drawn.Revision, drawn.Panels, narrow}, []any{sheet.Revision, sheet.Panels, *sheet.Narrow})
	require.Equal(t, drawn.Remnants[0].W-5*length.Inch, sheet.Remnants[0].W)

	_, err = s.UndoSheetShort(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	require.Equal(t, before, shelf())
	require.Nil(t, sheetOf(t, s, 1).Narrow)

	report()
	got, err := s.MarkSheetCut(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	require.Len(t, got.Remnants, len(sheet.Remnants))
	require.Contains(t, shelf(), [2]length.Length{sheet.Remnants[0].W, sheet.Remnants[0].H})
	balances(t, s)
	agrees(t, s)
	_, err = s.UndoSheetShort(t.Context(), s.fresh(), 1)
	require.ErrorContains(t, err, "did not come up short", "it is cut")
	_, err = s.UndoSheetCut(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	_, err = s.SheetFound(t.Context(), s.fresh(), 1, drive.ClothFound{Width: narrow - length.Inch})
	require.ErrorContains(t, err, "is on the books as wide as it was then")

	// Given up, its cloth goes back to the shelf as narrow as it is.
	_, err = s.PutBackSheet(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	_, err = s.WithdrawPlan(t.Context(), s.fresh(), drawn.Plan)
	require.NoError(t, err)
	for _, size := range shelf() {
		require.LessOrEqual(t, size[0], narrow)
	}
	balances(t, s)
	agrees(t, s)
}

// A narrow cloth is reported more than once, measured whole, and comes up short besides: what is left
// of it is booked once, as it was found last, and taken back it all lies there as it did.
func TestNarrowClothIsFoundOtherwiseAgain(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 1)
	layWide(t, s, 1, "B1", "solid", 86*length.Inch, 60*length.Inch, "navy")
	_, err := s.AcceptPlan(t.Context(), s.fresh(), makePlan(t, s))
	require.NoError(t, err)
	drawn := sheetOf(t, s, 1)
	require.Positive(t, drawn.Left)
	lies := func(want ...[2]length.Length) {
		t.Helper()
		list, err := shelved(t.Context(), s.pool, "spring", nil)
		require.NoError(t, err)
		var sizes [][2]length.Length
		for _, c := range list {
			sizes = append(sizes, [2]length.Length{c.Width, c.Length})
		}
		require.Equal(t, want, sizes)
		balances(t, s)
		agrees(t, s)
	}
	found := func(f drive.ClothFound) SheetMoved {
		t.Helper()
		s.clock.forward(time.Minute)
		moved, err := s.SheetFound(t.Context(), s.fresh(), 1, f)
		require.NoError(t, err)
		return moved
	}
	back := func() SheetMoved {
		t.Helper()
		moved, err := s.UndoSheetShort(t.Context(), s.fresh(), 1)
		require.NoError(t, err)
		return moved
	}
	far := drawn.Remnants[0].X + drawn.Remnants[0].W
	narrow := far - 2*length.Inch
	found(drive.ClothFound{Width: narrow})
	found(drive.ClothFound{Width: narrow - length.Inch})
	lies([2]length.Length{narrow - length.Inch, drawn.Left})
	require.Equal(t, narrow-length.Inch, *sheetOf(t, s, 1).Narrow)

	// The whole piece is measured: what is booked as another piece is counted with it.
	_, err = s.SheetFound(t.Context(), s.fresh(), 1, goodOnly(drawn.Used+drawn.Left))
	require.ErrorContains(t, err, "or nothing is short")
	require.True(t, found(goodOnly(drawn.Used+drawn.Left+3*length.Inch)).Longer)
	lies([2]length.Length{narrow - length.Inch, drawn.Left + 3*length.Inch})

	// It comes up short, which is taken back: it is as narrow as before.
	require.Equal(t, drive.SheetShort, found(goodOnly(drawn.Used-length.Inch)).State)
	lies([2]length.Length{narrow - length.Inch, drawn.Used - length.Inch})
	moved := back()
	require.Equal(t, []any{drive.SheetWaiting, false}, []any{moved.State, moved.Wide})
	require.Equal(t, narrow-length.Inch, *sheetOf(t, s, 1).Narrow)
	lies([2]length.Length{narrow - length.Inch, drawn.Left + 3*length.Inch})

	// So it is where it is too narrow for its panels.
	require.Equal(t, drive.SheetShort, found(drive.ClothFound{Width: 20 * length.Inch}).State)
	lies([2]length.Length{20 * length.Inch, drawn.Used + drawn.Left + 3*length.Inch})
	back()
	lies([2]length.Length{narrow - length.Inch, drawn.Left + 3*length.Inch})

	require.True(t, back().Wide)
	require.Nil(t, sheetOf(t, s, 1).Narrow)
	lies([2]length.Length{drawn.Width, drawn.Left + 3*length.Inch})
}

// A change of the plan lays a sheet out anew within the width that was found of its cloth.
func TestAChangeKeepsToTheWidthThatWasFound(t *testing.T) {
	s, a, first := toChange(t)
	n := sheetsWaiting(t, s)[0]
	sheet := sheetOf(t, s, n)
	needs := length.Length(0)
	for _, p := range sheet.Panels {
		needs = max(needs, p.X+p.W)
	}
	require.Less(t, needs, sheet.Width)
	_, err := s.SheetFound(t.Context(), s.fresh(), n, drive.ClothFound{Width: needs})
	require.NoError(t, err)
	a.Wanted = 6
	_, err = s.UpdateAsked(t.Context(), s.fresh(), a)
	require.NoError(t, err)
	_, err = s.AcceptPlan(t.Context(), s.fresh(), changePlan(t, s, first))
	require.NoError(t, err)
	balances(t, s)
	agrees(t, s)
	now := sheetOf(t, s, n)
	for _, p := range now.Panels {
		require.LessOrEqual(t, p.X+p.W, needs)
	}
	list, err := shelved(t.Context(), s.pool, "spring", nil)
	require.NoError(t, err)
	for _, c := range list {
		require.False(t, c.Lot == sheet.Lot && c.Width > needs, "cloth of lot %d lies %d wide on the shelf", c.Lot, c.Width)
	}
}
