package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// TestAskedLiving: a line is lowered with what becomes of good ones said at the field; what is finished elsewhere is
// given by hand and taken back; the page tells who changed what.
func TestAskedLiving(t *testing.T) {
	ts, organiser := askedSite(t)
	for _, form := range [][]string{{"recipient", "1", "wanted", "10", "due", "2026-04-30"}, {"recipient", "2", "wanted", "8", "due", "2026-03-20"}} {
		r := organiser.post("/drives/spring/asked/new", append(form, "sizes", "1", "matter", "should")...)
		require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	}
	ts.stand("ward", 1, 6, 6)
	same := []string{"recipient", "1", "sizes", "1", "due", "2026-04-30", "matter", "should", "version", "1", "note", "typed before"}
	r := organiser.post("/drives/spring/asked/1", append(same, "wanted", "4")...)
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("2 more are good already", `value="keep"`, `value="release"`, "typed before")
	r = organiser.post("/drives/spring/asked/1", append(same, "wanted", "4", "beyond", "release")...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	organiser.get("/drives/spring/asked/1").has("What changed", "wanted: from 10 to 4")

	page := organiser.get("/drives/spring/recipients/2")
	page.has("Finished elsewhere", "nobody&#39;s, not promised yet", "Ward 4", "30 Apr")
	ts.as(account.Reader).get("/drives/spring/recipients/2").lacks("Finished elsewhere")
	organiser.get("/drives/spring/recipients/1").lacks("Finished elsewhere")

	r = organiser.post("/drives/spring/asked/2/give", "from", "1", "size", "1", "kit", "0", "part", "0", "n", "9")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Say how many of them, 1 to 4", "Nothing has been saved", `href="#f-give2-1-1-0-0"`, `id="f-give2-1-1-0-0" name="n" inputmode="numeric" class="count" value="9" aria-invalid="true"`, "Finished elsewhere")
	r = organiser.post("/drives/spring/asked/2/give", "from", "0", "size", "1", "kit", "0", "part", "0", "n", "a few")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has(`id="f-give2-0-1-0-0" name="n" inputmode="numeric" class="count" value="a few" aria-invalid="true"`)
	r = organiser.post("/drives/spring/asked/2/give", "from", "1", "size", "1", "kit", "0", "part", "0", "n", "3")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	organiser.follow(r).has("3 pillowcases are given to this recipient", "Undo", "given to a line", "of line: from 1 to 2", `data-label="Good">3<`)
	organiser.get("/drives/spring/recipients/1").has("given from a line", "pillowcases: 3", "of line: from 1 to 2")
}

// TestGivenMeanwhile: what is given to a line that lacks nothing any more is refused on the recipient's page.
func TestGivenMeanwhile(t *testing.T) {
	ts, organiser := askedSite(t)
	r := organiser.post("/drives/spring/asked/new", "recipient", "1", "wanted", "4", "due", "2026-04-30", "sizes", "1", "matter", "should")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	ts.stand("ward", 1, 4, 4)
	ts.stand("more", 0, 2, 2)
	r = organiser.post("/drives/spring/asked/1/give", "from", "0", "size", "1", "kit", "0", "part", "0", "n", "2")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Nothing is lacking here any more", "Nothing has been saved")
	r.lacks(`href="#f-give`)
}
