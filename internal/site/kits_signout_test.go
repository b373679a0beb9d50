package site

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// A sheet from a hall is typed in: all of it, or what is wrong stands at its cell
// and everything else as it was typed.
func TestSignOutSheetIsTypedIn(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	ts.addPerson("Mary Ellis")
	ts.addPerson("Bo Lund")
	ts.addKits(z, 4, 6)
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/kits/hand-out").has("Print a sign-out sheet")
	page := desk.get("/drives/spring/kits/sign-out")
	page.has("4 kits lie", `name="kit-28"`, `id="grid-said"`, `list="who-sews"`, `<option value="Bo Lund">`)
	pdf := desk.get("/drives/spring/kits/sign-out/sheet.pdf?paper=letter")
	require.Equal(t, http.StatusOK, pdf.Status)
	require.True(t, strings.HasPrefix(pdf.Body, "%PDF"))

	r := desk.post("/drives/spring/kits/sign-out")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Nothing is typed in yet")
	r = desk.post("/drives/spring/kits/sign-out", "day", "2026-03-01", "due", "2026-03-20",
		"kit-1", "1", "name-1", "mary ellis", "kit-2", "1", "name-2", "Bo Lund", "kit-3", "9", "name-3", "Nobody Known", "kit-4", "seven", "name-4", "Bo Lund",
		"name-5", "Bo Lund", "kit-6", "2", "name-6", "", "due-7", "2026-04-01", "kit-8", "3", "name-8", "Bo Lund", "due-8", "2026-02-01")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Nobody Known is not on the list", "no kit&#39;s number", "Say which kit.", "Say who took it", "Say which kit, or empty the row",
		`name="name-1" value="mary ellis"`, `value="seven"`, "everything stands as you typed it")
	r = desk.post("/drives/spring/kits/sign-out", "due", "2026-03-20", "kit-1", "1", "name-1", "mary ellis", "kit-2", "1", "name-2", "Bo Lund", "kit-3", "3", "name-3", "Bo Lund", "due-3", "2026-02-01")
	r.has("stands on row 1 too", "before 2 Mar 2026")
	r = desk.post("/drives/spring/kits/sign-out", "kit-1", "1", "name-1", "mary ellis", "kit-2", "9", "name-2", "Bo Lund")
	r.has("There is no kit 9 here")
	desk.get("/drives/spring/kits?where=here").has("4 kits")

	desk.post("/drives/spring/kits/hand-out", "person", "2", "kit", "4")
	r = desk.post("/drives/spring/kits/sign-out", "kit-1", "4", "name-1", "mary ellis", "kit-2", "2", "name-2", "Bo Lund")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Kit 4 is with Bo Lund", "Kit, row 1")
	r = desk.post("/drives/spring/kits/sign-out", "due", "2026-03-20", "kit-1", "1", "name-1", "mary ellis", "kit-2", "kit 2", "name-2", "Bo  Lund", "due-2", "30 Mar 2026")
	require.Equal(t, http.StatusSeeOther, r.Status)
	desk.follow(r).has("Handed out as on the sheet: 2 kits with 12 pillowcases", "20 Mar 2026", "30 Mar 2026", "hand-out/undo?kit=1&amp;kit=2")

	// A form that went before with other rows: the page says so, and the rows stand as they were typed.
	rows := []string{"once", "K7Q2KX5Z4M3N6B8V9C1X2Z3A4S", "kit-1", "3", "name-1", "Bo Lund"}
	desk.follow(desk.post("/drives/spring/kits/sign-out", rows...)).has("1 kit with 6 pillowcases")
	rows[5] = "mary ellis"
	r = desk.post("/drives/spring/kits/sign-out", rows...)
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("This form was sent before with other contents", `name="kit-1" value="3"`, `name="name-1" value="mary ellis"`)
}

// A hall with many rows is typed in as it was written: sheet after sheet, each row with the day
// on which its kit was taken.
func TestSignOutSheetsOfMoreThanOneDay(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	ts.addPerson("Mary Ellis")
	ts.addKits(z, 2, 6)
	ts.Clock.Pass(5 * 24 * time.Hour) // it is 7 Mar 2026
	desk := ts.as(account.Desk)
	const path = "/drives/spring/kits/sign-out"
	sheets := func(query string) int { return strings.Count(desk.get(path+"/sheet.pdf"+query).Body, "/Type /Page\n") }
	require.Equal(t, 1, sheets(""))
	require.Equal(t, 4, sheets("?free=3"))

	r := desk.post(path, "more", "yes", "kit-1", "1", "name-1", "mary ellis", "on-1", "2026-03-03")
	require.Equal(t, http.StatusOK, r.Status)
	r.has(`name="kit-42"`, `name="name-1" value="mary ellis"`, `name="on-1" value="2026-03-03"`, `name="shown" value="42"`)
	r.lacks(`name="kit-43"`)
	desk.get("/drives/spring/kits?where=here").has("2 kits")

	r = desk.post(path, "shown", "42", "day", "2026-03-05", "kit-1", "1", "name-1", "mary ellis", "on-1", "2026-03-09", "on-2", "2026-03-05")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Taken on, row 1", "Say which kit, or empty the row", `name="kit-42"`)

	r = desk.post(path, "shown", "42", "day", "2026-03-05", "due", "2026-03-20", "kit-1", "1", "name-1", "mary ellis", "on-1", "2026-03-03", "kit-42", "2", "name-42", "mary ellis")
	require.Equal(t, http.StatusSeeOther, r.Status)
	desk.follow(r)
	desk.get("/drives/spring/kits/1").has("3 Mar 2026")
	desk.get("/drives/spring/kits/2").has("5 Mar 2026")
}
