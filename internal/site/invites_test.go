package site

import (
	"net/http"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

var inviteLink = regexp.MustCompile(`http://boltward\.test(/invite/[a-z0-9.]+)`)

// linkIn gives the path of the link that a page shows.
func linkIn(t *testing.T, a testAnswer, pattern *regexp.Regexp) string {
	t.Helper()
	found := pattern.FindStringSubmatch(a.Body)
	require.NotNil(t, found, "the page (%d) shows a link:\n%s", a.Status, a.Body)
	return found[1]
}

func TestInvitation(t *testing.T) {
	ts := newTestSite(t)
	rosa := ts.as(account.Organiser)
	const people, invite = "/drives/spring/settings/people", "/drives/spring/settings/people/invite"
	rosa.get(invite).has("For whom", "takes fabric in")
	rosa.post(invite, "name", "Marta", "role", "queen").has("There is no role", "Marta")

	a := rosa.post(invite, "name", "Marta", "role", "cutting", "once", "one-and-the-same")
	link := linkIn(t, a, inviteLink)
	a.has("shown this once", "mailto:?subject=Help%20with%20Spring%20drive")
	require.Equal(t, link, linkIn(t, rosa.post(invite, "name", "Marta", "role", "cutting", "once", "one-and-the-same"), inviteLink), "sent again it is the same link")
	rosa.get(people).has("Marta", "9 Mar 2026").lacks(link)

	marta := ts.nobody()
	marta.get(link).has("Ada organiser", "Spring drive", "cutting", `value="Marta"`)
	a = marta.post(link, "name", "", "email", "marta", "password", "short")
	require.Equal(t, http.StatusUnprocessableEntity, a.Status)
	a.has("3 things to put right", "12 characters or more")
	marta.post(link, "name", "Marta Quill", "email", rosa.Person.Email, "password", goodPassword).has("Somebody signs in with this address already")
	joins := func(c *client, password string) testAnswer {
		return c.post(link, "name", "Marta Quill", "email", "marta@example.org", "password", password, "once", "the-form-of-marta")
	}
	require.Equal(t, "/drives/spring", joins(ts.nobody(), goodPassword).Location, "an answer that got lost")
	require.Equal(t, http.StatusConflict, joins(ts.nobody(), "not that long one").Status)
	a = joins(marta, goodPassword)
	require.Equal(t, "/drives/spring", a.Location, a.Body)
	require.Equal(t, http.StatusOK, marta.get("/drives/spring/cutting").Status)
	marta.post("/account/sign-out-elsewhere")
	require.Equal(t, http.StatusNotFound, joins(ts.nobody(), goodPassword).Status, "an old form lets nobody in for ever")
	require.Equal(t, http.StatusNotFound, marta.get("/drives/spring/books").Status, "cutting has no books")
	require.Equal(t, http.StatusNotFound, ts.nobody().get(link).Status, "it works once")
	rosa.get(people).has("Marta Quill", "marta@example.org", "None. A link is shown once")
	marta.get(people).has("Marta Quill", "Ada organiser").lacks(rosa.Person.Email, "Invite somebody")

	// Whoever signs in already gains the role; who has one keeps it, and the link.
	link = linkIn(t, rosa.post(invite, "role", "reader"), inviteLink)
	require.Equal(t, http.StatusConflict, marta.post(link).Status, "Marta has a role already")
	kim := ts.signedInAs(ts.person("kim@example.org"))
	kim.get(link).has("You are signed in as Rosa Lind").lacks(`name="password"`)
	require.Equal(t, http.StatusNotFound, kim.get("/drives/spring").Status, "looking changes nothing")
	for range 2 {
		require.Equal(t, "/drives/spring", kim.post(link, "once", "the-form-of-kim").Location)
	}
	require.Equal(t, http.StatusNotFound, marta.post(link, "once", "the-form-of-kim").Status)
	require.Equal(t, http.StatusOK, kim.get("/drives/spring/books").Status)

	// Ended, out of date, and of an organiser who is none any more.
	ended := linkIn(t, rosa.post(invite, "role", "desk", "name", "Ben"), inviteLink)
	rosa.post(people + "/invites/3/end")
	require.Equal(t, http.StatusNotFound, ts.nobody().get(ended).Status)
	require.Equal(t, http.StatusNotFound, rosa.post(people+"/invites/3/end").Status)
	late := linkIn(t, rosa.post(invite, "role", "desk"), inviteLink)
	ts.Clock.Pass(account.InviteLife)
	require.Equal(t, http.StatusNotFound, ts.nobody().get(late).Status)
	require.NoError(t, ts.Store.SetRole(t.Context(), ts.act("second"), "kim@example.org", account.Organiser))
	for _, wrong := range []string{"", "not the password"} {
		a := rosa.post(invite, "role", "organiser", "current", wrong)
		require.Equal(t, http.StatusUnprocessableEntity, a.Status)
		a.has("not your password now").lacks("/invite/", "not the password")
	}
	rosa.choosePassword()
	orphan := linkIn(t, rosa.post(invite, "role", "organiser", "current", goodPassword), inviteLink)
	tablet := ts.nobody()
	tablet.post(linkIn(t, rosa.post(passesPath, "role", "desk", "place", "door"), passLink))
	tablet.post("/pass/initials", "initials", "RB")
	require.Equal(t, http.StatusOK, tablet.get("/drives/spring/needs").Status)
	kim.post(people+"/1/leave", "version", "1")
	require.Equal(t, "/pass/over", tablet.get("/drives/spring/needs").Location, "and so does a pass that a tablet has")
	act := ts.act("too-late")
	act.Who = rosa.Person.ID // whose request was let through before
	_, err := ts.Store.MakeInvite(t.Context(), act, account.Organiser, "", "aaaa")
	require.True(t, apperr.Is(err, apperr.KindDenied), "%v", err)
	_, err = ts.Store.MakePass(t.Context(), act, postgres.PassWish{Role: account.Desk, Place: "door"}, "bbbb", []byte("code"))
	require.True(t, apperr.Is(err, apperr.KindDenied), "%v", err)
	require.Equal(t, http.StatusNotFound, ts.nobody().get(orphan).Status, "an invitation ends with the role of who made it")
	require.Equal(t, http.StatusNotFound, ts.nobody().get("/invite/"+strings.Repeat("a", 43)).Status)
}

// Twenty with the same link: one comes in.
func TestAnInvitationIsUsedOnce(t *testing.T) {
	ts := newTestSite(t)
	link := linkIn(t, ts.as(account.Organiser).post("/drives/spring/settings/people/invite", "role", "desk"), inviteLink)
	var wg sync.WaitGroup
	statuses := make([]int, 4)
	for i := range statuses {
		wg.Go(func() {
			statuses[i] = ts.nobody().once().post(link, "name", "Ann", "email", string(rune('a'+i))+"@example.org", "password", goodPassword).Status
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

func TestRolesAreChanged(t *testing.T) {
	ts := newTestSite(t)
	rosa, desk, packer := ts.as(account.Organiser), ts.as(account.Desk), ts.as(account.Packer)
	const people = "/drives/spring/settings/people"
	page := people + "/2"
	rosa.get(page).has("Ada desk", `name="version" value="1"`)
	require.Equal(t, people, rosa.post(page+"/role", "role", "reader", "version", "1").Location)
	require.Equal(t, http.StatusOK, desk.get("/drives/spring/books").Status, "a change holds from the next request on")
	a := rosa.post(page+"/role", "role", "cutting", "version", "1")
	require.Equal(t, http.StatusConflict, a.Status)
	a.has("Somebody else changed this", "reader", "cutting", `name="version" value="2"`)
	rosa.post(page+"/role", "role", "queen", "version", "2").has("Choose a role from the list")
	rosa.choosePassword()
	for _, wrong := range []string{"", "not the password"} {
		a := rosa.post(page+"/role", "role", "organiser", "version", "2", "current", wrong)
		require.Equal(t, http.StatusUnprocessableEntity, a.Status)
		a.has("not your password now", `value="organiser" checked`).lacks("not the password")
	}
	require.Equal(t, people, rosa.post(page+"/role", "role", "organiser", "version", "2", "current", goodPassword).Location)
	require.Equal(t, people, rosa.post(page+"/role", "role", "reader", "version", "3").Location)
	rosa.post(page+"/leave", "version", "4")
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring").Status)
	require.Equal(t, http.StatusNotFound, rosa.get(page).Status, "who has no role here is nobody here")
	require.Equal(t, http.StatusNotFound, rosa.post(page+"/role", "role", "desk", "version", "1").Status)

	own := people + "/1"
	for _, post := range [][]string{{own + "/leave"}, {own + "/role", "role", "desk"}} {
		a = rosa.post(post[0], append(post[1:], "version", "1")...)
		require.Equal(t, http.StatusConflict, a.Status)
		a.has("only organiser")
	}
	require.Equal(t, http.StatusOK, packer.get("/drives").Status)
	rosa.get(people).has(">has not chosen a password<")
	packer.get("/drives/spring/needs")
	rosa.get(people).lacks(">has not chosen a password<")
	rosa.post(people + "/3/end-sessions")
	require.Equal(t, http.StatusSeeOther, packer.get("/drives").Status, "signed out everywhere")
	require.Equal(t, http.StatusNotFound, rosa.post(people+"/2/end-sessions").Status, "only of those who work here")

	const q = `SELECT count(*) FROM audit WHERE drive_id = 'spring' AND who = 1 AND (act, kind, subject) IN (('role set', 'account', '2'), ('sessions ended', 'account', '3'))`
	var told int
	require.NoError(t, ts.DB.Pool.QueryRow(t.Context(), q).Scan(&told))
	require.Equal(t, 5, told, "each is in the trail")
	rosa.get("/drives/spring/trail").has("Sessions ended", "Role set")
}
