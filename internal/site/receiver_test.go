package site

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// sentToWard is delivery 1 with five pillowcases in one box, on its way to Ward 4; it gives
// the path of the ward's own page.
func (ts *testSite) sentToWard() string {
	ts.t.Helper()
	ts.stand("ward", 1, 5, 5)
	box, err := ts.Store.PackBox(ts.t.Context(), ts.act("pack"), postgres.PackedBox{
		Recipient: 1, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: 1, Size: 1, N: 5}},
		Rules: []drive.RuleKept{{Rule: "Washed hot, tumble dried", Kept: true}, {Rule: "no fragrance", Why: "aired for a week instead"}},
	})
	require.NoError(ts.t, err)
	today := drive.Day(ts.Clock.Now(), time.UTC)
	_, err = ts.Store.MakeDelivery(ts.t.Context(), ts.act("send"), postgres.Sending{Recipient: 1, Boxes: []int64{box}, SentOn: &today, CarriedBy: "Tobias"})
	require.NoError(ts.t, err)
	id, err := ts.Store.RecipientLink(ts.t.Context(), ts.act("link"), 1, false)
	require.NoError(ts.t, err)
	return ts.Site.key.ReceiverPath(id)
}

func TestAWardSaysWhatArrived(t *testing.T) {
	ts, organiser := askedSite(t)
	require.Equal(t, http.StatusSeeOther, organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "10", "matter", "must", "due", "2026-03-20").Status)
	path := ts.sentToWard()
	ward, here := ts.nobody(), path+"/deliveries/1"

	page := ward.get(path)
	page.has("Pillowcases for Ward 4", "1 delivery of", "5 on the way", "by 20 Mar 2026", here).lacks("Harbour shelter", "sign out", "Needs you")
	ward.get(here).has("5 pillowcases in 1 box left on 2 Mar 2026 with Tobias", "Box 1: 5", "Everything arrived")

	r := ward.post(here, "note", "hello")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Choose what arrived of this box.", "hello")
	r = ward.post(here, "w.1.1", "other", "n.1.1", "x", "name", "Sister Hale")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Type a whole number", `value="x"`, `value="Sister Hale"`)
	require.Equal(t, http.StatusUnprocessableEntity, ward.post(here, "w.1.1", "other").Status)
	require.Equal(t, http.StatusUnprocessableEntity, ward.post(here, "w.1.1", "all", "note", strings.Repeat("n", 40_000)).Status)
	ward.get(here).has("Everything arrived").lacks("It is noted")

	ward.follow(ward.post(here, "w.1.1", "none")).has("Our count and yours differ", "You have 0 of them")
	ward.get(path).has("where our counts differ", "See or correct")
	ward.follow(ward.post(here, "n.1.1", "4", "name", "Sister Hale", "note", "One was wet.")).has("You have 4 of them")
	packer := ts.as(account.Packer)
	packer.get("/drives/spring/deliveries/1").has("own page, Sister Hale", "One was wet.", "4 arrived, 5 were sent", "not read yet")
	require.Equal(t, http.StatusSeeOther, packer.post("/drives/spring/deliveries/1/read").Status)
	require.Equal(t, http.StatusConflict, packer.post("/drives/spring/deliveries/1/undo").Status, "somebody has answered")
	ward.follow(ward.post(here, "n.1.1", "6")).has("You have all of them, and 1 above the note.", "Our count and yours differ")
	ward.follow(ward.post(here, "all", "yes")).has("You have all of them")
	packer.get("/drives/spring/deliveries/differences").has("No counts differ")

	_, err := ts.Store.CloseDrive(t.Context(), ts.act("close"))
	require.NoError(t, err)
	ward.get(path).has("The drive has been over since", "what is begun still comes to you, and nothing new is begun.", "not sent yet.").lacks("still to come")
	for i := range 12 {
		r = ward.post(here, "w.1.1", "other", "n.1.1", fmt.Sprint(1+i%2))
	}
	require.Equal(t, http.StatusTooManyRequests, r.Status)
	r.has("many times within an hour", "by phone")
}

// What a link does not belong to is not there, whoever asks; one that was ended says so kindly.
func TestAWardsLinkOpensNothingElse(t *testing.T) {
	ts, organiser := askedSite(t)
	organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "10", "matter", "must")
	path := ts.sentToWard()
	other, err := ts.Store.RecipientLink(t.Context(), ts.act("other"), 2, false)
	require.NoError(t, err)
	nobody := ts.nobody()
	require.Equal(t, http.StatusNotFound, nobody.get(ts.Site.key.ReceiverPath(other)+"/deliveries/1").Status, "another recipient's delivery")
	require.Equal(t, http.StatusNotFound, nobody.post(ts.Site.key.ReceiverPath(other)+"/deliveries/1", "all", "yes").Status)
	require.Equal(t, http.StatusNotFound, nobody.get(path+"/deliveries/9").Status)
	require.Equal(t, http.StatusNotFound, nobody.get(path+"x").Status)
	require.Equal(t, http.StatusNotFound, nobody.get(strings.Replace(path, "/r/", "/v/", 1)).Status, "it is no volunteer's")

	packer := ts.as(account.Packer)
	packer.get("/drives/spring/recipients/1").has("Its own page", path, "mailto:")
	ts.as(account.Reader).get("/drives/spring/recipients/1").lacks(path, "/r/")
	pdf := packer.get("/drives/spring/deliveries/1/note.pdf")
	require.Equal(t, "application/pdf", pdf.Header.Get("Content-Type"))
	packer.follow(packer.post("/drives/spring/recipients/1/link/renew")).has("There is a new link").lacks(path)
	r := nobody.get(path)
	require.Equal(t, http.StatusNotFound, r.Status)
	r.has("This link does not work any more", "Ask the drive for a new one")
	packer.follow(packer.post("/drives/spring/recipients/1/link/end")).has("Make their link")
}

// A delivery of which something is open stands on the ward's page however many came after it.
func TestAWardSeesWhatIsOpenHoweverOld(t *testing.T) {
	ts, organiser := askedSite(t)
	require.Equal(t, http.StatusSeeOther, organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "60", "matter", "must", "due", "2026-03-20").Status)
	path := ts.sentToWard()
	ward := ts.nobody()
	ward.follow(ward.post(path+"/deliveries/1", "w.1.1", "none"))
	today := drive.Day(ts.Clock.Now(), time.UTC)
	ts.stand("more", 1, shownToReceiver, shownToReceiver)
	for n := range shownToReceiver {
		box, err := ts.Store.PackBox(t.Context(), ts.act(fmt.Sprint("pack", n)), postgres.PackedBox{
			Recipient: 1, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: 1, Size: 1, N: 1}},
			Rules: []drive.RuleKept{{Rule: "Washed hot, tumble dried", Kept: true}, {Rule: "no fragrance", Kept: true}},
		})
		require.NoError(t, err)
		_, err = ts.Store.MakeDelivery(t.Context(), ts.act(fmt.Sprint("send", n)), postgres.Sending{Recipient: 1, Boxes: []int64{box}, SentOn: &today})
		require.NoError(t, err)
	}
	ward.get(path).has(path+"/deliveries/1\"", "5 where our counts differ", fmt.Sprintf("%d on the way", shownToReceiver))
}
