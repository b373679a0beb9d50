package site

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// Every route is walked as every role, as another drive's organiser and as
// nobody, through the real gate; only the handlers are exchanged for one that
// says it was reached.
func TestEveryRouteAsEveryRole(t *testing.T) {
	ts := newTestSite(t)
	ts.addDrive("autumn", "Autumn drive")
	tablets := map[account.Role]*client{}
	for _, role := range account.PassRoles() {
		tablets[role] = ts.tablet(role, ts.Drive)
	}
	elsewhere := ts.tablet(account.Desk, "autumn")
	reached := func(c *gin.Context) error {
		c.Data(http.StatusTeapot, "text/plain", []byte("reached"))
		return nil
	}
	for i := range ts.Site.routes {
		ts.Site.routes[i].handler = reached
	}
	engine, err := ts.Site.engine(nil)
	require.NoError(t, err)
	ts.Site.handler, err = ts.Site.wrap(engine)
	require.NoError(t, err)

	nobody, stranger := ts.nobody(), ts.asIn(account.Organiser, "autumn")
	people := map[account.Role]*client{}
	for _, role := range account.Roles() {
		if role.SignsIn() {
			people[role] = ts.as(role)
		}
	}
	for _, r := range ts.Site.routes {
		t.Run(r.method+" "+r.path, func(t *testing.T) {
			path := exampleAddress(r.path)
			require.NotZero(t, r.need.who, "a route names the right it needs")
			require.Equal(t, wantNobody(r), try(nobody, r, path), "nobody")
			require.Equal(t, wantStranger(r), try(stranger, r, path), "the organiser of another drive")
			for role, c := range people {
				require.Equal(t, wantRole(r, role), try(c, r, path), "%s", role)
			}
			for role, c := range tablets {
				require.Equal(t, wantTablet(r, role), try(c, r, path), "the tablet of a pass, %s", role)
			}
			require.Equal(t, wantTabletAway(r), try(elsewhere, r, path), "the tablet of another drive")
		})
	}
	for _, r := range engine.Routes() {
		need, listed := need{}, false
		for _, ours := range ts.Site.routes {
			if ours.method == r.Method && ours.path == r.Path {
				need, listed = ours.need, true
			}
		}
		require.True(t, listed && need.who != 0, "%s %s is on the router but not in routes.go with a right", r.Method, r.Path)
	}
}

func TestARouteWithoutARightIsRefused(t *testing.T) {
	answer := func(*gin.Context) error { return nil }
	for name, r := range map[string]route{
		"no right":             {method: http.MethodGet, path: "/x", handler: answer},
		"no handler":           {method: http.MethodGet, path: "/x", need: public},
		"role without a drive": {method: http.MethodGet, path: "/x", need: read(account.Fabric), handler: answer},
		"drive without a role": {method: http.MethodGet, path: "/drives/:drive/x", need: signedIn, handler: answer},
		"change on reading":    {method: http.MethodPost, path: "/drives/:drive/x", need: read(account.Fabric), handler: answer},
		"unknown area":         {method: http.MethodGet, path: "/drives/:drive/x", need: read("attic"), handler: answer},
	} {
		require.Error(t, r.check(), name)
	}
}

// A drive that does not exist and a drive of others are told apart by nothing.
func TestForeignAndMissingDrivesLookTheSame(t *testing.T) {
	ts := newTestSite(t)
	ts.addDrive("autumn", "Autumn drive")
	c := ts.as(account.Organiser)
	foreign, missing := c.get("/drives/autumn"), c.get("/drives/nowhere")
	require.Equal(t, http.StatusNotFound, foreign.Status)
	require.Equal(t, missing.Status, foreign.Status)
	require.Equal(t, missing.Body, foreign.Body)
	foreign.lacks("Autumn")
}

func try(c *client, r route, path string) string {
	var a testAnswer
	if r.method == http.MethodGet {
		a = c.get(path)
	} else {
		a = c.post(path)
	}
	switch {
	case a.Status == http.StatusTeapot:
		return "reached"
	case a.Status == http.StatusSeeOther && strings.HasPrefix(a.Location, "/sign-in"):
		return "sign in first"
	case a.Status == http.StatusUnauthorized:
		return "unauthorised"
	case a.Status == http.StatusNotFound:
		return "not found"
	}
	return a.Body
}

func wantNobody(r route) string {
	switch {
	case r.need.who == needAnybody:
		return "reached"
	case r.json:
		return "unauthorised"
	}
	return "sign in first"
}

func wantStranger(r route) string {
	if r.need.who == needRole {
		return "not found"
	}
	return "reached" // the organisers of these tests may start drives
}

func wantRole(r route, role account.Role) string {
	switch {
	case r.need.who == needOpener && role != account.Organiser:
		return "not found"
	case r.need.who == needRole && role.Allows(r.need.area) < r.need.access:
		return "not found"
	}
	return "reached"
}

func wantTablet(r route, role account.Role) string {
	if r.need.who == needAccount || r.need.who == needOpener || r.need.own {
		return "not found"
	}
	return wantRole(r, role)
}

func wantTabletAway(r route) string {
	if r.need.who == needAnybody || r.need.who == needSignedIn {
		return "reached"
	}
	return "not found"
}

// exampleAddress fills the parts of a pattern that change.
func exampleAddress(pattern string) string {
	parts := strings.Split(pattern, "/")
	for i, part := range parts {
		switch {
		case part == ":drive":
			parts[i] = "spring"
		case strings.HasPrefix(part, ":"), strings.HasPrefix(part, "*"):
			parts[i] = "1"
		}
	}
	return strings.Join(parts, "/")
}

func TestHealth(t *testing.T) {
	ts := newTestSite(t)
	require.Equal(t, "ok\n", ts.nobody().get("/healthz").Body)
	require.Equal(t, "ready\n", ts.nobody().get("/readyz").Body)
	ts.DB.Pool.Close()
	require.Equal(t, http.StatusOK, ts.nobody().get("/healthz").Status, "the process still answers")
	a := ts.nobody().get("/readyz")
	require.Equal(t, http.StatusServiceUnavailable, a.Status)
	require.Equal(t, "not ready: the database does not answer\n", a.Body, "more is for the log alone")
	a = ts.nobody().do(func() *http.Request {
		r := httptest.NewRequest(http.MethodGet, "/sign-in", nil)
		r.AddCookie(&http.Cookie{Name: "boltward", Value: "some-session"})
		return r
	}())
	require.Equal(t, http.StatusInternalServerError, a.Status)
	a.has(a.Header.Get("X-Request-Id"))
	a.lacks("closed pool")
	require.Contains(t, ts.Log.String(), "closed pool")
}
