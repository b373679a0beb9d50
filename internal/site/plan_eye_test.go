package site

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/length"
)

// Prints are seen side by side before acceptance and after; a rule says what it costs before
// it is kept, and the next plan keeps to it.
func TestAPlanByEye(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead, desk := ts.as(account.CuttingLead), ts.as(account.Desk)
	lead.get("/drives/spring/plan/1").has("Look at it by eye")
	r := lead.get("/drives/spring/plan/1/eye")
	r.has("<b>body</b>", "<b>cuff</b>", "Never lot 1 with lot 2 as body and cuff", "Always lot 2 as the accent of lot 1", "Keep lot 1 for", "Another cuff", "no photo", "navy print, space")
	desk.get("/drives/spring/plan/1/eye").lacks("Never lot 1", "Another cuff")
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring/plan/1/eye/try?lot=1&other=2").Status)

	// All of this plan's kit would have no cuff any more.
	lead.get("/drives/spring/plan/1/eye/try?lot=1&other=2").has("Lots 1 and 2 never meet", "It costs <b>3</b>: 1 instead of 4", "3 fewer")
	lead.get("/drives/spring/plan/1/eye/try?lot=1&recipient=1").has("Lot 1 as a body only for Larkspur ward", "It costs <b>no pillowcase</b>")
	require.Equal(t, http.StatusNotFound, lead.get("/drives/spring/plan/1/eye/try?lot=1&recipient=77").Status)
	require.Equal(t, http.StatusUnprocessableEntity, lead.get("/drives/spring/plan/1/eye/try?lot=1").Status)

	lead.follow(lead.post("/drives/spring/plan/1/eye", "lot", "1", "other", "2", "recipient", "")).has("The rule is kept. Plan 2 is being worked out by it; plan 1 made 4 pillowcases.")
	ts.workChange(2)
	lead.get("/drives/spring/plan/2").has("3 fewer")
	lead.get("/drives/spring/plan/1/eye").has("Decided by eye", "Lots 1 and 2 never meet as body and trim of one pillowcase", "End this rule", "Where a rule is ended a plan is worked out anew, without what was swapped by hand in this one.")
	r = lead.post("/drives/spring/plan/1/eye", "lot", "2", "other", "1")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("kept apart already")
	lead.post("/drives/spring/plan/2/drop")

	lead.follow(lead.post("/drives/spring/plan/1/eye/rules/1/end")).has("The rule is ended. Plan 3")
	ts.workChange(3)
	lead.get("/drives/spring/plan/3").has("Nothing</b> would change")
	require.Equal(t, http.StatusNotFound, lead.post("/drives/spring/plan/1/eye/rules/1/end").Status)
}

// Another cuff is chosen by its photo, its cost said, and the plan with it accepted or not:
// before the plan is accepted and after.
func TestAnotherCuff(t *testing.T) {
	ts := newTestSite(t)
	ts.shelfAndWants(4)
	ts.shelve(3, "C1", "solid", "white", "plain", "cut", "either", 22*length.Inch)
	ts.shelve(4, "C2", "solid", "rust", "plain", "cut", "either", 22*length.Inch)
	number, err := ts.Store.RequestPlan(t.Context(), ts.act("plan"))
	require.NoError(t, err)
	ts.workPlan(number)
	lead, desk := ts.as(account.CuttingLead), ts.as(account.Desk)
	const swap = "/drives/spring/plan/1/eye/swap?kit=K1&case=1&role=cuff"
	require.Equal(t, http.StatusNotFound, desk.get(swap).Status)
	lead.get("/drives/spring/plan/1/eye").has("Another cuff", "Another accent")
	r := lead.get(swap)
	r.has("Another cuff for kit K1", "4 pillowcases like this", "Lots that go with lot 1", ": lot 3</span></label>", "Always together: what would it cost?")
	r.lacks(": lot 4</span></label>")

	r = lead.get(swap + "&lot=3")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Nothing was changed.", "too little of that cloth")
	r = lead.get(swap + "&lot=4&n=1")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("not said to go with this body")
	for _, n := range []string{"9", "0", "-3", "two", "1.5"} {
		r = lead.get(swap + "&lot=3&n=" + n)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, "n = %s", n)
		r.has(`id="f-n-said">There are 4 of these in the kit: give 1 to 4.`, `value="`+n+`"`)
		r.lacks("Make a plan with this cuff")
	}
	require.Equal(t, http.StatusNotFound, lead.get("/drives/spring/plan/1/eye/swap?kit=K7&case=1&role=cuff").Status)
	require.Equal(t, http.StatusNotFound, lead.get("/drives/spring/plan/1/eye/swap?kit=K1&case=1&role=body").Status)
	lead.get(swap+"&lot=3&n=2").has("It costs <b>no pillowcase</b>: 4 as before", "18 in less of lot 2", "18 in more of lot 3", "1 bundle more to cut")

	closing := ts.as(account.Organiser)
	closing.post("/drives/spring/settings/closing/close")
	const closed = "nothing more is planned, handed out or asked for. An organiser can open it again"
	for _, r := range []testAnswer{lead.get(swap), lead.post("/drives/spring/plan/1/eye/swap", "kit", "K1", "case", "1", "role", "cuff", "lot", "3", "n", "2")} {
		require.Equal(t, http.StatusConflict, r.Status)
		r.has(closed)
	}
	lead.get("/drives/spring/plan/1/eye").has(closed).lacks("Another cuff")
	closing.post("/drives/spring/settings/closing/open")

	lead.follow(lead.post("/drives/spring/plan/1/eye/swap", "kit", "K1", "case", "1", "role", "cuff", "lot", "3", "n", "2")).has("Plan 2 is plan 1 with that cuff.", "Accept")
	ts.acceptPlan(2)
	lead.get("/drives/spring/plan/2/eye").has("Kit 1: 4 pillowcases", "lot 3</a>", "as they stand by now")

	// Once it stands, one cuff more than there is cloth for is refused, one back is a change.
	const after = "/drives/spring/plan/2/eye/swap?kit=1&role=cuff&case="
	first := "1"
	if lead.get(after+"1&lot=3").Status == http.StatusNotFound || !strings.Contains(lead.get(after+"1").Body, ": lot 3</span></label>") {
		first = "3"
	}
	require.Equal(t, http.StatusConflict, lead.get(after+first+"&lot=3&n=1").Status)
	other := map[string]string{"1": "3", "3": "1"}[first]
	lead.get(after+other+"&lot=2&n=1").has("It costs <b>no pillowcase</b>", "of lot 2")
	r = lead.follow(lead.post("/drives/spring/plan/2/eye/swap", "kit", "1", "case", other, "role", "cuff", "lot", "2", "n", "1"))
	r.has("Plan 3 is plan 2 with that cuff.", "plan/3/accept", "Kit 1 changes as somebody chose it by eye.").lacks("given up because", "Leave that kit as it is")
	ts.acceptPlan(3)
	lead.get("/drives/spring/plan/3/eye").has("Kit 2: 4 pillowcases")
	require.Equal(t, http.StatusConflict, lead.get("/drives/spring/plan/2/eye/swap?kit=1&role=cuff&case=1").Status)
}

// A body is always sewn with one cuff, or never with another as its accent: said, costed, kept.
func TestRulesOfRolesByEye(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead := ts.as(account.CuttingLead)
	lead.get("/drives/spring/plan/1/eye/try?kind=never&roles=body+and+accent&lot=1&other=2").has("A body of lot 1 never with lot 2 as its accent", "It costs <b>3</b>")
	lead.get("/drives/spring/plan/1/eye/try?kind=always&roles=body+and+cuff&lot=1&other=2").has("A body of lot 1 always with lot 2 as its cuff", "It costs <b>no pillowcase</b>")
	require.Equal(t, http.StatusUnprocessableEntity, lead.get("/drives/spring/plan/1/eye/try?kind=always&roles=cuff+and+accent&lot=1&other=2").Status)
	lead.post("/drives/spring/plan/1/eye", "kind", "always", "roles", "body and cuff", "lot", "1", "other", "2")
	r := lead.post("/drives/spring/plan/1/eye", "kind", "always", "roles", "body and cuff", "lot", "1", "other", "2")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("always sewn with another lot already")
	lead.get("/drives/spring/plan/1/eye").has("A body of lot 1 always with lot 2 as its cuff", "End this rule")
}

func (ts *testSite) acceptPlan(number int64) {
	ts.t.Helper()
	_, err := ts.Store.AcceptPlan(ts.t.Context(), ts.act(fmt.Sprint("accept ", number)), number)
	require.NoError(ts.t, err)
}
