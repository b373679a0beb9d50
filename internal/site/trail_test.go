package site

import (
	"context"
	"encoding/csv"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
)

// trailed is a drive in which the desk added somebody and the organiser changed
// them, five weeks apart; autumn is another one with somebody of the same number.
func trailed(t *testing.T) (ts *testSite, organiser *client) {
	ts = newTestSite(t)
	ctx := context.Background()
	ts.addDrive("autumn", "Autumn drive")
	organiser, desk := ts.as(account.Organiser), ts.as(account.Desk)
	act := ts.act("mary")
	act.Who = desk.Person.ID
	_, err := ts.Store.CreatePerson(ctx, act, drive.Person{Kind: drive.PersonVolunteer, Name: "Mary Ellis", Heads: 1}, nil)
	require.NoError(t, err)
	foreign := ts.act("zoe")
	foreign.Drive = "autumn"
	_, err = ts.Store.CreatePerson(ctx, foreign, drive.Person{Kind: drive.PersonVolunteer, Name: "Zoe Abroad", Heads: 1}, nil)
	require.NoError(t, err)
	ts.Clock.Pass(35 * 24 * time.Hour)
	a := organiser.post("/drives/spring/people/1/change", "name", "Mary Ellis-Hart", "kind", "volunteer", "heads", "1", "active", "yes", "french_seam", "yes", "phone", "0999 777", "version", "1")
	require.Equal(t, http.StatusSeeOther, a.Status, a.Body)
	return ts, organiser
}

func TestTheTrailSaysWhoChangedWhat(t *testing.T) {
	ts, c := trailed(t)
	page := c.get("/drives/spring/trail")
	page.has("Person changed", "Ada organiser", "Mary Ellis-Hart", `href="/drives/spring/people/1"`, "french seam", "<del>no</del>", "<ins>yes</ins>", "phone", "changed")
	page.has("Person added", "Ada desk", "Role set", "The drive")
	page.lacks("0999 777", "Zoe", "Autumn", "autumn")
	require.Equal(t, http.StatusNotFound, ts.as(account.Reader).get("/drives/spring/trail").Status)

	for look, want := range map[string][2]string{
		"q=ellis":                             {"Person changed", "Drive started"},
		"q=FRENCH":                            {"Person changed", "Drive started"},
		"kind=person&which=1":                 {"Person added", "Role set"},
		"by=" + fmt.Sprint(c.Person.ID):       {"Person changed", "Person added"},
		"by=program":                          {"Drive started", "Person changed"},
		"from=2026-04-01":                     {"Person changed", "Person added"},
		"to=2026-03-31":                       {"Person added", "Person changed"},
		"from=2026-03-01&to=2026-04-30&q=%25": {"Nothing was changed that fits", "Person changed"},
		"q=desk&kind=person":                  {"Person added", "Person changed"},
	} {
		c.get("/drives/spring/trail?" + look).has(want[0]).lacks(">" + want[1] + "<")
	}
	a := c.get("/drives/spring/trail?from=soon")
	require.Equal(t, http.StatusUnprocessableEntity, a.Status)
	a.has("Type a day", `value="soon"`)
	c.get("/drives/spring/trail?from=2026-04-01&to=2026-03-01").has("The last day lies before the first.")
}

func TestTheTrailComesPageByPageAndAsAFile(t *testing.T) {
	ts, c := trailed(t)
	ctx := context.Background()
	const many = 1203 // more than two parts of a file
	_, err := ts.DB.Owner().Exec(ctx, `INSERT INTO audit (drive_id, at, who, act, kind, subject, changes)
		SELECT 'spring', '2026-03-02T09:00:00Z', 0, 'lot tagged', 'lot', n::text, '{"tag": {"from": "", "to": "=cmd()"}}' FROM generate_series(1, $1) n`, many)
	require.NoError(t, err)
	seen := map[string]bool{}
	pages := 0
	for path := "/drives/spring/trail?kind=lot"; path != ""; pages++ {
		page := c.get(path)
		for i := range many {
			if lot := fmt.Sprintf(`/fabric/%d"`, i+1); strings.Contains(page.Body, lot) {
				require.False(t, seen[lot], "%s stands on one page", lot)
				seen[lot] = true
			}
		}
		_, after, found := strings.Cut(page.Body, `rel="next"`)
		path = ""
		if found {
			before := page.Body[:len(page.Body)-len(after)]
			before = before[strings.LastIndex(before, `href="`)+len(`href="`):]
			path = strings.ReplaceAll(before[:strings.IndexByte(before, '"')], "&amp;", "&")
		}
	}
	require.Len(t, seen, many)
	require.Equal(t, 25, pages, "50 rows a page")

	a := c.get("/drives/spring/trail/trail.csv?" + url.Values{"q": {"tagged"}}.Encode())
	require.Equal(t, http.StatusOK, a.Status)
	require.Contains(t, a.Header.Get("Content-Disposition"), "spring-trail.csv")
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(a.Body, "\ufeff"))).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, many+1)
	require.Equal(t, []string{"When", "Who", "Initials", "What was done", "To what", "Which", "Name", "What changed", "Request"}, rows[0])
	require.Equal(t, []string{"2026-03-02T03:00:00-06:00", "the program", "", "Lot tagged", "Lot", fmt.Sprint(many), "", "tag: =cmd()", ""}, rows[1])
	require.Equal(t, http.StatusUnprocessableEntity, c.get("/drives/spring/trail/trail.csv?from=soon").Status)
}

// What befell the account of somebody who works for a drive is in its trail, and
// nothing of accounts that do not.
func TestAccountsOfADriveAreInItsTrail(t *testing.T) {
	ts, c := trailed(t)
	p := ts.person("stranger@example.org")
	c.get("/drives/spring/trail").has("Account added").lacks("Password chosen")
	require.NoError(t, ts.Store.SetRole(context.Background(), ts.act("joins"), p.Email, account.Packer))
	c.get("/drives/spring/trail").has("Password chosen", "Rosa Lind")
	c.get("/drives/spring/trail?kind=account&which="+fmt.Sprint(p.ID)).has("Password chosen", "Role set").lacks("Person added")
}
