package site

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
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
	rosa.get("/drives/spring/books/in/1?rows=refused").lacks("X1 ·")
	rosa.get("/drives/spring/books/in/1?q=LOUD").lacks("X1 ·")

	r = rosa.post("/drives/spring/books/in/1/take")
	rosa.follow(r).has("Nothing was taken")
	rosa.get("/drives/spring/fabric").has("No fabric yet")
	key := (&view{}).Once()
	r = rosa.post("/drives/spring/books/in/1/take", "what", "good", "once", key)
	require.Equal(t, "/drives/spring/books/in/1?rows=refused", r.Location)
	again := rosa.post("/drives/spring/books/in/1/take", "what", "good", "once", key)
	require.Equal(t, r.Location, again.Location, "the same form sent twice")
	rosa.get("/drives/spring/fabric").has("Orla", "1 lot")
	rosa.get("/drives/spring/books/in/1").has("1 here already")

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
		{"a.csv", "foo,ever\n1,2\n", "fabric", "No line of headings"},
		{"a.csv", "Length,Width\n3,44\n", "fabric", "No column is headed"},
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
