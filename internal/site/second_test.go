package site

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"
	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

var (
	shownSecret = regexp.MustCompile(`<kbd class="secret">([A-Z2-7 ]+)</kbd>`)
	shownCode   = regexp.MustCompile(`<li><kbd>([a-z2-9 ]+)</kbd>`)
)

// codeOf gives what an app would show for a secret at a moment.
func codeOf(t *testing.T, secret string, at time.Time) string {
	t.Helper()
	code, err := totp.GenerateCode(strings.ReplaceAll(secret, " ", ""), at)
	require.NoError(t, err)
	return code
}

// choosePassword gives whoever a client is signed in as goodPassword, where they have none.
func (c *client) choosePassword() {
	t := c.ts.t
	t.Helper()
	hash, err := c.ts.Site.hasher.Hash(goodPassword, c.Person.Email)
	require.NoError(t, err)
	_, err = c.ts.DB.Owner().Exec(t.Context(), `UPDATE accounts SET password = $2 WHERE id = $1`, c.Person.ID, hash)
	require.NoError(t, err)
}

// withSecond turns somebody's second step on, and gives the secret and the recovery codes.
func (c *client) withSecond() (secret string, recovery []string) {
	t := c.ts.t
	t.Helper()
	c.follow(c.post("/account/second-step/begin")).has("<svg class=\"code\"")
	a := c.get("/account/second-step")
	secret = shownSecret.FindStringSubmatch(a.Body)[1]
	c.choosePassword()
	for _, wrong := range []string{"", "not the password"} {
		a = c.post("/account/second-step/confirm", "code", codeOf(t, secret, c.ts.Clock.Now()), "current", wrong)
		require.Equal(t, http.StatusUnprocessableEntity, a.Status, "whoever found the device signed in")
		a.has("not your password now", `class="secret"`)
	}
	a = c.post("/account/second-step/confirm", "code", codeOf(t, secret, c.ts.Clock.Now()), "current", goodPassword)
	require.Equal(t, http.StatusOK, a.Status, a.Body)
	for _, found := range shownCode.FindAllStringSubmatch(a.Body, -1) {
		recovery = append(recovery, found[1])
	}
	require.Len(t, recovery, account.RecoveryCodes)
	c.ts.Clock.Pass(time.Minute)
	return secret, recovery
}

func TestSecondStep(t *testing.T) {
	ts := newTestSite(t)
	p := ts.person("rosa@example.org")
	c := ts.signedInAs(p)
	c.get("/account").has("It is off", "Set it up")
	c.get("/account/second-step").has("Set it up").lacks(`class="secret"`)
	c.post("/account/second-step/begin")
	a := c.post("/account/second-step/confirm", "code", "000000")
	require.Equal(t, http.StatusUnprocessableEntity, a.Status)
	a.has("not the code the app shows now", `class="secret"`)
	require.Equal(t, http.StatusSeeOther, ts.nobody().signIn("192.0.2.1", p.Email, goodPassword).Status, "not on before a code was typed")
	secret, recovery := c.withSecond()
	c.get("/account/second-step").has("It is on", "10 recovery codes").lacks(secret)
	require.NotContains(t, rowsText(ts, "second_steps"), strings.ReplaceAll(secret, " ", ""))
	require.NotContains(t, rowsText(ts, "recovery_codes"), recovery[0])

	enter := func() *client {
		n := ts.nobody()
		require.Equal(t, "/sign-in/second", n.signIn("192.0.2.1", p.Email, goodPassword).Location)
		require.Equal(t, http.StatusSeeOther, n.get("/drives").Status, "the password alone opens nothing")
		n.get("/sign-in/second").has("Six digits")
		return n
	}
	try := func(n *client, code string) bool {
		a := n.post("/sign-in/second", "code", code)
		if a.Status == http.StatusUnprocessableEntity {
			a.has("does not fit now")
			return false
		}
		require.Equal(t, "/", a.Location)
		require.Equal(t, http.StatusOK, n.get("/drives").Status)
		return true
	}
	now := codeOf(t, secret, ts.Clock.Now())
	require.True(t, try(enter(), now[:3]+" "+now[3:]))
	require.False(t, try(enter(), now), "a code works once")
	require.False(t, try(enter(), codeOf(t, secret, ts.Clock.Now().Add(-30*time.Second))), "nor one before it")
	require.True(t, try(enter(), codeOf(t, secret, ts.Clock.Now().Add(30*time.Second))), "a phone half a minute ahead")
	ts.Clock.Pass(5 * time.Minute)
	require.False(t, try(enter(), codeOf(t, secret, ts.Clock.Now().Add(-90*time.Second))))
	require.True(t, try(enter(), strings.ToUpper(strings.ReplaceAll(recovery[3], " ", "-"))))
	require.False(t, try(enter(), recovery[3]), "a recovery code works once")
	n := enter()
	ts.Clock.Pass(halfLife)
	require.Equal(t, "/sign-in", n.get("/sign-in/second").Location, "it may not take for ever")
	require.Equal(t, "/sign-in", n.post("/sign-in/second", "code", recovery[4]).Location)

	// A link to choose a new password asks for it too.
	id, err := ts.Store.AccountLink(t.Context(), ts.act("lost"), p.Email)
	require.NoError(t, err)
	require.Equal(t, "/sign-in/second", ts.nobody().post("/sign-in/link/"+ts.Site.key.Sign(id), "password", goodPassword).Location)

	// Turned off with a code; new recovery codes end the old.
	n = enter()
	require.True(t, try(n, recovery[5]))
	a = n.post("/account/second-step/codes", "code", "123456")
	require.Equal(t, http.StatusUnprocessableEntity, a.Status)
	a = n.post("/account/second-step/codes", "code", recovery[6])
	require.Equal(t, http.StatusOK, a.Status)
	fresh := shownCode.FindStringSubmatch(a.Body)[1]
	n.post("/account/second-step/off", "code", recovery[7]).has("does not fit now")
	again := n.post("/account/second-step/codes", "code", recovery[6], "once", "codes-of-one-form")
	require.Equal(t, http.StatusUnprocessableEntity, again.Status, "another form")
	for range 2 { // the answer got lost
		a = n.post("/account/second-step/codes", "code", fresh, "once", "codes-of-one-form")
		require.Equal(t, http.StatusOK, a.Status)
	}
	fresh = shownCode.FindStringSubmatch(a.Body)[1]
	for range 2 {
		require.Equal(t, "/account/second-step", n.post("/account/second-step/off", "code", fresh, "once", "off-by-one-form").Location)
	}
	require.Equal(t, "/", ts.nobody().signIn("192.0.2.1", p.Email, goodPassword).Location)
	const q = `SELECT count(*) FROM audit WHERE subject = $1 AND act LIKE ANY ('{second step %,recovery code%}')`
	var told int
	require.NoError(t, ts.DB.Pool.QueryRow(t.Context(), q, fmt.Sprint(p.ID)).Scan(&told))
	require.Equal(t, 11, told, "begun twice, on, five recovery codes, renewed twice, off")
}

// Guesses at the second step are counted as those at the password, and two requests
// with one code are let in once.
func TestSecondStepIsLimited(t *testing.T) {
	ts := newTestSite(t)
	p := ts.person("rosa@example.org")
	secret, recovery := ts.signedInAs(p).withSecond()
	n := ts.nobody()
	n.signIn("192.0.2.1", p.Email, goodPassword)
	for range 5 {
		require.Equal(t, http.StatusUnprocessableEntity, n.post("/sign-in/second", "code", "000000").Status)
	}
	require.Equal(t, http.StatusUnprocessableEntity, n.post("/sign-in/second", "code", recovery[0]).Status, "too many tries")
	ts.Clock.Pass(account.TryWindow)
	code := codeOf(t, secret, ts.Clock.Now())
	var wg sync.WaitGroup
	in := make([]bool, 4)
	for i := range in {
		n := ts.nobody().once()
		n.signIn(fmt.Sprintf("192.0.2.%d", 10+i), p.Email, goodPassword)
		wg.Go(func() { in[i] = n.post("/sign-in/second", "code", code).Status == http.StatusSeeOther })
	}
	wg.Wait()
	won := 0
	for _, ok := range in {
		if ok {
			won++
		}
	}
	require.Equal(t, 1, won)
}

// Turning it on ends every other session, and the password alone holds none.
func TestSecondStepEndsSessionsOfThePasswordAlone(t *testing.T) {
	ts := newTestSite(t)
	p := ts.person("rosa@example.org")
	c, phone := ts.signedInAs(p), ts.signedInAs(p)
	c.withSecond()
	require.Equal(t, http.StatusOK, c.get("/account").Status, "the one in which it was turned on goes on")
	require.Equal(t, http.StatusSeeOther, phone.get("/account").Status)
	alone := ts.signedInAs(mustAccount(ts, p.ID)) // of the new epoch, without a code
	require.Equal(t, http.StatusSeeOther, alone.get("/account").Status)
}

// A code is judged by the secret that was shown; another tab may have begun another.
func TestSecondStepOfAnotherTab(t *testing.T) {
	ts := newTestSite(t)
	c := ts.signedInAs(ts.person("rosa@example.org"))
	c.post("/account/second-step/begin")
	was, err := ts.Store.SecondStep(t.Context(), c.Person.ID)
	require.NoError(t, err)
	c.post("/account/second-step/begin")
	act := ts.act("confirm")
	act.Who = c.Person.ID
	err = ts.Store.ConfirmSecondStep(t.Context(), act, postgres.SecondCode{Secret: was.Secret, Step: 1})
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	now, err := ts.Store.SecondStep(t.Context(), c.Person.ID)
	require.NoError(t, err)
	require.False(t, now.On)
}

func TestADriveMayAskTheSecondStep(t *testing.T) {
	ts := newTestSite(t)
	rosa, desk := ts.as(account.Organiser), ts.as(account.Desk)
	form := rosa.get("/drives/spring/settings")
	a := rosa.once().post("/drives/spring/settings", "name", "Spring", "zone", "UTC", "unit", "in", "washing", "washed first", "kit_cases", "4",
		"spare_share", "0", "keep_width", "9", "keep_length", "18", "version", form.hidden("version"), "second_step", "yes")
	require.Equal(t, http.StatusSeeOther, a.Status, a.Body)
	for _, path := range []string{"/drives/spring/needs", "/drives/spring/settings", "/drives/spring/books/books.xlsx"} {
		require.Equal(t, secondStepPath, rosa.get(path).Location, path)
	}
	require.Equal(t, secondStepPath, rosa.post("/drives/spring/settings").Location)
	require.Equal(t, secondStepPath, rosa.get("/l/spring/lot/1").Location, "what a label's code opens is of the drive")
	require.Equal(t, http.StatusUnauthorized, rosa.get("/drives/spring/plan/1/progress").Status)
	require.Equal(t, http.StatusNotFound, rosa.get("/drives/autumn").Status)
	require.Equal(t, http.StatusOK, desk.get("/drives/spring/needs").Status, "only of organisers")
	rosa.get(secondStepPath).has("Spring asks it of its organisers")
	rosa.withSecond()
	rosa.get("/drives/spring/settings").has(`name="second_step" value="yes" checked`)
}

func TestOwnAccount(t *testing.T) {
	ts := newTestSite(t)
	p := ts.person("rosa@example.org")
	c, phone, tablet, ines := ts.signedInAs(p), ts.signedInAs(p), ts.signedInAs(p), ts.signedInAs(ts.person("ines@example.org"))
	a := c.get("/account")
	require.Equal(t, 2, strings.Count(a.Body, "Sign out there"), "two others")
	numbers := regexp.MustCompile(`/account/signed-in/(\d+)/end`).FindAllStringSubmatch(a.Body, -1)
	require.Equal(t, http.StatusNotFound, ines.post("/account/signed-in/"+numbers[0][1]+"/end").Status, "nobody ends another's")
	c.post("/account/signed-in/" + numbers[0][1] + "/end")
	require.Equal(t, http.StatusSeeOther, tablet.get("/account").Status, "the one that was seen last")
	require.Equal(t, http.StatusOK, phone.get("/account").Status)
	c.post("/account/sign-out-elsewhere")
	require.Equal(t, http.StatusSeeOther, phone.get("/account").Status)
	require.Equal(t, http.StatusOK, c.get("/account").Status)

	phone = ts.signedInAs(mustAccount(ts, p.ID))
	for pair, want := range map[[2]string]string{
		{"not the password", "another long one"}: "not your password now",
		{goodPassword, "short"}:                  "12 characters or more",
	} {
		a = c.post("/account/password", "current", pair[0], "password", pair[1])
		require.Equal(t, http.StatusUnprocessableEntity, a.Status)
		a.has(want)
	}
	token := c.cookies["boltward"]
	lost, err := ts.Store.AccountLink(t.Context(), ts.act("lost"), p.Email)
	require.NoError(t, err)
	require.Equal(t, "/account", c.post("/account/password", "current", goodPassword, "password", "another long one ", "once", "one-and-the-same").Location)
	kept := func() (hash string) {
		require.NoError(t, ts.DB.Pool.QueryRow(t.Context(), `SELECT encode(hash, 'hex') FROM once WHERE key = 'one-and-the-same'`).Scan(&hash))
		return hash
	}
	first := kept()
	require.Equal(t, http.StatusNotFound, ts.nobody().get("/sign-in/link/"+ts.Site.key.Sign(lost)).Status, "links to choose a password end")
	require.Equal(t, http.StatusConflict, c.post("/account/password", "current", "another long one ", "password", "yet another long one", "once", "one-and-the-same").Status)
	_, err = ts.DB.Owner().Exec(t.Context(), `DELETE FROM once WHERE key = 'one-and-the-same'`)
	require.NoError(t, err)
	require.Equal(t, "/account", c.once().post("/account/password", "current", "another long one ", "password", "yet another long one", "once", "one-and-the-same").Location)
	require.Equal(t, first, kept(), "what is kept of a form is the same whatever the passwords are")
	require.Equal(t, "/account", c.post("/account/password", "current", "yet another long one", "password", "another long one ").Location)
	require.Equal(t, "/account", c.post("/account/password", "current", "another long one ", "password", "another long one").Location, "blanks count as typed")
	require.NotEqual(t, token, c.cookies["boltward"], "under another token")
	require.Equal(t, http.StatusOK, c.get("/account").Status)
	require.Equal(t, http.StatusSeeOther, phone.get("/account").Status, "other sessions end")
	require.Equal(t, http.StatusSeeOther, ts.nobody().signIn("192.0.2.1", p.Email, "another long one").Status)
	for range 5 {
		c.post("/account/password", "current", "a wrong guess", "password", "yet another long one")
	}
	a = c.post("/account/password", "current", "another long one", "password", "yet another long one")
	require.Equal(t, http.StatusUnprocessableEntity, a.Status, "guesses are counted")
}

func mustAccount(ts *testSite, id int64) account.Person {
	ts.t.Helper()
	p, err := ts.Store.Account(ts.t.Context(), id)
	require.NoError(ts.t, err)
	return p
}

// rowsText gives every row of a table as text.
func rowsText(ts *testSite, table string) string {
	ts.t.Helper()
	var text string
	require.NoError(ts.t, ts.DB.Pool.QueryRow(ts.t.Context(), `SELECT coalesce(string_agg(x::text, ' '), '') FROM `+table+` x`).Scan(&text))
	return text
}

func TestDevice(t *testing.T) {
	for agent, want := range map[string]string{
		"Mozilla/5.0 (Android 14; Mobile; rv:130.0) Gecko/130.0 Firefox/130.0":                                                           "Firefox on Android",
		"Mozilla/5.0 (iPad; CPU OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/17.5 Mobile/15E148 Safari/604.1": "Safari on an iPad",
		"Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/128.0.0.0 Safari/537.36 Edg/128.0.0.0":  "Edge on Windows",
		"Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/128.0.0.0 Safari/537.36":                          "Chrome on Linux",
		"":                          "a browser",
		"<script>alert(1)</script>": "a browser",
	} {
		require.Equal(t, want, device(agent), agent)
	}
}
