package site

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

var (
	passLink   = regexp.MustCompile(`http://boltward\.test(/pass/open/[a-z0-9.]+)`)
	passDigits = regexp.MustCompile(`<b>(\d{3} \d{3} \d{3})</b>`)
)

const passesPath = "/drives/spring/settings/passes"

func TestPasses(t *testing.T) {
	ts := newTestSite(t) // it is 4 in the morning of 2 March in Chicago
	rosa := ts.as(account.Organiser)
	for field, bad := range map[string]string{"role": "organiser", "place": "", "until": "3:59"} {
		fields := map[string]string{"role": "cutting", "place": "cutting table", "until": ""}
		fields[field] = bad
		a := rosa.post(passesPath, "role", fields["role"], "place", fields["place"], "until", fields["until"])
		require.Equal(t, http.StatusUnprocessableEntity, a.Status, field)
		a.has(`href="#f-` + field + `"`)
	}
	a := rosa.post(passesPath, "role", "cutting", "place", "cutting table", "once", "one-and-the-same")
	link := linkIn(t, a, passLink)
	a.has("3 Mar 2026, 00:00", `<svg class="code"`, "boltward.test/pass</kbd>")
	require.Equal(t, link, linkIn(t, rosa.post(passesPath, "role", "cutting", "place", "cutting table", "once", "one-and-the-same"), passLink), "sent again it is the same pass")
	rosa.get(passesPath).has("cutting table", "none yet").lacks(link)

	tablet := ts.nobody()
	tablet.get(link).has("cutting table", "Use this tablet")
	require.Equal(t, http.StatusSeeOther, tablet.get("/drives/spring/cutting").Status, "looking opens nothing")
	require.Equal(t, "/pass/initials?next=%2Fdrives%2Fspring", ts.nobody().post(link, "once", "the-form-of-a-tablet").Location, "an answer that got lost")
	for range 2 {
		a = tablet.post(link, "once", "the-form-of-a-tablet")
		require.Equal(t, "/pass/initials?next=%2Fdrives%2Fspring", a.Location)
	}
	require.Equal(t, http.StatusNotFound, ts.nobody().post(link).Status, "one tablet, once")
	require.Equal(t, "/pass/initials?next=%2Fdrives%2Fspring%2Fcutting", tablet.get("/drives/spring/cutting").Location, "who is there comes first")
	require.Equal(t, "/pass/initials", tablet.post("/drives/spring/plan").Location)
	for _, bad := range []string{"", "ROSAL", "r/b", "<b>"} {
		require.Equal(t, http.StatusUnprocessableEntity, tablet.post("/pass/initials", "initials", bad).Status, bad)
	}
	require.Equal(t, "/drives/spring/cutting", tablet.post("/pass/initials", "initials", " r. b. ", "next", "/drives/spring/cutting").Location)
	tablet.get("/drives/spring/cutting").has("<b>RB</b>", "cutting table").lacks(`href="/account"`)
	require.Equal(t, "/drives/spring", tablet.get("/").Location)
	require.Equal(t, http.StatusNotFound, tablet.get("/account").Status)
	require.Equal(t, http.StatusNotFound, tablet.get("/drives/spring/books").Status, "the rights are those of the role")
	require.Equal(t, http.StatusNotFound, tablet.get(passesPath).Status)

	// What is done there names pass and initials: in the trail and in the ledgers.
	desk := ts.tablet(account.Desk, "spring")
	a = desk.post("/drives/spring/fabric/tag", "donor", "Zoe", "pieces", "1", "received", "2026-03-02")
	require.Equal(t, http.StatusSeeOther, a.Status, a.Body)
	desk.post("/pass/initials", "initials", "MK", "next", "//elsewhere.example")
	desk.get("/drives/spring/needs").has("<b>MK</b>", `name="initials" value="RB"`)
	rosa.get("/drives/spring/fabric/1").has("RB (pass 2, table by the door)")
	rosa.get("/drives/spring/trail").has("RB (pass 2, table by the door)", "Lot tagged", "Pass made", "Pass opened")
	var who int64
	require.NoError(t, ts.DB.Pool.QueryRow(t.Context(), `SELECT who FROM audit WHERE act = 'lot tagged'`).Scan(&who))
	require.Less(t, who, int64(-1000), "no helper is ever taken for an account")

	// Ended by an organiser, and by the clock.
	rosa.get(passesPath).has("RB, MK")
	rosa.post(passesPath + "/2/end")
	a = desk.get("/drives/spring/needs")
	require.Equal(t, "/pass/over", a.Location)
	desk.follow(a).has("Thank you for helping")
	require.Equal(t, "/pass/over", desk.post("/drives/spring/fabric/tag").Location)
	require.Equal(t, http.StatusUnauthorized, desk.get("/drives/spring/fabric/donors.json").Status)
	require.Equal(t, http.StatusNotFound, rosa.post(passesPath+"/2/end").Status)
	require.Equal(t, http.StatusOK, tablet.get("/drives/spring/cutting").Status)
	ts.Clock.Pass(20 * time.Hour)
	require.Equal(t, "/pass/over", tablet.get("/drives/spring/cutting").Location, "it is tomorrow in Chicago")
	require.Equal(t, http.StatusOK, tablet.get("/sign-in").Status, "and a person may sign in there")
}

func TestAPassTakesSoManyInitials(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.tablet(account.Desk, "spring")
	const q = `INSERT INTO pass_hands (drive_id, pass, initials, at) SELECT 'spring', 1, 'A' || n, now() FROM generate_series(1, 48) n`
	_, err := ts.DB.Pool.Exec(t.Context(), q)
	require.NoError(t, err)
	require.Equal(t, http.StatusSeeOther, desk.post("/pass/initials", "initials", "MK").Status, "the fiftieth")
	a := desk.post("/pass/initials", "initials", "ZZ")
	require.Equal(t, http.StatusUnprocessableEntity, a.Status)
	a.has("50 people were at this tablet already")
	require.Equal(t, http.StatusSeeOther, desk.post("/pass/initials", "initials", "RB").Status, "who was there before")
	require.NotContains(t, rowsText(ts, "pass_hands"), "ZZ")
}

// A pass is for a day: it neither shows nor makes a link that works for more than a year.
func TestATabletPassesNoPersonalLinkOn(t *testing.T) {
	ts, organiser := askedSite(t)
	require.Equal(t, http.StatusSeeOther, organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "10", "matter", "must", "due", "2026-03-20").Status)
	ward := ts.sentToWard()
	mary := ts.addPerson("Mary Ellis")
	path := ts.personalPath(mary, "mary")
	desk, packing := ts.tablet(account.Desk, "spring"), ts.tablet(account.Packer, "spring")
	person, recipient := fmt.Sprintf("/drives/spring/people/%d", mary), "/drives/spring/recipients/1"
	for page, link := range map[string]string{person: path, recipient: ward, "/drives/spring/deliveries/1": ward} {
		organiser.get(page).has(link)
		require.Equal(t, http.StatusOK, packing.get(page).Status, page)
		packing.get(page).lacks(link, "/link")
	}
	desk.get(person).has("Mary Ellis").lacks(path, "/link")
	for _, act := range []string{"", "/renew", "/end"} {
		require.Equal(t, http.StatusNotFound, desk.post(person+"/link"+act).Status, act)
		require.Equal(t, http.StatusNotFound, packing.post(recipient+"/link"+act).Status, act)
	}
	require.Equal(t, http.StatusOK, ts.nobody().get(path).Status)
}

func TestPassByItsDigits(t *testing.T) {
	ts := newTestSite(t)
	rosa := ts.as(account.Organiser)
	made := func() string {
		a := rosa.post(passesPath, "role", "packing", "place", "packing table", "until", "17:30")
		a.has("2 Mar 2026, 17:30")
		return passDigits.FindStringSubmatch(a.Body)[1]
	}
	digits := made()
	require.NotContains(t, rowsText(ts, "passes"), strings.ReplaceAll(digits, " ", ""))
	tablet := ts.nobody()
	tablet.get("/pass").has("nine digits")
	for _, bad := range []string{"", "123", "123456789", digits + "1"} {
		require.Equal(t, http.StatusUnprocessableEntity, tablet.post("/pass", "code", bad).Status, bad)
	}
	for range 2 {
		require.Contains(t, tablet.post("/pass", "code", strings.ReplaceAll(digits, " ", "-"), "once", "the-form-of-a-tablet").Location, "/pass/initials")
	}
	require.Equal(t, http.StatusUnprocessableEntity, ts.nobody().post("/pass", "code", digits).Status, "one tablet")
	digits = made()
	ts.Clock.Pass(account.SpokenLife)
	require.Equal(t, http.StatusUnprocessableEntity, ts.nobody().post("/pass", "code", digits).Status, "for half an hour")
	digits = made()
	slips := ts.nobody()
	for range 5 {
		slips.post("/pass", "code", "123456789")
	}
	require.Equal(t, http.StatusUnprocessableEntity, slips.post("/pass", "code", digits).Status, "guesses are counted")
	require.Equal(t, http.StatusSeeOther, ts.nobody().post("/pass", "code", digits).Status, "the tablet beside it is not locked out")
	digits = made()
	ts.Clock.Pass(account.TryWindow)
	require.Equal(t, http.StatusSeeOther, slips.post("/pass", "code", digits).Status)

	// From many addresses, each below its own limit.
	digits = made()
	const q = `INSERT INTO sign_in_attempts (at, who, source, digits) SELECT $1, sha256(n::text::bytea), sha256(n::text::bytea), true FROM generate_series(1, 1000) n`
	_, err := ts.DB.Pool.Exec(t.Context(), q, ts.Clock.Now())
	require.NoError(t, err)
	require.Equal(t, http.StatusUnprocessableEntity, ts.nobody().post("/pass", "code", digits).Status)
	ts.Clock.Pass(account.SpokenLife)
	require.Equal(t, http.StatusSeeOther, ts.nobody().post("/pass", "code", made()).Status)

	// The tablet is given back: its session is worth nothing.
	cookie := tablet.cookies["boltward"]
	require.Equal(t, "/pass/over", tablet.post("/sign-out").Location)
	tablet.cookies["boltward"] = cookie
	require.Equal(t, http.StatusNotFound, tablet.get("/pass/initials").Status)
}
