package site

import (
	"bytes"
	"encoding/json"
	"image"
	"image/jpeg"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/photo"
)

// attachment is a file in a form.
type attachment struct {
	field   string
	content []byte
}

// send posts a form with a file.
func (c *client) send(path string, file attachment, pairs ...string) testAnswer {
	c.ts.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for i := 0; i < len(pairs); i += 2 {
		require.NoError(c.ts.t, w.WriteField(pairs[i], pairs[i+1]))
	}
	require.NoError(c.ts.t, w.WriteField("once", (&view{}).Once()))
	part, err := w.CreateFormFile(file.field, "IMG_0042.jpg")
	require.NoError(c.ts.t, err)
	_, err = part.Write(file.content)
	require.NoError(c.ts.t, err)
	require.NoError(c.ts.t, w.Close())
	r := httptest.NewRequest(http.MethodPost, path, &body)
	r.Header.Set("Content-Type", w.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return c.do(r)
}

func aPhoto(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 40, 30)), nil))
	// What a camera writes beside the picture, such as where it was taken.
	return append(append(append([]byte{}, b.Bytes()[:2]...), "\xff\xe1\x00\x12Exif\x00\x00GPS 53.3 N"...), b.Bytes()[2:]...)
}

func TestTagWithAPhoto(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	picture := attachment{"photo", aPhoto(t)}
	r := desk.send("/drives/spring/fabric/tag", picture, "donor", "Orla", "pieces", "1")
	require.Equal(t, "/drives/spring/fabric/tag?after=1", r.Location)
	lot := desk.get("/drives/spring/fabric/1")
	lot.has(`/drives/spring/fabric/1/photo.jpg?v=`)
	jpg := desk.get("/drives/spring/fabric/1/photo.jpg")
	require.Equal(t, "image/jpeg", jpg.Header.Get("Content-Type"))
	jpg.lacks("Exif", "GPS")
	config, err := jpeg.DecodeConfig(bytes.NewReader([]byte(jpg.Body)))
	require.NoError(t, err)
	require.Equal(t, 40, config.Width)
	require.Equal(t, http.StatusOK, desk.get("/drives/spring/fabric/1/photo.jpg?small=1").Status)
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring/fabric/2/photo.jpg").Status)

	// A form that comes back keeps the photo that came with it.
	r = desk.send("/drives/spring/fabric/tag", picture, "pieces", "0", "note", "a blue one")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Say how many pieces", "The photo you took is kept", `value="a blue one"`)
	hash := between(t, r.Body, `name="photo_kept" value="`, `"`)
	r = desk.post("/drives/spring/fabric/tag", "pieces", "1", "photo_kept", hash)
	require.Equal(t, "/drives/spring/fabric/tag?after=2", r.Location)
	require.Equal(t, jpg.Body, desk.get("/drives/spring/fabric/2/photo.jpg").Body)

	for _, kept := range []string{"x", `"><script>`, "0000000000000000000000000000000000000000000000000000000000000000"} {
		r = desk.post("/drives/spring/fabric/tag", "pieces", "1", "photo_kept", kept)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status)
		r.has("not here any more")
	}
	for what, content := range map[string][]byte{
		"This is no photo":  []byte("<script>alert(1)</script>"),
		"HEIC":              []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"),
		"cut off on its wa": picture.content[:60],
		"41 MB":             make([]byte, photo.MostBytes+1),
	} {
		r = desk.send("/drives/spring/fabric/tag", attachment{"photo", content}, "pieces", "1", "donor", "Pim of the mill")
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, what)
		r.has(what, `value="Pim of the mill"`)
	}
	desk.get("/drives/spring/fabric/3").has("no lot 3")
}

func TestPhotoOfALotChanges(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.post("/drives/spring/fabric/tag", "pieces", "1")
	r := desk.post("/drives/spring/fabric/1/photo")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Choose or take the photo first")
	desk.follow(desk.send("/drives/spring/fabric/1/photo", attachment{"photo", aPhoto(t)})).has("Lot 1 has this photo now", "photo.jpg?v=")
	desk.follow(desk.post("/drives/spring/fabric/1/photo", "gone", "yes")).lacks("photo.jpg?v=")
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring/fabric/1/photo.jpg").Status)
	reader := ts.as(account.Reader)
	require.Equal(t, http.StatusNotFound, reader.post("/drives/spring/fabric/1/photo", "gone", "yes").Status)
}

// between gives what stands between two texts of a page.
func between(t *testing.T, text, before, after string) string {
	t.Helper()
	_, rest, ok := strings.Cut(text, before)
	require.True(t, ok, "%q in %s", before, text)
	found, _, ok := strings.Cut(rest, after)
	require.True(t, ok)
	return found
}

func TestDonorsAsSomebodyTypes(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	for _, name := range []string{"Orla Brandtveit", "Orla Brandtveit", "Pim Orlando", "unknown"} {
		desk.post("/drives/spring/fabric/tag", "pieces", "1", "donor", name)
	}
	for typed, want := range map[string]donorsFound{
		"orla":            {[]string{"Orla Brandtveit", "Pim Orlando"}, "New, unless you mean Orla Brandtveit."},
		"orla brandtveit": {[]string{"Orla Brandtveit"}, "Known: gave 2 lots before."},
		"Orla Brandveit":  {[]string{"Orla Brandtveit"}, "New, unless you mean Orla Brandtveit."},
		"Tomas":           {[]string{}, "New: a donor of this name is added."},
		"":                {[]string{}, ""},
		"Unknown":         {[]string{}, "Nobody known."},
	} {
		r := desk.get("/drives/spring/fabric/donors.json?q=" + url.QueryEscape(typed))
		var got donorsFound
		require.NoError(t, json.Unmarshal([]byte(r.Body), &got), r.Body)
		require.Equal(t, want, got, "donors for %q", typed)
	}
	r := desk.post("/drives/spring/fabric/tag", "pieces", "1", "donor", "Orla Brandveit")
	desk.follow(r).has("New here; if it is Orla Brandtveit, change it")
	r = desk.post("/drives/spring/fabric/tag", "pieces", "1", "donor", "Orla Brandtveit")
	desk.follow(r).lacks("New here")
	organiser := ts.as(account.Organiser)
	require.Equal(t, http.StatusSeeOther, organiser.post("/drives/spring/donors/1/erase", "sure", "yes").Status)
	require.JSONEq(t, `{"names": [], "said": "New: a donor of this name is added."}`, desk.get("/drives/spring/fabric/donors.json?q=erase").Body)
	desk.get("/drives/spring/fabric/tag").lacks("Erased donor", "Orla Brandtveit")
	require.Equal(t, http.StatusNotFound, ts.as(account.Reader).get("/drives/spring/fabric/donors.json?q=o").Status, "who gives is for those who take in")
}

func TestTagScannedAndSetAside(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/fabric/tag?tag=http://boltward.test/l/spring/tag/17").has(`value="17"`)
	r := desk.post("/drives/spring/fabric/tag", "pieces", "1", "tag", "http://boltward.test/l/spring/tag/17", "aside", "smell", "aside", "pet hair", "set_aside", "damp")
	desk.follow(r).has(`Pin tag <strong class="big">17</strong>`)
	desk.get("/drives/spring/fabric/1").has("set aside: smell, pet hair, damp")
	desk.get("/drives/spring/fabric").has("of 0 lots; 1 lot is set aside and not measured yet<")
	desk.post("/drives/spring/fabric/tag", "pieces", "1", "aside", "smell")
	desk.get("/drives/spring/fabric").has("of 0 lots; 2 lots are set aside and not measured yet<")
}

// One Enter too many is undone where it was pressed; two tablets that measure one
// pile get another lot each, and are told where they meet.
func TestTheQueueAtTheDoorAndAtTheTable(t *testing.T) {
	ts, organiser := askedSite(t)
	for range 3 {
		organiser.post("/drives/spring/fabric/tag", "donor", "Orla Brandt", "pieces", "1")
	}
	r := organiser.post("/drives/spring/fabric/tag", "donor", "Orla Brandt", "pieces", "1")
	organiser.follow(r).has("lot 4", "Undo: no lot 4")
	r = organiser.post("/drives/spring/fabric/4/untag")
	organiser.follow(r).has("Lot 4 is taken back", "Undo: no lot 3")
	organiser.get("/drives/spring/fabric/4").has("tagged by mistake, and taken back", "Tagged by mistake: taken back").lacks("Measure it", "Undo the tagging", "Its label")
	require.Equal(t, http.StatusConflict, organiser.get("/drives/spring/fabric/4/measure").Status)
	organiser.get("/drives/spring/fabric").has("of 0 lots; 3 lots are not measured yet<").lacks("fabric/4\"")
	organiser.post("/drives/spring/fabric/3/aside", "set_aside", "smells of smoke")
	organiser.get("/drives/spring/fabric").has("3 lots are not measured yet, 1 of them set aside", "Measure 2 lots")
	organiser.get("/drives/spring/fabric?q=brandt").has("3 lots are not measured yet, 1 of them set aside")
	organiser.get("/drives/spring/fabric?state=set+aside").has("of 0 lots; 1 lot is set aside and not measured yet<")
	organiser.post("/drives/spring/fabric/3/back")
	organiser.get("/drives/spring/fabric/3").has("Undo the tagging")

	other := ts.as(account.Desk)
	mine := organiser.post("/drives/spring/fabric/1/measure/look", "length", "2", "width", "44", "pieces", "1")
	require.Equal(t, http.StatusOK, mine.Status)
	mine.lacks("on another table")
	other.follow(other.get("/drives/spring/fabric/measure")).has("Measure lot 2").lacks("on another table")
	other.get("/drives/spring/fabric/1/measure").has("has this lot on another table", "Take another")
	other.post("/drives/spring/fabric/1/measure/look", "length", "2", "width", "44", "pieces", "1").has("has this lot on another table")
	// Whoever saves first goes on to a lot that nobody has.
	r = other.post("/drives/spring/fabric/2/measure", "version", "1", "length", "2", "width", "44", "pieces", "1", "print", "solid", "turn", "either",
		"weight", "quilting", "fibre", "cotton", "ends", "cut", "then", "next")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	other.follow(r).has("Measure lot 3")
	organiser.get("/drives/spring/fabric/3/measure").has("has this lot on another table")
}
