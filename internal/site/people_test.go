package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

func TestPeopleAreAddedAndChanged(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	organiser.get("/drives/spring/people").has("Nobody on the list yet")
	page := organiser.follow(organiser.post("/drives/spring/people/new", "kind", "school", "name", "Hill School", "heads", "24", "pickup", "library",
		"contact", "Ms Fenn", "email", "office@hill.example", "phone", "555 0101", "address", "1 Hill Rd", "pace", "12", "overlocker", "yes"))
	page.has("Hill School is on the list", "24 people sew", "overlocker", "about 12 a week", "Ms Fenn", "office@hill.example", "555 0101", "1 Hill Rd")
	organiser.get("/drives/spring/people").has("Hill School", "school, 24 sew", "library")

	r := organiser.post("/drives/spring/people/new", "kind", "volunteer", "name", "hill school", "email", "nobody")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("An e-mail address looks like", `value="hill school"`)
	r = organiser.post("/drives/spring/people/new", "kind", "volunteer", "name", "hill school", "pace", "many", "heads", "x")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("2 things to put right")

	organiser.get("/drives/spring/people/1/change").has(`name="version" value="1"`, `value="555 0101"`)
	organiser.follow(organiser.post("/drives/spring/people/1/change", "version", "1", "kind", "school", "name", "Hill School", "heads", "30", "resting", "yes")).
		has("Changed.", "30 people sew", "Resting")
	r = organiser.post("/drives/spring/people/1/change", "version", "1", "kind", "school", "name", "Hill School", "heads", "26")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Where the two differ", "<td data-label=\"Stands now\">30</td><td data-label=\"You typed\">26</td>", `name="version" value="2"`)
	organiser.get("/drives/spring/people").lacks("Hill School</a>")
	organiser.get("/drives/spring/people?who=resting").has("Hill School")
}

// Skills, language, what is declared of a home and the day they agreed are kept and
// shown; the day they agreed is for those who may write contacts.
func TestWhatAKitDeskKnowsOfSomebody(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	page := organiser.follow(organiser.post("/drives/spring/people/new", "kind", "volunteer", "name", "Bo Lund", "beginner", "yes", "language", "Polish",
		"smoke", "no", "pets", "yes", "agreed_on", "1 Feb 2026", "note", "=SUM(1)"))
	page.has("has just begun", "Polish", "nobody smokes", "pets", `on <time datetime="2026-02-01">1 Feb 2026</time>`)
	r := organiser.post("/drives/spring/people/new", "kind", "volunteer", "name", "Cy Dahl", "smoke", "perhaps", "language", "Polish", "agreed_on", "soon")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Type a day such as", `value="soon"`, `value="Polish"`)
	r = organiser.post("/drives/spring/people/new", "kind", "volunteer", "name", "Cy Dahl", "agreed_on", "3 Mar 2026")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("That day has not come yet", `href="#f-agreed_on"`, `value="3 Mar 2026"`)
	r = organiser.post("/drives/spring/people/new", "kind", "volunteer", "name", "Cy Dahl", "smoke", "perhaps")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Choose no or yes")
	organiser.get("/drives/spring/people").has("begins", "people.csv")

	file := organiser.get("/drives/spring/people/people.csv")
	file.has("Name,Kind,Heads,Pickup", "Agreed on", "Bo Lund,volunteer,1,", "2026-02-01", "'=SUM(1)")
	ts.as(account.CuttingLead).get("/drives/spring/people/people.csv").lacks("Agreed on", "Email")
}

func TestHoursAreNotedAndUndone(t *testing.T) {
	ts := newTestSite(t)
	ts.addPerson("Mary Ellis")
	organiser := ts.as(account.Organiser)
	organiser.get("/drives/spring/people/1").has("No hours noted yet")
	page := organiser.follow(organiser.post("/drives/spring/people/1/hours", "hours", "1:30", "doing", "sewing"))
	page.has("1 h 30 min noted", "1 h 30 min given", "hours/1/undo")
	organiser.get("/drives/spring/people").has("1 h 30 min given")
	for field, bad := range map[string][]string{
		"Time is written":             {"hours", "a while", "doing", "sewing"},
		"That day has not come":       {"hours", "2", "doing", "sewing", "hours_day", "2030-01-01"},
		"at most 24 hours":            {"hours", "25", "doing", "sewing"},
		"Choose what was done":        {"hours", "2", "doing", "dreaming"},
		"Type a whole number such as": {"hours", "2", "doing", "sewing", "worked", "many"},
	} {
		r := organiser.post("/drives/spring/people/1/hours", bad...)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, "%s", field)
		r.has(field, `value="`+bad[1]+`"`)
	}
	organiser.follow(organiser.post("/drives/spring/people/1/hours/1/undo")).has("Undone", "No hours noted yet")
	require.Equal(t, http.StatusConflict, organiser.post("/drives/spring/people/1/hours/1/undo").Status)
	require.Equal(t, http.StatusNotFound, organiser.post("/drives/spring/people/1/hours/7/undo").Status)
}

// Nobody notes hours of somebody who is erased: what was noted before stays and can be undone.
func TestNoHoursAreNotedOfTheErased(t *testing.T) {
	ts := newTestSite(t)
	ada := ts.addPerson("Ada Quill")
	organiser := ts.as(account.Organiser)
	organiser.post("/drives/spring/people/1/hours", "hours", "1:30", "doing", "sewing")
	_, err := ts.Store.ErasePerson(t.Context(), ts.act("gone"), ada)
	require.NoError(t, err)
	organiser.get("/drives/spring/people/1").has("1 h 30 min", "hours/1/undo").lacks("Note hours", "Note them")
	r := organiser.post("/drives/spring/people/1/hours", "hours", "2", "doing", "sewing") // the page was open before
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("They asked to be forgotten, so no hours are noted of them.").lacks("Note them")
}

// Addresses and phones reach those who may read them and no page of others, and never the log.
func TestContactsAreForThoseWhoMay(t *testing.T) {
	ts := newTestSite(t)
	ts.addPerson("Mary Ellis")
	for role, may := range map[account.Role]bool{
		account.Organiser: true, account.Desk: true, account.Packer: true, account.CuttingLead: false, account.Reader: false,
	} {
		c := ts.as(role)
		page := c.get("/drives/spring/people/1")
		require.Equal(t, http.StatusOK, page.Status)
		found := c.get("/drives/spring/people?q=mill+lane")
		if may {
			page.has("12 Mill Lane", "555 0101", "reach@example.org")
			found.has("Mary Ellis")
		} else {
			page.lacks("Mill Lane", "555 0101", "reach@", "How to reach")
			found.lacks("Mary Ellis")
		}
	}
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/people/1/change").lacks("Mill Lane", `name="phone"`)
	desk.follow(desk.post("/drives/spring/people/1/change", "version", "1", "kind", "volunteer", "name", "Mary Ellis", "phone", "0", "address", "")).
		has("12 Mill Lane", "555 0101")
	for _, secret := range []string{"Mill Lane", "555 0101", "reach@example.org", "Mary"} {
		require.NotContains(t, ts.Log.String(), secret)
	}
}
