package site

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
)

// tagSome tags lots at the door.
func tagSome(t *testing.T, ts *testSite, n int) {
	t.Helper()
	var lots []drive.Tagging
	for range n {
		lots = append(lots, drive.Tagging{Donor: "Mary Ellis", Pieces: 2, ReceivedOn: ts.Clock.Now().Truncate(24 * time.Hour)})
	}
	_, err := ts.Store.TagLots(context.Background(), ts.act("tag-some"), lots)
	require.NoError(t, err)
}

func TestPrintLabels(t *testing.T) {
	ts := newTestSite(t)
	tagSome(t, ts, 3)
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/fabric").has(`href="/drives/spring/fabric/labels"`)
	desk.get("/drives/spring/fabric/2").has(`href="/drives/spring/fabric/labels?lots=2"`)
	page := desk.get("/drives/spring/fabric/labels")
	page.has("<b>3</b> of 3 lots and pieces on the shelf have no label yet", "Never stick one to cloth", "Letter, 8 large tags", "Mon 2 Mar 2026: 3 lots", "http://boltward.test/l/…")
	page.lacks("Only this computer")

	r := desk.post("/drives/spring/fabric/labels", "which", "without a label", "paper", "-3", "start", "4", "each", "yes")
	require.Equal(t, "/drives/spring/fabric/labels/1", r.Location)
	r = desk.follow(r)
	r.has("<b>6 labels</b> on 2 sheets of Letter, 8 large tags, from label 4 on", "1, 2, 3", "actual size")
	pdf := desk.get("/drives/spring/fabric/labels/1/labels.pdf")
	require.Equal(t, 200, pdf.Status)
	require.Equal(t, "application/pdf", pdf.Header.Get("Content-Type"))
	require.Contains(t, pdf.Body[:8], "%PDF-1.")
	again := desk.get("/drives/spring/fabric/labels/1/labels.pdf")
	require.Equal(t, pdf.Body, again.Body, "the same comes again")

	page = desk.get("/drives/spring/fabric/labels")
	page.has("Everything on the shelf has its label", `name="start" type="text" value="2"`)
	desk.post("/drives/spring/fabric/labels", "which", "without a label", "paper", "-3", "start", "1").has("Every lot on the shelf has its label")
	r = desk.post("/drives/spring/fabric/labels", "which", "lots", "lots", "2, 9", "paper", "-3", "start", "1")
	require.Equal(t, 422, r.Status)
	r.has("There is no lot 9 in this drive", `value="2, 9"`)
	desk.post("/drives/spring/fabric/labels", "which", "lots", "lots", "2", "paper", "-3", "start", "9").has("This paper has labels 1 to 8")
	desk.post("/drives/spring/fabric/labels", "which", "lots", "lots", "2", "paper", "77", "start", "1").has("Choose a sheet or roll from the list")

	r = desk.follow(desk.post("/drives/spring/fabric/labels/1/undo"))
	r.has("Printing 1 does not count", "<b>3</b> of 3")
	require.Equal(t, 409, desk.post("/drives/spring/fabric/labels/1/undo").Status)
	require.Equal(t, 404, ts.as(account.Packer).get("/drives/spring/fabric/labels").Status)
}

func TestLabelPaperOfOnesOwn(t *testing.T) {
	ts := newTestSite(t)
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/fabric/label-papers/new?from=-1").has(`value="210 mm"`, "A4, 21 tags")
	roll := []string{
		"name", "Roll by the door", "paper_width", "62 mm", "paper_height", "29mm", "label_width", "6.2cm", "label_height", "29 mm",
		"columns", "1", "rows", "1", "margin_left", "0", "margin_top", "", "gap_across", "", "gap_down", "0", "version", "0",
	}
	wrong := append([]string{}, roll...)
	wrong[11] = "2"
	r := desk.post("/drives/spring/fabric/label-papers/new", wrong...)
	require.Equal(t, 422, r.Status)
	r.has("2 labels reach to", "1 fit", `value="6.2cm"`)
	r = desk.post("/drives/spring/fabric/label-papers/new", roll...)
	require.Equal(t, "/drives/spring/fabric/label-papers/1", r.Location, r.Body)
	desk.follow(r).has("Roll by the door is kept", "Print a trial", "<svg")
	require.Contains(t, desk.get("/drives/spring/fabric/label-papers/1/trial.pdf").Body[:8], "%PDF-1.")

	roll[len(roll)-1] = "1"
	roll[1] = "Roll at the door"
	require.Equal(t, 303, desk.post("/drives/spring/fabric/label-papers/1", roll...).Status)
	roll[1] = "Roll on the table"
	r = desk.post("/drives/spring/fabric/label-papers/1", roll...)
	require.Equal(t, 409, r.Status, "who saves later is told")
	r.has("Roll at the door", "Roll on the table", `name="version" value="2"`, "Where the two differ").lacks("From the left edge</th>", "Label, width</th>")

	r = desk.follow(desk.post("/drives/spring/fabric/label-papers/1/away"))
	r.has("is no longer offered", "/label-papers/1/back")
	r.lacks(`href="/drives/spring/fabric/label-papers/1"`)
	desk.follow(desk.post("/drives/spring/fabric/label-papers/1/back")).has("is offered again", `href="/drives/spring/fabric/label-papers/1"`)
}

func TestScanOpensFromAnywhere(t *testing.T) {
	ts := newTestSite(t)
	tagSome(t, ts, 2)
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/people").has(`action="/drives/spring/scan"`)
	to := func(code, path string) {
		t.Helper()
		r := desk.get("/drives/spring/scan?code=" + code)
		require.Equal(t, path, r.Location, "%s: %s", code, r.Body)
	}
	to("http://boltward.test/l/spring/lot/2", "/drives/spring/fabric/2")
	to("2", "/drives/spring/fabric/2")
	to("lot+2", "/drives/spring/fabric/2")
	require.Equal(t, "/drives/spring/fabric/2", desk.get("/l/spring/lot/2").Location, "as a phone's camera opens it")

	says := func(status int, code, words string) {
		t.Helper()
		r := desk.get("/drives/spring/scan?code=" + code)
		require.Equal(t, status, r.Status, code)
		r.has(words)
	}
	says(404, "lot+7", "There is no lot 7 in Spring drive")
	says(404, "zephyr", "Nothing in Spring drive has the number zephyr")
	says(404, "http://boltward.test/l/spring/tag/17", "Tag 17 hangs on nothing yet")
	says(422, "http://boltward.test/l/spring/lo", "not whole")
	says(422, "http://shop.example/sale", "no label of this program")
	says(200, "http://elsewhere.example/l/spring/lot/2", "http://elsewhere.example")
	says(200, "http://elsewhere.example/l/spring/lot/2", `href="/l/spring/lot/2"`)

	ts.addDrive("autumn", "Autumn drive")
	says(422, "http://boltward.test/l/autumn/lot/2", "of another drive")
	for _, foreign := range []string{"/l/autumn/lot/2", "/l/winter/lot/2"} {
		r := desk.get(foreign)
		require.Equal(t, 404, r.Status)
		r.has("one that is not open to you here")
	}
	require.Equal(t, 404, desk.get("/l/spring/lot/x").Status)
	require.Equal(t, 404, desk.get("/l/spring/sheet/1").Status)
	r := ts.nobody().get("/l/spring/lot/2")
	require.Equal(t, "/sign-in?next=%2Fl%2Fspring%2Flot%2F2", r.Location, "who is not signed in comes back to it")
}

func TestScanAsksWhichOne(t *testing.T) {
	ts := newTestSite(t)
	tagSome(t, ts, 2)
	_, err := ts.Store.TagLots(context.Background(), ts.act("tag-2"), []drive.Tagging{{Tag: "2", Pieces: 1, ReceivedOn: ts.Clock.Now().Truncate(24 * time.Hour)}})
	require.NoError(t, err)
	r := ts.as(account.Desk).get("/drives/spring/scan?code=2")
	require.Equal(t, 200, r.Status)
	r.has("“2” may mean", ">lot 2<", ">tag 2, on lot 3<")
}
