package site

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/templates"
	"boltward/web"
)

// unused lets every session lie unused for so long, by the database's clock, which judges it.
func (ts *testSite) unused(d time.Duration) {
	ts.t.Helper()
	_, err := ts.DB.Owner().Exec(ts.t.Context(), `UPDATE sign_ins SET seen_at = seen_at - $1::interval`, d)
	require.NoError(ts.t, err)
}

// noted gives for how long the session of this client was not noted as used.
func (c *client) noted() time.Duration {
	c.ts.t.Helper()
	var d time.Duration
	require.NoError(c.ts.t, c.ts.DB.Pool.QueryRow(c.ts.t.Context(), `SELECT now() - seen_at FROM sign_ins WHERE account_id = $1`, c.Person.ID).Scan(&d))
	return d
}

// getPart asks for a part of a page, as a script of that page does.
func (c *client) getPart(path, page string) testAnswer {
	c.ts.t.Helper()
	r := httptest.NewRequest(http.MethodGet, path, nil)
	r.Header.Set("HX-Request", "true")
	r.Header.Set("HX-Current-URL", "http://boltward.test"+page)
	return c.do(r)
}

const unusedSaid = "Nobody used this browser here for 2 hours, so it was signed out."

func TestASessionThatLiesUnusedIsOver(t *testing.T) {
	ts := newTestSite(t)
	ts.Site.idle = IdleUsual
	desk, tab := ts.as(account.Desk), ts.nobody()
	ts.unused(IdleUsual - time.Minute)
	require.Equal(t, http.StatusOK, desk.get("/drives").Status, "a minute before")
	require.Less(t, desk.noted(), time.Minute, "it is used")
	ts.unused(IdleUsual - time.Minute)
	require.Equal(t, http.StatusOK, desk.get("/drives").Status, "it goes on while it is used")

	old := desk.cookies["boltward"]
	ts.unused(IdleUsual)
	a := desk.get("/drives/spring/kits?state=out")
	require.Equal(t, http.StatusSeeOther, a.Status)
	require.Equal(t, "/sign-in?next=%2Fdrives%2Fspring%2Fkits%3Fstate%3Dout", a.Location, "and back to the page they wanted")
	desk.follow(a).has(unusedSaid)
	desk.follow(desk.get("/account")).has(unusedSaid) // another tab
	var open int
	require.NoError(t, ts.DB.Pool.QueryRow(t.Context(), `SELECT count(*) FROM sign_ins WHERE ended_at IS NULL`).Scan(&open))
	require.Zero(t, open)
	ts.Site.idle = 0
	tab.cookies["boltward"] = old
	require.Equal(t, http.StatusSeeOther, tab.get("/drives").Status, "it is over for good, whatever is set later")
	desk.follow(desk.get("/account")).has("Nobody used this browser here for too long")

	never := ts.as(account.Reader)
	ts.unused(100 * 24 * time.Hour)
	require.Equal(t, http.StatusOK, never.get("/drives").Status, "0 is never")
}

// A form that comes too late is not taken, and says so; the same form is taken once its person
// has signed in again.
func TestAFormOfASessionThatIsOver(t *testing.T) {
	ts := newTestSite(t)
	ts.Site.idle = IdleUsual
	p := ts.person("rosa@example.org")
	require.NoError(t, ts.Store.SetRole(t.Context(), ts.act("role"), p.Email, account.Organiser))
	rosa := ts.signedInAs(p)
	form := []string{"once", "a-key-of-twenty-six-letters", "name", "Ines Far", "kind", "volunteer"}
	ts.unused(3 * time.Hour)
	a := rosa.post("/drives/spring/people/new", form...)
	require.Equal(t, http.StatusUnauthorized, a.Status)
	a.has(unusedSaid, "Not taken yet", `action="/drives/spring/people/new"`, `name="once" value="a-key-of-twenty-six-letters"`, `name="name" value="Ines Far"`)
	rosa.post("/drives/spring/people/new", form...).has("Not taken yet", `value="Ines Far"`) // and once more, too soon
	secret := rosa.post("/account/password", "once", "another-key-of-twenty-four", "current", "a secret of hers", "password", "a secret to come")
	require.Equal(t, "/sign-in", secret.Location, "no page holds a password")
	opens := rosa.post("/drives/spring/settings/people/1/role", "once", "a-third-key-of-twenty-four", "role", "organiser", "current", "a secret of hers")
	require.Equal(t, "/sign-in", opens.Location)
	rosa.follow(secret).has(unusedSaid, "What you just sent was not taken.").lacks("a secret")
	rosa.get("/sign-in").has(unusedSaid).lacks("not taken")
	a = rosa.signIn("192.0.2.1", p.Email, goodPassword)
	require.Equal(t, http.StatusSeeOther, a.Status)
	rosa.get("/drives").lacks(unusedSaid, "not taken")
	a = rosa.post("/drives/spring/people/new", form...)
	require.Equal(t, http.StatusSeeOther, a.Status, a.Body)
	rosa.follow(a).has("Ines Far")

	ts.unused(3 * time.Hour)
	rosa.follow(rosa.post("/sign-out")).has(unusedSaid).lacks("not taken")
	rosa.follow(rosa.signIn("192.0.2.1", p.Email, goodPassword))
	rosa.follow(rosa.post("/sign-out")).lacks("signed out") // by themselves, they know
}

// Every field with a secret has a name by which a form that comes too late is not held on a page.
func TestNamesOfSecrets(t *testing.T) {
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	tag := regexp.MustCompile(`form:"(\w+)" typed:"secret"`)
	var found []string
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, m := range tag.FindAllStringSubmatch(string(text), -1) {
			found = append(found, m[1])
		}
	}
	slices.Sort(found)
	require.Equal(t, secretNames, slices.Compact(found))
}

// A session that named somebody of whom nothing is known any more is over too.
func TestASessionOfNobodyIsToldSo(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	_, err := ts.DB.Owner().Exec(t.Context(), `DELETE FROM sign_ins`)
	require.NoError(t, err)
	desk.follow(desk.get("/drives/spring/kits")).has("This browser was signed out.")
	stranger := ts.nobody()
	stranger.follow(stranger.get("/drives/spring/kits")).lacks("signed out")
}

// Who was signed in for as long as anybody is, or by a session that is not known any more, reads so,
// and a form of theirs is not lost.
func TestASessionThatHasLivedOutIsToldSo(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	_, err := ts.DB.Pool.Exec(t.Context(), `UPDATE sessions
		SET data = convert_to(jsonb_set(convert_from(data, 'utf8')::jsonb, '{until}', to_jsonb(now() - interval '1 second'))::text, 'utf8')`)
	require.NoError(t, err)
	a := desk.get("/drives/spring/kits")
	require.Equal(t, http.StatusSeeOther, a.Status)
	desk.follow(a).has("Nobody stays signed in for longer than 7 days, so this browser was signed out.")
	var open int
	require.NoError(t, ts.DB.Pool.QueryRow(t.Context(), `SELECT count(*) FROM sign_ins WHERE ended_at IS NULL`).Scan(&open))
	require.Zero(t, open)

	restored := ts.as(account.Reader)
	_, err = ts.DB.Pool.Exec(t.Context(), `DELETE FROM sessions`)
	require.NoError(t, err)
	restored.post("/drives/spring/people/new", "once", "a-key-of-twenty-six-letters", "name", "Ines Far").has("Not taken yet", "This browser was signed out.", `value="Ines Far"`)
	restored.follow(restored.get("/drives/spring/kits")).has("This browser was signed out.")
}

// What a script asks for a part of a page is answered so that the page goes to the door, or
// stays as it is where somebody types.
func TestAPartOfAPageWhoseSessionIsOver(t *testing.T) {
	ts := newTestSite(t)
	ts.Site.idle = IdleUsual
	desk := ts.as(account.Desk)
	ts.unused(IdleUsual)
	a := desk.getPart("/drives/spring/kits?q=1", "/drives/spring/kits?state=out")
	require.Equal(t, http.StatusUnauthorized, a.Status)
	require.Equal(t, "/sign-in?next=%2Fdrives%2Fspring%2Fkits%3Fq%3D1", a.Header.Get("HX-Redirect"), "with what was looked for")
	require.Empty(t, a.Body)
	require.Empty(t, a.Location)
	desk.get(a.Header.Get("HX-Redirect")).has(unusedSaid)
	for asks, want := range map[string]string{
		"":                               "/sign-in?next=%2Fdrives%2Fspring%2Fplan%2Fasks",
		"/drives/spring/kits?itself=yes": "/sign-in?next=%2Fdrives%2Fspring%2Fkits",
		"//elsewhere.example/x":          "/sign-in",
	} {
		require.Equal(t, want, desk.getPart("/drives/spring/plan/asks?itself=yes", asks).Header.Get("HX-Redirect"), asks)
	}

	r := httptest.NewRequest(http.MethodPost, "/drives/spring/fabric/1/measure/look", strings.NewReader(url.Values{"once": {"k"}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.Header.Set("HX-Request", "true")
	a = desk.do(r)
	require.Equal(t, http.StatusUnauthorized, a.Status)
	require.Equal(t, "none", a.Header.Get("HX-Reswap"), "what is typed stays")
	require.Empty(t, a.Header.Get("HX-Redirect"))
	require.Equal(t, unusedSaid+" What is typed here stays. Sign in beside this page, and go on.", a.Body)

	tablet := ts.tablet(account.CuttingLead, ts.Drive)
	ts.Clock.Pass(24 * time.Hour)
	a = tablet.getPart("/drives/spring/kits", "/drives/spring/kits")
	require.Equal(t, http.StatusForbidden, a.Status)
	require.Equal(t, "/pass/over", a.Header.Get("HX-Redirect"))
}

// A tablet's pass is open until its day is over, however long the table lies unused.
func TestATabletLiesOverLunch(t *testing.T) {
	ts := newTestSite(t)
	ts.Site.idle = IdleLeast
	tablet := ts.tablet(account.CuttingLead, ts.Drive)
	ts.unused(3 * time.Hour)
	require.Equal(t, http.StatusOK, tablet.get("/drives/spring/kits").Status)
	ts.Clock.Pass(24 * time.Hour)
	require.Equal(t, "/pass/over", tablet.get("/drives/spring/kits").Location)
}

// What a page asks by itself keeps no session alive, and ends one like anything else.
func TestWhatPagesAskByThemselvesIsNoUse(t *testing.T) {
	ts, server := planToWatch(t)
	ts.Site.idle = IdleUsual
	ts.begin()
	ts.Site.streams.each = 1
	desk := ts.as(account.Desk)
	ts.unused(time.Hour)
	w := desk.watch(server)
	require.Equal(t, http.StatusOK, w.answer.StatusCode)
	w.next()
	require.Equal(t, http.StatusConflict, desk.watch(server).answer.StatusCode, "a stream that is refused")
	for _, path := range []string{"/drives/spring/plan/asks?itself=yes", "/drives/spring/plan?itself=yes", "/drives/spring/plan/1?itself=yes"} {
		require.Equal(t, http.StatusOK, desk.get(path).Status)
		require.Equal(t, http.StatusOK, desk.getPart(path, "/drives/spring/plan").Status)
	}
	require.Greater(t, desk.noted(), time.Hour)
	var here bool
	require.NoError(t, ts.DB.Pool.QueryRow(t.Context(), `SELECT seen_at IS NOT NULL FROM memberships WHERE account_id = $1`, desk.Person.ID).Scan(&here))
	require.False(t, here, "nor was somebody here")
	require.Equal(t, http.StatusOK, desk.get("/drives/spring/plan").Status)
	require.Less(t, desk.noted(), time.Minute, "a person is")

	ts.unused(IdleUsual)
	event := "figures"
	for event == "figures" {
		event, _ = w.next()
	}
	require.Equal(t, "over", event, "the page goes on, and learns why")
	a := desk.get("/drives/spring/plan?itself=yes")
	require.Equal(t, "/sign-in?next=%2Fdrives%2Fspring%2Fplan", a.Location)
	desk.follow(a).has(unusedSaid)
	require.Equal(t, http.StatusUnauthorized, desk.watch(server).answer.StatusCode)
}

// Whatever pages ask by themselves says so: by the address, or by its route where nobody opens it.
func TestPagesSayWhatTheyAskByThemselves(t *testing.T) {
	sources, err := templates.Sources()
	require.NoError(t, err)
	triggers := regexp.MustCompile(`hx-trigger="([^"]*)"`)
	byPeople := regexp.MustCompile(`^(input|change|submit|click)( (delay|from):\S+)*$`)
	watched := regexp.MustCompile(`data-watch="\{\{\$\.Path [^}]*"(\w+)"\}\}"`)
	marked, streams := map[string]int{}, 0
	for name, text := range sources {
		for line := range strings.Lines(text) {
			what := ""
			for _, found := range triggers.FindAllStringSubmatch(line, -1) {
				for trigger := range strings.SplitSeq(found[1], ",") {
					if !byPeople.MatchString(strings.TrimSpace(trigger)) {
						what = "a trigger"
					}
				}
			}
			for _, other := range []string{`http-equiv="refresh"`, "data-then="} {
				if strings.Contains(line, other) {
					what = other
				}
			}
			if what != "" {
				require.Regexp(t, `"\{\{itself |url=\{\{\$\.Itself\}\}`, line, "%s: %s", name, what)
				marked[what]++
			}
			if strings.Contains(line, "data-watch=") {
				found := watched.FindStringSubmatch(line)
				require.NotNil(t, found, "%s: %s", name, line)
				require.Equal(t, "progress", found[1])
				streams++
			}
		}
	}
	require.Equal(t, map[string]int{"a trigger": 1, `http-equiv="refresh"`: 1, "data-then=": 2}, marked)
	require.Equal(t, 2, streams)
	for _, r := range newTestSite(t).Site.routes {
		require.Equal(t, strings.HasSuffix(r.path, "/progress"), r.unasked, r.path)
	}
	script, err := web.Files.ReadFile("site.js")
	require.NoError(t, err)
	for what, n := range map[string]int{"new EventSource(planning.dataset.watch)": 1, "EventSource(": 1, "fetch(": 1, "location.replace(planning.dataset.then)": 1, "location.replace(": 1, "location.reload": 0, "setInterval": 0, "XMLHttpRequest": 0, "sendBeacon": 0} {
		require.Equal(t, n, strings.Count(string(script), what), what)
	}
}

// What was to be said to somebody is said to nobody who comes to the browser after them.
func TestWhatIsSaidToSomebodyIsSaidToNobodyElse(t *testing.T) {
	ts := newTestSite(t)
	ts.Site.idle = IdleUsual
	ines := ts.person("ines@example.org")
	rosa := ts.as(account.Organiser)
	said := func(name string) {
		a := rosa.post("/drives/spring/people/new", "name", "Zephyrine "+name, "kind", "volunteer")
		require.Equal(t, http.StatusSeeOther, a.Status, a.Body)
	}
	said("Quarrel")
	rosa.get("/pass").lacks("Zephyrine") // a page for everybody
	rosa.get("/no-such-page").lacks("Zephyrine")
	rosa.get("/drives").has("Zephyrine")
	rosa.get("/drives").lacks("Zephyrine")

	said("Heron")
	ts.unused(IdleUsual)
	rosa.get("/pass").lacks("Zephyrine")
	rosa.follow(rosa.get("/drives")).lacks("Zephyrine")
	require.Equal(t, http.StatusSeeOther, rosa.signIn("192.0.2.1", ines.Email, goodPassword).Status)
	rosa.get("/account").has("ines@example.org").lacks("Zephyrine")

	lead := ts.as(account.Desk)
	require.Equal(t, http.StatusSeeOther, lead.post("/account/sign-out-elsewhere").Status)
	require.Equal(t, http.StatusSeeOther, lead.signIn("192.0.2.1", ines.Email, goodPassword).Status) // without signing out
	lead.get("/drives").lacks("you are signed out")
}

// A session that lay unused opens no route, whatever its kind and however it is asked, and no
// request begins its time anew.
func TestASessionThatIsOverOpensNoRoute(t *testing.T) {
	ts := newTestSite(t)
	ts.Site.idle = IdleUsual
	for i := range ts.Site.routes {
		ts.Site.routes[i].handler = func(c *gin.Context) error {
			c.Data(http.StatusTeapot, "text/plain", []byte("reached"))
			return nil
		}
	}
	ts.rebuild()
	rosa := ts.as(account.Organiser)
	for _, r := range ts.Site.routes {
		for _, script := range []bool{false, true} {
			c := ts.signedInAs(rosa.Person)
			ts.unused(IdleUsual)
			q := httptest.NewRequest(r.method, exampleAddress(r.path), nil)
			q.Header.Set("Sec-Fetch-Site", "same-origin")
			if script {
				q.Header.Set("HX-Request", "true")
			}
			old := c.cookies["boltward"]
			a := c.sent(q)
			switch {
			case r.need.who == needAnybody:
				require.Equal(t, http.StatusTeapot, a.Status, "%s %s", r.method, r.path)
			case script || r.json:
				require.Equal(t, http.StatusUnauthorized, a.Status, "%s %s", r.method, r.path)
			default:
				require.Equal(t, http.StatusSeeOther, a.Status, "%s %s", r.method, r.path)
				require.True(t, strings.HasPrefix(a.Location, "/sign-in"), a.Location)
			}
			var used int
			require.NoError(t, ts.DB.Pool.QueryRow(t.Context(), `SELECT count(*) FROM sign_ins WHERE ended_at IS NULL AND seen_at > now() - $1::interval`, IdleUsual).Scan(&used))
			require.Zero(t, used, "%s %s", r.method, r.path)
			if r.need.who != needAnybody {
				require.NotEqual(t, old, c.cookies["boltward"], "%s %s", r.method, r.path)
			}
		}
	}
}
