package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// How long what is kept is said in months, each by itself; what would go is shown before.
func TestHowLongWhatIsKept(t *testing.T) {
	ts := newTestSite(t)
	rosa := ts.as(account.Organiser)
	const page = "/drives/spring/settings/keeping"
	_, err := ts.DB.Owner().Exec(t.Context(), `
		INSERT INTO lots (drive_id, number, received_on, set_aside, note, created_at) VALUES ('spring', 900, '2020-01-02', 'mildew', 'Otter wants the box back', '2020-01-02');
		INSERT INTO laundry (drive_id, number, started_on, started_by, done_on, done_by, at, who) VALUES ('spring', 900, '2020-01-02', 'OT', '2020-01-02', 'OT', '2020-01-02', 1)`)
	require.NoError(t, err)
	const laundry = "/drives/spring/back/laundry"
	rosa.get(laundry).has("</time>, OT<")
	rosa.get(page).has("Initials of helpers", "Photos and notes of cloth and kits", "Nothing is past its time")
	a := rosa.post(page, "initials", "0", "things", "900", "version", "0")
	require.Equal(t, http.StatusUnprocessableEntity, a.Status)
	a.has("Give months, 1 to 240", `href="#f-initials"`, `href="#f-things"`)
	rosa.post(page, "initials", "12", "things", "12", "version", "0", "look", "yes").
		has("Nothing of this is saved yet", "Initials beside 1 thing done until", "Photos and notes of 1 lot, kit or sheet done with until")
	rosa.get(page).has("Nothing is past its time")
	require.Equal(t, page, rosa.post(page, "initials", "12", "things", "14", "version", "0").Location)
	rosa.get(page).has(`value="12"`, `value="14"`, "Initials beside 1 thing", "Photos and notes of 1 lot")
	n, err := ts.Store.ForgetPast(t.Context())
	require.NoError(t, err)
	require.Equal(t, 2, n)
	rosa.get(page).has("Nothing is past its time")
	rosa.get(laundry).has(">2 Jan 2020</time><").lacks("OT<")
	rosa.get("/drives/spring/fabric/900").lacks("Otter")
	rosa.get("/drives/spring/trail").has("Initials forgotten", "Photos and notes forgotten")
	a = rosa.post(page, "initials", "3", "version", "0")
	require.Equal(t, http.StatusConflict, a.Status)
	a.has("Somebody else changed this", "Photos and notes")
}
