package site

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning/plantest"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
)

func planSample(state drive.PlanState) planPage {
	p := filled(planPage{}).(planPage)
	p.Plan.State = state
	if state == drive.PlanFailed {
		p.Words = ""
	}
	return p
}

// planBusy is a plan that is being worked out.
func planBusy() planPage {
	return planPage{Busy: &planProgress{Plan: drive.Plan{Number: 3, State: drive.PlanRunning, Cases: 2, CasesBound: 3}, Wanted: 4}}
}

// shelfAndWants gives the drive "spring" a line for n pillowcases, and cloth for 4.
func (ts *testSite) shelfAndWants(n int) {
	ts.t.Helper()
	built, ok := sizing.CaseNamed("standard")
	require.True(ts.t, ok)
	ctx := ts.t.Context()
	z, err := ts.Store.CreateSize(ctx, ts.act("size"), drive.Size{Name: "Standard", Spec: built.Spec})
	require.NoError(ts.t, err)
	r, err := ts.Store.CreateRecipient(ctx, ts.act("recipient"), drive.Recipient{Kind: drive.RecipientWard, Name: "Larkspur ward"})
	require.NoError(ts.t, err)
	_, err = ts.Store.CreateAsked(ctx, ts.act("asked"), drive.Asked{Recipient: r.Number, Sizes: []int64{z.Number}, Wanted: n, Matter: drive.MatterMust})
	require.NoError(ts.t, err)
	ts.shelve(1, "B2", "feature", "navy", "space", "cut", "across", 120*length.Inch)
	ts.shelve(2, "B1", "solid", "navy", "", "torn", "either", 50*length.Inch)
}

// shelve puts a measured lot of one piece, 43 in wide, on the shelf.
func (ts *testSite) shelve(lot int64, shelf, print, colour, theme, ends, turn string, long length.Length) {
	ts.t.Helper()
	ctx, width := ts.t.Context(), 43*length.Inch
	const cloth = `INSERT INTO lots (drive_id, number, received_on, shelf, fibre, weight, washed, print, colours, themes, ends, turn, raw_length, raw_width, created_at, measured_at)
		VALUES ('spring', $1, now(), $2, 'cotton', 'quilting', true, $3, ARRAY[$4], array_remove(ARRAY[$5], ''), $6, $7, $8, $9, now(), now())`
	_, err := ts.DB.Pool.Exec(ctx, cloth, lot, shelf, print, colour, theme, ends, turn, long, width)
	require.NoError(ts.t, err)
	_, err = ts.DB.Pool.Exec(ctx, `INSERT INTO pieces (drive_id, lot, piece, kind, width) VALUES ('spring', $1, 1, 'whole', $2)`, lot, width)
	require.NoError(ts.t, err)
	_, err = ts.DB.Pool.Exec(ctx, `INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area, at, who)
		VALUES ('spring', $1, 1, 'measured', 'outside', 'free', $2, $3, now(), 1)`, lot, long, int64(long)*int64(width))
	require.NoError(ts.t, err)
}

// workPlan finishes a plan with a plain one.
func (ts *testSite) workPlan(number int64) {
	ts.t.Helper()
	problem, err := ts.Store.BeginPlan(ts.t.Context(), "spring", number)
	require.NoError(ts.t, err)
	require.NotNil(ts.t, problem)
	kept, err := ts.Store.FinishPlan(ts.t.Context(), "spring", number, plantest.Plain(problem))
	require.NoError(ts.t, err)
	require.True(ts.t, kept)
}

func TestPlanFromTheFirstPageToAccepted(t *testing.T) {
	ts := newTestSite(t)
	lead := ts.as(account.CuttingLead)
	r := lead.get("/drives/spring/plan")
	r.has("No plan yet")
	r.lacks("Everything asked for is planned")
	lead.post("/drives/spring/plan").has("nothing to plan")

	ts.shelfAndWants(6)
	lead.get("/drives/spring/plan").has("<b>6</b> pillowcases are asked for", "2 pieces of cloth", "Make a plan")
	r = lead.post("/drives/spring/plan")
	r = lead.follow(r)
	r.has("Plan 1 is being worked out", `data-watch="/drives/spring/plan/1/progress"`, `<noscript><meta http-equiv="refresh" content="3; url=/drives/spring/plan/1?itself=yes"></noscript>`, "It waits for its turn")
	r = lead.post("/drives/spring/plan")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Plan 1 is being worked out already")

	require.Equal(t, http.StatusNotFound, lead.get("/drives/spring/plan/1/plan.json").Status, "it is not made yet")
	_, err := ts.Store.BeginPlan(t.Context(), "spring", 1)
	require.NoError(t, err)
	_, _, err = ts.Store.PlanProgress(t.Context(), "spring", 1, postgres.PlanStep{Phase: "improving", Made: decimal(t, "3"), Bound: decimal(t, "5"), Cases: 3, CasesBound: 5, Seconds: 1.26})
	require.NoError(t, err)
	for _, page := range []string{"/drives/spring/plan", "/drives/spring/plan/1"} {
		r = lead.get(page)
		r.has("Plan 1 is being worked out", `<b data-text="made">3</b> <span data-text="kind">pillowcases so far</span>`, "no cutting of this fabric makes more than 5.",
			"better way to cut", "1.3 seconds", "Stop and keep the best", `aria-label="Of 6 asked for: 3 made so far, 2 not settled yet, 1 more than this fabric can make"`, `data-then="`+page+`?itself=yes"`)
		r.lacks("By what matters most")
	}
	r = lead.post("/drives/spring/plan/1/stop")
	require.Equal(t, "/drives/spring/plan/1", r.Location)
	lead.follow(r).has("It stops, and keeps the best so far")

	ts.workPlan(1)
	r = lead.get("/drives/spring/plan")
	r.has("Plan 1 is ready", "<b>4</b> pillowcases", "Look at plan 1")
	r.lacks("data-watch", "http-equiv")
	r = lead.get("/drives/spring/plan/1")
	r.has("<b>4</b> of 6 asked for", "Makes 4 pillowcases. Under these rules", `aria-label="Of 6 asked for: 4 made,`, "How these figures came about", "Larkspur ward, Standard", "1 kit of 4", "2 short.", "used up",
		"Lot 1", "Accept this plan", `class="panel-body"`, `class="hatch-cuff"`, "up</text>")

	reader := ts.as(account.Reader)
	for name, saved := range map[string]string{"problem.json": "plan-1-problem.json", "plan.json": "plan-1.json"} {
		file := reader.get("/drives/spring/plan/1/" + name)
		require.Equal(t, http.StatusOK, file.Status)
		require.Equal(t, "application/json", file.Header.Get("Content-Type"))
		require.Contains(t, file.Header.Get("Content-Disposition"), "''"+saved)
		require.True(t, json.Valid([]byte(file.Body)))
	}
	r = reader.get("/drives/spring/plan/1")
	r.has("Makes 4 pillowcases")
	r.lacks("Accept this plan", "Put it away")
	require.Equal(t, http.StatusNotFound, reader.post("/drives/spring/plan/1/accept").Status)
	require.Equal(t, http.StatusNotFound, lead.get("/drives/spring/plan/9").Status)

	r = lead.post("/drives/spring/plan/1/accept")
	require.Equal(t, ts.path("cutting"), r.Location)
	lead.follow(r).has("Plan 1 accepted: 2 sheets to cut, 1 kit for 4 pillowcases", "Undo")
	lead.get("/drives/spring/plan/1").has("accepted", "To its cut sheets", "Withdraw it")
	r = lead.post("/drives/spring/plan/1/accept")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Nothing was changed.", "was accepted already")

	lead.follow(lead.post("/drives/spring/plan/1/withdraw")).has("Plan 1 is withdrawn", "Do not cut its sheets")
	lead.get("/drives/spring/plan").has("withdrawn")
}

func TestPlansDroppedAndFailed(t *testing.T) {
	ts := newTestSite(t)
	ts.shelfAndWants(2)
	lead := ts.as(account.Organiser)
	lead.post("/drives/spring/plan")
	lead.follow(lead.post("/drives/spring/plan/1/drop")).has("Plan 1 is put away")
	lead.get("/drives/spring/plan/1").has("put away before it was done", "none of its cloth was promised", "Ada organiser put it away on", "2 Mar 2026, 04:00", "Plan again")
	lead.post("/drives/spring/plan")
	require.NoError(t, ts.Store.FailPlan(t.Context(), "spring", 2, "It was too much."))
	lead.get("/drives/spring/plan").has(`<span class="late">failed</span>`)
	lead.get("/drives/spring/plan/2").has("It was too much.", "Plan again")
	lead.post("/drives/spring/plan")
	ts.workPlan(3)
	lead.follow(lead.post("/drives/spring/plan/3/drop"))
	lead.get("/drives/spring/plan/3").has("This plan was put away", "Ada organiser put it away on")
}

// A loser of two who accept is told which lots, on the plan's page.
func TestAcceptTooLate(t *testing.T) {
	ts := newTestSite(t)
	ts.shelfAndWants(4)
	lead := ts.as(account.Organiser)
	lead.post("/drives/spring/plan")
	ts.workPlan(1)
	lead.post("/drives/spring/plan")
	ts.workPlan(2)
	lead.post("/drives/spring/plan/1/accept")
	r := lead.post("/drives/spring/plan/2/accept")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("lots 1 and 2 are promised elsewhere", "Plan 2")
}

func TestLotsThatWaitAreNamed(t *testing.T) {
	ts := newTestSite(t)
	ts.shelfAndWants(4)
	_, err := ts.DB.Pool.Exec(t.Context(), `UPDATE lots SET washed = false WHERE number = 2`)
	require.NoError(t, err)
	r := ts.as(account.Desk).get("/drives/spring/plan")
	r.has("Not in it before they are washed: lot", `/drives/spring/fabric/2"`)
	r.lacks("Make a plan")
	require.Equal(t, 1, strings.Count(r.Body, "Not in it"))
}

// A ward that takes cotton only gets nothing of cloth whose fibre is not sure, and its plan says so.
func TestPlanNamesClothOfNoKnownFibre(t *testing.T) {
	ts := newTestSite(t)
	ts.shelfAndWants(6)
	lead := ts.as(account.CuttingLead)
	_, err := ts.DB.Pool.Exec(t.Context(), `UPDATE lots SET fibre = 'not sure' WHERE number = 1`)
	require.NoError(t, err)
	lead.post("/drives/spring/plan")
	ts.workPlan(1)
	lead.get("/drives/spring/plan/1").lacks("the fibre is not sure")
	lead.post("/drives/spring/plan/1/drop")

	_, err = ts.DB.Pool.Exec(t.Context(), `UPDATE recipients SET fibres = '{cotton}'`)
	require.NoError(t, err)
	lead.post("/drives/spring/plan")
	ts.workPlan(2)
	lead.get("/drives/spring/plan/2").has("Nothing was cut for them from lot 1: the fibre is not sure, and they take only cotton.", `/drives/spring/fabric?fibre=not+sure"`)
}

// Of two plans of the same cloth one was accepted: the other is not said to be ready any more.
func TestAPlanThatWasPassedOver(t *testing.T) {
	ts := newTestSite(t)
	ts.shelfAndWants(4)
	for number := range int64(2) {
		_, err := ts.Store.RequestPlan(t.Context(), ts.act(fmt.Sprint("plan ", number)))
		require.NoError(t, err)
		ts.workPlan(number + 1)
	}
	lead := ts.as(account.CuttingLead)
	lead.get("/drives/spring/plan").has("Plan 2 is ready", "ready, not accepted")
	ts.Clock.Pass(time.Minute)
	ts.acceptPlan(1)
	lead.get("/drives/spring/plan").has("passed over for another plan", "accepted").lacks("is ready", "ready, not accepted", "Look at plan 2")
	lead.get("/drives/spring/plan/2").has("Another plan was accepted since this one was made")
}
