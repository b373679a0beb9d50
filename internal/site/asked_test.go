package site

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
)

// askedSite is a site whose drive has the size travel (1) and two recipients: Ward 4 (1) and Harbour shelter (2).
func askedSite(t *testing.T) (*testSite, *client) {
	t.Helper()
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	for _, form := range [][]string{
		{"/drives/spring/sizes/ready-made", "name", "travel"},
		{
			"/drives/spring/recipients/new", "kind", "ward", "name", "Ward 4", "ages", "3 to 12", "fibres", "cotton", "rules", "Washed hot, tumble dried\nno fragrance",
			"contact", "Sister Quill", "phone", "555 0104",
		},
		{"/drives/spring/recipients/new", "kind", "shelter", "name", "Harbour shelter"},
	} {
		r := organiser.post(form[0], form[1:]...)
		require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	}
	return ts, organiser
}

// stand brings pillowcases into being for a line and checks some of them.
func (ts *testSite) stand(key string, asked int64, n, good int) {
	ts.t.Helper()
	_, err := ts.Store.BringIn(ts.t.Context(), ts.act(key+"-in"), drive.BroughtIn{Size: 1, N: n, Asked: asked})
	require.NoError(ts.t, err)
	if good > 0 {
		_, err = ts.Store.CheckCases(ts.t.Context(), ts.act(key+"-check"), drive.Stack{Asked: asked, Size: 1}, drive.Checked{Good: good, Pins: true})
		require.NoError(ts.t, err)
	}
}

func TestAskedFor(t *testing.T) {
	ts, organiser := askedSite(t)
	organiser.get("/drives/spring/asked").has("Ward 4", "Harbour shelter", "nothing asked for yet")

	r := organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "1,020", "due", "2026-03-30", "matter", "own", "weight", "7",
		"themes_wanted", "Animals, space", "themes_avoid", "skulls", "kit_cases", "3", "note", "soft")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	require.Equal(t, "/drives/spring/recipients/1", r.Location)
	organiser.follow(r).has("1,020 more are asked for", "travel: animals, space; no skulls", "1,020 not planned yet", "1,020")
	organiser.get("/drives/spring/asked/1").has(`value="1020"`, `value="2026-03-30"`, `value="animals, space"`, `value="7"`, `value="3"`, "Close the line")

	r = organiser.post("/drives/spring/asked/new", "recipient", "2", "sizes", "1", "wanted", "10", "matter", "should", "due", "9 March 2026")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	ts.stand("shelter", 2, 4, 3)
	page := organiser.get("/drives/spring/asked")
	page.has("1,030", "6 not planned yet", `data-label="Good">3<`, `data-label="To check, mend">1<`, `data-label="Missing">6<`)
	organiser.get("/drives/spring/asked?q=harb").lacks("Ward 4", "1,030")
	organiser.get("/drives/spring/asked?q=ANIMALS").lacks("Harbour shelter")
	organiser.get("/drives/spring/asked?sort=missing&order=down").has("Ward 4")

	ts.Clock.Pass(8 * 24 * time.Hour)
	ts.as(account.Reader).get("/drives/spring/asked").has("1 day late")
}

func TestAskedRefused(t *testing.T) {
	_, organiser := askedSite(t)
	good := []string{"recipient", "1", "sizes", "1", "wanted", "6", "matter", "must"}
	for name, tt := range map[string]struct {
		field, typed, want string
	}{
		"nobody":            {"recipient", "", "Choose a recipient"},
		"an unknown one":    {"recipient", "99", "Choose a recipient"},
		"no size":           {"sizes", "", "Choose at least one size"},
		"an unknown size":   {"sizes", "99", "Choose sizes from the list"},
		"none":              {"wanted", "0", "Ask for 1 to 100,000"},
		"less than none":    {"wanted", "-4", "Type a whole number"},
		"words":             {"wanted", "a few", `value="a few"`},
		"absurdly many":     {"wanted", "900000", "Ask for 1 to 100,000"},
		"a day gone":        {"due", "2026-03-01", "That day has passed"},
		"a day that is not": {"due", "2026-02-31", "Type a day such as"},
		"own weight of 0":   {"matter", "own", "Give a weight"},
		"a kit of 60":       {"kit_cases", "60", "A kit holds 1 to 50"},
	} {
		r := organiser.post("/drives/spring/asked/new", append(without(good, tt.field), tt.field, tt.typed)...)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, name)
		r.has(tt.want)
	}
	organiser.get("/drives/spring/asked").lacks("not planned yet")
}

func TestTheSameFormTwice(t *testing.T) {
	ts, organiser := askedSite(t)
	for range 2 {
		r := organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "6", "matter", "must", "once", "one-and-the-same")
		require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	}
	lines, err := ts.Store.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, lines, 1)
}

func TestAskedChangedAndClosed(t *testing.T) {
	_, organiser := askedSite(t)
	form := []string{"recipient", "1", "sizes", "1", "wanted", "6", "matter", "must"}
	organiser.post("/drives/spring/asked/new", form...)

	changed := append(without(form, "wanted"), "wanted", "8", "version", "1")
	r := organiser.post("/drives/spring/asked/1", changed...)
	organiser.follow(r).has("What is asked for is changed", "8 not planned yet")
	r = organiser.post("/drives/spring/asked/1", append(without(changed, "wanted"), "wanted", "9")...)
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Somebody else changed this", `data-label="Stands now">8<`, `data-label="You typed">9<`, `name="version" value="2"`)

	r = organiser.post("/drives/spring/asked/1/close")
	organiser.follow(r).has("Nothing more is planned", "/drives/spring/asked/1/reopen", "closed")
	organiser.get("/drives/spring/asked").lacks("travel")
	organiser.get("/drives/spring/asked?show=closed").has("travel")
	r = organiser.post("/drives/spring/asked/1/reopen")
	organiser.follow(r).has("The line is open again", "8 not planned yet")
	for _, path := range []string{"/drives/spring/asked/7", "/drives/spring/recipients/7", "/drives/spring/recipients/7/change", "/drives/spring/asked/x"} {
		require.Equal(t, http.StatusNotFound, organiser.get(path).Status, path)
	}
}

func TestAskedNeedsSizesAndRecipientsFirst(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	organiser.get("/drives/spring/asked/new").has("No size yet")
	organiser.get("/drives/spring/kits/own").has("No size yet", "/drives/spring/sizes")
	organiser.post("/drives/spring/sizes/ready-made", "name", "travel")
	organiser.get("/drives/spring/asked/new").has("No recipient yet")
}

func TestRecipient(t *testing.T) {
	ts, organiser := askedSite(t)
	organiser.get("/drives/spring/recipients/1").has("Ward 4", "ages 3 to 12", "cotton", "Washed hot, tumble dried", "no fragrance", "Sister Quill", "555 0104", "Take care.")
	ts.as(account.Desk).get("/drives/spring/recipients/1").has("555 0104")
	ts.as(account.Reader).get("/drives/spring/recipients/1").lacks("555 0104", "Sister Quill", "Change its rules")

	r := organiser.post("/drives/spring/recipients/1/change", "kind", "ward", "name", "Ward 4b", "version", "1")
	organiser.follow(r).has("Ward 4b is changed", "none written down")
	r = organiser.post("/drives/spring/recipients/1/change", "kind", "hospice", "name", "Ward 4c", "version", "1")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Ward 4b", `value="Ward 4c"`, `name="version" value="2"`)
	for name, tt := range map[string]struct{ field, typed, want string }{
		"no name":      {"name", "", "Say the name"},
		"a known name": {"name", "harbour SHELTER", "There is a recipient of this name already"},
		"no kind":      {"kind", "castle", "Choose ward, hospice"},
		"no at":        {"email", "ward4", "has an @ in it"},
	} {
		r := organiser.post("/drives/spring/recipients/new", append(without([]string{"kind", "ward", "name", "Ward 9"}, tt.field), tt.field, tt.typed)...)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, name)
		r.has(tt.want)
	}
}

func TestAllSentIsNotAllConfirmed(t *testing.T) {
	line := drive.AskedLine{Asked: drive.Asked{Wanted: 6}}
	line.Counts = drive.Counts{drive.CaseDelivered: 2, drive.CaseConfirmed: 4}
	require.Equal(t, courseWords{"all sent, 4 confirmed", ""}, courseOf(line, time.Time{}))
	line.Counts = drive.Counts{drive.CaseConfirmed: 6}
	require.Equal(t, courseWords{"all delivered", "done"}, courseOf(line, time.Time{}))
}

// A closed line waits for nothing more, so what is missing is told without it.
func TestWhatIsClosedIsNotMissing(t *testing.T) {
	_, organiser := askedSite(t)
	for _, wanted := range []string{"6", "85"} {
		organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", wanted, "matter", "must")
	}
	open := `<b>0</b> of 91 delivered, <b>91</b> missing`
	organiser.get("/drives/spring/recipients/1").has(open).lacks("Of closed lines")
	organiser.post("/drives/spring/asked/2/close")
	organiser.get("/drives/spring/recipients/1").has(`<b>0</b> of 6 delivered, <b>6</b> missing`, "Of closed lines, which wait for nothing more, 0 of 85 are delivered").lacks(open)
	organiser.get("/drives/spring/asked").has(`<b>0</b> of 6 delivered, <b>6</b> missing`)
	organiser.post("/drives/spring/asked/1/close")
	organiser.get("/drives/spring/recipients/1").has(open).lacks("Of closed lines")
}
