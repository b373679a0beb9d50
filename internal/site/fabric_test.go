package site

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

func TestFabricFromTheDoorToTheShelf(t *testing.T) {
	ts := newTestSite(t)
	ts.addSize()
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/fabric").has("No fabric yet", "Tag a lot")

	r := desk.post("/drives/spring/fabric/tag", "donor", "Orla Brandtveit", "pieces", "2", "tag", "0017", "kind", "bolt end")
	require.Equal(t, "/drives/spring/fabric/tag?after=1", r.Location)
	r = desk.follow(r)
	r.has(`Pin tag <strong class="big">0017</strong>: it is lot 1, 2 pieces from Orla Brandtveit`, `value="Orla Brandtveit"`)
	r = desk.post("/drives/spring/fabric/tag", "donor", "orla brandtveit", "pieces", "1", "then", "measure")
	require.Equal(t, "/drives/spring/fabric/2/measure", r.Location)
	r = desk.post("/drives/spring/fabric/tag", "tag", "0017", "pieces", "0")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Say how many pieces", `value="0017"`)
	r = desk.post("/drives/spring/fabric/tag", "tag", "0017", "pieces", "1")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("This tag hangs on another lot already")

	desk.get("/drives/spring/fabric").has("to measure", "Measure 2 lots", "Orla Brandtveit", "0017")
	r = desk.get("/drives/spring/fabric/measure")
	require.Equal(t, "/drives/spring/fabric/1/measure", r.Location)
	desk.follow(r).has("Measure lot 1", "2 pieces counted at the door", "2 lots wait to be measured")

	fields := []string{
		"version", "1", "length", "3 yd", "width", "44", "pieces", "2", "ends", "cut", "weight", "quilting", "fibre", "cotton",
		"washed", "yes", "print", "solid", "turn", "either", "colours", "navy", "then", "next",
	}
	look := desk.post("/drives/spring/fabric/1/measure/look", fields...)
	require.Equal(t, http.StatusOK, look.Status)
	look.has("2 pieces of 41 in × 2 yd 34 in", "Alone it makes", `value="3 yd"`)
	desk.get("/drives/spring/fabric/1").has("It waits to be measured")

	r = desk.post("/drives/spring/fabric/1/measure", fields...)
	require.Equal(t, "/drives/spring/fabric/2/measure?like=1", r.Location, "save and next goes on to the next that waits")
	desk.follow(r).has("Lot 1 is measured: usable 2 pieces of 41 in × 2 yd 34 in", "/drives/spring/fabric/1/undo", "as on lot 1")

	lot := desk.get("/drives/spring/fabric/1")
	lot.has("Usable:", "41 in ×", "Alone it makes", "Piece 2", "Undo the measuring", "Squared off and trimmed", "Ada desk")
	r = desk.post("/drives/spring/fabric/1/undo")
	require.Equal(t, "/drives/spring/fabric/1/measure", r.Location)
	desk.follow(r).has(`value="3 yd"`, "The measuring of lot 1 is undone")
}

// What was counted at the door stands again when a measuring that counted otherwise is undone; the form has
// what was typed.
func TestUndoingAMeasuringLeavesWhatTheDoorCounted(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.post("/drives/spring/fabric/tag", "donor", "Orla Brandtveit", "pieces", "2")
	measure := []string{"length", "3 yd", "width", "44", "pieces", "5", "weight", "quilting", "fibre", "cotton", "print", "solid", "turn", "either"}
	desk.follow(desk.post("/drives/spring/fabric/1/measure", append(measure, "version", "1")...)).has("5 pieces, ends")
	const gave, lots = "/drives/spring/donors/1", "/drives/spring/donors"
	desk.get(gave).has("5 pieces of")
	desk.get(lots).has(`data-label="Pieces">5<`)

	undone := desk.follow(desk.post("/drives/spring/fabric/1/undo"))
	undone.has("2 pieces counted at the door", `name="pieces" type="text" value="5"`, `value="3 yd"`)
	desk.get("/drives/spring/fabric/1").has("<dt>Counted at the door</dt><dd>2 pieces</dd>", "quilting cotton").lacks("not looked at yet")
	desk.get(gave).has("2 pieces of quilting cotton").lacks("3 yd")
	desk.get(lots).has(`data-label="Pieces">2<`)

	desk.follow(desk.post("/drives/spring/fabric/1/measure", append(measure, "version", undone.hidden("version"))...)).has("5 pieces, ends")
	desk.get(gave).has("5 pieces of")
	desk.post("/drives/spring/fabric/1/undo")
	desk.get("/drives/spring/fabric/1").has("<dt>Counted at the door</dt><dd>2 pieces</dd>")
}

func TestMeasureFormRefuses(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.post("/drives/spring/fabric/tag", "pieces", "1")
	good := map[string]string{"version": "1", "length": "3 yd", "width": "44", "pieces": "1", "weight": "quilting", "fibre": "cotton", "print": "solid", "turn": "either"}
	for _, tt := range []struct{ field, typed, says string }{
		{"length", "4000 m", "longer than any bolt"},
		{"length", "", "Give the length"},
		{"length", "-2", "less than nothing"},
		{"length", "some", "some"},
		{"length", "18 x 22 in", "The length gives both sides already"},
		{"width", "44 yd", "wider than any cloth"},
		{"width", "", "Give the width"},
		{"pieces", "many", "whole number"},
		{"fibre", "wood", "Choose the fibre"},
		{"flaws", "a stain", "from where to where"},
		{"flaws", "400 to 410 in", "beyond the end"},
		{"border_depth", "9", "which selvedge"},
		{"themes", strings.Repeat("x", 300), "a word or two"},
		{"length2", "4000 m", "longer than any bolt"},
	} {
		var pairs []string
		for name, value := range good {
			if name != tt.field {
				pairs = append(pairs, name, value)
			}
		}
		r := desk.post("/drives/spring/fabric/1/measure", append(pairs, tt.field, tt.typed)...)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, "%s = %q", tt.field, tt.typed)
		r.has(tt.says)
	}
	var pairs []string
	for name, value := range good {
		if name != "version" {
			pairs = append(pairs, name, value)
		}
	}
	require.Equal(t, http.StatusConflict, desk.post("/drives/spring/fabric/1/measure", append(pairs, "version", "7")...).Status, "somebody changed the lot meanwhile")
	desk.get("/drives/spring/fabric/1").lacks("Squared off")
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring/fabric/99").Status)
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring/fabric/x").Status)
}

func TestLotSetAsideAndChanged(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.post("/drives/spring/fabric/tag", "pieces", "1", "donor", "Orla")
	r := desk.post("/drives/spring/fabric/1/aside", "set_aside", " ")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Say why it is set aside")
	r = desk.post("/drives/spring/fabric/1/aside", "set_aside", "smells of smoke")
	desk.follow(r).has("set aside: smells of smoke", "/drives/spring/fabric/1/back")
	desk.follow(desk.post("/drives/spring/fabric/1/back")).lacks("set aside: smells of smoke")

	r = desk.post("/drives/spring/fabric/1/change", "version", "3", "donor", "Pim", "shelf", "B2", "turn", "either")
	desk.follow(r).has("Pim", "B2")
	r = desk.post("/drives/spring/fabric/1/change", "version", "3", "donor", "Pim", "shelf", "C1", "turn", "either")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Somebody else changed this", "B2", "C1")

	reader := ts.as(account.Reader)
	reader.get("/drives/spring/fabric/1").has("Lot 1")
	reader.get("/drives/spring/fabric/1").lacks("Set it aside", "Measure it")
}
