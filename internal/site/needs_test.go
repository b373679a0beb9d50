package site

import (
	"net/http"
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
		"Ada Field has 7 kits with 14 pillowcases that were due: 1, 2, 3, 4, 5 and 2 more.", "2 days late",
		"This week", "Harbour shelter asked for 10 by 8 Mar: 10 missing.", "due in 3 days",
		"Waiting", "1 pillowcase came back and waits to be checked.", "3 pillowcases are good and not packed yet.",
		"16 pillowcases that were asked for are in no plan yet.")

	desk := ts.as(account.Desk).get("/drives/spring/needs")
	desk.has("Ada Field has 7 kits")
	desk.lacks("not packed yet", "to be checked.")
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
