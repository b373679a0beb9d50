package site

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// The owner's form that is sent again by a browser that lost the answer alarms nobody; a thief's at a
// browser that is called the same, new too and within the second, does. So it is with new browsers.
func TestAFormSentAgainIsKnownByItsKey(t *testing.T) {
	ts := newTestSite(t)
	ts.Site.mails = true
	p := ts.person("rosa@example.org")
	sends := func(c *client, key string) *client {
		t.Helper()
		a := c.once().post("/sign-in", "once", key, "email", p.Email, "password", goodPassword)
		require.Equal(t, http.StatusSeeOther, a.Status, a.Body)
		return c
	}
	mails := func(kind string) (n int) {
		t.Helper()
		require.NoError(t, ts.DB.Owner().QueryRow(t.Context(), `SELECT count(*) FROM river.river_job WHERE kind = $1`, kind).Scan(&n))
		return n
	}
	c := sends(ts.nobody(), ts.nobody().get("/sign-in").hidden("once"))
	mine, thief := ts.nobody().get("/sign-in").hidden("once"), ts.nobody().get("/sign-in").hidden("once")
	require.NotEqual(t, mine, thief)
	sends(ts.nobody(), mine)
	sends(ts.nobody(), mine)
	require.Equal(t, 1, mails("tell_sign_in"), "sent twice")
	sends(ts.nobody(), thief)
	require.Equal(t, 2, mails("tell_sign_in"))

	secret, _ := c.withSecond()
	mine, thief = ts.nobody().get("/sign-in").hidden("once"), ts.nobody().get("/sign-in").hidden("once")
	sends(ts.nobody(), mine)
	sends(ts.nobody(), thief)
	owner := sends(ts.nobody(), mine)
	require.Equal(t, "/", owner.post("/sign-in/second", "code", codeOf(t, secret, ts.Clock.Now())).Location)
	ts.Clock.Pass(halfLife)
	n, err := ts.Store.TellHalves(t.Context(), true)
	require.NoError(t, err)
	require.Equal(t, int64(1), n, "the thief's alone")
	for _, key := range []string{mine, thief} {
		require.NotContains(t, rowsText(ts, "half_sign_ins")+rowsText(ts, "sign_ins"), key)
	}
}

// Whoever has the password and not the code is told of on the page of whose it is, and sees nothing
// that they did not see before; who mistypes and then gives the code is told of nowhere.
func TestAPasswordWithoutTheCode(t *testing.T) {
	ts := newTestSite(t)
	p := ts.person("rosa@example.org")
	require.NoError(t, ts.Store.SetRole(t.Context(), ts.act("role"), p.Email, account.Organiser))
	c := ts.signedInAs(p)
	secret, recovery := c.withSecond()
	tell := func(after time.Duration) {
		t.Helper()
		ts.Clock.Pass(after)
		_, err := ts.Store.TellHalves(t.Context(), true)
		require.NoError(t, err)
	}
	owner := ts.nobody()
	require.Equal(t, "/sign-in/second", owner.atBrowser(linuxFirefox, p.Email, goodPassword).Location)
	for _, typo := range []string{"", "12345"} {
		require.Equal(t, http.StatusUnprocessableEntity, owner.post("/sign-in/second", "code", typo).Status)
	}
	require.Equal(t, "/account", owner.post("/sign-in/second", "code", codeOf(t, secret, ts.Clock.Now())).Location)
	tell(halfLife)
	owner.get("/account").has("Last sign-ins").lacks("without the code")
	owner.get("/drives/spring/settings").has("Your last sign-ins").lacks("without the code")

	thief := ts.nobody()
	require.Equal(t, "/sign-in/second", thief.atBrowser(windowsChrome, p.Email, goodPassword).Location)
	kept := thief.cookies["boltward-device"]
	first := thief.post("/sign-in/second", "code", "000000")
	for range 2 {
		a := thief.post("/sign-in/second", "code", "111111")
		require.Equal(t, first.Status, a.Status)
		require.Equal(t, first.Body, a.Body, "each refusal tells the same")
	}
	owner.get("/account").lacks("without the code")
	tell(halfLife - time.Second)
	owner.get("/account").lacks("without the code")
	tell(time.Second)
	page := owner.get("/account").has("Your password, without the code", "Chrome on Windows", `data-label="Codes refused">3<`, "a mail to you waits to be sent")
	require.Equal(t, 1, strings.Count(page.Body, `data-label="Codes refused"`))
	owner.get("/drives/spring/settings").has("your password, without the code", "/account#no-code")
	require.Equal(t, "/sign-in", thief.post("/sign-in/second", "code", recovery[0]).Location, "it is too late")
	for _, told := range []string{kept, "000000", "111111"} {
		require.NotContains(t, rowsText(ts, "half_sign_ins"), told)
	}
	thief.atBrowser(windowsChrome, p.Email, goodPassword)
	require.Equal(t, kept, thief.cookies["boltward-device"])
	tell(halfLife)
	page = owner.get("/account").has(`data-label="Mail"><span class="quiet">none<`, "Your right password was given, and not your code")
	require.Equal(t, 2, strings.Count(page.Body, `data-label="Codes refused"`), "the second without a mail")

	// The alarm and what Settings say of it are of the password now.
	const another = "seven quiet lanterns row"
	require.Equal(t, http.StatusSeeOther, owner.post("/account/password", "current", goodPassword, "password", another).Status)
	owner.get("/account").has("Your password, without the code").lacks("Your right password was given, and not your code")
	owner.get("/drives/spring/settings").lacks("your password, without the code")
	thief.atBrowser(windowsChrome, p.Email, another)
	tell(halfLife)
	owner.get("/account").has("Your right password was given, and not your code")
	owner.get("/drives/spring/settings").has("your password, without the code")

	// Whoever else signs everybody out, forgets browsers and waits does not end it; the owner does,
	// by saying that it was them, of that time alone.
	require.Equal(t, http.StatusSeeOther, owner.post("/account/sign-out-elsewhere").Status)
	require.Equal(t, http.StatusSeeOther, owner.post("/account/not-me").Status)
	ts.Clock.Pass(30 * 24 * time.Hour)
	owner.atBrowser(linuxFirefox, p.Email, another)
	owner.post("/sign-in/second", "code", codeOf(t, secret, ts.Clock.Now()))
	page = owner.get("/account").has("Your right password was given, and not your code")
	owner.get("/drives/spring/settings").has("your password, without the code")
	_, mine, _ := strings.Cut(page.Body, `action="/account/without-code/`)
	mine, _, _ = strings.Cut(mine, `"`)
	other := ts.signedInAs(ts.person("elin@example.org"))
	require.Equal(t, http.StatusNotFound, other.post("/account/without-code/"+mine).Status, "somebody else's")
	thief.atBrowser(windowsChrome, p.Email, another)
	tell(halfLife)
	require.Equal(t, "/account#sign-ins", owner.post("/account/without-code/"+mine).Location)
	owner.get("/account").has("Your right password was given, and not your code", `data-label="Dealt with">it was you<`, `data-label="Dealt with">password changed<`)
	page = owner.get("/account")
	_, last, _ := strings.Cut(page.Body, `action="/account/without-code/`)
	last, _, _ = strings.Cut(last, `"`)
	require.NotEqual(t, mine, last)
	owner.post("/account/without-code/" + last)
	owner.get("/account").has("Your password, without the code").lacks("Your right password was given, and not your code")
	owner.get("/drives/spring/settings").lacks("your password, without the code")
	require.Equal(t, http.StatusNotFound, owner.post("/account/without-code/"+last).Status, "said once")
}
