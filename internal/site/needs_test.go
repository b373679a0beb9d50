package site

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
)

func TestNeeds(t *testing.T) {
	ts, organiser := askedSite(t)
	for _, recipient := range []string{"1", "2"} {
		r := organiser.post("/drives/spring/asked/new", "recipient", recipient, "sizes", "1", "wanted", "10", "matter", "should", "due", "2026-03-0"+map[string]string{"1": "4", "2": "8"}[recipient])
		require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	}
	ts.stand("ward", 1, 4, 3)
	ada, err := ts.Store.CreatePerson(t.Context(), ts.act("ada"), drive.Person{Kind: drive.PersonVolunteer, Name: "Ada Field", Heads: 1, Active: true}, nil)
	require.NoError(t, err)
	due := time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC)
	_, err = ts.Store.MakeOwnFabricKits(t.Context(), ts.act("kits"), drive.OwnFabric{Kits: 7, Cases: 2, Size: 1, Person: &ada.Number, Due: &due})
	require.NoError(t, err)

	ts.Clock.Pass(3 * 24 * time.Hour)
	page := organiser.get("/drives/spring/needs")
	page.has("Next: Fabric", "Late or short", "Ward 4 asked for 10 by 4 Mar: 3 good, 1 to check or mend, 6 missing.", "1 day late",
		"Ada Field has 7 kits with 14 pillowcases that were due: kits 1, 2, 3, 4, 5 and 2 more.", "2 days late",
		"This week", "Harbour shelter asked for 10 by 8 Mar: 10 missing.", "due in 3 days",
		"Waiting", "1 pillowcase came back and waits to be checked.", "3 pillowcases are good and not packed yet.",
		"16 pillowcases that were asked for are in no plan yet.")

	desk := ts.as(account.Desk).get("/drives/spring/needs")
	desk.has("Ada Field has 7 kits")
	desk.lacks("not packed yet", "to be checked.")
}

func TestALateKitIsNamed(t *testing.T) {
	due := time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	late := drive.Need{Kind: drive.NeedKitsLate, Name: "Ada Field", N: 1, Cases: 4, Day: &due, Kits: []drive.KitRef{{Number: 14, Part: 1}}}
	_, row := newNeedRow("spring", late, due.AddDate(0, 0, 1))
	require.Equal(t, "Ada Field has kit 14 with 4 pillowcases, due on 4 Mar.", row.Text)
}

// Whoever is asked about a late kit says that it comes, that they need longer or that it is lost: the page that
// the need leads to leads to where each of these is noted, reminders or not.
func TestWhatALateVolunteerSaysIsNoted(t *testing.T) {
	ts := newTestSite(t)
	mary := ts.addPerson("Mary Ellis")
	ts.giveKits(ts.addSize(), mary, 2, 6)
	ts.Clock.Pass(9 * 24 * time.Hour)
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/needs").has(`href="/drives/spring/people/1">Ask, then note it</a>`)
	desk.get("/drives/spring/people/1").has("reach@example.org",
		`<a href="/drives/spring/kits/1">Note what they say`, `<a href="/drives/spring/kits/2">Note what they say`)
	desk.get("/drives/spring/kits/2").has("Take it back", "Mary Ellis needs longer", "It is lost")
	ts.as(account.Reader).get("/drives/spring/people/1").has("What they have").lacks("Note what they say")
	// Who sees no telephone number is not told to ask.
	for role, act := range map[account.Role]string{account.CuttingLead: "Tell an organiser, or note what you hear", account.Reader: "Tell an organiser"} {
		ts.as(role).get("/drives/spring/needs").has(`href="/drives/spring/people/1">` + act + `</a>`).lacks("Ask, then note it")
		ts.as(role).get("/drives/spring/people/1").has("not shown to you: an organiser, the desk and whoever packs see it").lacks("reach@example.org")
	}
	ts.tablet(account.CuttingLead, "spring").get("/drives/spring/needs").has("Tell an organiser, or note what you hear")
	desk.get("/drives/spring/people/1").lacks("not shown to you")
}

func TestNothingNeedsYou(t *testing.T) {
	ts, organiser := askedSite(t)
	page := organiser.get("/drives/spring/needs")
	page.has("Four first steps")
	page.lacks("Nothing needs you")
	_, err := ts.DB.Pool.Exec(t.Context(), `INSERT INTO lots (drive_id, number, received_on, created_at, set_aside) VALUES ('spring', 1, '2026-03-01', now(), 'smell')`)
	require.NoError(t, err)
	organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "1", "matter", "must")
	organiser.post("/drives/spring/asked/1/close")
	organiser.get("/drives/spring/needs").has("Nothing needs you")
}

func TestManyNeedsAreShownInTurn(t *testing.T) {
	ts, organiser := askedSite(t)
	for i := range rowsOfNeeds + 3 {
		due := drive.Day(ts.Clock.Now(), time.UTC).AddDate(0, 0, 1+i%3)
		_, err := ts.Store.CreateAsked(t.Context(), ts.act(fmt.Sprintf("line-%d", i)),
			drive.Asked{Recipient: 1, Sizes: []int64{1}, Wanted: 100 + i, Due: &due, Matter: drive.MatterMust})
		require.NoError(t, err)
	}
	page := organiser.get("/drives/spring/needs")
	page.has("And 3 more, once these are done.", "due tomorrow")
	require.Equal(t, rowsOfNeeds, strings.Count(page.Body, "Ward 4 asked for"))
	require.Equal(t, 1, strings.Count(page.Body, `<a class="button"`))
}

// Every need has words and leads to a page of the drive: one that is in the
// navigation, or a recipient's.
func TestEveryNeedLeadsSomewhere(t *testing.T) {
	ts := newTestSite(t)
	day := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for _, kind := range drive.NeedKinds() {
		area, row := newNeedRow("spring", drive.Need{Kind: kind, Number: 1, Name: "Ward 4", N: 1, Cases: 1, Day: &day, Days: 1}, day)
		require.NotEmpty(t, row.Text, "%s", kind)
		require.NotEmpty(t, row.Act, "%s", kind)
		require.True(t, account.Organiser.Allows(area) >= account.Read, "%s belongs to an area", kind)
		address, _, _ := strings.Cut(row.Path, "#")
		address, _, _ = strings.Cut(address, "?")
		stem, _, number := strings.Cut(strings.TrimPrefix(address, "/drives/spring/"), "/")
		known := stem == "recipients" || slices.ContainsFunc(navigation(), func(p struct{ stem, label string }) bool { return p.stem == stem })
		require.True(t, known, "%s leads to %s", kind, row.Path)
		if _, here := ts.Site.needOf("/drives/:drive/" + stem); !here && stem != "recipients" {
			continue // the navigation does not show it either
		}
		listed := slices.ContainsFunc(ts.Site.routes, func(r route) bool {
			rest := strings.Replace(r.path, ":drive", "spring", 1)
			if at := strings.LastIndex(rest, "/:"); number && at > 0 {
				rest = rest[:at] + "/1"
			}
			return r.method == http.MethodGet && rest == address
		})
		require.True(t, listed, "%s leads to %s, which routes.go does not list", kind, row.Path)
	}
}
