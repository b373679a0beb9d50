package site

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
)

// What was sewn before and went out to be mended is asked for in those words, out and lost: of what is
// lost some turn up, are counted, and the others stay lost until they turn up too.
func TestSomeOfALostMendingAtTheTable(t *testing.T) {
	ts := newTestSite(t)
	wardLine(t, ts, 20)
	ada := ts.addPerson("Ada Quill")
	desk := ts.as(account.Packer)
	desk.post("/drives/spring/back/loose", "size", "1", "n", "6")
	desk.post("/drives/spring/back/check/0/1/0/0", "row1_n", "6", "row1_to", "to mend", "note", "cuff", "pins", "yes")
	desk.follow(desk.post("/drives/spring/back/mend/0/1/0/0/send", "n", "6", "person", fmt.Sprint(ada)))
	desk.get("/drives/spring/kits/1").has("How many came back", "The kit holds 6, sewn before and out to be mended", "the others stay with Ada Quill").lacks("How many are sewn", "Those not sewn", "came back too")
	desk.get("/drives/spring/back?kit=1").has("How many came back", "the others stay with whoever has them").lacks("How many are sewn", "not sewn")
	desk.post("/drives/spring/back/kit", "kit", "1", "sewn", "0").has("Say how many came back, mended or not, 1 to 6.").lacks("say that too")
	_, err := ts.Store.KitLost(t.Context(), ts.act("lost"), drive.KitRef{Number: 1, Part: 1}, "on the bus", time.Time{})
	require.NoError(t, err)

	desk.get("/drives/spring/kits/1").has("How many turned up", "It was lost with 6 pillowcases", "The others stay lost", `name="found"`, `value="6"`).lacks("can be handed out again")
	desk.get("/drives/spring/back?kit=1").has("How many turned up", "the others stay lost").lacks("not sewn")
	r := desk.post("/drives/spring/kits/1/found", "found", "0")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("say how many turned up, 1 to 6, mended or not", `value="0"`)
	desk.follow(desk.post("/drives/spring/kits/1/found", "found", "3")).has("3 pillowcases of kit 1 turned up and wait to be checked, as kit 1-2. 3 are still lost.",
		"kits/1-2/undo-back", "Booked as <b>lost</b>", "3 turned up, 3 still lost", "It was lost with 3 pillowcases")
	desk.get("/drives/spring/kits/1-2").has("turned up, 3 pillowcases", "3 sewn, to be checked")
	desk.follow(desk.post("/drives/spring/kits/1-2/undo-back")).has("Undone: 3 pillowcases, kit 1-2, did not turn up after all. Kit 1 was booked as lost on 2 Mar 2026, with 6 pillowcases.")
	desk.get("/drives/spring/kits/1").has("undone: lost again", "6 lost")
	desk.follow(desk.post("/drives/spring/back/kit", "kit", "1", "sewn", "5")).has("5 of kit 1 turned up. 1 is still lost.", "back/kit/1-3/undo")
	desk.get("/drives/spring/kits?where=lost").has("1 kit, 1 pillowcase")
	desk.follow(desk.post("/drives/spring/back/kit", "kit", "1", "sewn", "1")).has("Kit 1 turned up, 1 sewn. That is all of it.")
	desk.get("/drives/spring/kits?where=lost").lacks("kits/1")
}

// Of a lost kit some turn up at the table: those sewn wait to be checked, those not sewn can be handed out,
// and the rest stays lost.
func TestSomeOfALostKitAtTheTable(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	ada := ts.addPerson("Ada Quill")
	ts.addKits(z, 1, 8)
	desk := ts.as(account.Packer)
	desk.post("/drives/spring/kits/hand-out", "person", fmt.Sprint(ada), "kit", "1", "due", "2026-03-09")
	desk.post("/drives/spring/kits/1/lost", "reason", "on the bus")
	desk.get("/drives/spring/kits/1").has("How many are sewn", "How many are still lost", `name="still_lost"`)
	r := desk.post("/drives/spring/kits/1/found", "found", "3", "still_lost", "6")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("3 sewn and 6 still lost are more than that", `value="6"`)
	desk.follow(desk.post("/drives/spring/kits/1/found", "found", "1", "still_lost", "5")).has("2 pillowcases not sewn of kit 1 turned up and can be handed out as kit 1-3: print its label.",
		"1 pillowcase of kit 1 turned up and waits to be checked, as kit 1-2. 5 are still lost.", "kits/1-2/undo-back", "Booked as <b>lost</b>", "3 turned up, 5 still lost")
	desk.get("/drives/spring/kits/1-3").has("turned up, 2 pillowcases not sewn", "Hand it out")
	desk.get("/drives/spring/back?kit=1").has("How many are still lost")
	r = desk.post("/drives/spring/back/kit", "kit", "1", "sewn", "0", "still_lost", "5")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("say how many are lost still, 0 to 4")
	desk.follow(desk.post("/drives/spring/back/kit", "kit", "1", "sewn", "2", "still_lost", "2")).has("3 of kit 1 turned up. 1 not sewn can be handed out as kit 1-5: print its label. 2 are still lost.", "back/kit/1-4/undo")
	desk.follow(desk.post("/drives/spring/back/kit", "kit", "1", "sewn", "0")).has("Kit 1 turned up, and none of it is sewn. 2 not sewn lie here and can be handed out.", "back/kit/1/undo")
	desk.get("/drives/spring/kits?where=lost").lacks("kits/1")
}

// lostKit has kit 1 with six pillowcases that Ada Quill lost.
func lostKit(t *testing.T) (ts *testSite, desk *client, ada int64) {
	t.Helper()
	ts = newTestSite(t)
	ada = ts.addPerson("Ada Quill")
	ts.addKits(ts.addSize(), 1, 6)
	desk = ts.as(account.Packer)
	desk.post("/drives/spring/kits/hand-out", "person", fmt.Sprint(ada), "kit", "1", "due", "2026-03-09")
	desk.post("/drives/spring/kits/1/lost", "reason", "on the bus")
	return ts, desk, ada
}

// What turned up with nothing sewn can be lost again, where it was found and on its own page: the whole kit,
// a part of it, and what turned up beside sewn ones.
func TestAFindWithNothingSewnIsUndone(t *testing.T) {
	ts, desk, _ := lostKit(t)
	const lost = "Undone: kit 1 did not turn up after all. Kit 1 was booked as lost on 2 Mar 2026, with 6 pillowcases."

	ts.Clock.Pass(time.Hour)
	desk.follow(desk.post("/drives/spring/kits/1/found", "found", "0")).has("Kit 1 is found.", "kits/1/undo-back", "It did not turn up after all", "6 cut, not sewn").lacks("It did not come back")
	desk.follow(desk.post("/drives/spring/kits/1/undo-back")).has(lost, "6 lost", "undone: lost again")

	ts.Clock.Pass(time.Hour)
	desk.follow(desk.post("/drives/spring/back/kit", "kit", "1", "sewn", "0")).has("none of it is sewn", "back/kit/1/undo")
	desk.follow(desk.post("/drives/spring/back/kit/1/undo")).has(lost)

	ts.Clock.Pass(time.Hour)
	desk.follow(desk.post("/drives/spring/back/kit", "kit", "1", "sewn", "0", "still_lost", "5")).has("1 of kit 1 turned up. 1 not sewn can be handed out as kit 1-2", "back/kit/1-2/undo")
	desk.get("/drives/spring/kits/1-2").has("It did not turn up after all", "Hand it out")
	desk.follow(desk.post("/drives/spring/kits/1-2/undo-back")).has("Undone: 1 pillowcase, kit 1-2, did not turn up after all. Kit 1 was booked as lost on 2 Mar 2026, with 6 pillowcases.")

	// Two sewn and the others not, in one find, which is undone as one.
	ts.Clock.Pass(time.Hour)
	desk.follow(desk.post("/drives/spring/kits/1/found", "found", "2")).has("Kit 1 is found.", "kits/1-3/undo-back", "4 cut, not sewn")
	desk.get("/drives/spring/kits/1-3").has("Undo the find")
	desk.post("/drives/spring/kits/1-3/undo-back")
	desk.get("/drives/spring/kits/1").has(lost, "6 lost")

	ts.as(account.Organiser).get("/drives/spring/trail").has("Find undone", "pillowcases: 6<").lacks("Taking back undone")

	// Once it went on its way it is not offered any more.
	ts.Clock.Pass(time.Hour)
	desk.post("/drives/spring/kits/1/found", "found", "0")
	desk.post("/drives/spring/kits/ready", "kit", "1")
	desk.get("/drives/spring/kits/1").lacks("It did not turn up after all")
	require.Equal(t, http.StatusConflict, desk.post("/drives/spring/kits/1/undo-back").Status)
	wrong, err := ts.Store.CheckBalances(t.Context())
	require.NoError(t, err)
	require.Empty(t, wrong.Differences)
}

// A find of which some are sewn, some are not and some are lost still is undone as one, from its message, on the
// page of the kit and at the returns table; where one part of it went on its way, neither is.
func TestAFindInThreeWaysIsUndoneAsOne(t *testing.T) {
	ts, desk, ada := lostKit(t)
	const undone = "Undone: 5 pillowcases, kits %s and %s, did not turn up after all. Kit 1 was booked as lost on 2 Mar 2026, with 6 pillowcases."

	ts.Clock.Pass(time.Hour)
	desk.follow(desk.post("/drives/spring/kits/1/found", "found", "2", "still_lost", "1")).has("as kit 1-2. 1 is still lost.", `action="/drives/spring/kits/1-2/undo-back?kit=1-3"`)
	for _, also := range []string{"2", "x"} { // nothing of another kit, and no number at all
		require.Equal(t, http.StatusUnprocessableEntity, desk.post("/drives/spring/kits/1-2/undo-back?kit="+also).Status)
		require.Equal(t, http.StatusUnprocessableEntity, desk.post("/drives/spring/back/kit/1-2/undo?kit="+also).Status)
	}
	desk.follow(desk.post("/drives/spring/kits/1-2/undo-back?kit=1-3")).has(fmt.Sprintf(undone, "1-2", "1-3")+" Throw the label of 1-3 away.", "6 lost")
	desk.get("/drives/spring/kits/1-3").has("It counts in kit", "again: throw its label away").lacks("Hand it out")
	desk.get("/drives/spring/kits/1-2").has("It counts in kit").lacks("label away")

	ts.Clock.Pass(time.Hour)
	desk.follow(desk.post("/drives/spring/back/kit", "kit", "1", "sewn", "2", "still_lost", "1")).has(`action="/drives/spring/back/kit/1-4/undo?kit=1-5"`)
	desk.follow(desk.post("/drives/spring/back/kit/1-4/undo?kit=1-5")).has(fmt.Sprintf(undone, "1-4", "1-5"))
	desk.get("/drives/spring/kits/1").has("6 lost")

	ts.Clock.Pass(time.Hour)
	desk.post("/drives/spring/kits/1/found", "found", "2", "still_lost", "1")
	desk.post("/drives/spring/kits/hand-out", "person", fmt.Sprint(ada), "kit", "1-7", "due", "2026-03-09")
	desk.post("/drives/spring/kits/1-6/undo-back?kit=1-7").has("Kit 1-7 is with Ada Quill")
	desk.get("/drives/spring/kits/1-6").has("Undo the find", "2 sewn, to be checked")
	wrong, err := ts.Store.CheckBalances(t.Context())
	require.NoError(t, err)
	require.Empty(t, wrong.Differences)
}

// Whoever was given when loose pillowcases were brought in is named where they are checked, and first
// to be given them where they are to be mended.
func TestLooseSewerIsNamedAtTheTable(t *testing.T) {
	ts := newTestSite(t)
	wardLine(t, ts, 20)
	ada := ts.addPerson("Ada Quill")
	bo := ts.addPerson("Bo Lund")
	packer := ts.as(account.Packer)
	packer.post("/drives/spring/back/loose", "size", "1", "n", "6", "asked", "1", "person", fmt.Sprint(ada))
	packer.get("/drives/spring/back").has(`data-label="Sewn by">Ada Quill`)
	packer.get("/drives/spring/back/check/1/1/0/0").has("sewn by Ada Quill.")
	packer.post("/drives/spring/back/check/1/1/0/0", "good", "4", "row1_n", "2", "row1_to", "to mend", "note", "cuff", "pins", "yes")
	packer.get("/drives/spring/back/mend/1/1/0/0").has("sewn by Ada Quill.", fmt.Sprintf(`<option value="%d" selected>Ada Quill`, ada))
	packer.post("/drives/spring/back/mend/1/1/0/0/send", "n", "2", "person", fmt.Sprint(bo))
	packer.get("/drives/spring/back").has(`data-label="Where">with Bo Lund`)
	packer.get("/drives/spring/back/mend/1/1/1/1").has("sewn by Ada Quill.").lacks("sewn by Bo Lund")
	packer.post("/drives/spring/back/kit", "kit", "1", "sewn", "2")
	packer.get("/drives/spring/back").has(`data-label="Sewn by">Ada Quill; mended by Bo Lund<`)
	packer.get("/drives/spring/back/check/1/1/1/1").has("sewn by Ada Quill, mended by Bo Lund.")
}

// The page of a kit tells what its holder said where something else was counted, and offers no undoing
// into the hands of somebody who is forgotten.
func TestKitPageTellsWhatWasSaid(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	ada := ts.addPerson("Ada Quill")
	ref := ts.addKits(z, 1, 4)[0]
	desk := ts.as(account.Desk)
	desk.post("/drives/spring/kits/hand-out", "person", fmt.Sprint(ada), "kit", "1", "due", "2026-03-09")
	ts.Clock.Pass(time.Hour)
	_, err := ts.Store.ReportKit(t.Context(), ts.act("said"), drive.KitReport{KitRef: ref, Person: ada, Kind: drive.ReportFinished, Cases: 3})
	require.NoError(t, err)
	desk.get("/drives/spring/kits/1").has("has finished <b>3</b>").lacks("Ada Quill said:")
	ts.Clock.Pass(time.Hour)
	desk.follow(desk.post("/drives/spring/kits/1/back", "sewn", "4", "rest", "stays")).has("Ada Quill said: 3 finished", "Taken back by mistake?", "It goes back to who had it")
	_, err = ts.Store.ErasePerson(t.Context(), ts.act("gone"), ada)
	require.NoError(t, err)
	desk.get("/drives/spring/kits/1").has("Erased person 1 said: 3 finished").lacks("by mistake?")
}
