package postgres

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/planning/plantest"

	"github.com/stretchr/testify/require"
)

// layCloth puts a measured, washed lot of quilting cotton with one piece on the
// shelf, 43 in wide, through the ledger.
func layCloth(t testing.TB, s *testStore, lot int64, shelf, print string, long length.Length, colours ...string) {
	t.Helper()
	layWide(t, s, lot, shelf, print, 43*length.Inch, long, colours...)
}

func layWide(t testing.TB, s *testStore, lot int64, shelf, print string, width, long length.Length, colours ...string) {
	t.Helper()
	const insert = `INSERT INTO lots (drive_id, number, received_on, shelf, fibre, weight, washed, print, colours, raw_length, raw_width, created_at, measured_at)
		VALUES ('spring', $1, $8, $3, 'cotton', 'quilting', true, $4, $5, $6, $7, $2, $2)`
	_, err := s.pool.Exec(t.Context(), insert, lot, s.clock.now, shelf, print, colours, long, width, drive.Day(s.clock.now, time.UTC))
	require.NoError(t, err)
	const counter = `INSERT INTO counters AS c (drive_id, kind, last) VALUES ('spring', 'lot', $1)
		ON CONFLICT ON CONSTRAINT counters_pkey DO UPDATE SET last = greatest(c.last, EXCLUDED.last)`
	_, err = s.pool.Exec(t.Context(), counter, lot)
	require.NoError(t, err)
	tx, err := s.pool.Begin(t.Context())
	require.NoError(t, err)
	require.NoError(t, insertPieces(t.Context(), tx, "spring", []drive.NewPiece{{Lot: lot, Piece: 1, Kind: drive.PieceWhole, Width: width}}))
	require.NoError(t, writeFabric(t.Context(), tx, s.act("lay"), []drive.FabricEntry{{
		Lot: lot, Piece: 1, Kind: drive.FabricMeasured, From: drive.Outside, To: drive.Free, Length: long, Area: length.Area(long) * length.Area(width),
	}}))
	require.NoError(t, tx.Commit(t.Context()))
}

// makePlan requests a plan and finishes it with a plain one.
func makePlan(t testing.TB, s *testStore) int64 {
	t.Helper()
	number, err := s.RequestPlan(t.Context(), s.fresh())
	require.NoError(t, err)
	workPlan(t, s, number)
	return number
}

func workPlan(t testing.TB, s *testStore, number int64) {
	t.Helper()
	problem, err := s.BeginPlan(t.Context(), "spring", number)
	require.NoError(t, err)
	kept, err := s.FinishPlan(t.Context(), "spring", number, plantest.Plain(problem))
	require.NoError(t, err)
	require.True(t, kept)
}

// balances holds the balances of every piece, kit and pillowcase against the
// sums of their ledgers, and what stands between the three against each other.
func balances(t testing.TB, s *testStore) {
	t.Helper()
	for what, q := range map[string]string{
		"pieces differ from the sum of their entries": `
			SELECT count(*) FROM pieces p, LATERAL (SELECT
				coalesce(sum(area) FILTER (WHERE to_account = 'free'), 0) - coalesce(sum(area) FILTER (WHERE from_account = 'free'), 0) AS free,
				coalesce(sum(length) FILTER (WHERE to_account = 'free'), 0) - coalesce(sum(length) FILTER (WHERE from_account = 'free'), 0) AS free_length,
				coalesce(sum(area) FILTER (WHERE to_account = 'promised'), 0) - coalesce(sum(area) FILTER (WHERE from_account = 'promised'), 0) AS promised,
				coalesce(sum(area) FILTER (WHERE to_account = 'cut'), 0) - coalesce(sum(area) FILTER (WHERE from_account = 'cut'), 0) AS cut
				FROM fabric_entries e WHERE e.drive_id = p.drive_id AND e.lot = p.lot AND e.piece = p.piece) e
			WHERE (p.free, p.free_length, p.promised, p.cut) IS DISTINCT FROM (e.free, e.free_length, e.promised, e.cut)`,
		"what is promised of a piece is not what its open sheets take": `
			SELECT count(*) FROM pieces p WHERE p.promised <> (SELECT coalesce(sum(s.used * p.width), 0) FROM sheets s
				WHERE s.drive_id = p.drive_id AND s.lot = p.lot AND s.piece = p.piece AND s.state IN ('waiting', 'on the table'))`,
		"what is cut of a piece is not in the panels of its cut sheets": `
			SELECT count(*) FROM pieces p WHERE p.cut <> (SELECT coalesce(sum(n.w * n.h), 0) FROM sheets s
				JOIN panels n ON n.drive_id = s.drive_id AND n.sheet = s.number
				WHERE s.drive_id = p.drive_id AND s.lot = p.lot AND s.piece = p.piece AND s.state = 'cut')`,
		"what was parted off is not what new pieces came with": `
			SELECT count(*) FROM pieces p WHERE p.parted <> (SELECT coalesce(sum(c.received), 0) FROM pieces c
				WHERE c.drive_id = p.drive_id AND c.lot = p.lot AND c.origin = p.piece)`,
		"balances of pillowcases differ from their entries": `
			SELECT count(*) FROM case_balances b WHERE b.n <> (SELECT
				coalesce(sum(e.n) FILTER (WHERE (e.to_asked, e.to_kit, e.to_part, e.to_state) = (b.asked, b.kit, b.part, b.state)), 0)
				- coalesce(sum(e.n) FILTER (WHERE (e.asked, e.kit, e.part, e.from_state) = (b.asked, b.kit, b.part, b.state)), 0)
				FROM case_entries e WHERE e.drive_id = b.drive_id AND e.size = b.size)`,
		"a kit holds other pillowcases than its count": `
			SELECT count(*) FROM kits k WHERE k.cases <> (SELECT coalesce(sum(b.n), 0) FROM case_balances b
				WHERE b.drive_id = k.drive_id AND b.kit = k.number AND b.part = k.part AND b.state IN ('planned', 'cut', 'out'))`,
		"a kit is cut whose sheets are not, or not cut whose sheets are": `
			SELECT count(*) FROM kits k WHERE k.state IN ('planned', 'on the table', 'cut') AND (k.state = 'cut') <> (SELECT bool_and(s.state = 'cut')
				FROM panels n JOIN sheets s ON s.drive_id = n.drive_id AND s.number = n.sheet
				WHERE n.drive_id = k.drive_id AND n.kit = k.number AND n.part = k.part)`,
		"pillowcases of a kit stand otherwise than the kit": `
			SELECT count(*) FROM case_balances b JOIN kits k ON k.drive_id = b.drive_id AND k.number = b.kit AND k.part = b.part
			WHERE b.n > 0 AND b.state <> CASE k.state WHEN 'cut' THEN 'cut' WHEN 'out' THEN 'out' WHEN 'taken apart' THEN 'withdrawn uncut' ELSE 'planned' END`,
	} {
		var n int
		require.NoError(t, s.pool.QueryRow(t.Context(), q).Scan(&n))
		require.Zero(t, n, what)
	}
}

// planned is a drive with cloth for 12 pillowcases, all of them asked for.
func planned(t testing.TB) (*testStore, drive.Asked) {
	t.Helper()
	s := newStore(t)
	startDrive(t, s)
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 12)
	layCloth(t, s, 1, "B1", "feature", 170*length.Inch, "navy")
	layCloth(t, s, 2, "A1", "feature", 170*length.Inch, "navy", "gold")
	layCloth(t, s, 3, "C1", "solid", 160*length.Inch, "navy")
	return s, a
}

func TestRequestPlan(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	_, err := s.RequestPlan(t.Context(), s.fresh())
	require.ErrorContains(t, err, "nothing to plan")
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 6)
	_, err = s.RequestPlan(t.Context(), s.fresh())
	require.ErrorContains(t, err, "no cloth to plan with")
	layCloth(t, s, 1, "B1", "solid", 170*length.Inch, "navy")

	number, err := s.RequestPlan(t.Context(), s.act("plan"))
	require.NoError(t, err)
	again, err := s.RequestPlan(t.Context(), s.act("plan"))
	require.NoError(t, err)
	require.Equal(t, number, again, "the same form twice is one plan")
	_, err = s.RequestPlan(t.Context(), s.fresh())
	require.ErrorContains(t, err, fmt.Sprintf("Plan %d is being worked out already", number))
	_, err = s.AcceptPlan(t.Context(), s.fresh(), number)
	require.ErrorContains(t, err, "is not ready")

	var jobs int
	require.NoError(t, s.pool.QueryRow(t.Context(), `SELECT count(*) FROM river.river_job WHERE kind = 'plan' AND queue = 'plans'`).Scan(&jobs))
	require.Equal(t, 1, jobs)

	problem, err := s.BeginPlan(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, "mm", problem.Unit)
	require.Equal(t, drive.NumberID(a.Number), problem.Quotas[0].ID)
	require.Equal(t, 6, problem.Quotas[0].Wanted)
	goOn, stop, err := s.PlanProgress(t.Context(), "spring", number, PlanStep{Phase: "patterns", Made: planning.Whole(30), Bound: planning.Whole(60), Cases: 3, CasesBound: 5, Seconds: 1.25})
	require.NoError(t, err)
	require.True(t, goOn)
	require.False(t, stop)
	p, err := s.Plan(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, []any{drive.PlanRunning, "patterns", 30.0, 60.0, 3, 5, 1.25}, []any{p.State, p.Phase, p.Made, p.Bound, p.Cases, p.CasesBound, p.Seconds})
	wanted, err := s.PlanWanted(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, problem.Wanted(), wanted)

	_, err = s.StopPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	_, stop, err = s.PlanProgress(t.Context(), "spring", number, PlanStep{})
	require.NoError(t, err)
	require.True(t, stop)

	_, err = s.DropPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	goOn, _, err = s.PlanProgress(t.Context(), "spring", number, PlanStep{})
	require.NoError(t, err)
	require.False(t, goOn, "a dropped plan needs no more work")
	problem, err = s.BeginPlan(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Nil(t, problem)
	gone, err := s.PlanPutAway(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, &PutAway{At: gone.At}, gone, "at the command line")
	require.WithinDuration(t, s.now(), gone.At, time.Minute)
	kept, err := s.FinishPlan(t.Context(), "spring", number, &planning.Plan{})
	require.NoError(t, err)
	require.False(t, kept)
	p, err = s.Plan(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, drive.PlanDropped, p.State, "a late worker changes nothing")

	_, err = s.Plan(t.Context(), "spring", 99)
	require.True(t, apperr.Is(err, apperr.KindNotFound))
	startDriveAs(t, s, "autumn")
	_, err = s.Plan(t.Context(), "autumn", number)
	require.True(t, apperr.Is(err, apperr.KindNotFound))
}

func TestStrandedPlansFail(t *testing.T) {
	s, _ := planned(t)
	number, err := s.RequestPlan(t.Context(), s.fresh())
	require.NoError(t, err)
	n, err := s.FailStrandedPlans(t.Context(), "gone")
	require.NoError(t, err)
	require.Zero(t, n, "its work waits in the queue")
	_, err = s.pool.Exec(t.Context(), `UPDATE river.river_job SET state = 'discarded', finalized_at = now()`)
	require.NoError(t, err)
	n, err = s.FailStrandedPlans(t.Context(), "gone")
	require.NoError(t, err)
	require.Equal(t, int64(1), n)
	p, err := s.Plan(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, []any{drive.PlanFailed, "gone"}, []any{p.State, p.Trouble})
}

func TestAcceptPlan(t *testing.T) {
	s, a := planned(t)
	number := makePlan(t, s)
	act := s.act("accept")
	got, err := s.AcceptPlan(t.Context(), act, number)
	require.NoError(t, err)
	require.Equal(t, Accepted{Plan: number, FirstSheet: 1, Sheets: got.Sheets, FirstKit: 1, Kits: 3, Cases: 12}, got)
	balances(t, s)
	again, err := s.AcceptPlan(t.Context(), act, number)
	require.NoError(t, err)
	require.Equal(t, got, again, "the same form twice")
	_, err = s.AcceptPlan(t.Context(), s.fresh(), number)
	require.ErrorContains(t, err, "was accepted already")
	balances(t, s)

	l := line(t, s, a.Number)
	require.Equal(t, 12, l.Counts[drive.CasePlanned])
	require.Zero(t, l.ToPlan)

	sheets, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	require.Equal(t, got.Sheets, sheets.Total)
	var shelves []string
	panels := 0
	for i, line := range sheets.Sheets {
		require.Equal(t, int64(i+1), line.Number, "numbered in shelf order")
		shelves = append(shelves, line.Shelf)
		panels += line.Panels
		require.NotEmpty(t, line.Kits)
	}
	require.IsIncreasing(t, shelves)
	require.Equal(t, 36, panels)
	require.Equal(t, 36, sheets.Panels)

	sheet, err := s.Sheet(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, "Ward 4", sheet.Panels[0].ForWhom)
	require.NotZero(t, sheet.Panels[0].Around)
	_, err = s.Sheet(t.Context(), "spring", 99)
	require.True(t, apperr.Is(err, apperr.KindNotFound))
	printed, err := s.SheetsToPrint(t.Context(), "spring", number, false)
	require.NoError(t, err)
	require.Len(t, printed, got.Sheets)

	// Nothing is left to plan, and other drives see nothing of it.
	_, err = s.RequestPlan(t.Context(), s.fresh())
	require.ErrorContains(t, err, "nothing to plan")
	startDriveAs(t, s, "autumn")
	other, err := s.Sheets(t.Context(), "autumn", SheetsQuery{All: true})
	require.NoError(t, err)
	require.Zero(t, other.Total)
}

// Two plans over the same cloth: one is accepted, the other told which lots.
func TestTwoPlansOverTheSameCloth(t *testing.T) {
	s, _ := planned(t)
	first, second := makePlan(t, s), makePlan(t, s)
	_, err := s.AcceptPlan(t.Context(), s.fresh(), second)
	require.NoError(t, err)
	_, err = s.AcceptPlan(t.Context(), s.fresh(), first)
	require.True(t, apperr.Is(err, apperr.KindConflict), "got %v", err)
	require.ErrorContains(t, err, "lots 1, 2 and 3 are promised elsewhere")
	balances(t, s)
	p, err := s.Plan(t.Context(), "spring", first)
	require.NoError(t, err)
	require.Equal(t, drive.PlanReady, p.State)
}

func TestManyAcceptAtOnce(t *testing.T) {
	s, a := planned(t)
	var plans []int64
	for range 5 {
		plans = append(plans, makePlan(t, s))
	}
	var wg sync.WaitGroup
	errs := make([]error, 10)
	for i := range errs {
		act := s.act(fmt.Sprintf("at-once-%d", i))
		wg.Go(func() { _, errs[i] = s.AcceptPlan(t.Context(), act, plans[i%len(plans)]) })
	}
	wg.Wait()
	won := 0
	for i, err := range errs {
		if err == nil {
			won++
			continue
		}
		require.True(t, apperr.Is(err, apperr.KindConflict), "acceptance %d: %v", i, err)
		require.Regexp(t, "lots 1, 2 and 3|accepted already", err.Error())
	}
	require.Equal(t, 1, won)
	balances(t, s)
	require.Equal(t, 12, line(t, s, a.Number).Counts[drive.CasePlanned])
}

func TestWithdrawPlan(t *testing.T) {
	s, a := planned(t)
	number := makePlan(t, s)
	accepted, err := s.AcceptPlan(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	_, err = s.DropPlan(t.Context(), s.fresh(), number)
	require.ErrorContains(t, err, "Withdraw it instead")

	_, err = s.SignOutSheet(t.Context(), s.fresh(), 1, "Rosa")
	require.NoError(t, err)
	_, err = s.WithdrawPlan(t.Context(), s.fresh(), number)
	require.ErrorContains(t, err, "sheets 1")
	_, err = s.PutBackSheet(t.Context(), s.fresh(), 1)
	require.NoError(t, err)

	p, err := s.WithdrawPlan(t.Context(), s.act("withdraw"), number)
	require.NoError(t, err)
	require.Equal(t, drive.PlanDropped, p.State)
	_, err = s.WithdrawPlan(t.Context(), s.act("withdraw"), number)
	require.NoError(t, err, "the same form twice")
	_, err = s.WithdrawPlan(t.Context(), s.fresh(), number)
	require.ErrorContains(t, err, "does not stand")
	balances(t, s)
	var promised int64
	require.NoError(t, s.pool.QueryRow(t.Context(), `SELECT sum(promised)::bigint FROM pieces`).Scan(&promised))
	require.Zero(t, promised)
	l := line(t, s, a.Number)
	require.Equal(t, 12, l.ToPlan)
	require.Equal(t, 12, l.Counts[drive.CaseWithdrawn])
	_, err = s.SignOutSheet(t.Context(), s.fresh(), 1, "Rosa")
	require.ErrorContains(t, err, "withdrawn with its plan")

	next := makePlan(t, s)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), next)
	require.NoError(t, err)
	require.Equal(t, accepted.FirstKit+int64(accepted.Kits), got.FirstKit, "numbers are never used twice")
	balances(t, s)
}

func TestAcceptedNothing(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 6)
	layCloth(t, s, 1, "B1", "solid", 4*length.Inch, "navy")
	number := makePlan(t, s)
	_, err := s.AcceptPlan(t.Context(), s.fresh(), number)
	require.ErrorContains(t, err, "makes nothing")
}

func TestShelfForPlan(t *testing.T) {
	s, _ := planned(t)
	_, err := s.pool.Exec(t.Context(), `UPDATE lots SET washed = false WHERE number = 2; UPDATE lots SET set_aside = 'mildew' WHERE number = 3`)
	require.NoError(t, err)
	sum, err := s.ShelfForPlan(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, 1, sum.Pieces)
	require.Equal(t, length.Area(170*length.Inch)*length.Area(43*length.Inch), sum.Area)
	require.Equal(t, map[drive.Waits][]int64{drive.WaitsWashing: {2}, drive.WaitsSetAside: {3}}, sum.Waiting)
	require.Equal(t, []int{12, 1}, []int{sum.ToPlan, sum.Lines})
}
