package site

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// upload sends a file with the fields of a form, under a key of its own.
func (c *client) upload(path, name string, content []byte, pairs ...string) testAnswer {
	c.ts.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for i := 0; i < len(pairs); i += 2 {
		require.NoError(c.ts.t, w.WriteField(pairs[i], pairs[i+1]))
	}
	require.NoError(c.ts.t, w.WriteField("once", (&view{}).Once()))
	if name != "" {
		part, err := w.CreateFormFile("file", name)
		require.NoError(c.ts.t, err)
		_, err = part.Write(content)
		require.NoError(c.ts.t, err)
	}
	require.NoError(c.ts.t, w.Close())
	r := httptest.NewRequest(http.MethodPost, path, &body)
	r.Header.Set("Content-Type", w.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return c.do(r)
}

const dropOff = "Code;Yardage;Width;Given by;Print;Fibre\nX1;2,5 m;44\";Orla;solid;cotton\nX2;4000 m;44;Orla;solid;cotton\nX3;1 yd;44;;loud;cotton\n"

func TestBringFabric(t *testing.T) {
	ts := newTestSite(t)
	rosa := ts.as(account.Organiser)
	rosa.get("/drives/spring/books/in").has("A list of", `type="file"`)
	r := rosa.upload("/drives/spring/books/in", "hall.csv", []byte(dropOff), "kind", "fabric")
	require.Equal(t, "/drives/spring/books/in/1", r.Location)
	page := rosa.follow(r)
	page.has("hall.csv", "<b>1</b> of 3 rows to be taken", "2 refused", "longer than any bolt", "solid, tonal or feature", "Take the good one",
		"Yardage", "Length", "Nothing is taken yet")
	rosa.get("/drives/spring/fabric").has("No fabric yet")
	refused := rosa.get("/drives/spring/books/in/1/refused.csv")
	require.Contains(t, refused.Header.Get("Content-Type"), "text/csv")
	require.Equal(t, 3, strings.Count(refused.Body, "\n"), refused.Body)
	refused.has("Why it was refused", "X2,4000 m")
	book := rosa.get("/drives/spring/books/in/1/refused.xlsx")
	mended := rosa.follow(rosa.upload("/drives/spring/books/in", "mended.xlsx", []byte(book.Body), "kind", "fabric"))
	mended.has("<b>0</b> of 2 rows to be taken", "longer than any bolt")
	rosa.get("/drives/spring/books/in/1?rows=refused").lacks("X1 ·")
	rosa.get("/drives/spring/books/in/1?q=LOUD").lacks("X1 ·")
	behind := rosa.get("/drives/spring/books/in/1?rows=refused&page=2")
	require.Equal(t, "/drives/spring/books/in/1?rows=refused", behind.Location, "a page behind the last row goes to the first")

	r = rosa.post("/drives/spring/books/in/1/take")
	rosa.follow(r).has("Nothing was taken")
	rosa.get("/drives/spring/fabric").has("No fabric yet")
	key := (&view{}).Once()
	r = rosa.post("/drives/spring/books/in/1/take", "what", "good", "once", key)
	require.Equal(t, "/drives/spring/books/in/1?rows=refused", r.Location)
	again := rosa.post("/drives/spring/books/in/1/take", "what", "good", "once", key)
	require.Equal(t, r.Location, again.Location, "the same form sent twice")
	rosa.get("/drives/spring/fabric").has("Orla", "1 lot")
	again = rosa.get("/drives/spring/books/in/1")
	again.has("1 here already", "Below is what would become of each row now.")
	again.lacks("Nothing is taken yet")

	r = rosa.post("/drives/spring/books/in/1/leave")
	rosa.follow(r).has("left as it was")
	require.Equal(t, http.StatusNotFound, rosa.get("/drives/spring/books/in/1").Status)
}

func TestBringRefused(t *testing.T) {
	ts := newTestSite(t)
	rosa := ts.as(account.Organiser)
	for _, tt := range []struct {
		name    string
		content string
		kind    string
		says    string
	}{
		{"", "", "fabric", "Choose the file"},
		{"a.csv", "Code\nA\n", "yarn", "Say what the file is a list of"},
		{"a.csv", "", "fabric", "The file is empty"},
		{"a.png", "\x89PNG\r\n\x1a\n\x00\x00", "fabric", "picture"},
		{"a.csv", "Code,\"Length\nA,3\n", "fabric", "never closed"},
	} {
		r := rosa.upload("/drives/spring/books/in", tt.name, []byte(tt.content), "kind", tt.kind)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, "%s: %s", tt.says, r.Location)
		r.has(tt.says)
	}
	large := rosa.upload("/drives/spring/books/in", "large.csv", bytes.Repeat([]byte("a,b\n"), 3<<20), "kind", "fabric")
	require.Equal(t, http.StatusRequestEntityTooLarge, large.Status)
	desk := ts.as(account.Desk)
	require.Equal(t, http.StatusNotFound, desk.get("/drives/spring/books/in").Status)
	ts.addDrive("autumn", "Autumn drive")
	r := rosa.upload("/drives/spring/books/in", "hall.csv", []byte(dropOff), "kind", "fabric")
	require.Equal(t, http.StatusSeeOther, r.Status)
	other := ts.asIn(account.Organiser, "autumn")
	require.Equal(t, http.StatusNotFound, other.get("/drives/autumn/books/in/1").Status, "a file of another drive")
}

// Columns that are not understood are asked about, and the answer is kept.
func TestBringMatched(t *testing.T) {
	ts := newTestSite(t)
	rosa := ts.as(account.Organiser)
	const file = "Stoff,Laenge (m),Breite (cm),Wer\nX1,2.5,110,Orla\n"
	r := rosa.upload("/drives/spring/books/in", "liste.csv", []byte(file), "kind", "fabric")
	page := rosa.follow(r)
	page.has("The columns were not understood", "No line of headings was found", "Laenge (m)", `value="stoff"`, "X1", "left aside", "Code (needed)")
	page.lacks("Row by row")
	match := r.Location + "/match"
	answer := func(means ...string) testAnswer {
		pairs := []string{"sheet", "", "heading", "1"}
		for i, key := range []string{"stoff", "laenge m", "breite cm", "wer"} {
			pairs = append(pairs, "key", key, "means", means[i])
		}
		return rosa.post(match, pairs...)
	}
	twice := answer("tag", "length", "width", "tag")
	require.Equal(t, http.StatusUnprocessableEntity, twice.Status)
	twice.has("Two columns, Stoff and Wer, cannot both hold the same")
	rosa.follow(answer("tag", "length", "width", "donor")).has("Read anew", "<b>1</b> of 1 row to be taken", "as somebody said", "Row by row")
	rosa.follow(rosa.upload("/drives/spring/books/in", "naechste.csv", []byte(file), "kind", "fabric")).has("<b>1</b> of 1 row to be taken")
	rosa.post(r.Location + "/take")
	rosa.get("/drives/spring/fabric").has("Orla", "1 lot")

	// A column that takes over what another held leaves that one aside.
	rosa.follow(answer("tag", "length", "width", "shelf")).has("<b>0</b> of 1 row to be taken", "1 here already")
	rosa.follow(rosa.post(match, "sheet", "", "heading", "1", "key", "wer", "means", "length")).has("where a number belongs")
	bad := rosa.post(match, "sheet", "", "heading", "first")
	require.Equal(t, http.StatusUnprocessableEntity, bad.Status)
	other := ts.as(account.Desk)
	require.Equal(t, http.StatusNotFound, other.post(match, "sheet", "", "heading", "1").Status)
}

func TestBringOneOfTwoSheets(t *testing.T) {
	ts := newTestSite(t)
	rosa := ts.as(account.Organiser)
	f := excelize.NewFile()
	defer f.Close()
	for _, name := range []string{"Sheet1", "April"} {
		if name != "Sheet1" {
			_, err := f.NewSheet(name)
			require.NoError(t, err)
		}
		require.NoError(t, f.SetSheetRow(name, "A1", &[]string{"Code", "Length", "Width"}))
		require.NoError(t, f.SetSheetRow(name, "A2", &[]string{name + "-1", "2 yd", "44"}))
	}
	var content bytes.Buffer
	require.NoError(t, f.Write(&content))
	r := rosa.upload("/drives/spring/books/in", "two.xlsx", content.Bytes(), "kind", "fabric")
	rosa.follow(r).has("Several sheets could be meant", `<option value="April"`)
	rosa.follow(rosa.post(r.Location+"/match", "sheet", "April", "heading", "1")).has("from the sheet April", "April-1", "<b>1</b> of 1 row")
	bad := rosa.post(r.Location+"/match", "sheet", "May", "heading", "1")
	require.Equal(t, http.StatusUnprocessableEntity, bad.Status)
}

// A long list becomes background work, which the page tells of.
func TestBringALongList(t *testing.T) {
	ts := newTestSite(t)
	rosa := ts.as(account.Organiser)
	var text strings.Builder
	text.WriteString("Code,Yardage,Width\n")
	for i := range takenAtOnce + 1 {
		fmt.Fprintf(&text, "L%05d,2 1/2,44\n", i)
	}
	r := rosa.upload("/drives/spring/books/in", "long.csv", []byte(text.String()), "kind", "fabric")
	page := r.Location
	require.Equal(t, page, rosa.post(page+"/take").Location)
	rosa.get(page).has("is being taken in", "It waits for its turn", "Stop and take nothing", `http-equiv="refresh"`)
	rosa.get("/drives/spring/books/in").has("Files that are here", `href="`+page+`">long.csv</a>`, "is being taken in")
	again := rosa.post(page + "/take")
	require.Equal(t, http.StatusConflict, again.Status)
	rosa.get("/drives/spring/fabric").has("No fabric yet")

	_, err := ts.Store.BeginTake(t.Context(), "spring", 1)
	require.NoError(t, err)
	goOn, err := ts.Store.TakeProgress(t.Context(), "spring", 1, 250, 1001)
	require.NoError(t, err)
	require.True(t, goOn)
	rosa.get(page).has(">250</b>", "of 1,001 rows written", "They count once all of them are")
	require.Equal(t, page, rosa.post(page+"/stop").Location)
	stopping := rosa.get(page)
	stopping.has("It stops, and nothing is taken")
	stopping.lacks("Stop and take nothing")
	require.NoError(t, ts.Store.EndTake(t.Context(), "spring", 1, postgres.Take{State: drive.TakeStopped}))
	rosa.get(page).has("It was stopped, and nothing of it was taken", "Take all 1,001 rows")
	rosa.follow(rosa.post(page + "/stop")).has("It had come to its end already")
	rosa.post(page + "/take")
	require.NoError(t, ts.Store.EndTake(t.Context(), "spring", 1, postgres.Take{State: drive.TakeTaken, Taken: 1000, Refused: 1}))
	rosa.get(page).has("1,000 rows were taken, 0 here already, 1 refused")
	rosa.post(page + "/take")
	require.NoError(t, ts.Store.EndTake(t.Context(), "spring", 1, postgres.Take{State: drive.TakeFailed, Trouble: "The program failed."}))
	rosa.get(page).has("The program failed.")
	rosa.get("/drives/spring/books/in").has("went wrong, nothing taken")
	rosa.post(page + "/leave")
	rosa.get("/drives/spring/books/in").lacks("long.csv", "Files that are here")
}

// The stream of a list that is taken in tells what moves, and when it is over.
func TestTakingIsWatched(t *testing.T) {
	ts := newTestSite(t)
	rosa := ts.as(account.Organiser)
	number, err := ts.Store.KeepUpload(t.Context(), ts.act("keep upload"), drive.BringFabric, "a.csv", []byte("Code\nA\n"))
	require.NoError(t, err)
	require.NoError(t, ts.Store.RequestTake(t.Context(), ts.act("take upload"), number, false))
	server := httptest.NewServer(ts.Site)
	defer server.Close()
	w := rosa.watchAt(server, "/drives/spring/books/in/1/progress")
	event, data := w.next()
	require.Equal(t, "figures", event)
	require.Equal(t, "It waits for its turn.", data.Texts["doing"])
	_, err = ts.Store.BeginTake(t.Context(), "spring", number)
	require.NoError(t, err)
	_, err = ts.Store.TakeProgress(t.Context(), "spring", number, 500, 1000)
	require.NoError(t, err)
	data = w.until("half of it", func(f figures) bool { return f.Texts["rows"] == "500" })
	require.Equal(t, "359.0", data.Drawn["done"]["width"])
	require.NoError(t, ts.Store.EndTake(t.Context(), "spring", number, postgres.Take{State: drive.TakeTaken}))
	event, _ = w.next()
	require.Equal(t, "over", event)
}

func TestBlankTables(t *testing.T) {
	ts := newTestSite(t)
	ts.addSize()
	rosa := ts.as(account.Organiser)
	rosa.get("/drives/spring/books/in").has("/drives/spring/books/blank/fabric", "/drives/spring/books/blank/donors")
	for _, kind := range drive.BringKinds() {
		r := rosa.get("/drives/spring/books/blank/" + string(kind))
		require.Equal(t, http.StatusOK, r.Status)
		require.Contains(t, r.Header.Get("Content-Disposition"), string(kind)+"-blank.xlsx")
		again := rosa.upload("/drives/spring/books/in", "blank.xlsx", []byte(r.Body), "kind", string(kind))
		rosa.follow(again).has("There is nothing below the headings")
	}
	require.Equal(t, http.StatusNotFound, rosa.get("/drives/spring/books/blank/yarn").Status)
}

func TestBringPeopleAndAsked(t *testing.T) {
	ts := newTestSite(t)
	ts.addSize()
	rosa := ts.as(account.Organiser)
	r := rosa.upload("/drives/spring/books/in", "people.csv", []byte("Name,Phone\nMarit Osgood,555 0101\n"), "kind", "people")
	r = rosa.post(r.Location + "/take")
	require.Equal(t, "/drives/spring/people", r.Location)
	rosa.follow(r).has("Marit Osgood")
	r = rosa.upload("/drives/spring/books/in", "asked.csv", []byte("Recipient,Size,Wanted\nWard 4,no such size,6\n"), "kind", "asked")
	rosa.follow(r).has("There is no size called", "Size:")
}
