package site

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/workbook"
)

func TestGridTakesATally(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/fabric/grid").has("Row 30, Note", "Length (yd)")
	var pairs []string
	for row := 1; row <= 30; row++ {
		pairs = append(pairs, fmt.Sprintf("row%d_donor", row), fmt.Sprintf("Giver %d", row%7))
	}
	pairs = append(pairs, "received_on", "2026-02-28", "row2_length", "2 1/2", "row2_width", "44", "row2_print", "F", "row2_tag", "T2", "row5_length", "2,5 m", "row5_width", `44"`, "row5_washed", "y")

	look := desk.post("/drives/spring/fabric/grid/check", pairs...)
	require.Equal(t, http.StatusOK, look.Status)
	look.has("Every row can be taken", "waits to be measured", "41 in × 2 yd 16 in", "The print is not said", `value="Giver 6"`)
	desk.get("/drives/spring/fabric").has("No fabric yet")

	r := desk.post("/drives/spring/fabric/grid", pairs...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	desk.follow(r).has("Lots 1 to 30 are taken in, in the order of the rows: 2 measured.", "30 lots")
	lot := desk.get("/drives/spring/fabric/2")
	lot.has("41 in × 2 yd 16 in", "Giver 2", "T2", "28 Feb 2026")

	// Each cell that is wrong is said at its place, and nothing is lost.
	r = desk.post("/drives/spring/fabric/grid", "row1_donor", "Pim", "row1_tag", "t2", "row2_length", "some", "row2_width", "44", "row4_pieces", "many", "row4_note", "keep this", "row9_themes", strings.Repeat("x", 300))
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("4 cells have to be put right", `id="f-row1_tag-said"`, "measured already", `id="f-row2_length-said"`, `id="f-row4_pieces-said"`, `id="f-row9_themes-said"`, `value="keep this"`, `href="#f-row2_length"`)
	desk.get("/drives/spring/fabric/31").has("no lot 31")

	r = desk.post("/drives/spring/fabric/grid")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Nothing is typed in yet")
	r = desk.post("/drives/spring/fabric/grid", "row1_donor", "Pim", "received_on", "2026-03-09")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("still to come")
	r = desk.post("/drives/spring/fabric/grid", "row1_donor", "Pim", "paste", "17\tOrla")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("not in the grid yet", "17\tOrla")
}

func TestGridTakesWhatIsPasted(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	r := desk.post("/drives/spring/fabric/grid/fill", "row2_donor", "Pim", "paste", "Given by\tYardage\tWidth\r\nOrla\t2 1/2\t44\"\r\nTomas\t\t\r\n")
	require.Equal(t, http.StatusOK, r.Status)
	r.has(`name="row1_donor" value="Orla"`, `name="row1_length" value="2 1/2"`, `name="row1_width" value="44&#34;"`, `name="row2_donor" value="Pim"`, `name="row3_donor" value="Tomas"`)
	r = desk.post("/drives/spring/fabric/grid/fill", "paste", strings.Repeat("\tOrla\n", 45))
	r.has(`name="row45_donor" value="Orla"`, `name="rows" value="45"`)
	r.lacks("row46_donor")
	r = desk.post("/drives/spring/fabric/grid/fill", "row7_donor", "Pim", "paste", strings.Repeat("\tOrla\n", 60))
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("room for 59 more rows", "\tOrla\n\tOrla", `value="Pim"`)
	r = desk.post("/drives/spring/fabric/grid/fill", "paste", "Given by\tWidth\tPrice\nOrla\t44\t3")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("no such column", "Price")
}

func TestAnythingInTheGrid(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	for _, hostile := range hostileTexts() {
		every := []string{"row1_donor", "Orla"}
		for _, col := range workbook.TallyColumns() {
			every = append(every, "row3_"+col.Field, hostile)
		}
		require.Less(t, desk.post("/drives/spring/fabric/grid", every...).Status, 500, "%q everywhere", hostile)
		for _, col := range workbook.TallyColumns() {
			if !slices.Contains(mostHostile(), hostile) {
				break
			}
			r := desk.post("/drives/spring/fabric/grid", "row1_donor", "Orla", "row3_"+col.Field, hostile)
			require.Contains(t, []int{http.StatusSeeOther, http.StatusUnprocessableEntity}, r.Status, "%s = %q: %s", col.Field, hostile, r.Body)
			r.lacks("<script>alert", `" onfocus=`)
			require.True(t, utf8.ValidString(r.Body))
		}
		for _, field := range []string{"received_on", "rows", "paste"} {
			for _, to := range []string{"", "/fill", "/check"} {
				r := desk.post("/drives/spring/fabric/grid"+to, field, hostile)
				require.Less(t, r.Status, 500, "%s%s = %q", to, field, hostile)
				r.lacks("<script>alert", `" onfocus=`)
			}
		}
	}
}

func TestTallySheetsAndTagsPrint(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.post("/drives/spring/fabric/tag", "pieces", "1", "tag", "41")
	desk.post("/drives/spring/fabric/tag", "pieces", "1", "tag", "A-99")
	desk.get("/drives/spring/fabric/paper").has(`value="42"`, "Print tally sheets")
	for _, path := range []string{"what=tally&sheets=2&paper=a4", "what=tags&from=42&count=9", "what=tally"} {
		r := desk.get("/drives/spring/fabric/paper?" + path)
		require.Equal(t, "application/pdf", r.Header.Get("Content-Type"), path)
		require.True(t, strings.HasPrefix(r.Body, "%PDF-"))
	}
	for path, says := range map[string]string{
		"what=tags&from=0": "begin at 1", "what=tags&count=401": "1 to 400 tags", "what=tags&from=x": "whole number", "what=tally&sheets=21": "1 to 20 sheets",
	} {
		r := desk.get("/drives/spring/fabric/paper?" + path)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status)
		r.has(says)
	}
	// Scanned, a tag opens its lot, or the form that tags one with it.
	require.Equal(t, "/drives/spring/fabric/1", desk.get("/l/spring/tag/41").Location)
	desk.get("/l/spring/tag/42").has(`href="/drives/spring/fabric/tag?tag=42"`)
	ts.as(account.Reader).get("/l/spring/tag/42").lacks("fabric/tag")
}
