package site

import (
	"net/http"
	"testing"
	"time"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/postgres"

	"github.com/stretchr/testify/require"
)

func asksSample(state string) asksPage {
	p := filled(asksPage{}).(asksPage)
	p.Asks.State, p.Asks.Nothing = state, false
	if state == "" {
		p = asksPage{}
	}
	return p
}

// workAsks does what the worker does.
func (ts *testSite) workAsks(t *testing.T) {
	t.Helper()
	work, err := ts.Store.BeginAsks(t.Context(), "spring")
	require.NoError(t, err)
	require.NotNil(t, work)
	found, err := work.Input.FindAsks(t.Context(), work.Plan, length.In, planning.Options{Effort: 60})
	require.NoError(t, err)
	require.NoError(t, ts.Store.FinishAsks(t.Context(), "spring", work.At, found))
}

// What to ask for is worked out by whoever may plan, read by all, linked from where people
// look, and says its age and whether it still holds.
func TestFabricToAskFor(t *testing.T) {
	ts := newTestSite(t)
	ts.shelfAndWants(30)
	lead, desk := ts.as(account.CuttingLead), ts.as(account.Desk)
	for _, from := range []string{"plan", "asked", "fabric"} {
		lead.get("/drives/spring/" + from).has(`href="/drives/spring/plan/asks"`)
	}
	lead.get("/drives/spring/plan/asks").has("Work out what to ask for")
	desk.get("/drives/spring/plan/asks").lacks("<button>Work out")
	r := lead.post("/drives/spring/plan/asks")
	require.Equal(t, 303, r.Status)
	lead.follow(r).has("It is being worked out", "http-equiv=\"refresh\"")
	// What the open page asks by itself changes nothing before there is something new.
	const asks = "/drives/spring/plan/asks"
	require.Equal(t, http.StatusNoContent, lead.getPart(asks+"?itself", asks).Status)
	ts.workAsks(t)
	require.Equal(t, http.StatusOK, lead.getPart(asks+"?itself", asks).Status)
	shown := desk.get("/drives/spring/plan/asks")
	shown.has("just now", "1 yd", "Pillowcases more", "plain or tone on tone", "mailto:?subject=", "readonly>", "Thank you.")
	shown.lacks("counts from plan")
	lead.post("/drives/spring/plan")
	ts.workPlan(1)
	desk.get("/drives/spring/plan/asks").has("it makes", "“Asked for” counts from plan 1 instead")
	ts.Clock.Pass(3 * time.Hour)
	later := desk.get("/drives/spring/plan/asks")
	later.has("3 hours ago")
	desk.get("/drives/spring/asked").has("What fabric would bring is counted from plan 1.", "more than plan 1 has")
	later.lacks("has changed since")
	lines, err := ts.Store.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	line := lines[0].Asked
	line.Wanted++
	_, err = ts.Store.UpdateAsked(t.Context(), ts.act("more"), line)
	require.NoError(t, err)
	desk.get("/drives/spring/plan/asks").has("has changed since")
}

// A lot's page says what the lot brings, with or without a script, for whom.
func TestWhatALotBrings(t *testing.T) {
	ts := newTestSite(t)
	ts.shelfAndWants(30)
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/fabric/1").has("With what is on the shelf")
}

func TestAskText(t *testing.T) {
	d := drive.Drive{Name: "Spring & Sons", Unit: length.In}
	page := asksPage{Rows: []askRow{{What: "plain or tone on tone navy", Cloth: "cotton, quilting weight", HowMuch: "1 yd", Cases: 4, For: []askFor{{"Ward 4, standard", 5}, {"Hospice, queen", -1}}}}}
	text := page.text(d, mostMailed)
	require.Contains(t, text, "- 1 yd of plain or tone on tone navy (cotton, quilting weight): 4 more pillowcases, for Ward 4\n")
	require.Empty(t, asksPage{}.text(d, mostMailed))
	require.Contains(t, draft("", "a & b", text), "mailto:?subject=a%20%26%20b&body=Spring%20%26%20Sons")
	require.Equal(t, "1 fewer for Hospice, queen", page.Rows[0].For[1].Words())
	require.Equal(t, []string{"just now", "1 minute ago", "2 hours ago", "3 days ago"}, []string{ago(0), ago(time.Minute), ago(2 * time.Hour), ago(75 * time.Hour)})
	require.False(t, postgres.Asks{}.Busy())
}

// What all that is short takes stands on the page and in the message: a yard and two of it
// alone would have donors believe that little is wanted.
func TestTheWholeNeedIsAskedFor(t *testing.T) {
	ts := newTestSite(t)
	ts.shelfAndWants(30)
	lead := ts.as(account.CuttingLead)
	lead.post("/drives/spring/plan/asks")
	ts.workAsks(t)
	now, err := ts.Store.AskedForNow(t.Context(), "spring")
	require.NoError(t, err)
	short := now.Wanted - now.Made
	require.Positive(t, short)
	missing, cloth := drive.AllNeeds(now.Short)
	require.Equal(t, short, missing)
	words := drive.ClothWords(cloth, length.In)
	require.Regexp(t, `^[0-9 /]+ yd for bodies`, words)
	page := lead.get("/drives/spring/plan/asks")
	page.has("have no fabric yet", words, "All that is short")
	page.has("is still to be found, about " + words)
}
