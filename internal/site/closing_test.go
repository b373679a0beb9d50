package site

import (
	"fmt"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// An organiser closes the drive, having seen what is open, and opens it again; meanwhile whoever hands
// out or asks is told, and nothing typed is lost.
func TestTheDriveIsClosedAndOpenedAgain(t *testing.T) {
	ts := newTestSite(t)
	wardLine(t, ts, 20)
	z := ts.addSize()
	ada := ts.addPerson("Ada Quill")
	ts.giveKits(z, ada, 1, 4)
	ts.addKits(z, 1, 3)
	organiser, desk := ts.as(account.Organiser), ts.as(account.Desk)
	const page = "/drives/spring/settings/closing"
	organiser.get("/drives/spring/settings").has("Close the drive", page)
	organiser.get(page).has("What is still open", "1 kit</a>, 4 pillowcases", "1 kit</a>, 3 pillowcases, handed out to nobody", "20 pillowcases</a> of 1 line")
	require.Equal(t, http.StatusNotFound, desk.get(page).Status)
	organiser.follow(organiser.post(page+"/close")).has("The drive is closed</h1>", "Open it again", "What is still open", "Another drive with what is left", "/drives/spring/people/people.csv", "/drives/spring/fabric/shelf.csv?state=left").lacks("The drive is closed.", "This drive has been closed since") // it is said once
	desk.get("/drives/spring/kits").has("This drive has been closed since").lacks("Open it again")
	handsOut := []string{"Hand out", "Hand it out", "Kits of their own", "From their own", "Add what", "Make a plan", "Plan again"}
	for _, at := range []string{"/drives/spring/kits?where=here", "/drives/spring/kits/2", "/drives/spring/people/1", "/drives/spring/asked", "/drives/spring/recipients/1", "/drives/spring/needs", "/drives/spring/plan"} {
		organiser.get(at).lacks(handsOut...) // what would be refused is not offered
	}

	for at, offers := range map[string]string{"kits/hand-out": "Hand them out", "kits/own": "Make the kits", "kits/sign-out": "Hand them out as written", "kits/1": "Give it to", "kits/hand-out?person=1&kit=2": "Hand them out"} {
		desk.get("/drives/spring/" + at).has("This drive has been closed since").lacks(offers) // nor by its address
	}
	nobody := ts.nobody()
	nobody.post(ts.personalPath(ada, "ada")+"/kits/1/cannot", "note", "")
	desk.get("/drives/spring/needs").has("Ada Quill cannot finish kit 1", "Arrange to get them back").lacks("Find somebody else")

	r := desk.post("/drives/spring/kits/hand-out", "person", fmt.Sprint(ada), "kit", "2", "due", "2026-03-09")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("This drive has been closed since 2 Mar 2026: nothing more is planned, handed out or asked for. An organiser can open it again in the settings.", `value="2026-03-09"`)
	r = desk.post("/drives/spring/kits/sign-out", "kit-1", "2", "name-1", "Ada Quill")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("An organiser can open it again", `value="Ada Quill"`)
	r = organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "85", "matter", "must")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("An organiser can open it again", `value="85"`)
	r = organiser.post("/drives/spring/plan")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("nothing more is planned, handed out or asked for")
	desk.follow(desk.post("/drives/spring/kits/1/back", "sewn", "4", "rest", "stays")).has("came back, 4 pillowcases")

	organiser.get("/drives/spring/trail").has("Drive closed")
	organiser.follow(organiser.post(page+"/open")).has("The drive is open again.", "Close the drive")
	desk.get("/drives/spring/kits").lacks("This drive has been closed since")
	require.Equal(t, http.StatusSeeOther, desk.post("/drives/spring/kits/hand-out", "person", fmt.Sprint(ada), "kit", "2", "due", "2026-03-09").Status)
}
