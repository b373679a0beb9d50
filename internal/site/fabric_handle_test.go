package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// measuredLot tags and measures lot 1: one piece of 41 × 106 in usable.
func measuredLot(c *client, washed string) {
	c.post("/drives/spring/fabric/tag", "pieces", "1", "donor", "Orla")
	c.post("/drives/spring/fabric/1/measure", "version", "1", "length", "3 yd", "width", "44", "pieces", "1", "ends", "cut", "weight", "quilting",
		"fibre", "cotton", "washed", washed, "print", "solid", "turn", "either", "colours", "navy", "then", "lot")
}

func TestClothIsHandledAndUndone(t *testing.T) {
	ts := newTestSite(t)
	ts.addSize()
	desk := ts.as(account.Desk)
	measuredLot(desk, "yes")
	desk.get("/drives/spring/fabric/1").has("/drives/spring/fabric/1/pieces/1", "Open a piece")
	desk.get("/drives/spring/fabric/1/pieces/1").has("Piece 1/1", "pieces/1/count", "pieces/1/part", "pieces/1/give", "pieces/1/remnant", "Where all of it is")
	for _, act := range []string{"count", "part", "give", "discard", "square", "remnant"} {
		require.Equal(t, http.StatusOK, desk.get("/drives/spring/fabric/1/pieces/1/"+act).Status, act)
	}
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring/fabric/1/pieces/1/melt").Status)
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring/fabric/1/pieces/9").Status)

	r := desk.post("/drives/spring/fabric/1/pieces/1/part", "how", "flaw", "flaws", "30 to 34 in across")
	require.Equal(t, "/drives/spring/fabric/1", r.Location)
	desk.follow(r).has("Piece 1/1 is parted. New: 1/2.", "Which piece came from which", "from 1/1,", "deeds/1/undo", "flaw from 30 in to 34 in across")
	desk.get("/drives/spring/fabric/1/pieces/2").has("parted from", "flaw part")
	r = desk.post("/drives/spring/fabric/1/pieces/2/give", "length", "1/2 yd", "reason", "")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Say to whom it goes", `value="1/2 yd"`)
	desk.follow(desk.post("/drives/spring/fabric/1/pieces/2/give", "length", "1/2 yd", "reason", "to the guild")).has("given away in part", "to the guild")
	desk.post("/drives/spring/fabric/1/pieces/2/count", "length", "36", "reason", "counted again").has("36 yd is far more than the", "So much lies there", `value="36"`)
	desk.follow(desk.post("/drives/spring/fabric/1/pieces/2/count", "length", "1 yd", "reason", "counted again")).has("counted anew", "Recounted, less than was booked")
	r = desk.post("/drives/spring/fabric/1/deeds/1/undo")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Piece 1/2 was recounted", "Undo that first")
	for _, deed := range []string{"3", "2", "1"} {
		desk.follow(desk.post("/drives/spring/fabric/1/deeds/" + deed + "/undo")).has("Undone.")
	}
	counted := []string{"length", "6", "reason", "counted again"}
	desk.post("/drives/spring/fabric/1/pieces/1/count", counted...).has("6 yd is far more than the 2 yd 34 in that are booked of piece 1/1", `name="sure"`)
	desk.follow(desk.post("/drives/spring/fabric/1/pieces/1/count", append(counted, "sure", "yes")...)).has("counted anew", "41 in × 6 yd")
	desk.follow(desk.post("/drives/spring/fabric/1/deeds/7/undo")).has("Undone.")
	lot := desk.get("/drives/spring/fabric/1")
	lot.has("41 in × 2 yd 34 in", "undone since")
	lot.lacks("Which piece came from which")
	ts.as(account.Reader).get("/drives/spring/fabric/1/pieces/1").lacks("What happened to it")
}

func TestTwoBookOneLot(t *testing.T) {
	ts := newTestSite(t)
	desk, other := ts.as(account.Desk), ts.as(account.Organiser)
	measuredLot(desk, "yes")
	seen := desk.get("/drives/spring/fabric/1/pieces/1/count").hidden("seen")
	require.NotEmpty(t, seen)
	other.post("/drives/spring/fabric/1/pieces/1/give", "seen", seen, "length", "1 yd", "reason", "to the guild")
	r := desk.post("/drives/spring/fabric/1/pieces/1/count", "seen", seen, "length", "2 yd 3 in", "reason", "measured wrongly")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Somebody else booked cloth of lot 1", "Given away: 41 in × 1 yd (to the guild)", `value="2 yd 3 in"`, `value="measured wrongly"`)
	r = desk.post("/drives/spring/fabric/1/pieces/1/count", "seen", r.hidden("seen"), "length", "2 yd", "reason", "measured wrongly")
	desk.follow(r).has("counted anew")
}

func TestWashOnItsPage(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	measuredLot(desk, "")
	desk.get("/drives/spring/fabric/1").has("It was washed")
	r := desk.get("/drives/spring/fabric/1/wash")
	r.has("1 piece of 41 in × 2 yd 34 in")
	require.Equal(t, "1", r.hidden("pieces1"))
	r = desk.post("/drives/spring/fabric/1/wash", "seen", r.hidden("seen"), "pieces1", "1", "length1", "4 yd", "width1", "40")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("cloth does not grow in it", `value="4 yd"`)
	desk.post("/drives/spring/fabric/1/wash", "seen", r.hidden("seen"), "length1", "103 in", "width1", "40").has("did not arrive whole")
	for _, pieces := range []string{"1,x", "1,", ""} {
		desk.post("/drives/spring/fabric/1/wash", "seen", r.hidden("seen"), "pieces1", pieces, "length1", "103 in", "width1", "40").has("did not arrive whole")
	}
	desk.follow(desk.post("/drives/spring/fabric/1/wash", "seen", r.hidden("seen"), "pieces1", "1", "length1", "103 in", "width1", "40")).has("Lot 1 is washed", "Lost in the wash")
	desk.get("/drives/spring/fabric/1/pieces/2").has("40 in × 2 yd 31 in free")
	desk.get("/drives/spring/fabric/1/wash").has("What washing taught so far", "2.83 %", "2.44 %")

	// A drive that cuts larger is offered what it learned.
	organiser := ts.as(account.Organiser)
	organiser.get("/drives/spring/sizes/new").lacks("Your own quilting cotton")
	form := organiser.get("/drives/spring/settings")
	organiser.post("/drives/spring/settings", "version", form.hidden("version"), "name", "Spring", "zone", "Europe/Dublin", "unit", "in", "washing", "cut larger",
		"kit_cases", "4", "spare_share", "0", "keep_width", "9", "keep_length", "18")
	organiser.get("/drives/spring/sizes/new").has("Your own quilting cotton shrank by 2.83, 2.44 (1 lot).")
}
