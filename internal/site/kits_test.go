package site

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
)

// kitSample is the page of a kit in one place, with everything it can show.
func kitSample(state drive.KitState) page {
	p := filled(kitPage{}).(kitPage)
	p.Kit.State = state
	if state != drive.KitOut {
		p.With, p.Kit.Holder = 0, nil
	}
	return p
}

// addSize adds the built-in standard size to the drive of a test site.
func (ts *testSite) addSize() drive.Size {
	ts.t.Helper()
	built, ok := sizing.CaseNamed("standard")
	require.True(ts.t, ok)
	z, err := ts.Store.CreateSize(ts.t.Context(), ts.act("size"), drive.Size{Name: built.Name, Spec: built.Spec})
	require.NoError(ts.t, err)
	return z
}

// addPerson adds a volunteer with everything about them.
func (ts *testSite) addPerson(name string) int64 {
	ts.t.Helper()
	saved, err := ts.Store.CreatePerson(ts.t.Context(), ts.act("person-"+name), drive.Person{Kind: drive.PersonVolunteer, Name: name},
		&drive.Contacts{Phone: "555 0101", Address: "12 Mill Lane", Email: "reach@example.org"})
	require.NoError(ts.t, err)
	return saved.Number
}

// addKits makes kits of own fabric, ready to hand out.
func (ts *testSite) addKits(z drive.Size, kits, cases int) []drive.KitRef {
	ts.t.Helper()
	made, err := ts.Store.MakeOwnFabricKits(ts.t.Context(), ts.act(fmt.Sprintf("kits-%d-%d", kits, cases)), drive.OwnFabric{Kits: kits, Cases: cases, Size: z.Number})
	require.NoError(ts.t, err)
	return made.Kits
}

func TestKitsFromHandToHand(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	mary, bo := ts.addPerson("Mary Ellis"), ts.addPerson("Bo Lund")
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/kits").has("No kits yet")
	ts.addKits(z, 2, 6)

	desk.get("/drives/spring/kits").has("Nobody has a kit at the moment", `<a href="/drives/spring/kits?where=here">2 kits lie here</a>`)
	desk.get("/drives/spring/kits?where=here").has(`data-all="kit"`)
	desk.get("/drives/spring/kits?q=nothing").lacks("2 kits lie here")
	desk.get("/drives/spring/kits?where=here").has("2 kits", `href="/drives/spring/kits/1"`, "Hand out those ticked")
	desk.get("/drives/spring/kits/hand-out?kit=1&person=1").has(`value="1" checked`, `<option value="1" selected>Mary Ellis`, "1: 6 × standard", "own fabric")

	r := desk.post("/drives/spring/kits/hand-out", "person", "1", "kit", "1", "numbers", "2", "due", "2026-03-09")
	page := desk.follow(r)
	page.has("Handed out: 2 kits with 12 pillowcases", "kits/hand-out/undo?kit=1&amp;kit=2", "due in 7 days", "Has 2 kits with 12 pillowcases")
	desk.get("/drives/spring/kits").has("Mary Ellis", "9 Mar 2026", "2 kits")
	page = desk.follow(desk.post("/drives/spring/kits/hand-out/undo?kit=1&kit=2"))
	page.has("Undone: 2 kits back where they were")

	desk.follow(desk.post("/drives/spring/kits/hand-out", "person", "1", "kit", "1", "due", "2026-03-09"))
	r = desk.post("/drives/spring/kits/hand-out", "person", "2", "kit", "1", "kit", "2", "due", "")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Kit 1 is with Mary Ellis since 2 Mar 2026. Nothing was changed.", `value="2" checked`, `<option value="2" selected>`)

	ts.Clock.Pass(10 * 24 * time.Hour)
	desk.get("/drives/spring/kits/1").has("With <a href=\"/drives/spring/people/1\">Mary Ellis</a>", "3 days late", "Take it back")
	desk.get("/drives/spring/kits?where=late").has("3 days late", "1</b> late")
	r = desk.post("/drives/spring/kits/1/back", "sewn", "7", "rest", "stays")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Kit 1 holds 6 pillowcases with Mary Ellis, not 7", `value="7"`)
	page = desk.follow(desk.post("/drives/spring/kits/1/back", "sewn", "5", "rest", "stays"))
	page.has("5 pillowcases of kit 1 taken back", `href="/drives/spring/kits/1-2"`, "1 being sewn", "kits/1-2/undo-back")
	desk.get("/drives/spring/kits/1-2").has("Came back on", "5 sewn, to be checked", "Taken back by mistake?")
	desk.follow(desk.post("/drives/spring/kits/1-2/undo-back")).has("Undone").lacks("label of 1-2")
	desk.get("/drives/spring/kits/1-2").has("It counts in kit").lacks("label away")
	desk.get("/drives/spring/kits/1").has("6 being sewn")
	page = desk.follow(desk.post("/drives/spring/kits/1/back", "sewn", "0", "rest", "unsewn"))
	page.has("Kit 1 is back unsewn", "kits/1/undo-back", "6 cut, not sewn", "It did not come back after all")
	desk.follow(desk.post("/drives/spring/kits/1/undo-back")).has("Undone", "6 being sewn", "undone: out again with Mary Ellis")

	r = desk.post("/drives/spring/kits/1/longer", "longer", "2026-03-01")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("before 12 Mar 2026", `id="f-longer"`)
	desk.follow(desk.post("/drives/spring/kits/1/longer", "longer", "2026-03-20")).has("another day", "20 Mar 2026")
	desk.follow(desk.post("/drives/spring/kits/1/longer", "longer", "")).has("no day to be back by", "no day agreed")
	desk.post("/drives/spring/kits/1/longer", "longer", "2026-03-20")
	desk.follow(desk.post("/drives/spring/kits/1/give", "person", "2", "due", "2026-03-25")).has("given again", "Bo Lund")
	desk.follow(desk.post("/drives/spring/kits/1/lost", "reason", "moved away")).has("booked as lost", "moved away", "It turned up")
	desk.follow(desk.post("/drives/spring/kits/1/found", "found", "2")).has("is found", "4 cut, not sewn", "Hand it out")
	desk.follow(desk.post("/drives/spring/kits/1/apart", "why", "cuffs missing")).has("taken apart", "4 given up")
	require.Equal(t, []int64{1, 2}, []int64{mary, bo})
}

func TestKitPagesRefuse(t *testing.T) {
	ts := newTestSite(t)
	ts.addDrive("autumn", "Autumn drive")
	z := ts.addSize()
	ts.addPerson("Mary Ellis")
	ts.addKits(z, 1, 6)
	desk := ts.as(account.Desk)
	for _, path := range []string{"/kits/2", "/kits/1-2", "/kits/1-1", "/kits/x", "/kits/01", "/people/9", "/people/x", "/kits/7/card", "/kits/cards?kit=7"} {
		require.Equal(t, http.StatusNotFound, desk.get("/drives/spring"+path).Status, path)
	}
	require.Equal(t, http.StatusNotFound, desk.post("/drives/spring/kits/2/back", "sewn", "1").Status)
	require.Equal(t, http.StatusUnprocessableEntity, desk.get("/drives/spring/kits/cards").Status)
	require.Equal(t, http.StatusNotFound, ts.asIn(account.Organiser, "autumn").get("/drives/autumn/kits/1").Status, "another drive's kit")
	for name, form := range map[string][]string{
		"Choose who takes them":  {"kit", "1"},
		"Tick at least one kit":  {"person", "1"},
		"There is no kit 9 here": {"person", "1", "numbers", "9"},
		"is no kit&#39;s number": {"person", "1", "numbers", "1 bag"},
		"Type a day such as":     {"person", "1", "kit", "1", "due", "soon"},
		"before 2 Mar 2026":      {"person", "1", "kit", "1", "due", "2026-03-01"},
		"has not come yet":       {"person", "1", "kit", "1", "day", "2026-03-05"},
		"Choose who takes it":    {"person", "99", "kit", "1"},
	} {
		r := desk.post("/drives/spring/kits/hand-out", form...)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, name)
		r.has(name)
	}
	desk.get("/drives/spring/kits/1").has("Lies here, ready")
}

func TestOwnKitsAndTheirCards(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	ts.addPerson("Mary Ellis")
	r := ts.as(account.Desk).post("/drives/spring/kits/own", "size", "", "cases", "x", "kits", "0")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Type a whole number")
	desk := ts.as(account.Packer)
	page := desk.follow(desk.post("/drives/spring/kits/own", "size", fmt.Sprint(z.Number), "cases", "4", "kits", "2", "person", "1", "due", "2026-03-20", "note", "bright prints"))
	page.has("2 kits made, for 8 pillowcases", "Kit 1", "Kit 2", "4 pillowcases, standard", "Please bring it back by 20 Mar 2026", "bright prints",
		"To cut from your own fabric", "Roll the body up", "Rotary cutter:", "Iron:", "Count your pins", "Slip for kit 2")
	page.lacks("style=")
	desk.get("/drives/spring/kits/2/card").has("Kit 2", "4 body panels")
	require.Equal(t, 2, strings.Count(page.Body, `class="card new-page"`))
}

func TestReadyIsMarkedForSeveral(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	refs := ts.addKits(z, 2, 3)
	for i, ref := range refs {
		_, err := ts.Store.KitLost(t.Context(), ts.act(fmt.Sprint("lost", i)), ref, "", time.Time{})
		require.NoError(t, err)
		_, err = ts.Store.KitFound(t.Context(), ts.act(fmt.Sprint("found", i)), ref, 0, 0, time.Time{})
		require.NoError(t, err)
	}
	desk := ts.as(account.Desk)
	desk.follow(desk.post("/drives/spring/kits/ready", "kit", "1", "kit", "2")).has("2 kits ready to hand out", "kits/ready/undo?kit=1&amp;kit=2")
	require.Equal(t, http.StatusConflict, desk.post("/drives/spring/kits/ready", "kit", "1").Status)
	list, err := ts.Store.Kits(t.Context(), "spring", postgres.KitsQuery{Where: postgres.KitsInHouse})
	require.NoError(t, err)
	require.Equal(t, drive.KitReady, list.Kits[0].State)

	const undo = "It is not bagged and labelled after all"
	desk.get("/drives/spring/kits/1").has(undo).lacks("It is bagged and labelled")
	desk.follow(desk.post("/drives/spring/kits/ready/undo?kit=1&kit=2")).has("Undone: 2 kits not bagged and labelled after all")
	desk.get("/drives/spring/kits/1").has("It is bagged and labelled", "undone: found again").lacks(undo)
	desk.follow(desk.post("/drives/spring/kits/ready", "kit", "1"))
	desk.follow(desk.post("/drives/spring/kits/hand-out", "person", fmt.Sprint(ts.addPerson("Mary Ellis")), "kit", "1"))
	r := desk.post("/drives/spring/kits/ready/undo?kit=1")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Kit 1 is with Mary Ellis since 2 Mar 2026, so that it was bagged and labelled cannot be undone")
	require.Equal(t, http.StatusNotFound, desk.post("/drives/spring/kits/ready/undo?kit=9").Status)
	require.Equal(t, http.StatusUnprocessableEntity, desk.post("/drives/spring/kits/ready/undo").Status)
}

func TestReaderSeesKitsAndMovesNothing(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	ts.addPerson("Mary Ellis")
	ts.addKits(z, 1, 6)
	reader := ts.as(account.Reader)
	for _, path := range []string{"/kits", "/kits?where=here", "/kits/1", "/people", "/people/1"} {
		r := reader.get("/drives/spring" + path)
		require.Equal(t, http.StatusOK, r.Status, path)
		require.Equal(t, strings.Count(r.Body, `action="/sign-out"`), strings.Count(r.Body, `<form method="post"`), "no form but signing out on %s", path)
		r.lacks("Hand out", "Take it apart", "Add somebody")
	}
}
