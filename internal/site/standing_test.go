package site

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// TestAskedEveryMonth: a standing request is made on the form of a line, listed, changed, refused at its fields, and ended.
func TestAskedEveryMonth(t *testing.T) {
	ts, organiser := askedSite(t)
	form := []string{"recipient", "1", "sizes", "1", "wanted", "40", "matter", "must", "every", "month", "lead", "28"}
	r := organiser.post("/drives/spring/asked/new", form...)
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Say the day on which the first month", `value="40"`)
	r = organiser.post("/drives/spring/asked/new", append(form, "due", "2026-03-28", "until", "2026-03-01")...)
	r.has("That is before the first month", "28 Mar 2026")
	r = organiser.post("/drives/spring/asked/new", append(form, "due", "2026-03-28", "until", "2026-06-30")...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	organiser.follow(r).has("40 are asked for every month", "40 not planned yet")
	organiser.get("/drives/spring/asked").has("Every month", "28 Apr 2026", "30 Jun 2026")

	page := "/drives/spring/asked/every-month/1"
	organiser.get(page).has("40 a month", "End the request")
	organiser.post(page, "wanted", "0", "until", "2026-06-30", "version", "1").has("Ask for 1 to 100,000", `value="2026-06-30"`)
	require.Equal(t, http.StatusSeeOther, organiser.post(page, "wanted", "50", "until", "2026-06-30", "version", "1").Status)
	require.Equal(t, http.StatusConflict, organiser.post(page, "wanted", "60", "until", "", "version", "1").Status)

	ts.Clock.Pass(35 * 24 * time.Hour)
	made, err := ts.Store.StandingDue(t.Context())
	require.NoError(t, err)
	require.Equal(t, 1, made)
	organiser.get("/drives/spring/asked").has("90", "28 May 2026")
	require.Equal(t, http.StatusSeeOther, organiser.post(page+"/end").Status)
	organiser.get("/drives/spring/asked").lacks("Every month")
	organiser.get(page).has("This request has ended", "What changed", "asked for every month", "standing request changed", "wanted: from 40 to 50", "standing request ended")
}
