package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// shelfOf tags and measures lots of one piece each, 41 × 106 in usable, tags T1, T2 and on.
func shelfOf(c *client, tags ...string) {
	for i, tag := range tags {
		lot := string(rune('1' + i))
		c.post("/drives/spring/fabric/tag", "pieces", "1", "tag", tag, "shelf", "A"+lot)
		c.post("/drives/spring/fabric/"+lot+"/measure", "version", "1", "length", "3 yd", "width", "44", "pieces", "1", "ends", "cut", "weight", "quilting",
			"fibre", "cotton", "washed", "yes", "print", "solid", "turn", "either", "colours", "navy", "then", "lot")
	}
}

func TestStocktakeByItsPages(t *testing.T) {
	ts := newTestSite(t)
	desk, other := ts.as(account.Desk), ts.as(account.Organiser)
	shelfOf(desk, "T1", "T2", "T3", "T4")
	desk.get("/drives/spring/fabric").has("/drives/spring/fabric/stocktakes")
	desk.get("/drives/spring/fabric/stocktakes").has("Begin a stocktake", "every shelf")
	r := desk.post("/drives/spring/fabric/stocktakes", "shelf", "")
	const take = "/drives/spring/fabric/stocktakes/1"
	require.Equal(t, take, r.Location)
	desk.follow(r).has("<b>4</b> to go", "Not scanned yet", `name="code"`)
	r = other.post("/drives/spring/fabric/stocktakes", "shelf", "")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Go on with stocktake 1")

	// Whatever a label holds or a person types leads to the lot.
	for code, lot := range map[string]string{"T1": "1", "t2": "2", "3": "3", "3/1": "3", "http://127.0.0.1:8080/l/spring/lot/4": "4", "https://x.example/l/spring/piece/4-1": "4"} {
		require.Equal(t, take+"/"+lot, desk.get(take+filtered("code", code)).Location, code)
	}
	for _, code := range []string{"T9", "99", "http://x/l/other/lot/4", "../../4"} {
		r := desk.get(take + filtered("code", code))
		require.Equal(t, http.StatusNotFound, r.Status, code)
		r.has("No lot here has this label")
	}

	// As booked, by Enter alone; scanning the next label does the same and goes on.
	desk.get(take+"/1").has("Booked: 41 in × 2 yd 34 in", `name="length1"`, "autofocus")
	r = desk.post(take+"/1", "version", "0", "length1", "")
	desk.follow(r).has("Lot 1 is as booked", "<b>3</b> to go")
	r = desk.post(take+"/2", "version", "0", "length1", "http://127.0.0.1:8080/l/spring/lot/3")
	require.Equal(t, take+filtered("code", "http://127.0.0.1:8080/l/spring/lot/3"), r.Location)
	require.Equal(t, take+"/3", desk.follow(r).Location)
	r = desk.post(take+"/3", "version", "0", "length1", "4000 m")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("longer than any bolt", `value="4000 m"`)
	r = desk.post(take+"/3", "version", "0", "length1", "22 1/2 yd")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status, "a digit too many is asked about")
	r.has("22 1/2 yd is far more than the 2 yd 34 in that are booked of piece 3/1", "So much lies there", "Tick it where the tape says so", `value="22 1/2 yd"`)
	desk.get(take+"/3").lacks("So much lies there", "Counted already")
	desk.follow(desk.post(take+"/3", "version", "0", "length1", "22 1/2 yd", "sure", "yes")).has("Lot 3 differs", ">22 1/2 yd<")
	desk.post(take + "/3/forget")
	r = desk.post(take+"/3", "version", "0", "length1", "2 1/2 yd")
	desk.follow(r).has("Lot 3 differs", "What differs", ">2 1/2 yd<", "16 in less")

	// What is not measured yet is only seen.
	desk.post("/drives/spring/fabric/tag", "pieces", "2", "tag", "T5")
	desk.get(take+"/5").has("It waits to be measured", `name="next"`)
	require.Equal(t, take+filtered("code", "T4"), desk.post(take+"/5", "version", "0", "next", "T4").Location)

	// Two people: the second is told, and keeps what was typed.
	r = other.post(take+"/3", "version", "0", "length1", "2 yd")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Counted meanwhile by Ada desk", "What you typed still stands below", "3/1: 2 1/2 yd, booked 2 yd 34 in", `value="2 yd"`)
	other.follow(other.post(take+"/3", "version", r.hidden("version"), "length1", "2 yd")).has("34 in less")

	r = desk.post(take+"/post", "reason", "")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Say why the books differ")
	desk.follow(desk.post(take+"/4", "version", "0", "gone", "yes")).has("Lot 4 differs")
	desk.follow(desk.post(take+"/4/forget")).has("Lot 4 is to be counted again", "<b>1</b> to go")
	desk.post(take+"/4", "version", "0", "gone", "yes")
	r = desk.post(take+"/post", "reason", "counted, nobody knows")
	desk.follow(r).has("5 lots counted, 2 differences booked", "Posted", "counted, nobody knows")
	desk.get("/drives/spring/fabric/3").has("41 in × 2 yd", "stocktake 1: counted, nobody knows")
	desk.get("/drives/spring/fabric/4").has("used up")
	r = desk.post(take+"/1", "version", "1", "length1", "")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("posted already")
	ts.as(account.Reader).get(take).has("Posted")
	desk.post("/drives/spring/fabric/stocktakes", "shelf", "A1")
	desk.follow(desk.post("/drives/spring/fabric/stocktakes/2/drop")).has("given up")
}

func TestSuppliesByTheirPages(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/fabric/supplies").has("No supplies yet")
	r := desk.post("/drives/spring/fabric/supplies/new", "name", "", "have", "many", "used", "1", "per_kits", "4")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has(`value="many"`, "whole number")
	desk.follow(desk.post("/drives/spring/fabric/supplies/new", "name", "White thread", "have", "10", "unit", "spools", "used", "1", "per_kits", "4")).has("White thread", "10 spools", "40 kits", "for 4 kits")
	desk.follow(desk.post("/drives/spring/fabric/supplies/1/move", "n", "3", "went", "yes")).has("7 spools", "28 kits")
	r = desk.post("/drives/spring/fabric/supplies/1/move", "n", "8", "went", "yes")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Only 7 are booked", `value="8"`)
	form := desk.get("/drives/spring/fabric/supplies/1")
	desk.post("/drives/spring/fabric/supplies/1/move", "n", "1")
	r = desk.post("/drives/spring/fabric/supplies/1", "version", form.hidden("version"), "name", "White thread", "have", "20", "used", "1", "per_kits", "4")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Somebody else changed this", `value="20"`)
	desk.follow(desk.post("/drives/spring/fabric/supplies/1", "version", r.hidden("version"), "name", "White thread", "have", "20", "used", "0", "per_kits", "4")).has("not told")
	desk.follow(desk.post("/drives/spring/fabric/supplies/1/retire")).has("No supplies yet")
}
