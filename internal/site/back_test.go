package site

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/sizing"
)

// wardLine gives the drive a standard size, a ward and a line of n pillowcases.
func wardLine(t *testing.T, ts *testSite, n int) drive.Asked {
	t.Helper()
	ctx := context.Background()
	built, ok := sizing.CaseNamed("standard")
	require.True(t, ok)
	z, err := ts.Store.CreateSize(ctx, ts.act("size"), drive.Size{Name: built.Name, Spec: built.Spec})
	require.NoError(t, err)
	r, err := ts.Store.CreateRecipient(ctx, ts.act("ward"), drive.Recipient{Kind: drive.RecipientWard, Name: "Ward 4", Rules: []string{"no buttons"}})
	require.NoError(t, err)
	a, err := ts.Store.CreateAsked(ctx, ts.act("line"), drive.Asked{Recipient: r.Number, Sizes: []int64{z.Number}, Wanted: n, Matter: drive.MatterShould})
	require.NoError(t, err)
	return a
}

// TestFromTheTableToTheWard walks what comes in without a kit all the way.
func TestFromTheTableToTheWard(t *testing.T) {
	ts := newTestSite(t)
	a := wardLine(t, ts, 20)
	packer := ts.as(account.Packer)

	r := packer.post("/drives/spring/back/loose", "size", "1", "n", "six", "asked", "1")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Type a whole number")
	r.has(`value="six"`)
	r = packer.post("/drives/spring/back/loose", "size", "1", "n", "6", "asked", "1")
	require.Equal(t, http.StatusSeeOther, r.Status)
	packer.follow(r).has("6 brought in without a kit")

	check := "/drives/spring/back/check/1/1/0/0"
	packer.get(check).has("pins and needles")
	r = packer.post(check, "good", "4", "row1_n", "1", "row1_to", "to mend", "row1_reasons", "seam open")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("A pin can hurt a child")
	r = packer.post(check, "good", "5", "row1_n", "1", "row1_to", "to mend", "row1_reasons", "seam open", "pins", "yes")
	require.Equal(t, http.StatusSeeOther, r.Status)
	packer.follow(r).has("5 good, 1 to mend")
	require.Equal(t, http.StatusNotFound, packer.get(check).Status, "nothing waits there any more")

	r = packer.post("/drives/spring/deliveries/pack/1", "n.1.1", "5", "rules", "no buttons", "packed_by", "AB")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("who counted it again")
	r = packer.post("/drives/spring/deliveries/pack/1", "n.1.1", "5", "rules", "no buttons", "packed_by", "AB", "checked_by", "ab")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Somebody else counts it again")
	packer.get("/drives/spring/deliveries/pack/1").has("no buttons")
	r = packer.post("/drives/spring/deliveries/pack/1", "n.1.1", "5", "packed_by", "AB", "checked_by", "CD")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Before the box is closed: tick “no buttons”")
	r = packer.post("/drives/spring/deliveries/pack/1", "n.1.1", "5", "packed_by", "AB", "checked_by", "CD", "rules", "no buttons")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	packer.follow(r).has("Box 1 is packed")
	r = packer.post("/drives/spring/deliveries/send/1", "boxes", "1", "sent_on", "2031-01-01")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("has not come yet")
	r = packer.post("/drives/spring/deliveries/send/1", "boxes", "1", "sent_on", "2026-03-02", "carried_by", "Tobias")
	require.Equal(t, http.StatusSeeOther, r.Status)
	require.Equal(t, "/drives/spring/deliveries/1", r.Location)
	packer.follow(r).has("no buttons")

	confirm := "/drives/spring/deliveries/1/confirm"
	r = packer.post(confirm, "n.1.1", "66", "by", "Sister Hale", "how", "by phone", "on", "2026-03-02")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("66 must be a slip", `value="66"`)
	r = packer.post(confirm, "n.1.1", "4", "by", "Sister Hale", "how", "by phone", "on", "2026-03-02")
	require.Equal(t, http.StatusSeeOther, r.Status)
	packer.follow(r).has("counts differ")
	packer.get("/drives/spring/deliveries/differences").has("1 did not arrive", "Sister Hale")
	settle := "/drives/spring/deliveries/1/settle/1/1"
	packer.get(settle).has("5 were sent", "Sister Hale said 4")
	r = packer.post(settle, "way", "not received", "n", "2", "reason", "never found")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("1 to 1", "never found")
	r = packer.post(settle, "way", "not received", "n", "1", "reason", "never found")
	require.Equal(t, http.StatusSeeOther, r.Status)
	packer.follow(r).has("not received", "never found", "4 arrived, 5 were sent")
	packer.get("/drives/spring/deliveries/differences").has("No counts differ")
	require.Equal(t, http.StatusConflict, packer.post(settle, "way", "not received", "n", "1", "reason", "again").Status)
	packer.get("/drives/spring/deliveries").has("Sister Hale")

	lines, err := ts.Store.AskedLines(context.Background(), "spring")
	require.NoError(t, err)
	require.Equal(t, 4, lines[0].Counts[drive.CaseConfirmed])
	require.Equal(t, 1, lines[0].Counts[drive.CaseToMend])
	require.Equal(t, a.Wanted-5, lines[0].ToPlan)

	org := ts.as(account.Organiser)
	require.Equal(t, http.StatusNotFound, packer.get("/drives/spring/books").Status, "the books are not for packers")
	r = org.get("/drives/spring/books/books.xlsx?from=2026-03-01&to=2026-03-02")
	require.Equal(t, http.StatusOK, r.Status)
	x, err := excelize.OpenReader(bytes.NewReader([]byte(r.Body)))
	require.NoError(t, err)
	defer func() { require.NoError(t, x.Close()) }()
	arrived, err := x.GetCellValue("Deliveries", "H2")
	require.NoError(t, err)
	require.Equal(t, "4", arrived)
	r = org.get("/drives/spring/books/books.xlsx?from=2026-03-05&to=2026-03-02")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("before the first")
}

func TestBackUndoMendAndPromise(t *testing.T) {
	ts := newTestSite(t)
	wardLine(t, ts, 20)
	ctx := context.Background()
	p, err := ts.Store.CreatePerson(ctx, ts.act("ada"), drive.Person{Kind: "volunteer", Name: "Ada", Heads: 1, Active: true}, nil)
	require.NoError(t, err)
	packer := ts.as(account.Packer)
	require.Equal(t, http.StatusSeeOther, packer.post("/drives/spring/back/loose", "size", "1", "n", "3").Status)
	promise := "/drives/spring/back/promise/sewn/0/1/0/0"
	packer.get(promise).has("3 pillowcases")
	r := packer.post(promise, "n", "4", "asked", "1")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r = packer.post(promise, "n", "2", "asked", "1")
	require.Equal(t, http.StatusSeeOther, r.Status)
	r = packer.post("/drives/spring/back/check/1/1/0/0", "row1_n", "2", "row1_to", "to mend", "note", "cuff", "pins", "yes")
	require.Equal(t, http.StatusSeeOther, r.Status)

	mend := "/drives/spring/back/mend/1/1/0/0"
	packer.get(mend).has("Ada", "What is wrong", "<b>2</b>: not said. Note: cuff")
	r = packer.post(mend+"/send", "n", "1", "person", "", "due", "2026-03-20")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Choose who takes them")
	r = packer.post(mend+"/send", "n", "1", "person", fmt.Sprint(p.Number), "due", "2026-03-20")
	require.Equal(t, http.StatusSeeOther, r.Status)
	r = packer.post(mend+"/here", "n", "1")
	require.Equal(t, http.StatusSeeOther, r.Status)
	page := packer.get("/drives/spring/back")
	page.has("with Ada")
	undo := page.Body[strings.Index(page.Body, "/drives/spring/back/undo/"):]
	undo = undo[:strings.Index(undo, `"`)]
	r = packer.post(undo)
	require.Equal(t, http.StatusSeeOther, r.Status)
	packer.follow(r).has("Undone")
	r = packer.post("/drives/spring/back/kit", "kit", "1", "sewn", "9")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("holds 1 pillowcase")
	ts.Clock.Pass(time.Hour)
	r = packer.post("/drives/spring/back/kit", "kit", "1", "sewn", "1")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
}

// A form whose answer was lost, sent again at the returns table, is the same form, although
// what it is about stands elsewhere since.
func TestSentAgainAtTheTable(t *testing.T) {
	ts := newTestSite(t)
	wardLine(t, ts, 20)
	ctx := context.Background()
	p, err := ts.Store.CreatePerson(ctx, ts.act("ada"), drive.Person{Kind: "volunteer", Name: "Ada", Heads: 1, Active: true}, nil)
	require.NoError(t, err)
	packer := ts.as(account.Packer)
	once := func(path string, pairs ...string) {
		t.Helper()
		r := packer.post("/drives/spring/back"+path, pairs...)
		require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	}
	once("/loose", "size", "1", "n", "6")
	wash := []string{"n.0.1.0.0", "2", "by", "EN", "day", "2026-03-02", "once", "the-same-wash"}
	once("/laundry", wash...)
	once("/loose", "size", "1", "n", "9", "asked", "1")
	once("/laundry", wash...)
	batches, err := ts.Store.Batches(ctx, "spring", 5)
	require.NoError(t, err)
	require.Len(t, batches, 1)
	require.Equal(t, 2, batches[0].Cases())
	packer.get("/drives/spring/back/check/0/1/0/0").has("2 of them are in the", "/drives/spring/back/laundry")

	kits := 0
	for name, form := range map[string][]string{
		"in part": {"sewn", "1"}, "more than it holds": {"sewn", "3", "extra", "yes"}, "lost": {"sewn", "2"},
	} {
		once("/check/1/1/0/0", "row1_n", "2", "row1_to", "to mend", "note", "cuff", "pins", "yes")
		once("/mend/1/1/0/0/send", "n", "2", "person", fmt.Sprint(p.Number), "due", "2026-03-20")
		kits++
		ref := drive.KitRef{Number: int64(kits), Part: 1}
		if name == "lost" {
			_, err := ts.Store.KitLost(ctx, ts.act(name), ref, "", time.Time{})
			require.NoError(t, err)
		}
		back := append([]string{"kit", fmt.Sprint(kits), "once", "the-same-" + name}, form...)
		once("/kit", back...)
		once("/kit", back...)
		r := packer.post("/drives/spring/back/kit", append(back, "rest", "unsewn")...)
		require.Contains(t, r.Body, "sent before with other contents", name)
	}
}

// Notes of the returns table are emptied by whoever runs the drive, and by nobody else.
func TestForgetNotesOfTheTable(t *testing.T) {
	ts := newTestSite(t)
	wardLine(t, ts, 20)
	packer, organiser := ts.as(account.Packer), ts.as(account.Organiser)
	for range 2 {
		packer.follow(packer.post("/drives/spring/back/loose", "size", "1", "n", "2", "asked", "1", "note", "ring Ann")).has("ring Ann").lacks("Forget the note")
	}
	steps, err := ts.Store.CasesLately(context.Background(), "spring", 5)
	require.NoError(t, err)
	one := fmt.Sprintf("/drives/spring/back/forget/%d", steps[0].ID)
	require.Equal(t, http.StatusNotFound, packer.post(one).Status, "only for whoever runs the drive")
	organiser.get("/drives/spring/back").has("Forget the note")
	organiser.follow(organiser.post(one)).has("The note is forgotten")
	r := organiser.post("/drives/spring/back/forget", "until", "")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Give the last day")
	organiser.follow(organiser.post("/drives/spring/back/forget", "until", "2026-03-02")).has("forgotten, 1 in all").lacks("ring Ann")
	r = organiser.post("/drives/spring/back/forget", "until", "2026-03-02")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Nothing of that is kept any more", `value="2026-03-02"`)
}

// Each list of these pages comes as a spreadsheet, with nothing in it that could be a formula.
func TestListsAsSpreadsheets(t *testing.T) {
	ts := newTestSite(t)
	a := wardLine(t, ts, 20)
	ctx := context.Background()
	a.Note = "=1+1"
	_, err := ts.Store.UpdateAsked(ctx, ts.act("note"), a)
	require.NoError(t, err)
	_, err = ts.Store.SaveSupply(ctx, ts.act("thread"), drive.Supply{Name: "Thread", Unit: "spools", Have: 12, Used: 1, PerKits: 4})
	require.NoError(t, err)
	_, err = ts.Store.BeginStocktake(ctx, ts.act("take"), "")
	require.NoError(t, err)
	organiser := ts.as(account.Organiser)
	organiser.post("/drives/spring/back/loose", "size", "1", "n", "6", "asked", "1")
	organiser.post("/drives/spring/back/check/1/1/0/0", "good", "6", "pins", "yes")
	organiser.post("/drives/spring/deliveries/pack/1", "n.1.1", "6", "rules", "no buttons", "packed_by", "AB", "checked_by", "CD")
	organiser.post("/drives/spring/deliveries/send/1", "boxes", "1", "sent_on", "2026-03-02", "carried_by", "+Tobias")
	for path, says := range map[string]string{
		"asked/asked.csv":                                             "1,Ward 4,standard,,,,yes,20,6,0,0,0,0,14,'=1+1",
		"asked/asked.csv?show=closed":                                 "Line,For,Sizes",
		"deliveries/deliveries.csv":                                   "1,Ward 4,2026-03-02,'+Tobias,on its way,1,6,0,0,0,6,0,",
		"fabric/supplies/supplies.csv":                                "1,Thread,12,spools,1,4,48,0,no,",
		"fabric/stocktakes/stocktakes.csv":                            "1,2026-03-02,",
		"cutting/sheets.csv":                                          "Sheet,Revision,Plan,Shelf",
		"books/lists/laundry.csv?from=2026-03-01&to=2026-03-02":       "Batch,Put in on",
		"books/lists/asked-changes.csv?from=2026-03-01&to=2026-03-02": "line,1,Ward 4,",
	} {
		r := organiser.get("/drives/spring/" + path)
		require.Equal(t, http.StatusOK, r.Status, path)
		r.has(says)
	}
	organiser.get("/drives/spring/asked/asked.csv?show=closed").lacks("Ward 4")
	for page, file := range map[string]string{"asked": "asked.csv", "deliveries": "deliveries.csv", "fabric/supplies": "supplies.csv", "fabric/stocktakes": "stocktakes.csv"} {
		organiser.get("/drives/spring/" + page).has(file)
	}
}

// What came without a kit is told by whom it was brought in; half a pillowcase is none.
func TestLooseOnesAreToldByWhomTheyAre(t *testing.T) {
	ts := newTestSite(t)
	wardLine(t, ts, 20)
	packer := ts.as(account.Packer)
	p, err := ts.Store.CreatePerson(context.Background(), ts.act("person"), drive.Person{Kind: drive.PersonVolunteer, Name: "Winnie Aldercroft", Heads: 1}, nil)
	require.NoError(t, err)
	r := packer.post("/drives/spring/back/loose", "size", "1", "n", "2", "asked", "1", "person", fmt.Sprint(p.Number))
	packer.follow(r).has("without a kit", `data-label="Sewn by">Winnie Aldercroft<`).lacks(`data-label="Sewn by">not known<`)
	packer.post("/drives/spring/back/loose", "size", "1", "n", "2,5", "asked", "1").has("Type a whole number", `value="2,5"`)
	packer.get("/drives/spring/back").has("2 pillowcases wait")
}

// The last pillowcase of a kit can come back not sewn at the table, too.
func TestTheLastOfAKitComesBackNotSewn(t *testing.T) {
	ts := newTestSite(t)
	wardLine(t, ts, 20)
	desk, packer := ts.as(account.Desk), ts.as(account.Packer)
	p, err := ts.Store.CreatePerson(context.Background(), ts.act("person"), drive.Person{Kind: drive.PersonVolunteer, Name: "Winnie Aldercroft", Heads: 1}, nil)
	require.NoError(t, err)
	desk.post("/drives/spring/kits/own", "size", "1", "cases", "1", "kits", "1", "asked", "1", "person", fmt.Sprint(p.Number), "due", "2026-03-20")
	packer.get("/drives/spring/back?kit=1").has("It came back not sewn")
	r := packer.post("/drives/spring/back/kit", "kit", "1", "sewn", "0", "rest", "unsewn")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	packer.follow(r).has("Kit 1 came back, and none of it is sewn.", "1 not sewn lies here", "back/kit/1/undo")
	packer.follow(packer.post("/drives/spring/back/kit/1/undo")).has("Undone: kit 1 did not come back after all. Kit 1 is with Winnie Aldercroft since 2 Mar 2026, with 1 pillowcase.")
	desk.get("/drives/spring/kits/1").has("With <a", "1 being sewn")
}
