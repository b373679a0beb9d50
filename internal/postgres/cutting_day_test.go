package postgres

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

// A plan is cut as helpers would: some sheets are cut, one is on the table, a kit is out;
// then three pieces come up short, one is flawed, one is longer than thought. Every changed
// plan passes the independent check (changePlan), and what is begun stays as it is.
func TestACuttingDay(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 40)
	for lot := range int64(8) {
		layCloth(t, s, 2*lot+1, fmt.Sprintf("A%d", lot), "feature", 200*length.Inch, "navy")
		layCloth(t, s, 2*lot+2, fmt.Sprintf("B%d", lot), "solid", 90*length.Inch, "navy")
	}
	plan := makePlan(t, s)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), plan)
	require.NoError(t, err)
	require.Greater(t, got.Sheets, 8)

	// One kit is cut whole and handed out; one more sheet is on the table.
	kit := drive.KitRef{Number: 1, Part: 1}
	for _, n := range sheetsOfKit(t, s, kit) {
		_, err := s.MarkSheetCut(t.Context(), s.fresh(), n)
		require.NoError(t, err)
	}
	person := addPerson(t, s, "Rosa")
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{kit}, Person: person})
	require.NoError(t, err)
	waiting := sheetsWaiting(t, s)
	_, err = s.SignOutSheet(t.Context(), s.fresh(), waiting[len(waiting)-1], "Ben")
	require.NoError(t, err)
	begun := begunNow(t, s)
	require.NotEmpty(t, begun)
	out, err := s.Kit(t.Context(), "spring", kit)
	require.NoError(t, err)
	require.Equal(t, drive.KitOut, out.State)

	found := []func(drive.WholeSheet) drive.ClothFound{
		func(w drive.WholeSheet) drive.ClothFound { return goodOnly(w.Used - 9*length.Inch) },
		func(w drive.WholeSheet) drive.ClothFound { return goodOnly(w.Used / 2) },
		func(w drive.WholeSheet) drive.ClothFound { return goodOnly(0) },
		func(w drive.WholeSheet) drive.ClothFound {
			return drive.ClothFound{Flaws: []sizing.Flaw{{From: 30 * length.Inch, To: 33 * length.Inch}}}
		},
		func(w drive.WholeSheet) drive.ClothFound { return drive.ClothFound{Width: 30 * length.Inch} },
		func(w drive.WholeSheet) drive.ClothFound { return goodOnly(w.Used + w.Left + 40*length.Inch) },
	}
	for i, f := range found {
		s.clock.forward(time.Minute)
		left := sheetsWaiting(t, s)
		require.NotEmpty(t, left, "found %d", i)
		sheet := sheetOf(t, s, left[0])
		moved, err := s.SheetFound(t.Context(), s.fresh(), sheet.Number, f(sheet))
		require.NoError(t, err, "found %d", i)
		require.Equal(t, i == len(found)-1, moved.Longer)
		balances(t, s)
		agrees(t, s)
		if !moved.Longer && i > 2 {
			// It is taken back and reported again: everything is as it was.
			_, err = s.UndoSheetShort(t.Context(), s.fresh(), sheet.Number)
			require.NoError(t, err)
			require.Equal(t, drive.SheetWaiting, sheetOf(t, s, sheet.Number).State)
			balances(t, s)
			agrees(t, s)
			s.clock.forward(time.Minute)
			_, err = s.SheetFound(t.Context(), s.fresh(), sheet.Number, f(sheet))
			require.NoError(t, err, "found %d again", i)
		}
		s.clock.forward(time.Minute)
		next := changePlan(t, s, plan)
		_, err = s.AcceptPlan(t.Context(), s.fresh(), next)
		require.NoError(t, err, "found %d", i)
		plan = next
		balances(t, s)
		agrees(t, s)
		require.Equal(t, begun, begunNow(t, s), "found %d: sheets cut or signed out stay as they are", i)
		still, err := s.Kit(t.Context(), "spring", kit)
		require.NoError(t, err)
		require.Equal(t, out.State, still.State, "found %d: a kit that is out stays out", i)
		require.Equal(t, out.Cases, still.Cases)
	}

	// The rest is cut to the end.
	for _, n := range sheetsWaiting(t, s) {
		_, err := s.MarkSheetCut(t.Context(), s.fresh(), n)
		require.NoError(t, err)
	}
	balances(t, s)
	agrees(t, s)
}

// What was found is said in one way, and refused where it is no news.
func TestFoundNothingNew(t *testing.T) {
	s, _, _ := toChange(t)
	n := sheetsWaiting(t, s)[0]
	sheet := sheetOf(t, s, n)
	_, err := s.SheetFound(t.Context(), s.fresh(), n, drive.ClothFound{})
	require.ErrorContains(t, err, "Say what is wrong")
	same := sheet.Used + sheet.Left
	_, err = s.SheetFound(t.Context(), s.fresh(), n, drive.ClothFound{Length: &same})
	require.ErrorContains(t, err, "or nothing is short")
	_, err = s.SheetFound(t.Context(), s.fresh(), n, drive.ClothFound{Width: sheet.Width})
	require.ErrorContains(t, err, "or nothing is narrow")
	_, err = s.SheetFound(t.Context(), s.fresh(), n, drive.ClothFound{Flaws: []sizing.Flaw{{From: 9000 * length.Inch, To: 9001 * length.Inch}}})
	require.ErrorContains(t, err, "lies beyond the end of the piece")
	require.Greater(t, sheet.Left, 3*length.Inch)
	_, err = s.SheetFound(t.Context(), s.fresh(), n, drive.ClothFound{Flaws: []sizing.Flaw{{From: sheet.Used, To: sheet.Used + 2*length.Inch}}})
	require.Contains(t, apperr.Fields(err)["flaws"], "cut it as it is drawn", "it lies behind the sheet: %v", err)
	require.Equal(t, drive.SheetWaiting, sheetOf(t, s, n).State, "nothing was booked")
	agrees(t, s)
}

// goodOnly is what somebody found who measured how much of a sheet's cloth is good.
func goodOnly(l length.Length) drive.ClothFound { return drive.ClothFound{Length: &l} }

func sheetsWaiting(t testing.TB, s *testStore) []int64 {
	t.Helper()
	list, err := s.Sheets(t.Context(), "spring", SheetsQuery{State: drive.SheetWaiting, Sort: "number"})
	require.NoError(t, err)
	var numbers []int64
	for _, l := range list.Sheets {
		numbers = append(numbers, l.Number)
	}
	return numbers
}

func sheetsOfKit(t testing.TB, s *testStore, kit drive.KitRef) []int64 {
	t.Helper()
	var numbers []int64
	for _, n := range sheetsWaiting(t, s) {
		if slices.ContainsFunc(sheetOf(t, s, n).Panels, func(p drive.SheetPanel) bool { return p.Kit == kit }) {
			numbers = append(numbers, n)
		}
	}
	return numbers
}

// begunNow writes down every sheet that is cut or on the table, with all that lies on it and
// the kits of what is cut whole.
func begunNow(t testing.TB, s *testStore) []string {
	t.Helper()
	var lines []string
	for _, state := range []drive.SheetState{drive.SheetCut, drive.SheetOnTable} {
		list, err := s.Sheets(t.Context(), "spring", SheetsQuery{State: state, Sort: "number"})
		require.NoError(t, err)
		for _, l := range list.Sheets {
			w := sheetOf(t, s, l.Number)
			line := fmt.Sprintf("sheet %d %s with %s: %d of lot %d/%d;", w.Number, w.State, w.Helper, w.Used, w.Lot, w.Piece)
			for _, p := range w.Panels {
				line += fmt.Sprintf(" %s at %v", p.Role, p.Place)
				if p.Kit.Number == 1 {
					line += " for kit 1"
				}
			}
			lines = append(lines, line)
		}
	}
	return lines
}
