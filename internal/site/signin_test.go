package site

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

const goodPassword = "heron lamp seventeen"

// person adds somebody who can sign in with goodPassword.
func (ts *testSite) person(email string) account.Person {
	ts.t.Helper()
	ctx := context.Background()
	act := ts.act("person-" + email)
	act.Drive = ""
	_, err := ts.Store.AddAccount(ctx, act, "Rosa Lind", email, false)
	require.NoError(ts.t, err)
	act.Key = "test-key-link-" + email
	id, err := ts.Store.AccountLink(ctx, act, email)
	require.NoError(ts.t, err)
	hash, err := ts.Site.hasher.Hash(goodPassword, email)
	require.NoError(ts.t, err)
	p, err := ts.Store.UseAccountLink(ctx, id, hash)
	require.NoError(ts.t, err)
	return p
}

// signIn tries an address and a password, from this network address.
func (c *client) signIn(from, email, password string) testAnswer {
	form := url.Values{"email": {email}, "password": {password}}
	r := httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.RemoteAddr = from + ":4000"
	return c.do(r)
}

func TestSignInAndOut(t *testing.T) {
	ts := newTestSite(t)
	ts.person("rosa@example.org")
	c := ts.nobody()
	a := c.get("/drives/spring")
	require.Equal(t, "/sign-in?next=%2Fdrives%2Fspring", a.Location)
	c.follow(a).has(`name="next" value="/drives/spring"`)
	a = c.post("/sign-in", "email", " Rosa@Example.org", "password", goodPassword, "next", "/drives")
	require.Equal(t, "/drives", a.Location)
	c.follow(a).has("Rosa Lind", "No drive is open to you yet")
	require.Equal(t, "/", c.get("/sign-in").Location, "who is signed in needs no door")
	a = c.post("/sign-out")
	require.Equal(t, "/sign-in", a.Location)
	require.Equal(t, http.StatusSeeOther, c.get("/drives").Status)

	a = c.post("/sign-in", "email", "rosa@example.org", "password", goodPassword, "next", "//elsewhere.example/x")
	require.Equal(t, "/", a.Location, "nobody is sent to another site")
}

func TestSessionIsNewAndHidden(t *testing.T) {
	ts := newTestSite(t)
	ts.person("rosa@example.org")
	planted := ts.nobody()
	ctx, err := ts.Site.sessions.Load(context.Background(), "")
	require.NoError(t, err)
	ts.Site.sessions.Put(ctx, sessionFlash, flash{Text: "planted"})
	token, _, err := ts.Site.sessions.Commit(ctx)
	require.NoError(t, err)
	planted.cookies["boltward"] = token
	a := planted.signIn("192.0.2.1", "rosa@example.org", goodPassword)
	require.Equal(t, http.StatusSeeOther, a.Status)
	require.NotEqual(t, token, planted.cookies["boltward"], "the token is another one after signing in")
	attacker := ts.nobody()
	attacker.cookies["boltward"] = token
	require.Equal(t, http.StatusSeeOther, attacker.get("/drives").Status, "the planted session is worth nothing")

	cookie := a.Header.Get("Set-Cookie")
	require.Contains(t, cookie, "HttpOnly")
	require.Contains(t, cookie, "SameSite=Lax")
	var kept int
	require.NoError(t, ts.DB.Pool.QueryRow(context.Background(), `SELECT count(*) FROM sessions WHERE token = $1`, planted.cookies["boltward"]).Scan(&kept))
	require.Zero(t, kept, "the table holds a hash of the token, not the token")
	secure := newSessions(ts.DB.Pool, true, ts.Site.sessionFailed)
	require.True(t, secure.Cookie.Secure)
	require.True(t, strings.HasPrefix(secure.Cookie.Name, "__Host-"))
}

func TestEpochEndsEverySession(t *testing.T) {
	ts := newTestSite(t)
	p := ts.person("rosa@example.org")
	tablet, phone := ts.signedInAs(p), ts.signedInAs(p)
	require.Equal(t, http.StatusOK, tablet.get("/drives").Status)

	act := ts.act("new-password")
	id, err := ts.Store.AccountLink(context.Background(), act, p.Email)
	require.NoError(t, err)
	path := "/sign-in/link/" + ts.Site.key.Sign(id)
	home := ts.nobody()
	home.get(path).has("Rosa Lind", "works once")
	require.Equal(t, http.StatusOK, tablet.get("/drives").Status, "looking at a link changes nothing")
	a := home.post(path, "password", "another long one")
	require.Equal(t, http.StatusSeeOther, a.Status)
	for _, c := range []*client{tablet, phone} {
		require.Equal(t, http.StatusSeeOther, c.get("/drives").Status, "sessions of before are over")
	}
	require.Equal(t, http.StatusOK, home.get("/drives").Status)
	require.Equal(t, http.StatusNotFound, home.post(path, "password", "a third long one").Status, "a link works once")
	require.Equal(t, http.StatusUnprocessableEntity, ts.nobody().signIn("192.0.2.1", p.Email, goodPassword).Status)
	require.Equal(t, http.StatusSeeOther, ts.nobody().signIn("192.0.2.1", p.Email, "another long one").Status)
}

// A wrong password, an address nobody has and too many tries read the same.
func TestSignInTellsNothing(t *testing.T) {
	ts := newTestSite(t)
	ts.person("rosa@example.org")
	wrong := ts.nobody().signIn("192.0.2.1", "rosa@example.org", "not the password")
	unknown := ts.nobody().signIn("192.0.2.1", "nobody@example.org", "not the password")
	require.Equal(t, http.StatusUnprocessableEntity, wrong.Status)
	require.Equal(t, wrong.Status, unknown.Status)
	same := func(a testAnswer) string { // but for the key of the next form
		return strings.NewReplacer("nobody@example.org", "rosa@example.org", a.hidden("once"), "").Replace(a.Body)
	}
	require.Equal(t, same(wrong), same(unknown))
	for range 6 {
		wrong = ts.nobody().signIn("192.0.2.1", "rosa@example.org", "not the password")
	}
	limited := ts.nobody().signIn("192.0.2.1", "rosa@example.org", goodPassword)
	require.Equal(t, same(unknown), same(limited))
	limited.lacks(goodPassword)
}

func TestSignInIsLimited(t *testing.T) {
	ts := newTestSite(t)
	ts.person("rosa@example.org")
	ts.person("ines@example.org")
	bad := func(from, email string) { ts.nobody().signIn(from, email, "not the password") }
	works := func(from, email string) bool {
		return ts.nobody().once().signIn(from, email, goodPassword).Status == http.StatusSeeOther
	}
	for range 5 {
		bad("192.0.2.1", "rosa@example.org")
	}
	require.False(t, works("192.0.2.1", "rosa@example.org"), "five bad tries from one address")
	require.True(t, works("192.0.2.1", "ines@example.org"), "others in the same hall are not shut out")
	require.True(t, works("192.0.2.2", "rosa@example.org"), "nor the same person elsewhere")
	ts.Clock.Pass(account.TryWindow + 1)
	require.True(t, works("192.0.2.1", "rosa@example.org"), "a quarter of an hour later")

	for i := range 30 {
		bad(fmt.Sprintf("198.51.100.%d", i), "rosa@example.org")
	}
	require.False(t, works("203.0.113.9", "rosa@example.org"), "tries from many addresses count together")
	require.True(t, works("192.0.2.2", "rosa@example.org"), "but cannot lock out where the person is known")
}

// Two hundred tries at once are not more tries than five.
func TestTriesAtOnceAreCountedOneByOne(t *testing.T) {
	ts := newTestSite(t)
	ts.person("rosa@example.org")
	var wg sync.WaitGroup
	for range 40 {
		wg.Go(func() { ts.nobody().signIn("192.0.2.1", "rosa@example.org", "not the password") })
	}
	wg.Wait()
	var tried int
	require.NoError(t, ts.DB.Pool.QueryRow(context.Background(), `SELECT count(*) FROM sign_in_attempts`).Scan(&tried))
	require.Equal(t, 5, tried, "40 at once: only five were let through to the password")
}

func TestFirstOrganiser(t *testing.T) {
	ts := newTestSite(t)
	ctx := context.Background()
	c := ts.nobody()
	require.Equal(t, "/sign-in", c.get("/").Location)
	c.get("/sign-in").has("Nobody can sign in yet", "terminal")
	id, err := ts.Store.FirstLink(ctx)
	require.NoError(t, err)
	again, err := ts.Store.FirstLink(ctx)
	require.NoError(t, err)
	require.Equal(t, id, again, "the same link until it is used")
	path := "/sign-in/link/" + ts.Site.key.Sign(id)
	c.get(path).has("first organiser", `autocomplete="new-password"`)

	a := c.post(path, "name", "", "email", "rosa at example", "password", "short")
	require.Equal(t, http.StatusUnprocessableEntity, a.Status)
	a.has("3 things to put right", `value="rosa at example"`, "12 characters or more", `aria-invalid="true"`, `href="#f-name"`)
	a.lacks(`value="short"`)

	a = c.post(path, "name", "Rosa  Lind", "email", "Rosa@example.org", "password", goodPassword)
	require.Equal(t, http.StatusSeeOther, a.Status)
	for a.Status == http.StatusSeeOther {
		a = c.follow(a)
	}
	a.has("Welcome, Rosa Lind", "Spring drive")
	require.Equal(t, http.StatusNotFound, ts.nobody().post(path, "name", "Eve", "email", "eve@example.org", "password", goodPassword).Status)
	id, err = ts.Store.FirstLink(ctx)
	require.NoError(t, err)
	require.Empty(t, id, "no more first links once somebody can sign in")
}

// Two people with the same first link: one becomes organiser.
func TestFirstLinkIsUsedOnce(t *testing.T) {
	ts := newTestSite(t)
	id, err := ts.Store.FirstLink(context.Background())
	require.NoError(t, err)
	path := "/sign-in/link/" + ts.Site.key.Sign(id)
	var wg sync.WaitGroup
	statuses := make([]int, 8)
	for i := range statuses {
		wg.Go(func() {
			statuses[i] = ts.nobody().once().post(path, "name", "Rosa", "email", fmt.Sprintf("rosa%d@example.org", i), "password", goodPassword).Status
		})
	}
	wg.Wait()
	won := 0
	for _, status := range statuses {
		if status == http.StatusSeeOther {
			won++
		} else {
			require.Equal(t, http.StatusNotFound, status)
		}
	}
	require.Equal(t, 1, won)
}

func TestLinksThatDoNotWork(t *testing.T) {
	ts := newTestSite(t)
	p := ts.person("rosa@example.org")
	old, err := ts.Store.AccountLink(context.Background(), ts.act("old-link"), p.Email)
	require.NoError(t, err)
	replaced := ts.Site.key.Sign(old)
	id, err := ts.Store.AccountLink(context.Background(), ts.act("new-link"), p.Email)
	require.NoError(t, err)
	token := ts.Site.key.Sign(id)
	other, err := account.ParseKey(strings.Repeat("ab", 32))
	require.NoError(t, err)
	for name, token := range map[string]string{
		"replaced":        replaced,
		"another key's":   other.Sign(id),
		"cut off":         token[:len(token)-1],
		"the bare id":     id,
		"nothing like it": "x",
	} {
		require.Equal(t, http.StatusNotFound, ts.nobody().get("/sign-in/link/"+token).Status, name)
	}
	require.Equal(t, http.StatusOK, ts.nobody().get("/sign-in/link/"+strings.ToUpper(token)).Status)
	ts.Clock.Pass(account.AccountLinkLife)
	require.Equal(t, http.StatusNotFound, ts.nobody().get("/sign-in/link/"+token).Status, "past its time")
}

func TestNetwork(t *testing.T) {
	for address, want := range map[string]string{
		"192.0.2.7":              "192.0.2.7",
		"::ffff:192.0.2.7":       "192.0.2.7",
		"2001:db8:1:2:3:4:5:6":   "2001:db8:1:2::/64",
		"2001:db8:1:2:ffff::1%1": "2001:db8:1:2::/64",
		"":                       "",
	} {
		require.Equal(t, want, network(address), "network(%q)", address)
	}
}

// Each form has its own key, so that two forms of one page are two wishes.
func TestEveryFormHasItsOwnKey(t *testing.T) {
	keys := map[string]bool{}
	v := &view{}
	for range 100 {
		keys[v.Once()] = true
	}
	require.Len(t, keys, 100)
	require.Regexp(t, regexp.MustCompile(`^[A-Z2-7]{26}$`), v.Once())
}
