package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/planning"
)

func changeSample(state drive.PlanState) planChangePage {
	p := filled(planChangePage{}).(planChangePage)
	p.Plan.State, p.Nothing = state, false
	return p
}

// workChange works out a changed plan.
func (ts *testSite) workChange(number int64) {
	ts.t.Helper()
	problem, err := ts.Store.BeginPlan(ts.t.Context(), "spring", number)
	require.NoError(ts.t, err)
	stands, err := ts.Store.PlanStands(ts.t.Context(), "spring", number)
	require.NoError(ts.t, err)
	r, err := planning.Replan(ts.t.Context(), problem, stands.Plan, stands.Settled, planning.Options{Effort: 60})
	require.NoError(ts.t, err)
	kept, err := ts.Store.FinishChange(ts.t.Context(), "spring", number, r.Problem, r.Plan)
	require.NoError(ts.t, err)
	require.True(ts.t, kept)
}

// A sheet comes up short, the plan is changed, looked at and accepted; an old print is told
// from the new one.
func TestAPieceCameUpShort(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead := ts.as(account.CuttingLead)
	lead.get("/drives/spring/plan/1").has("Has something changed?", "Nothing has, as far as", "Change this plan")
	lead.get("/drives/spring/cutting/2").has("This piece is short, narrow, flawed or longer", "are booked")
	r := lead.post("/drives/spring/cutting/2/short", "found", "")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("0 where nothing is")
	r = lead.post("/drives/spring/cutting/2/short", "found", "9 yd", "wide", "3 in")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("one thing at a time", `value="9 yd"`)
	lead.post("/drives/spring/cutting/2/short", "wide", "60 in").has("or nothing is narrow", `value="60 in"`)
	lead.post("/drives/spring/cutting/2/short", "flaws", "somewhere").has("from where to where", `value="somewhere"`)
	lead.follow(lead.post("/drives/spring/cutting/2/short", "found", "85 in")).has("Sheet 2 came up short. Plan 2 is being worked out: it would take the place of plan 1.")
	lead.post("/drives/spring/plan/2/stop")
	lead.post("/drives/spring/plan/2/drop")
	lead.get("/drives/spring/cutting/2").has("Change plan 1", "Do not cut it before its plan is changed")
	lead.get("/drives/spring/needs").has("Sheet 2 came up short", "Change the plan")
	lead.get("/drives/spring/cutting").has("came up short")
	lead.follow(lead.post("/drives/spring/cutting/2/good")).has("waits on its shelf again")
	r = lead.post("/drives/spring/cutting/2/short", "found", "85 yd")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("3060 in is far more than the 120 in that are booked for this sheet. Look at the tape once more.", "120 in are booked.", `name="sure"`, `value="85 yd"`)
	r = lead.post("/drives/spring/cutting/2/short", "found", "3")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("3 in is hardly any of the 120 in that are booked for this sheet.", "such as 3 yd.", `name="sure"`, `value="3"`)
	lead.get("/drives/spring/cutting/2").lacks("came up short")
	lead.follow(lead.post("/drives/spring/cutting/2/short", "found", "85")).has("came up short") // the tape and the sheet are in inches
	r = lead.post("/drives/spring/cutting/2/short", "wide", "30 in")
	require.Equal(t, http.StatusConflict, r.Status, "somebody else reported it first")
	r.has("Nothing was changed.", "You typed wide: 30 in.")
	once := "K7Q2KX5Z4M3N6B8V9C1X2Z3A4S"
	lead.post("/drives/spring/cutting/1/short", "once", once, "found", "40 yd", "sure", "yes")
	r = lead.post("/drives/spring/cutting/1/short", "once", once, "found", "41 yd", "sure", "yes")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("was sent before with other contents", `value="41 yd"`, `id="short" open`)
	lead.get("/drives/spring/plan/1").has("Sheet 2 came up short.", "Kit 1 cannot be cut as planned any more.")

	// The change was asked for with the report.
	ts.workChange(3)
	desk := ts.as(account.Desk)
	r = desk.get("/drives/spring/plan/3")
	r.has("Plan 3, a change of plan 1", "Who gets what", "Whom it concerns", "Larkspur ward", "3 pillowcases instead of 4", "1 fewer", "Kits that change", "Laid out anew")
	r.lacks("Accept this change")
	require.Equal(t, http.StatusNotFound, desk.post("/drives/spring/plan/1/change").Status, "the desk reads plans")
	lead.get("/drives/spring/plan/3").has("Accept this change", "Put it away")
	lead.follow(lead.post("/drives/spring/plan/3/accept")).has("Plan 3 took the place of plan 1", "1 has a new number", "Put away the old prints of 2 sheets")
	lead.get("/drives/spring/plan/1").has("This plan was changed", "plan 3</a> stands in its place")
	lead.get("/drives/spring/plan/3").has(`It took the place of <a href="/drives/spring/plan/1">plan 1</a>`, "what that changed")
	lead.get("/drives/spring/cutting/2").has("Revision 2 of plan 3", "A print that says revision 1 is replaced: plan 3")
	lead.get("/drives/spring/plan").has("replaced")
	require.Equal(t, http.StatusNotFound, lead.get("/drives/spring/plan/1/changes").Status)
}

// A sheet is signed out while a change is looked at: accepting it says so and changes nothing.
func TestAChangeThatIsTooLate(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead := ts.as(account.CuttingLead)
	a, err := ts.Store.Asked(t.Context(), "spring", 1)
	require.NoError(t, err)
	a.Wanted = 2
	_, err = ts.Store.UpdateAsked(t.Context(), ts.act("fewer"), a)
	require.NoError(t, err)
	lead.get("/drives/spring/plan/1").has("2 fewer are needed than this plan makes.")
	lead.post("/drives/spring/plan/1/change")
	ts.workChange(2)
	lead.post("/drives/spring/cutting/1/out", "helper", "Rosa")
	r := lead.post("/drives/spring/plan/2/accept")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Nothing was changed.", "sheet 1 was signed out to Rosa")
	lead.follow(lead.post("/drives/spring/plan/2/drop")).has("Plan 2 is put away")
	lead.get("/drives/spring/plan/2").has("This change was put away")
}

// A change gives kits up for a line that matters more, says so, and can be had without; that one says what it is
// and can be turned back.
func TestAChangeThatGivesKitsUp(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead := ts.as(account.CuttingLead)
	urgent, err := ts.Store.Asked(t.Context(), "spring", 1)
	require.NoError(t, err)
	later := urgent
	later.Matter = drive.MatterIfEnough
	_, err = ts.Store.UpdateAsked(t.Context(), ts.act("later"), later)
	require.NoError(t, err)
	urgent.Wanted, urgent.Matter = 60, drive.MatterMust
	_, err = ts.Store.CreateAsked(t.Context(), ts.act("urgent"), urgent)
	require.NoError(t, err)
	lead.post("/drives/spring/plan/1/change")
	ts.workChange(2)
	lead.get("/drives/spring/plan/2").has("could stay as", "given up because that makes more of what matters most", "Leave th").lacks("It leaves every kit")
	lead.follow(lead.post("/drives/spring/plan/1/change", "whole", "yes")).has("Plan 3 is being worked out")
	ts.workChange(3)
	lead.get("/drives/spring/plan/3").has("It leaves every kit as it is that can stay so", "Give kits up where that helps", "the best there is with every kit left as it is").
		lacks("Kits that change", "Kits that fall away", "could stay as")
}

// A second piece comes up short once the change for the first waits to be accepted, and again
// while the next is still being worked out: each is booked, a change that knows of all is worked
// out, and one that cannot be accepted any more says so.
func TestPiecesComeUpShortOneAfterAnother(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead := ts.as(account.CuttingLead)
	lead.follow(lead.post("/drives/spring/cutting/2/short", "found", "85 in")).has("Plan 2 is being worked out").lacks("is put away")
	ts.workChange(2)
	lead.get("/drives/spring/plan/2").has("Accept this change").lacks("cannot be accepted")
	lead.follow(lead.post("/drives/spring/cutting/1/short", "found", "9 in")).has("Sheet 1 came up short. Plan 3 is being worked out: it would take the place of plan 1.").lacks("is put away")
	lead.get("/drives/spring/plan/2").has("and cannot be accepted", "Change plan 1 again").lacks("Accept this change")
	lead.follow(lead.post("/drives/spring/cutting/1/good")).has("waits on its shelf again")
	lead.follow(lead.post("/drives/spring/cutting/1/short", "found", "12 in")).has("Plan 4 is being worked out", "Plan 3 did not know of that yet and is put away.")
	ts.workChange(4)
	lead.follow(lead.post("/drives/spring/plan/4/accept")).has("Plan 4 took the place of plan 1")
	require.Equal(t, http.StatusConflict, lead.post("/drives/spring/plan/2/accept").Status)
}
