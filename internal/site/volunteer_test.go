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
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// giveKits hands kits of own fabric to somebody, due in seven days.
func (ts *testSite) giveKits(z drive.Size, person int64, kits, cases int) []drive.KitRef {
	ts.t.Helper()
	refs := ts.addKits(z, kits, cases)
	due := drive.Day(ts.Clock.Now(), time.UTC).AddDate(0, 0, 7)
	_, err := ts.Store.HandOut(ts.t.Context(), ts.act("give-"+refs[0].String()), drive.HandOut{Kits: refs, Person: person, Due: &due})
	require.NoError(ts.t, err)
	return refs
}

// personalPath makes somebody's personal link and gives the path it opens.
func (ts *testSite) personalPath(person int64, key string) string {
	ts.t.Helper()
	id, err := ts.Store.PersonLink(ts.t.Context(), ts.act("link-"+key), person, false)
	require.NoError(ts.t, err)
	return "/v/" + ts.Site.key.Sign(id)
}

func TestAVolunteerSaysHowItGoes(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	mary, bo := ts.addPerson("Mary Ellis"), ts.addPerson("Bo Lund")
	ts.giveKits(z, mary, 1, 6)
	ts.giveKits(z, bo, 1, 4)
	nobody, path := ts.nobody(), ts.personalPath(mary, "mary")

	d, err := ts.Store.Drive(t.Context(), "spring")
	require.NoError(t, err)
	d.Ask = "Rosa, 555 0100"
	_, err = ts.Store.UpdateDrive(t.Context(), ts.act("ask"), d)
	require.NoError(t, err)

	page := nobody.get(path)
	page.has("Whom to ask: Rosa, 555 0100", "Hello Mary Ellis. You have 1 kit with 6 pillowcases", "Kit 1", "by 9 Mar 2026", path+"/kits/1")
	page.lacks("Bo Lund", "Kit 2", "Mill Lane", "change drive", "sign out")
	kit := nobody.get(path + "/kits/1")
	kit.has("How does it go?", "Roll the body up", "Rotary cutter", "Count your pins", "To cut from your own fabric", "I cannot finish")

	after := nobody.follow(nobody.post(path+"/kits/1/finished", "finished", "2"))
	after.has("You said: 2 of 6 finished.", `value="2"`, "Undo what I said is finished")
	nobody.follow(nobody.post(path+"/kits/1/finished", "finished", "3")).has("You said: 3 of 6 finished.").lacks("2 of 6")
	nobody.follow(nobody.post(path+"/kits/1/longer", "until", "2026-03-20")).has("You asked for time until 20 Mar 2026.")

	desk := ts.as(account.Desk)
	for _, at := range []string{"/drives/spring/kits/1", "/drives/spring/back?kit=1"} { // her word, not all of the kit
		ts.as(account.Organiser).get(at).has(`name="sewn" type="text" value="3"`, "Mary Ellis said on 2 Mar 2026 that 3 are finished.")
	}
	desk.get("/drives/spring/kits/2").has(`name="sewn" type="text" value="4"`, "The kit holds 4.").lacks("Bo Lund said")
	desk.get("/drives/spring/needs").has("Mary Ellis asks for more time for kit 1 with 6 pillowcases.", "Mary Ellis has finished 3 pillowcases of kit 1.")
	desk.get("/drives/spring/people/1").has("needs longer for kit", `Give until <time datetime="2026-03-20">`, "has finished <b>3</b> of kit")
	desk.follow(desk.post("/drives/spring/kits/1/longer", "longer", "2026-03-20")).has("20 Mar 2026", "has finished <b>3</b>").lacks("needs longer for kit")
	nobody.get(path+"/kits/1").has("by 20 Mar 2026", "3 of 6 finished").lacks("You asked for time")

	nobody.follow(nobody.post(path+"/kits/1/cannot", "note", "My arm is <broken>")).has("You said that you cannot finish it")
	desk.get("/drives/spring/needs").has("Mary Ellis cannot finish kit 1 with 6 pillowcases.")
	answered := desk.get("/drives/spring/kits/1")
	answered.has(`value="3"`, "Mary Ellis said on 2 Mar 2026 that 3 are finished.", "cannot finish", "My arm is &lt;broken&gt;", "Dealt with")
	desk.follow(desk.post(regexp.MustCompile(`/drives/spring/kits/1/answered/\d+`).FindAllString(answered.Body, -1)[1])).lacks("cannot finish</b> kit")

	// What parts from the kit leaves what was said of it behind.
	desk.follow(desk.post("/drives/spring/kits/1/back", "sewn", "3", "rest", "stays"))
	nobody.get(path + "/kits/1").has("3 pillowcases").lacks("You said")
	require.Equal(t, http.StatusNotFound, nobody.get(path+"/kits/2").Status, "somebody else's kit")
	require.Equal(t, http.StatusNotFound, nobody.get(path+"/kits/9").Status)
}

// Whoever cannot finish a kit and does not say how far they came is no word for all of it.
func TestWhoCannotFinishSaysNoCount(t *testing.T) {
	ts := newTestSite(t)
	bo := ts.addPerson("Bo Lund")
	ts.giveKits(ts.addSize(), bo, 1, 4)
	nobody, path := ts.nobody(), ts.personalPath(bo, "bo")
	began := map[string][2]string{
		"/drives/spring/kits/1":     {`name="rest" value="stays" checked`, `name="rest" value="unsewn" checked`},
		"/drives/spring/back?kit=1": {`name="rest"`, `name="rest" value="unsewn" checked`},
	}
	for at, rest := range began {
		ts.as(account.Organiser).get(at).has(rest[0]).lacks(rest[1])
	}
	nobody.follow(nobody.post(path + "/kits/1/cannot"))
	for at, rest := range began {
		ts.as(account.Organiser).get(at).has(rest[1])
	}
	for _, at := range []string{"/drives/spring/kits/1", "/drives/spring/back?kit=1"} {
		ts.as(account.Organiser).get(at).has(`name="sewn" type="text" value=""`, "Bo Lund said on 2 Mar 2026 that they cannot finish it, and not how many are sewn.")
	}
	desk := ts.as(account.Desk)
	desk.follow(desk.post("/drives/spring/kits/1/back", "sewn", "4", "rest", "unsewn")).has("came back, 4 pillowcases") // they were finished after all
	ts.giveKits(ts.addSize(), bo, 2, 4)
	nobody.follow(nobody.post(path + "/kits/2/cannot"))
	packer := ts.as(account.Packer)
	packer.follow(packer.post("/drives/spring/back/kit", "kit", "2", "sewn", "4", "rest", "unsewn")).has("4 of kit 2 came back sewn")
}

// A day somebody asked for that nobody agreed to before it came cannot be agreed to any more.
func TestADayAskedForThatHasPassed(t *testing.T) {
	ts := newTestSite(t)
	mary := ts.addPerson("Mary Ellis")
	ts.giveKits(ts.addSize(), mary, 1, 6)
	nobody, path := ts.nobody(), ts.personalPath(mary, "mary")
	nobody.follow(nobody.post(path+"/kits/1/longer", "until", "2026-03-20"))
	desk := ts.as(account.Desk)
	ts.Clock.Pass(18 * 24 * time.Hour) // since 2 March
	desk.get("/drives/spring/people/1").has("Give until")
	ts.Clock.Pass(24 * time.Hour)
	for _, page := range []string{"/drives/spring/people/1", "/drives/spring/kits/1"} {
		desk.get(page).has("That day has passed.", `href="/drives/spring/kits/1#f-longer"`, "Leave the day as it is").lacks("Give until")
	}
	desk.get("/drives/spring/kits/1").has(`id="f-longer"`)
}

func TestWhatAVolunteerCannotSayStandsBesideItsField(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	mary, bo := ts.addPerson("Mary Ellis"), ts.addPerson("Bo Lund")
	ts.giveKits(z, mary, 1, 6)
	ts.giveKits(z, bo, 1, 4)
	nobody, path := ts.nobody(), ts.personalPath(mary, "mary")
	for _, c := range []struct{ act, field, typed, says string }{
		{"finished", "finished", "7", "The kit holds 6."},
		{"finished", "finished", "0", "1 or more"},
		{"finished", "finished", "", "1 or more"},
		{"finished", "finished", "six", "Type a whole number such as 3."},
		{"finished", "finished", "-1", "Type a whole number such as 3."},
		{"longer", "until", "", "Choose a day."},
		{"longer", "until", "2026-03-01", "still to come"},
		{"longer", "until", "2026-03-09", "Choose a day after the one agreed"},
		{"longer", "until", "2026-03-05", "Choose a day after the one agreed"},
		{"longer", "until", "2036-03-01", "within a year"},
		{"longer", "until", "soon", "Type a day such as"},
		{"cannot", "note", strings.Repeat("ä", 501), "500 characters"},
	} {
		r := nobody.post(path+"/kits/1/"+c.act, c.field, c.typed)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, "%s %q", c.act, c.typed)
		r.has("Not noted yet", c.says, c.typed)
	}
	for _, kit := range []string{"2", "7", "1-2"} {
		r := nobody.post(path+"/kits/"+kit+"/finished", "finished", "1")
		require.Equal(t, http.StatusNotFound, r.Status, "kit %s", kit)
		r.has("not with you any more").lacks("Bo Lund")
	}
	said, err := ts.Store.ReportsOf(t.Context(), "spring", 0, 0)
	require.NoError(t, err)
	require.Empty(t, said)
}

func TestWhoseLinkOpensWhat(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	mary, bo := ts.addPerson("Mary Ellis"), ts.addPerson("Bo Lund")
	ts.giveKits(z, mary, 1, 6)
	nobody, path := ts.nobody(), ts.personalPath(mary, "mary")
	require.Equal(t, path, ts.personalPath(mary, "again"), "the same link each time, so that it can be printed again")
	require.NotEqual(t, path, ts.personalPath(bo, "bo"))

	for _, wrong := range []string{"/v/", "/v/x", path + "x", strings.Replace(path, ".", "..", 1), "/v/" + strings.Repeat("a", 16) + "." + strings.Repeat("b", 26)} {
		require.Equal(t, http.StatusNotFound, nobody.get(wrong).Status, wrong)
	}
	// A personal link is not one that signs in, and the other way round.
	token := strings.TrimPrefix(path, "/v/")
	require.Equal(t, http.StatusNotFound, nobody.get("/sign-in/link/"+token).Status)
	first, err := ts.Store.FirstLink(t.Context())
	require.NoError(t, err)
	require.Equal(t, http.StatusNotFound, nobody.get("/v/"+ts.Site.key.Sign(first)).Status)

	nobody.post(path+"/kits/1/finished", "finished", "2")
	said, err := ts.Store.ReportsOf(t.Context(), "spring", mary, 0)
	require.NoError(t, err)
	report := said[drive.KitRef{Number: 1, Part: 1}][0].Report
	other := ts.personalPath(bo, "bo")
	require.Equal(t, http.StatusSeeOther, nobody.post(other+"/kits/1/take-back/"+fmt.Sprint(report)).Status)
	said, err = ts.Store.ReportsOf(t.Context(), "spring", mary, 0)
	require.NoError(t, err)
	require.Len(t, said, 1, "nobody takes back what others said")

	desk, reader := ts.as(account.Desk), ts.as(account.Reader)
	desk.get("/drives/spring/people/1").has("http://boltward.test"+path, "mailto:reach@example.org?subject=", "sms:5550101?body=")
	reader.get("/drives/spring/people/1").lacks(path)
	desk.follow(desk.post("/drives/spring/people/1/link/renew")).has("the old one does not work any more").lacks(path)
	require.Equal(t, http.StatusNotFound, nobody.get(path).Status)
	renewed := ts.personalPath(mary, "renewed")
	require.Equal(t, http.StatusOK, nobody.get(renewed).Status)
	ts.Clock.Pass(account.PersonalLinkLife + time.Hour)
	nobody.get(renewed).has("This link does not work any more")
	desk = ts.as(account.Desk)
	desk.post("/drives/spring/people/1/link/end")
	require.Equal(t, http.StatusNotFound, nobody.get(renewed).Status)

	const q = `SELECT count(*) FROM audit WHERE link = 'person 1' AND who = 0 AND act = 'holder said'`
	var n int
	require.NoError(t, ts.DB.Pool.QueryRow(t.Context(), q).Scan(&n))
	require.Equal(t, 1, n, "the trail says whose link it was")
	require.NotContains(t, ts.Log.String(), token, "no log holds a link")
}

// What is refused in one form of the page leaves the others as they were filled in.
func TestARefusedFormLeavesTheOthersFilledIn(t *testing.T) {
	ts := newTestSite(t)
	mary := ts.addPerson("Mary Ellis")
	ts.giveKits(ts.addSize(), mary, 1, 6)
	nobody, path := ts.nobody(), ts.personalPath(mary, "mary")
	nobody.follow(nobody.post(path+"/kits/1/finished", "finished", "2")).has(`value="2"`)
	r := nobody.post(path+"/kits/1/longer", "until", "2026-03-01")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has(`value="2026-03-01"`, `value="2"`)
	nobody.post(path+"/kits/1/longer", "until", "").has(`value="2"`)
	nobody.follow(nobody.post(path+"/kits/1/longer", "until", "2026-03-20"))
	nobody.post(path+"/kits/1/finished", "finished", "7").has(`value="7"`, `value="2026-03-20"`)

	desk := ts.as(account.Desk)
	r = desk.post("/drives/spring/kits/1/longer", "longer", "2026-03-01")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has(`name="sewn" type="text" value="2"`, `value="2026-03-01"`, `name="rest" value="stays" checked`)
	desk.post("/drives/spring/kits/1/longer", "longer", "soon").has(`name="sewn" type="text" value="2"`, `value="soon"`)
	desk.post("/drives/spring/kits/1/back", "sewn", "9", "rest", "unsewn").has(`value="9"`, `name="rest" value="unsewn" checked`)
}

// Who cannot finish needs no longer, and who needs longer will finish: what is said last stands, on every page. The
// day that is asked for is the one that the desk would give.
func TestNeedingLongerAndNotFinishingDoNotStandTogether(t *testing.T) {
	ts := newTestSite(t)
	mary, bo := ts.addPerson("Mary Ellis"), ts.addPerson("Bo Lund")
	ts.giveKits(ts.addSize(), mary, 1, 6)
	nobody, path, desk := ts.nobody(), ts.personalPath(mary, "mary"), ts.as(account.Desk)
	nobody.post(path+"/kits/1/finished", "finished", "2")
	nobody.post(path+"/kits/1/longer", "until", "2026-03-20")
	kit := desk.get("/drives/spring/kits/1")
	kit.has(`name="longer" type="date" value="2026-03-20"`, "due <time", "in 7 days").lacks(", due in 7 days", `<option value="`+fmt.Sprint(mary)+`"`)
	kit.has(`<option value="` + fmt.Sprint(bo) + `"`)
	nobody.follow(nobody.post(path+"/kits/1/cannot", "note", "")).has("You said that you cannot finish it", "2 of 6 finished").lacks("You asked for time")
	desk.get("/drives/spring/needs").has("cannot finish kit 1").lacks("asks for more time")
	nobody.follow(nobody.post(path+"/kits/1/longer", "until", "2026-03-21")).has("You asked for time until 21 Mar 2026").lacks("cannot finish it. Somebody")
	desk.get("/drives/spring/needs").has("asks for more time").lacks("cannot finish kit 1")
	desk.follow(desk.post("/drives/spring/kits/1/split", "split", "5", "split_to", fmt.Sprint(bo))).has("5 parted off, 1 stays with Mary Ellis")
}

// The same form sent twice is noted once, and a form without its key not at all.
func TestAReportSentTwice(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	mary := ts.addPerson("Mary Ellis")
	ts.giveKits(z, mary, 1, 6)
	nobody, path := ts.nobody(), ts.personalPath(mary, "mary")
	for range 3 {
		require.Equal(t, http.StatusSeeOther, nobody.post(path+"/kits/1/finished", "finished", "2", "once", "one-and-the-same").Status)
	}
	r := nobody.post(path+"/kits/1/finished", "finished", "4", "once", "one-and-the-same")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("This form was sent before", `value="4"`, "You said: 2 of 6 finished.").lacks("not with you any more")
	require.Equal(t, http.StatusUnprocessableEntity, nobody.post(path+"/kits/1/finished", "finished", "4", "once", "").Status)
	var n int
	require.NoError(t, ts.DB.Pool.QueryRow(t.Context(), `SELECT count(*) FROM kit_reports`).Scan(&n))
	require.Equal(t, 1, n)
	kits, err := ts.Store.Kits(t.Context(), "spring", postgres.KitsQuery{Where: postgres.KitsOut, Today: drive.Day(ts.Clock.Now(), time.UTC)})
	require.NoError(t, err)
	require.Equal(t, 6, kits.Cases, "what is said moves nothing")
}

// Whoever asks for time beyond the day on which a kit is needed is told of that day, while it can still be met.
func TestAVolunteerIsToldByWhenItIsNeeded(t *testing.T) {
	ts := newTestSite(t)
	a := wardLine(t, ts, 20)
	needed := time.Date(2026, 3, 16, 0, 0, 0, 0, time.UTC)
	a.Due = &needed
	_, err := ts.Store.UpdateAsked(t.Context(), ts.act("due"), a)
	require.NoError(t, err)
	mary, day := ts.addPerson("Mary Ellis"), time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC)
	_, err = ts.Store.MakeOwnFabricKits(t.Context(), ts.act("kit"), drive.OwnFabric{Kits: 1, Cases: 4, Size: a.Sizes[0], Asked: &a.Number, Person: &mary, Due: &day})
	require.NoError(t, err)
	nobody, path := ts.nobody(), ts.personalPath(mary, "mary")
	nobody.follow(nobody.post(path+"/kits/1/longer", "until", "2026-03-16")).has("You asked for time until 16 Mar 2026.").lacks("needed")
	nobody.follow(nobody.post(path+"/kits/1/longer", "until", "2026-03-20")).has("You asked for time until 20 Mar 2026. The kit is needed by 16 Mar 2026: bring what is finished by then, if you can.")
	nobody.get(path).has("The kit is needed by 16 Mar 2026")
	ts.Clock.Pass(20 * 24 * time.Hour)
	nobody.get(path).has("You asked for time until 20 Mar 2026.").lacks("needed")
}
