package site

import (
	"fmt"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
)

// measuring is the fields of a lot as most are measured; others take the place of
// those of the same name.
func measuring(others ...string) []string {
	fields := map[string]string{
		"version": "1", "length": "3 yd", "width": "44", "pieces": "1", "ends": "cut", "weight": "quilting", "fibre": "cotton",
		"washed": "yes", "print": "feature", "turn": "either",
	}
	for i := 0; i < len(others); i += 2 {
		fields[others[i]] = others[i+1]
	}
	var pairs []string
	for name, value := range fields {
		pairs = append(pairs, name, value)
	}
	return pairs
}

// A length without a unit that only a bolt would have is asked about once it is booked; with its unit it is believed.
// A metric drive gives metric examples.
func TestALotOfClothInOnePieceIsAskedAbout(t *testing.T) {
	ts := newTestSite(t)
	ts.addSize()
	desk := ts.as(account.Desk)
	asked := "50 yd is a lot of cloth in one piece. Right if it is so; or was it 50 in? Undo puts the form back with what was typed."
	for lot, said := range map[string]bool{"50": true, "50 yd": false, "20": false} {
		at := desk.post("/drives/spring/fabric/tag", "pieces", "1", "then", "measure").Location
		page := desk.follow(desk.post(at, measuring("length", lot, "then", "lot")...))
		if said {
			page.has(asked)
		} else {
			page.has("is measured: usable").lacks("a lot of cloth")
		}
	}
	at := desk.post("/drives/spring/fabric/tag", "pieces", "1", "then", "measure").Location
	desk.get(at).has("1 yd 9 in").lacks("250 cm")
	d, err := ts.Store.Drive(t.Context(), "spring")
	require.NoError(t, err)
	d.Unit = length.CM
	_, err = ts.Store.UpdateDrive(t.Context(), ts.act("metric"), d)
	require.NoError(t, err)
	desk.get(at).has("Along the selvedge: 2.5, 250 cm").lacks("1 yd 9 in")
	desk.follow(desk.post(at, measuring("length", "60", "width", "110", "then", "lot")...)).has("60 m is a lot of cloth in one piece. Right if it is so; or was it 60 cm?")
}

func TestMeasureByTaps(t *testing.T) {
	ts := newTestSite(t)
	ts.addSize()
	desk := ts.as(account.Desk)
	desk.post("/drives/spring/fabric/tag", "pieces", "1", "tag", "T7")
	form := desk.get("/drives/spring/fabric/1/measure")
	form.has("44 in, 41 usable", "feature print", "stands upright on the bed", `name="colour" value="navy"`)
	require.Equal(t, "/drives/spring/fabric/1/measure", desk.get("/drives/spring/fabric/measure?lot=t7").Location, "by its tag")
	require.Equal(t, "/drives/spring/fabric/1/measure", desk.get("/drives/spring/fabric/measure?lot=1").Location, "by its number")
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring/fabric/measure?lot=nothing").Status)

	look := desk.post("/drives/spring/fabric/1/measure/look", measuring("width", "", "usual", "44 in", "length", "2 yd")...)
	look.has("Usable: <b>41 in × 1 yd 34 in</b>", "bodies for", "makes bodies for 2 standard", "makes bodies for 1 standard, 1 fewer", `value="44 in" checked`)
	look = desk.post("/drives/spring/fabric/1/measure/look", measuring("print", "")...)
	look.has("Usable: <b>41 in", "Choose the print to see what it makes")
	look = desk.post("/drives/spring/fabric/1/measure/look", measuring("width", "")...)
	look.has("Not to be worked out yet", "Give the width")

	r := desk.post("/drives/spring/fabric/1/measure", measuring("usual", "60 in")...)
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("44 was typed and 60 in tapped")
	r = desk.post("/drives/spring/fabric/1/measure", append(measuring("width", "", "usual", "44 in", "colours", "Coral, navy", "themes", "sea", "shelf", "B2", "then", "lot"), "colour", "navy", "colour", "gray")...)
	lot := desk.follow(r)
	lot.has("41 in × 2 yd 34 in", "coral, grey, navy", "sea", "B2")

	// The next offers what cloth here has been, and takes over what mostly stays.
	desk.post("/drives/spring/fabric/tag", "pieces", "1")
	desk.get("/drives/spring/fabric/2/measure?like=1").has(`value="coral"`, `name="theme" value="sea"`, `value="B2"`, "as on lot 1")
	desk.get("/drives/spring/fabric/2/measure").lacks("as on lot 1")
}

func TestFlawsAsTheyLie(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.post("/drives/spring/fabric/tag", "pieces", "1")
	// 108 in long and 44 in wide: 106 × 41 usable, from 1 in on.
	for _, tt := range []struct {
		what   string
		fields []string
		says   string
	}{
		{"across", []string{"flaw1_from", "30", "flaw1_to", "33", "flaw1_where", "across"}, "41 in × 29 in</b>; <b>41 in × 2 yd 2 in"},
		{"from the beginning", []string{"flaw1_to", "1 yd"}, "<b>41 in × 1 yd 35 in</b></p>"},
		{"the unit stands once", []string{"flaw1_from", "1", "flaw1_to", "2 yd"}, "41 in × 35 in"},
		{"at an edge", []string{"flaw2_from", "30", "flaw2_to", "60", "flaw2_where", "edge", "flaw2_deep", "3"}, "<b>38 in × 2 yd 34 in"},
		{"at the far edge", []string{"flaw1_from", "30", "flaw1_to", "60", "flaw1_where", "far", "flaw1_deep", "3"}, "<b>38 in × 2 yd 34 in"},
		{"a fold with good cloth on both sides", []string{"flaw1_from", "0", "flaw1_to", "3 yd", "flaw1_where", "inside", "flaw1_clear", "21", "flaw1_deep", "22"}, "18 in × 2 yd 34 in</b>; <b>19 in × 2 yd 34 in"},
		{"a narrower stretch", []string{"flaw1_from", "60", "flaw1_to", "108", "flaw1_where", "narrow", "flaw1_deep", "38"}, "<b>35 in × 2 yd 34 in"},
		{"in words too", []string{"flaws", "30 to 60 in, 3 in in from the edge"}, "<b>38 in × 2 yd 34 in"},
		{"a choice alone is none", []string{"flaw1_where", "narrow"}, "<b>41 in × 2 yd 34 in"},
		{"no end", []string{"flaw1_from", "30"}, "Say where the flaw ends"},
		{"the wrong way round", []string{"flaw1_from", "30", "flaw1_to", "20"}, "ends after it begins"},
		{"how deep is not said", []string{"flaw3_to", "20", "flaw3_where", "edge"}, "how far in from the edge"},
		{"deep and across", []string{"flaw1_to", "20", "flaw1_where", "across", "flaw1_deep", "3"}, "takes the whole width"},
		{"no narrower", []string{"flaw1_to", "20", "flaw1_where", "narrow", "flaw1_deep", "44"}, "less wide than the whole"},
		{"inside out", []string{"flaw1_to", "20", "flaw1_where", "inside", "flaw1_clear", "9", "flaw1_deep", "4"}, "further from the edge than it begins"},
		{"unheard of", []string{"flaw1_to", "20", "flaw1_where", "diagonal"}, "how the flaw lies"},
		{"no length", []string{"flaw1_to", "some"}, "some"},
	} {
		r := desk.post("/drives/spring/fabric/1/measure/look", measuring(tt.fields...)...)
		require.Equal(t, http.StatusOK, r.Status, tt.what)
		r.has(tt.says)
	}
	r := desk.post("/drives/spring/fabric/1/measure", measuring("flaw1_from", "30")...)
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has(`href="#f-flaw1_to"`, `id="f-flaw1_to"`, `name="flaw1_from" type="text" value="30"`)
}

// Two helpers measure the same lot: the second is told what stands, keeps what they
// typed, and may put it in its place.
func TestTwoMeasureOneLot(t *testing.T) {
	ts := newTestSite(t)
	one, two := ts.as(account.Desk), ts.as(account.Organiser)
	one.post("/drives/spring/fabric/tag", "pieces", "1", "shelf", "A1")
	require.Equal(t, http.StatusSeeOther, one.post("/drives/spring/fabric/1/measure", measuring("shelf", "A1")...).Status)

	r := two.post("/drives/spring/fabric/1/measure", measuring("length", "2 yd 30 in", "shelf", "A1", "colours", "coral", "flaw1_to", "3", "flaw1_from", "1")...)
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Somebody else changed this", "3 yd", "2 yd 30 in", `value="coral"`, `name="flaw1_to" type="text" value="3"`, "Put mine in its place", `name="instead" value="yes"`, `name="version" value="2"`)
	r.lacks("<td data-label=\"Stands now\">A1", "<td data-label=\"Stands now\">44")
	r = two.post("/drives/spring/fabric/1/measure", measuring("length", "108 in", "width", "44.0in", "shelf", "A2")...)
	r.has("<td data-label=\"Stands now\">A1").lacks("<td data-label=\"Stands now\">3 yd", "<td data-label=\"Stands now\">44")
	r = two.post("/drives/spring/fabric/1/measure", measuring("length", "108 x 45 in", "width", "", "shelf", "A1")...)
	r.has("<td data-label=\"Stands now\">44 in", "<td data-label=\"You typed\">45 in").lacks("<td data-label=\"Stands now\">3 yd")
	one.get("/drives/spring/fabric/1").has("2 yd 34 in")

	r = two.post("/drives/spring/fabric/1/measure", measuring("length", "2 yd 30 in", "version", "2", "instead", "yes", "then", "lot")...)
	two.follow(r).has("2 yd 28 in", "undone since")
	require.Equal(t, http.StatusConflict, one.post("/drives/spring/fabric/1/measure", measuring("version", "2", "instead", "yes")...).Status, "a third hand was quicker")

	// Whoever measures while somebody writes about the lot is told as well.
	one.post("/drives/spring/fabric/tag", "pieces", "1")
	one.post("/drives/spring/fabric/2/change", "version", "1", "shelf", "C3", "turn", "either", "colours", "red")
	r = two.post("/drives/spring/fabric/2/measure", measuring("shelf", "B2", "colours", "blue")...)
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Somebody else changed this", "C3", "B2", "red", "blue", `name="instead" value=""`, "Save and next")
	r = two.post("/drives/spring/fabric/2/measure", measuring("version", "2", "shelf", "B2", "colours", "blue", "then", "lot")...)
	two.follow(r).has("B2", "blue")
}

// A list of colours is read as one that is brought in is: "black and white" are two.
func TestColoursAreReadAsInASpreadsheet(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.post("/drives/spring/fabric/tag", "pieces", "1")
	desk.follow(desk.post("/drives/spring/fabric/1/measure", measuring("colours", "Black and white", "themes", "cats & dogs")...)).has("<dd>black, white</dd>", "<dd>cats, dogs</dd>")
	desk.follow(desk.post("/drives/spring/fabric/1/change", "version", "2", "turn", "either", "fibre", "cotton", "weight", "quilting", "print", "feature", "colours", "red/gold")).has("<dd>gold, red</dd>")

	organiser := ts.as(account.Organiser)
	file := "Code,Length,Width,Fibre,Print,Colours\nT9,3 yd,44,cotton,solid,Black and white\n"
	organiser.upload("/drives/spring/books/in", "hall.csv", []byte(file), "kind", "fabric")
	organiser.follow(organiser.post("/drives/spring/books/in/1/take", "what", "good"))
	organiser.get("/drives/spring/fabric/2").has("<dd>black, white</dd>")
}

// hostileTexts are what people paste and what others try.
func hostileTexts() []string {
	return []string{
		strings.Repeat("whales and ships ", 18), "🐳🧵", "דגים וים", "a\x00b", "caf\xe9 \xff\xfe", "<script>alert(1)</script>", `"' onfocus=alert(1) x="`, "=1+1\tHIRE", "a\u202eb\u200b", "-1", "1e999",
		strings.Repeat("9", 400),
	}
}

// mostHostile are those tried in each field by itself; the others in all at once.
func mostHostile() []string { return []string{hostileTexts()[0], hostileTexts()[3], hostileTexts()[5]} }

// Whatever is typed into a field comes back as typed with a word about it, or is
// kept; it never breaks the page or runs.
func TestAnythingInAnyField(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	lot := 1
	tag := func() {
		require.Equal(t, http.StatusSeeOther, desk.post("/drives/spring/fabric/tag", "pieces", "1").Status)
	}
	tag()
	form := reflect.TypeFor[measureForm]()
	var fields []string
	for i := range form.NumField() {
		fields = append(fields, form.Field(i).Tag.Get("form"))
	}
	fields = append(fields, "flaw1_from", "flaw1_to", "flaw1_where", "flaw1_clear", "flaw1_deep")
	for _, hostile := range hostileTexts() {
		var every []string
		for _, field := range fields {
			every = append(every, field, hostile)
		}
		require.Less(t, desk.post(fmt.Sprintf("/drives/spring/fabric/%d/measure", lot), every...).Status, 500, "%q everywhere", hostile)
		for _, field := range fields {
			if !slices.Contains(mostHostile(), hostile) {
				break
			}
			r := desk.post(fmt.Sprintf("/drives/spring/fabric/%d/measure", lot), measuring("flaw1_to", "", field, hostile)...)
			require.Contains(t, []int{http.StatusSeeOther, http.StatusUnprocessableEntity, http.StatusConflict}, r.Status, "%s = %q: %s", field, hostile, r.Body)
			r.lacks("<script>alert", `" onfocus=`)
			require.True(t, utf8.ValidString(r.Body), "%s = %q", field, hostile)
			if r.Status == http.StatusSeeOther {
				kept := desk.get(fmt.Sprintf("/drives/spring/fabric/%d", lot))
				require.Equal(t, http.StatusOK, kept.Status)
				kept.lacks("<script>alert", `" onfocus=`)
				tag()
				lot++
			}
		}
		for _, field := range []string{"donor", "pieces", "tag", "kind", "photo_kept", "aside", "set_aside", "shelf", "note", "received_on", "then"} {
			r := desk.post("/drives/spring/fabric/tag", "pieces", "1", field, hostile)
			require.Contains(t, []int{http.StatusSeeOther, http.StatusUnprocessableEntity}, r.Status, "%s = %q: %s", field, hostile, r.Body)
			r.lacks("<script>alert", `" onfocus=`)
			if r.Status == http.StatusSeeOther {
				desk.get(r.Location).lacks("<script>alert", `" onfocus=`)
			}
		}
		require.Equal(t, http.StatusOK, desk.get("/drives/spring/fabric/donors.json?q="+url.QueryEscape(hostile)).Status)
		require.Equal(t, http.StatusOK, desk.get("/drives/spring/fabric/tag?tag="+url.QueryEscape(hostile)).Status)
		require.NotEqual(t, http.StatusInternalServerError, desk.get("/drives/spring/fabric/measure?lot="+url.QueryEscape(hostile)).Status)
	}
	desk.get("/drives/spring/fabric?state=all").lacks("<script>alert", `" onfocus=`)
}

// A width that is usual in the other unit, and a border without its depth, are taken and told of,
// with the way to put them right beside.
func TestMeasuringIsDoubted(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.post("/drives/spring/fabric/tag", "tag", "T7", "kind", "bolt end", "pieces", "1")
	r := desk.post("/drives/spring/fabric/1/measure", measuring("width", "150", "usual", "", "border", drive.BorderOne, "then", "lot")...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	desk.follow(r).has("150 in wide is the width of backing", "or were those centimetres?", "The border stays on, since its depth was not given", "/drives/spring/fabric/1/undo")
}
