package site

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
)

func TestRemindingByHand(t *testing.T) {
	ts := newTestSite(t)
	z, mary := ts.addSize(), ts.addPerson("Mary Ellis")
	ts.giveKits(z, mary, 2, 4)
	organiser, desk, cutting := ts.as(account.Organiser), ts.as(account.Desk), ts.as("cutting")
	organiser.get("/drives/spring/people/reminders").has("Nobody is reminded by rule", "When to remind")
	desk.get("/drives/spring/people/reminders").has("Nobody is reminded by rule").lacks("/reminders/rules")

	rules := "/drives/spring/people/reminders/rules"
	version := organiser.get(rules).hidden("version")
	r := organiser.post(rules, "version", version, "on", "yes", "soon", "99", "late", "two", "silent", "28", "reply", "nowhere")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Type a whole number", `value="two"`, `value="nowhere"`)
	r = organiser.post(rules, "version", version, "on", "yes", "soon", "99", "late", "2", "silent", "28", "reply", "nowhere", "quiet", "0", "quiet", "1", "quiet", "2", "quiet", "3", "quiet", "4", "quiet", "5", "quiet", "6")
	r.has("Give 1 to 60 days", "An e-mail address looks like", "Leave at least one day")
	organiser.follow(organiser.post(rules, "version", version, "on", "yes", "soon", "3", "late", "2", "silent", "28", "from", "Rosa", "quiet", "0")).has("reminded so from now on")
	r = organiser.post(rules, "version", version, "on", "yes", "soon", "5", "late", "2", "silent", "28")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Somebody else changed this", "Days before", "Quiet days", "Sunday")

	page := desk.follow(desk.post("/drives/spring/people/reminders/look"))
	page.has("Nobody else is to be reminded today.")
	ts.Clock.Pass(9 * 24 * time.Hour) // a Wednesday, two days after the kits were due
	page = desk.follow(desk.post("/drives/spring/people/reminders/look"))
	page.has("1 reminder made", "Mary Ellis", "late: kit", "mailto:reach@example.org?subject=", "sms:5550101?body=", "Rosa", "No reminders any more: http://boltward.test/v/")
	page.lacks("Send by e-mail")
	cutting.get("/drives/spring/people/reminders").has("Hello Mary Ellis", "How to reach them is not shown to you", "Note here whom you met and reminded.").lacks("Send it your own way", "reach@example.org", "5550101")
	require.Equal(t, http.StatusConflict, desk.post("/drives/spring/people/reminders/send", "reminder", "1").Status, "no mail server is set")

	desk.follow(desk.post("/drives/spring/people/reminders/told/1", "way", "phone")).has("Noted: reminded by phone.", "sent by phone")
	desk.get("/drives/spring/people/1").has(`<span>reminded by phone</span></td><td data-label="Kit"><a href="/drives/spring/kits/2">2</a>`, "got 4 pillowcases")
	r = desk.post("/drives/spring/people/reminders/drop/1")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("does not wait any more")
	require.Equal(t, http.StatusUnprocessableEntity, desk.post("/drives/spring/people/reminders/told/1", "way", "pigeon").Status)

	// Who wants none gets none, by their own page or by somebody who was told.
	nobody, path := ts.nobody(), ts.personalPath(mary, "mary")
	nobody.get(path+"/reminders").has("at most once a week", "Send me no reminders")
	nobody.follow(nobody.post(path+"/reminders", "wanted", "no")).has("You get no reminders.")
	ts.Clock.Pass(7 * 24 * time.Hour)
	desk.follow(desk.post("/drives/spring/people/reminders/look")).has("Nobody else is to be reminded today.")
	desk.get("/drives/spring/people/1").has("They get no reminders.")
	desk.follow(desk.post("/drives/spring/people/1/reminders", "wanted", "yes")).has("They want no reminders")
	desk.follow(desk.post("/drives/spring/people/reminders/look")).has("1 reminder made")
}

func TestRemindingByTheProgram(t *testing.T) {
	ts := newTestSite(t)
	ts.Site.mails = true
	z, mary, bo := ts.addSize(), ts.addPerson("Mary Ellis"), ts.addPerson("Bo Lund")
	ts.giveKits(z, mary, 1, 4)
	ts.giveKits(z, bo, 2, 3)
	rules := drive.UsualReminderRules()
	rules.On, rules.Quiet = true, nil
	_, err := ts.Store.UpdateReminderRules(t.Context(), ts.act("rules"), rules)
	require.NoError(t, err)
	ts.Clock.Pass(9 * 24 * time.Hour)
	desk := ts.as(account.Desk)
	desk.follow(desk.post("/drives/spring/people/reminders/look")).has("Send all 2 by e-mail")
	desk.follow(desk.post("/drives/spring/people/reminders/send", "reminder", "1", "reminder", "2", "reminder", "77")).
		has("2 reminders go out: 2 of 3", "goes out now")
	out, err := ts.Store.BeginReminder(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, "reach@example.org", out.Email)
	require.NoError(t, ts.Store.EndReminder(t.Context(), "spring", 1, drive.ReminderFailed, "550 no such box"))
	out, err = ts.Store.BeginReminder(t.Context(), "spring", 2)
	require.NoError(t, err)
	require.NotNil(t, out)
	require.NoError(t, ts.Store.EndReminder(t.Context(), "spring", 2, drive.ReminderPerhaps, "the mail server did not answer in time"))
	desk.get("/drives/spring/people/reminders").has("not sent: 550 no such box", "perhaps sent: the mail server did not answer in time", "Ask before you send it again", "Send again")
	desk.follow(desk.post("/drives/spring/people/reminders/send", "reminder", "2")).has("1 reminder goes out.")
}
