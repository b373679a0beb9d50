package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// People erase themselves with their password; organisers those who work for their drive
// alone. The last organiser stays, and the trail goes on naming a number.
func TestAccountsAreErased(t *testing.T) {
	ts := newTestSite(t)
	rosa, desk := ts.as(account.Organiser), ts.as(account.Desk)
	const people = "/drives/spring/settings/people"
	hash, err := ts.Site.hasher.Hash(goodPassword, rosa.Person.Email)
	require.NoError(t, err)
	_, err = ts.DB.Owner().Exec(t.Context(), `UPDATE accounts SET password = $2 WHERE id = $1`, rosa.Person.ID, hash)
	require.NoError(t, err)

	rosa.get("/account").has("Erase your account", "makes somebody else organiser first")
	a := rosa.post("/account/erase", "erase_current", goodPassword)
	require.Equal(t, http.StatusUnprocessableEntity, a.Status)
	a.has("Tick that you are sure", `href="#f-sure"`, `id="f-sure"`)
	a = rosa.post("/account/erase", "sure", "yes", "erase_current", "another long one")
	require.Equal(t, http.StatusUnprocessableEntity, a.Status)
	a.has("This is not your password now").lacks("another long one")
	a = rosa.post("/account/erase", "sure", "yes", "erase_current", goodPassword)
	require.Equal(t, http.StatusConflict, a.Status)
	a.has("Spring drive has no other organiser")

	rosa.get(people + "/1").has("(you)").lacks("Erase this account")
	require.Equal(t, http.StatusConflict, rosa.post(people+"/1/erase", "sure", "yes").Status)
	rosa.get(people+"/2").has("Erase this account", "Ada desk")
	require.Equal(t, http.StatusUnprocessableEntity, rosa.post(people+"/2/erase", "erase_current", goodPassword).Status)
	for _, wrong := range []string{"", "another long one"} {
		a = rosa.post(people+"/2/erase", "sure", "yes", "erase_current", wrong)
		require.Equal(t, http.StatusUnprocessableEntity, a.Status, "whoever finds a device does not know the password")
		a.has("This is not your password now", `id="f-erase_current"`, "Ada desk").lacks("another long one")
	}
	require.Equal(t, http.StatusNotFound, desk.post(people+"/1/erase", "sure", "yes").Status, "not an organiser")
	require.Equal(t, http.StatusNotFound, rosa.post(people+"/77/erase", "sure", "yes", "erase_current", goodPassword).Status)
	require.Equal(t, http.StatusSeeOther, desk.post("/drives/spring/fabric/tag", "pieces", "1", "received_on", "2026-03-01").Status)
	require.Equal(t, people, rosa.post(people+"/2/erase", "sure", "yes", "erase_current", goodPassword, "once", "erase-them-once").Location)
	require.Equal(t, people, rosa.post(people+"/2/erase", "sure", "yes", "erase_current", goodPassword, "once", "erase-them-once").Location, "the same form twice")
	require.Contains(t, ts.Log.String(), `"msg":"erased","kind":"account","drive":"spring","number":2`, "for after a backup of before is put back")
	rosa.get(people).lacks("Ada desk", desk.Person.Email)
	require.Equal(t, http.StatusSeeOther, desk.get("/drives/spring").Status, "signed out at once")
	require.Equal(t, http.StatusNotFound, rosa.get(people+"/2").Status)
	rosa.get("/drives/spring/trail").has("Account erased", "Erased account 2", "Lot tagged").lacks("Ada desk")
	rosa.get("/drives/spring/trail?by=2").has("Lot tagged")
	for _, ready := range []string{"/readyz", "/healthz"} {
		require.Equal(t, http.StatusOK, ts.nobody().get(ready).Status)
	}

	other := ts.as(account.Reader)
	rosa.choosePassword()
	require.Equal(t, people, rosa.post(people+"/3/role", "role", "organiser", "version", "1", "current", goodPassword).Location)
	a = rosa.post("/account/erase", "sure", "yes", "erase_current", goodPassword)
	require.Equal(t, "/sign-in", a.Location, a.Body)
	rosa.get("/sign-in").has("Your account is erased")
	require.Contains(t, ts.Log.String(), `"msg":"erased","kind":"account","drive":"","number":1`)
	require.Equal(t, http.StatusSeeOther, rosa.get("/account").Status)
	other.get(people).lacks(rosa.Person.Email)
}
