package site

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// atBrowser signs somebody in by the form, with a browser that names itself so.
func (c *client) atBrowser(agent, email, password string) testAnswer {
	c.ts.t.Helper()
	form := url.Values{"email": {email}, "password": {password}, "next": {"/account"}}
	r := httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.Header.Set("User-Agent", agent)
	return c.once().do(r)
}

const (
	linuxFirefox  = "Mozilla/5.0 (X11; Linux x86_64; rv:128.0) Gecko/20100101 Firefox/128.0"
	windowsChrome = "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/126.0.0.0 Safari/537.36"
)

// A browser that somebody did not use before is told of on their page and in Settings; who was
// it not ends every other session.
func TestANewBrowserIsSeen(t *testing.T) {
	ts := newTestSite(t)
	const password = "owls fly at dusk"
	rosa := ts.as(account.Desk).Person
	hash, err := ts.Site.hasher.Hash(password, rosa.Email)
	require.NoError(t, err)
	act := ts.act("password")
	act.Who = rosa.ID
	require.NoError(t, ts.Store.ChangePassword(t.Context(), act, hash, 0))

	home := ts.nobody()
	a := home.atBrowser(linuxFirefox, rosa.Email, password)
	require.Equal(t, "/account", a.Location, a.Body)
	kept := home.cookies["boltward-device"]
	require.Len(t, kept, 26)
	var set string
	for _, line := range a.Header.Values("Set-Cookie") {
		if strings.HasPrefix(line, "boltward-device=") {
			set = line
		}
	}
	for _, says := range []string{"HttpOnly", "SameSite=Lax", "Path=/", "Max-Age=34560000"} {
		require.Contains(t, set, says)
	}
	require.NotContains(t, rowsText(ts, "devices"), kept, "a fingerprint alone is kept")
	home.post("/sign-out")
	home.atBrowser(linuxFirefox, rosa.Email, password)
	require.Equal(t, kept, home.cookies["boltward-device"], "it keeps what it is known by")

	other := ts.nobody()
	other.atBrowser(windowsChrome, rosa.Email, password)
	page := home.get("/account").has("Last sign-ins", "Chrome on Windows", "This was not me: sign out everywhere else")
	_, last, _ := strings.Cut(page.Body, `id="sign-ins"`)
	require.Equal(t, 2, strings.Count(last, `<span class="late">new</span>`), "the browser at home when it was first used, and the other")
	require.Equal(t, 1, strings.Count(last, `<td data-label="Browser">known</td>`), "at home again")
	require.Equal(t, 1, strings.Count(last, `<td data-label="Browser"></td>`), "nobody looked where the desk signed in before")
	home.get("/drives/spring/settings").has("Your last sign-ins", "Chrome on Windows", "/account#sign-ins", "Look at your sign-ins")
	a = home.post("/account/not-me")
	require.Equal(t, "/account#password", a.Location)
	home.follow(a).has("Now change your password")
	require.Equal(t, http.StatusSeeOther, other.get("/account").Status, "it is signed out")

	ts.Site.mails = true
	home.post("/sign-out")
	home.atBrowser(linuxFirefox, rosa.Email, password)
	home.get("/account").has("a mail to you waits to be sent", "and a mail tells you of it")
}
