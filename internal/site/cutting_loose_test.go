package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
)

// Panels of a kit that was taken apart are counted, left out and taken back, and put into a kit
// by hand; what cannot be stands beside its field.
func TestLoosePanelsByHand(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead := ts.as(account.CuttingLead)
	lead.get("/drives/spring/cutting/loose").has("No panels lie loose")
	lead.post("/drives/spring/cutting/table/cut", "cut", "1 2")
	lead.follow(lead.post("/drives/spring/kits/1/apart", "why", "sorted wrongly", "good", "yes")).has("Kit 1 is taken apart")
	page := lead.get("/drives/spring/cutting/loose")
	page.has("Of kit <a", "Put a kit together by hand", "How many lie there")
	ts.as(account.Reader).get("/drives/spring/cutting/loose").has("Of kit <a").lacks("How many lie there", "Put a kit together")

	r := lead.post("/drives/spring/cutting/loose/1/lie", "sheet", "2", "role", "body", "n", "999")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Say how many lie there, 0 to").lacks("open><summary>Put a kit together")
	lead.follow(lead.post("/drives/spring/cutting/loose/1/lie", "sheet", "2", "role", "body", "n", "1")).has("Of kit 1, 1 body panel of sheet 2 lies there.")
	lead.follow(lead.post("/drives/spring/cutting/loose/1/gone")).has("left out from now on", "loose/1/back", "Left out")
	lead.follow(lead.post("/drives/spring/cutting/loose/1/back")).has("are listed again", "Of kit <a")
	require.Equal(t, http.StatusConflict, lead.post("/drives/spring/cutting/loose/1/back").Status)
	require.Equal(t, http.StatusNotFound, lead.post("/drives/spring/cutting/loose/1-2/gone").Status)

	r = lead.post("/drives/spring/cutting/loose/kit", "size", "1", "cases", "1")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Choose its fabric", `value="1"`, `href="#f-1-body"`, `id="f-1-body"`).lacks(`id="f-body"`)
	list, err := ts.Store.LoosePanels(t.Context(), "spring")
	require.NoError(t, err)
	form := []string{"size", "1", "cases", "1"}
	seen := map[string]bool{}
	for _, p := range list {
		if !seen[p.Role] {
			seen[p.Role] = true
			form = append(form, p.Role, drive.NumberID(p.Lot))
		}
	}
	lead.follow(lead.post("/drives/spring/cutting/loose/kit", form...)).has("holds 1 pillowcase of loose panels", "put together from loose panels")
}
