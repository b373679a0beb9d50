package site

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/templates"
	"boltward/web"
)

func TestEveryAnswerCarriesTheHeaders(t *testing.T) {
	ts := newTestSite(t)
	c := ts.as(account.Organiser)
	css, err := ts.Site.files.path("style.css")
	require.NoError(t, err)
	foreign := httptest.NewRequest(http.MethodPost, "/sign-in", nil)
	foreign.Header.Set("Sec-Fetch-Site", "cross-site")
	for name, a := range map[string]testAnswer{
		"page":       c.get("/drives"),
		"door":       ts.nobody().get("/sign-in"),
		"not found":  c.get("/nowhere"),
		"sent on":    ts.nobody().get("/drives"),
		"file":       ts.nobody().get(css),
		"health":     ts.nobody().get("/healthz"),
		"other site": ts.nobody().do(foreign),
		"no method":  ts.nobody().post("/healthz"),
	} {
		h := a.Header
		policy := h.Get("Content-Security-Policy")
		require.NotContains(t, policy, "unsafe", name)
		for _, part := range []string{"default-src 'none'", "script-src 'self'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"} {
			require.Contains(t, policy, part, name)
		}
		require.Equal(t, "nosniff", h.Get("X-Content-Type-Options"), name)
		require.Equal(t, "same-origin", h.Get("Referrer-Policy"), name)
		require.NotEmpty(t, h.Get("X-Request-Id"), name)
	}
	require.Equal(t, "no-store", c.get("/drives").Header.Get("Cache-Control"), "pages with people's data are kept nowhere")
}

func TestFormsOfOtherSitesAreRefused(t *testing.T) {
	ts := newTestSite(t)
	for _, test := range []struct {
		header, value string
		want          int
	}{
		{"Sec-Fetch-Site", "same-origin", http.StatusUnprocessableEntity},
		{"Sec-Fetch-Site", "cross-site", http.StatusForbidden},
		{"Sec-Fetch-Site", "same-site", http.StatusForbidden},
		{"Origin", "https://elsewhere.example", http.StatusForbidden},
		{"Origin", "null", http.StatusForbidden},
		{"Origin", "http://boltward.test", http.StatusUnprocessableEntity},
		{"X-Program", "curl", http.StatusUnprocessableEntity},
	} {
		r := httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader("email=a@b.example&password=x"))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set(test.header, test.value)
		require.Equal(t, test.want, ts.nobody().do(r).Status, "POST with %s: %s", test.header, test.value)
	}
}

// One route stands for all: what a handler gives is answered by the adapters.
func TestErrorsAreAnsweredInOnePlace(t *testing.T) {
	ts := newTestSite(t)
	var give error
	fail := func(*gin.Context) error { return give }
	ts.Site.get("/drives/:drive/fail", read(account.Drive), fail)
	ts.Site.get("/drives/:drive/fail.json", read(account.Drive), fail, asJSON)
	ts.Site.post("/drives/:drive/fail", write(account.Fabric), fail)
	ts.Site.get("/drives/:drive/panic", read(account.Drive), func(*gin.Context) error { panic("a bug") })
	ts.rebuild()
	c := ts.as(account.Organiser)
	for _, test := range []struct {
		give   error
		status int
		shown  string
	}{
		{apperr.NotFound("There is no lot 9."), 404, "There is no lot 9."},
		{apperr.Conflict("Somebody was first."), 409, "Somebody was first."},
		{apperr.Denied("Not yours."), 403, "Not yours."},
		{apperr.Invalid("width", "Too wide."), 422, "Too wide."},
		{errors.New("relation secret_table is gone"), 500, "Something went wrong here"},
	} {
		give = test.give
		a := c.get("/drives/spring/fail")
		require.Equal(t, test.status, a.Status)
		a.has(test.shown)
		a.lacks("secret_table")
		j := c.get("/drives/spring/fail.json")
		require.Equal(t, test.status, j.Status)
		j.has(test.shown, `"request":"`+j.Header.Get("X-Request-Id"))
		j.lacks("secret_table")
		require.Equal(t, test.status == 500, strings.Contains(a.Body, a.Header.Get("X-Request-Id")), "the number stands where somebody must look it up: %d", test.status)
	}
	require.Contains(t, ts.Log.String(), "secret_table", "operators read all of it")

	a := c.get("/drives/spring/panic")
	require.Equal(t, 500, a.Status)
	a.has(a.Header.Get("X-Request-Id"))
	require.Contains(t, ts.Log.String(), "a bug")

	give = nil
	require.Equal(t, 422, c.post("/drives/spring/fail", "once", "").Status, "a form without its key")
	large := c.post("/drives/spring/fail", "note", strings.Repeat("x", usualBody))
	require.Equal(t, 413, large.Status)
	large.has("at most 1 MB")
}

func TestLogsHoldNoAddressesOrTokens(t *testing.T) {
	ts := newTestSite(t)
	id, err := account.NewLinkID()
	require.NoError(t, err)
	token := ts.Site.key.Sign(id)
	ts.nobody().get("/sign-in/link/" + token)
	ts.nobody().post("/sign-in", "email", "rosa@example.org", "password", "a long password")
	ts.nobody().get("/sign-in?next=%2Fdrives%2Fspring%2Fpeople%3Fq%3DRosa")
	log := ts.Log.String()
	require.Contains(t, log, "/sign-in/link/:token")
	for _, secret := range []string{token, id, "rosa", "Rosa", "a long password"} {
		require.NotContains(t, log, secret)
	}
}

// Whoever signs in, and whatever is refused, has a line of its own kind, by number and without
// anything that was typed.
func TestWhatIsRefusedIsLogged(t *testing.T) {
	ts := newTestSite(t)
	p := ts.person("rosa@example.org")
	secret, _ := ts.signedInAs(p).withSecond()
	logged := func(what string, do func()) {
		t.Helper()
		was := len(ts.Log.String())
		do()
		lines := ts.Log.String()[was:]
		require.Contains(t, lines, what)
		for _, typed := range []string{"rosa", goodPassword, "not the password", "024680", "nobody@", "/drives/spring/settings", "999 999 999"} {
			require.NotContains(t, lines, typed)
		}
	}
	n := ts.nobody()
	who := fmt.Sprint(p.ID)
	logged(`"msg":"refused","what":"password"`, func() { n.post("/sign-in", "email", p.Email, "password", "not the password") })
	logged(`"limited":false,"whose":`+who+`}`, func() { n.post("/sign-in", "email", p.Email, "password", "not the password") })
	logged(`"limited":false,"whose":0}`, func() { n.post("/sign-in", "email", "nobody@example.org", "password", goodPassword) })
	logged(`"limited":true}`, func() {
		for range 6 {
			n.post("/sign-in", "email", "nobody@example.org", "password", "not the password")
		}
	})
	n.post("/sign-in", "email", p.Email, "password", goodPassword)
	logged(`"msg":"refused","what":"second step"`, func() { n.post("/sign-in/second", "code", "024680") })
	logged(`"msg":"signed in","account":`+who+`,`, func() { n.post("/sign-in/second", "code", codeOf(t, secret, ts.Clock.Now())) })
	logged(`"msg":"refused","what":"account"`, func() { n.post("/account/password", "current", "not the password", "password", goodPassword) })
	logged(`"msg":"refused","what":"right"`, func() { n.get("/drives/spring/settings") })
	logged(`"account":`+fmt.Sprint(ts.as(account.Reader).Person.ID)+`,"drive":"spring","role":"reader"`, func() { ts.as(account.Reader).post("/drives/spring/settings") })
	logged(`"msg":"refused","what":"digits of a pass"`, func() { n.post("/pass", "code", "999 999 999") })
	r := httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader("email=rosa"))
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	logged(`"msg":"refused","what":"form of another site"`, func() { n.do(r) })
}

// What the content security policy would drop must not be written: it would
// work nowhere and be noticed late.
func TestTemplatesHoldNothingInline(t *testing.T) {
	sources, err := templates.Sources()
	require.NoError(t, err)
	require.Greater(t, len(sources), 5)
	script, err := web.Files.ReadFile("site.js")
	require.NoError(t, err)
	sources["site.js"] = string(script)
	for name, pattern := range map[string]string{
		"a style attribute":  `(?i)\sstyle\s*=`,
		"a style element":    `(?i)<style`,
		"an inline script":   `(?i)<script(?:\s[^>]*)?>\s*[^<\s]`,
		"a script elsewhere": `(?i)<script[^>]+src="(?:https?:|//)`,
		"an event attribute": `(?i)<[^>]*\son[a-z]+\s*=`,
		"hx-on":              `(?i)hx-on[:=]`,
		"js: in htmx":        `(?i)\bjs:`,
		"javascript:":        `(?i)javascript:`,
		"a trigger filter":   `(?i)hx-trigger="[^"]*\[`,
		"unsafe HTML":        `(?i)\.innerHTML|insertAdjacentHTML|document\.write`,
	} {
		bad := regexp.MustCompile(pattern)
		for path, text := range sources {
			require.Empty(t, bad.FindString(text), "%s holds %s", path, name)
		}
	}
	require.Regexp(t, `(?i)\sstyle\s*=`, `<p style="color:red">`, "the pattern itself finds what it looks for")
	require.Regexp(t, `(?i)<script(?:\s[^>]*)?>\s*[^<\s]`, `<script>alert(1)</script>`)
}

func TestOwnPath(t *testing.T) {
	for typed, want := range map[string]string{
		"/drives/spring/kits?q=7": "/drives/spring/kits?q=7",
		"":                        "",
		"drives":                  "",
		"//elsewhere.example":     "",
		"/\\elsewhere.example":    "",
		"https://elsewhere":       "",
		"javascript:alert(1)":     "",
		"/a\r\nSet-Cookie: x":     "",
		"/\t/elsewhere.example":   "",
	} {
		require.Equal(t, want, ownPath(typed), "ownPath(%q)", typed)
	}
}

func FuzzOwnPath(f *testing.F) {
	f.Add("/drives/spring")
	f.Add("//elsewhere.example/x")
	f.Add("/%5Celsewhere.example")
	f.Fuzz(func(t *testing.T, typed string) {
		path := ownPath(typed)
		if path == "" {
			return
		}
		base := &url.URL{Scheme: "http", Host: "boltward.test"}
		to, err := base.Parse(path)
		require.NoError(t, err)
		require.Equal(t, "boltward.test", to.Host, "ownPath(%q) stays here", typed)
	})
}
