package postgres

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	second "boltward/internal/planning/proof"

	"github.com/stretchr/testify/require"
)

// changePlan asks for a change of a plan and works it out.
func changePlan(t testing.TB, s *testStore, of int64) int64 {
	t.Helper()
	return changePlanOr(t, s, of, false)
}

// changePlanOr does so, and with whole gives up no kit that can stay.
func changePlanOr(t testing.TB, s *testStore, of int64, whole bool) int64 {
	t.Helper()
	number, err := s.RequestChange(t.Context(), s.fresh(), of, whole)
	require.NoError(t, err)
	require.NoError(t, s.workChange(t.Context(), number, 60))
	problem, plan, err := s.PlanFiles(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Empty(t, planning.Check(problem, plan))
	p, err := json.Marshal(problem)
	require.NoError(t, err)
	text, err := json.Marshal(plan)
	require.NoError(t, err)
	_, err = second.Check(context.Background(), bytes.NewReader(p), bytes.NewReader(text))
	require.NoError(t, err, "the bound of a changed plan is proven")
	return number
}

func (s *testStore) workChange(ctx context.Context, number, effort int64) error {
	problem, err := s.BeginPlan(ctx, "spring", number)
	if err != nil || problem == nil {
		return err
	}
	stands, err := s.PlanStands(ctx, "spring", number)
	if err != nil {
		return err
	}
	r, err := planning.Replan(ctx, problem, stands.Plan, stands.Settled, planning.Options{Effort: effort})
	if err != nil {
		return err
	}
	_, err = s.FinishChange(ctx, "spring", number, r.Problem, r.Plan)
	return err
}

// toChange is a drive with cloth for more than the 12 pillowcases that its accepted plan makes.
func toChange(t testing.TB) (*testStore, drive.Asked, int64) {
	t.Helper()
	s, a := planned(t)
	number := makePlan(t, s)
	_, err := s.AcceptPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	return s, a, number
}

func sheetOf(t testing.TB, s *testStore, number int64) drive.WholeSheet {
	t.Helper()
	sheet, err := s.Sheet(t.Context(), "spring", number)
	require.NoError(t, err)
	return sheet
}

func kitsStand(t testing.TB, s *testStore) map[string]string {
	t.Helper()
	rows, err := s.pool.Query(t.Context(), `SELECT number || ' of ' || coalesce(plan, 0), state FROM kits ORDER BY number`)
	require.NoError(t, err)
	out := map[string]string{}
	for rows.Next() {
		var name, state string
		require.NoError(t, rows.Scan(&name, &state))
		out[name] = state
	}
	require.NoError(t, rows.Err())
	return out
}

func TestChangeNothing(t *testing.T) {
	s, _, first := toChange(t)
	before := rowsOf(t, s, "panels", "sheet_remnants", "kit_entries", "fabric_entries", "case_entries")
	number := changePlan(t, s, first)
	p, err := s.Plan(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, 12, p.Cases)
	got, err := s.AcceptPlan(t.Context(), s.act("change"), number)
	require.NoError(t, err)
	require.Equal(t, Accepted{Plan: number, Cases: 12, Changed: first, KitsStay: 3}, got)
	again, err := s.AcceptPlan(t.Context(), s.act("change"), number)
	require.NoError(t, err)
	require.Equal(t, got, again)
	require.Equal(t, before, rowsOf(t, s, "panels", "sheet_remnants", "kit_entries", "fabric_entries", "case_entries"))
	was, err := s.Plan(t.Context(), "spring", first)
	require.NoError(t, err)
	require.Equal(t, drive.PlanReplaced, was.State)
	require.Equal(t, map[string]string{"1 of 2": "planned", "2 of 2": "planned", "3 of 2": "planned"}, kitsStand(t, s))
	_, err = s.WithdrawPlan(t.Context(), s.fresh(), first)
	require.ErrorContains(t, err, "does not stand")
	_, err = s.RequestChange(t.Context(), s.fresh(), first, false)
	require.ErrorContains(t, err, "does not stand")
	_, err = s.WithdrawPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err, "what stayed goes on under the new plan")
	balances(t, s)
	agrees(t, s)
}

// A piece came up short: what is cut, on the table or elsewhere stays, the sheet of the piece
// gets its next revision and tells what it was.
func TestChangeAfterAPieceCameUpShort(t *testing.T) {
	s, a, first := toChange(t)
	layCloth(t, s, 4, "D1", "feature", 140*length.Inch, "navy")
	list, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	var short SheetLine
	for _, l := range list.Sheets {
		if l.Print == "feature" {
			short = l
		}
	}
	_, err = s.SheetFound(t.Context(), s.fresh(), short.Number, goodOnly(170*length.Inch))
	require.NotEmpty(t, apperr.Fields(err)["found"], "%v", err)
	_, err = s.SheetFound(t.Context(), s.act("short"), short.Number, goodOnly(30*length.Inch))
	require.NoError(t, err)
	balances(t, s)
	agrees(t, s)
	_, err = s.SignOutSheet(t.Context(), s.fresh(), short.Number, "Rosa")
	require.ErrorContains(t, err, "came up short")

	_, err = s.UndoSheetShort(t.Context(), s.fresh(), short.Number)
	require.NoError(t, err)
	agrees(t, s)
	require.Equal(t, drive.SheetWaiting, sheetOf(t, s, short.Number).State)
	_, err = s.SheetFound(t.Context(), s.fresh(), short.Number, goodOnly(30*length.Inch))
	require.NoError(t, err)

	number := changePlan(t, s, first)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	balances(t, s)
	agrees(t, s)
	require.Equal(t, 12, got.Cases)
	require.Positive(t, got.Kits)
	require.Positive(t, got.Revised, "one body still fits 30 in, so the sheet is laid out anew")
	sheet := sheetOf(t, s, short.Number)
	require.Equal(t, 2, sheet.Revision)
	require.Equal(t, drive.SheetWaiting, sheet.State)
	require.Equal(t, number, sheet.Plan)
	require.LessOrEqual(t, sheet.Used, 30*length.Inch)
	old, err := s.SheetRevisions(t.Context(), "spring", short.Number)
	require.NoError(t, err)
	require.Len(t, old, 1)
	require.Equal(t, []any{1, number, short.Used}, []any{old[0].Revision, old[0].ReplacedBy, old[0].Used})
	require.Equal(t, 12, line(t, s, a.Number).Counts[drive.CasePlanned])

	// The changed plan is cut to the end like any other.
	list, err = s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	for _, l := range list.Sheets {
		_, err := s.MarkSheetCut(t.Context(), s.fresh(), l.Number)
		require.NoError(t, err)
	}
	balances(t, s)
	agrees(t, s)
	require.Equal(t, 12, line(t, s, a.Number).Counts[drive.CaseCut])
}

// What is begun stays, whatever else changes: a kit at the table, one cut and one handed out
// keep their numbers, sheets and panels.
func TestChangeKeepsWhatIsBegun(t *testing.T) {
	s, a := planned(t)
	layCloth(t, s, 4, "D1", "feature", 400*length.Inch, "navy")
	layCloth(t, s, 5, "E1", "solid", 400*length.Inch, "navy")
	first := makePlan(t, s)
	_, err := s.AcceptPlan(t.Context(), s.fresh(), first)
	require.NoError(t, err)
	list, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	_, err = s.SignOutSheet(t.Context(), s.fresh(), list.Sheets[0].Number, "Rosa")
	require.NoError(t, err)
	a.Wanted = 20
	_, err = s.UpdateAsked(t.Context(), s.fresh(), a)
	require.NoError(t, err)
	begun := map[string]string{}
	for name, state := range kitsStand(t, s) {
		if state != "planned" {
			begun[name[:1]] = state
		}
	}
	require.NotEmpty(t, begun)
	before := sheetOf(t, s, list.Sheets[0].Number)

	number := changePlan(t, s, first)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	require.Equal(t, 20, got.Cases)
	after := sheetOf(t, s, list.Sheets[0].Number)
	require.Equal(t, before.Panels, after.Panels)
	require.Equal(t, before.Revision, after.Revision)
	for name, state := range kitsStand(t, s) {
		if was, here := begun[name[:1]]; here && len(name) == len("1 of 2") {
			require.Equal(t, was, state)
		}
	}
	balances(t, s)
	agrees(t, s)
	require.Equal(t, 20, line(t, s, a.Number).Counts[drive.CasePlanned])
}

// A kit that is lost counts no more, and the change makes up for it from what is free.
func TestChangeMakesUpForALostKit(t *testing.T) {
	s, a, first := toChange(t)
	list, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	for _, l := range list.Sheets {
		_, err := s.MarkSheetCut(t.Context(), s.fresh(), l.Number)
		require.NoError(t, err)
	}
	_, err = s.KitLost(t.Context(), s.fresh(), drive.KitRef{Number: 2, Part: 1}, "left on the bus", time.Time{})
	require.NoError(t, err)
	layCloth(t, s, 4, "D1", "feature", 170*length.Inch, "navy")
	layCloth(t, s, 5, "E1", "solid", 170*length.Inch, "navy")
	number := changePlan(t, s, first)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	require.Equal(t, []int{12, 2, 1, 0, 0}, []int{got.Cases, got.KitsStay, got.Kits, got.KitsGone, got.Revised})
	agrees(t, s)
	l := line(t, s, a.Number)
	require.Equal(t, []int{8, 4, 4}, []int{l.Counts[drive.CaseCut], l.Counts[drive.CasePlanned], l.Counts[drive.CaseLost]})
}

// Less is asked for: kits fall away, and what was asked for is not overfilled.
func TestChangeWhenLessIsAskedFor(t *testing.T) {
	s, a, first := toChange(t)
	a.Wanted = 6
	_, err := s.UpdateAsked(t.Context(), s.fresh(), a)
	require.NoError(t, err)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), changePlan(t, s, first))
	require.NoError(t, err)
	require.Equal(t, 6, got.Cases)
	require.Equal(t, 1, got.KitsStay, "one kit of 4 stays")
	balances(t, s)
	agrees(t, s)
	require.Equal(t, 6, line(t, s, a.Number).Counts[drive.CasePlanned])
}

// What moved between asking and accepting is named, and nothing is half changed.
func TestAcceptingAChangeNamesWhatMoved(t *testing.T) {
	s, a, first := toChange(t)
	a.Wanted = 4
	_, err := s.UpdateAsked(t.Context(), s.fresh(), a)
	require.NoError(t, err)
	number := changePlan(t, s, first)
	list, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	for _, l := range list.Sheets {
		_, err = s.SignOutSheet(t.Context(), s.fresh(), l.Number, "Rosa")
		require.NoError(t, err)
	}
	everything := []string{"plans", "sheets", "panels", "kits", "kit_entries", "fabric_entries", "case_entries", "sheet_revisions", "counters"}
	before := rowsOf(t, s, everything...)
	_, err = s.AcceptPlan(t.Context(), s.fresh(), number)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	require.ErrorContains(t, err, "was signed out to Rosa")
	require.Equal(t, before, rowsOf(t, s, everything...))
	for _, l := range list.Sheets {
		_, err = s.PutBackSheet(t.Context(), s.fresh(), l.Number)
		require.NoError(t, err)
	}
	_, err = s.AcceptPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err, "put back, it stands again")
	balances(t, s)
	agrees(t, s)
}

// A change is accepted while its sheets are signed out: one of the two comes first, the other
// is told, and nothing is half changed.
func TestAcceptAChangeWhileSheetsAreSignedOut(t *testing.T) {
	for round := range 6 {
		t.Run(fmt.Sprint(round), func(t *testing.T) {
			s, a, first := toChange(t)
			a.Wanted = 4
			_, err := s.UpdateAsked(t.Context(), s.fresh(), a)
			require.NoError(t, err)
			number := changePlan(t, s, first)
			list, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
			require.NoError(t, err)
			var wg sync.WaitGroup
			errs := make([]error, len(list.Sheets)+1)
			for i, l := range list.Sheets {
				act := s.fresh()
				wg.Go(func() { _, errs[i+1] = s.SignOutSheet(t.Context(), act, l.Number, "Rosa") })
			}
			act := s.fresh()
			wg.Go(func() { _, errs[0] = s.AcceptPlan(t.Context(), act, number) })
			wg.Wait()
			for _, err := range errs {
				require.True(t, err == nil || apperr.Is(err, apperr.KindConflict), "%v", err)
			}
			balances(t, s)
			agrees(t, s)
			n := line(t, s, a.Number).Counts[drive.CasePlanned]
			if errs[0] == nil {
				require.Equal(t, 4, n)
			} else {
				require.Equal(t, 12, n)
			}
		})
	}
}

func TestAChangeOfWhatDoesNotStand(t *testing.T) {
	s, _, first := toChange(t)
	_, err := s.RequestChange(t.Context(), s.fresh(), 99, false)
	require.True(t, apperr.Is(err, apperr.KindNotFound))
	number := changePlan(t, s, first)
	_, err = s.WithdrawPlan(t.Context(), s.fresh(), first)
	require.NoError(t, err)
	_, err = s.AcceptPlan(t.Context(), s.fresh(), number)
	require.ErrorContains(t, err, "does not stand any more")
	agrees(t, s)
	startDriveAs(t, s, "autumn")
	_, _, err = s.ChangeOf(t.Context(), "autumn", first)
	require.True(t, apperr.Is(err, apperr.KindNotFound))
}

// A kit that is taken apart once it is cut leaves its panels loose; the change of the plan makes
// a new kit of them, cuts nothing for it, and every ledger balances. Panels that were left out
// are not sewn from.
func TestPanelsOfAKitTakenApartGoBackToThePlan(t *testing.T) {
	s, a, plan := toChange(t)
	sheets, err := s.Sheets(t.Context(), "spring", SheetsQuery{All: true})
	require.NoError(t, err)
	for _, sheet := range sheets.Sheets {
		_, err := s.MarkSheetCut(t.Context(), s.fresh(), sheet.Number)
		require.NoError(t, err)
	}
	_, err = s.TakeKitApart(t.Context(), s.fresh(), drive.KitRef{Number: 1, Part: 1}, "sorted wrongly", true)
	require.NoError(t, err)
	loose, err := s.LoosePanels(t.Context(), "spring")
	require.NoError(t, err)
	require.NotEmpty(t, loose)
	gone := 12 - line(t, s, a.Number).Counts.Alive()
	require.Positive(t, gone)

	number := changePlan(t, s, plan)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	require.Equal(t, []int{1, 0, 0, 0}, []int{got.Kits, got.Sheets, got.Revised, got.Withdrawn})
	k := kit(t, s, drive.KitRef{Number: got.FirstKit, Part: 1})
	require.Equal(t, drive.KitCut, k.State)
	require.Equal(t, gone, k.Count(drive.CaseCut))
	require.Equal(t, 12, line(t, s, a.Number).Counts.Alive())
	loose, err = s.LoosePanels(t.Context(), "spring")
	require.NoError(t, err)
	require.Empty(t, loose)
	requireAgreed(t, s)

	_, err = s.TakeKitApart(t.Context(), s.fresh(), k.KitRef, "once more", true)
	require.NoError(t, err)
	_, err = s.LoosePanelsGone(t.Context(), s.fresh(), k.Number)
	require.NoError(t, err)
	_, err = s.LoosePanelsGone(t.Context(), s.fresh(), k.Number)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	again := changePlan(t, s, number)
	if got, err = s.AcceptPlan(t.Context(), s.fresh(), again); err == nil {
		require.True(t, got.Kits == 0 || got.Sheets+got.Revised > 0, "what was left out is not sewn from")
	}
	requireAgreed(t, s)
}

// requireAgreed holds every ledger against its balances.
func requireAgreed(t testing.TB, s *testStore) {
	t.Helper()
	b, err := s.CheckBalances(t.Context())
	require.NoError(t, err)
	require.Empty(t, b.Differences)
}
