package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// Prints are seen side by side before acceptance and after; a rule says what it costs before
// it is kept, and the next plan keeps to it.
func TestAPlanByEye(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead, desk := ts.as(account.CuttingLead), ts.as(account.Desk)
	lead.get("/drives/spring/plan/1").has("Look at it by eye")
	r := lead.get("/drives/spring/plan/1/eye")
	r.has("<b>body</b>", "<b>cuff</b>", "Never lot 1 with lot 2 as cuff", "Keep lot 1 for", "no photo", "navy print, space")
	desk.get("/drives/spring/plan/1/eye").lacks("Never lot 1")
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring/plan/1/eye/try?lot=1&other=2").Status)

	// All of this plan's kit would have no cuff any more.
	lead.get("/drives/spring/plan/1/eye/try?lot=1&other=2").has("Lots 1 and 2 never meet", "It costs <b>3</b>: 1 instead of 4", "3 fewer")
	lead.get("/drives/spring/plan/1/eye/try?lot=1&recipient=1").has("Lot 1 as a body only for Larkspur ward", "It costs <b>no pillowcase</b>")
	require.Equal(t, http.StatusNotFound, lead.get("/drives/spring/plan/1/eye/try?lot=1&recipient=77").Status)
	require.Equal(t, http.StatusUnprocessableEntity, lead.get("/drives/spring/plan/1/eye/try?lot=1").Status)

	lead.follow(lead.post("/drives/spring/plan/1/eye", "lot", "1", "other", "2", "recipient", "")).has("The rule is kept. Plan 2 is being worked out by it; plan 1 made 4 pillowcases.")
	ts.workChange(2)
	lead.get("/drives/spring/plan/2").has("3 fewer")
	lead.get("/drives/spring/plan/1/eye").has("Decided by eye", "Lots 1 and 2 never meet as body and trim of one pillowcase", "End this rule")
	r = lead.post("/drives/spring/plan/1/eye", "lot", "2", "other", "1")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("kept apart already")
	lead.post("/drives/spring/plan/2/drop")

	lead.follow(lead.post("/drives/spring/plan/1/eye/rules/1/end")).has("The rule is ended. Plan 3")
	ts.workChange(3)
	lead.get("/drives/spring/plan/3").has("Nothing</b> would change")
	require.Equal(t, http.StatusNotFound, lead.post("/drives/spring/plan/1/eye/rules/1/end").Status)
}
