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
)

// At the table: whoever is chosen sees what suits them first and why; labels are
// scanned; one person after another.
func TestHandOutTable(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	ts.addPerson("Mary Ellis")
	ts.addKits(z, 2, 6)
	ts.addKits(z, 1, 2)
	desk := ts.as(account.Desk)
	saved, err := ts.Store.CreatePerson(t.Context(), ts.act("bo"), drive.Person{Kind: drive.PersonVolunteer, Name: "Bo Lund", Beginner: true, Pickup: "Library"}, nil)
	require.NoError(t, err)
	require.EqualValues(t, 2, saved.Number)

	page := desk.get("/drives/spring/kits/hand-out?person=2&look=1&numbers=1&due=2026-03-20")
	page.has("In order for Bo Lund", "small, to begin with", "large for a beginner", ">1</textarea>", `value="2026-03-20"`)
	require.Less(t, strings.Index(page.Body, "3: 2 × "), strings.Index(page.Body, "1: 6 × "), "the small one comes first")
	desk.get("/drives/spring/kits/hand-out").lacks("In order for")

	desk.follow(desk.post("/drives/spring/kits/place", "kit", "1", "kit", "2", "place", "Library")).has("2 kits at Library", "at Library")
	desk.get("/drives/spring/kits/hand-out?person=2").has("lies where they pick up")
	require.Equal(t, http.StatusUnprocessableEntity, desk.post("/drives/spring/kits/place", "kit", "1", "place", strings.Repeat("x", 121)).Status)
	require.Equal(t, http.StatusUnprocessableEntity, desk.post("/drives/spring/kits/place", "place", "Library").Status)

	base := "http://" + "drive.example.org"
	r := desk.post("/drives/spring/kits/hand-out", "person", "2", "numbers", "3\n"+base+"/l/autumn/kit/1\nhttps://exa", "then", "next")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("another installation", "no label of this program", "3 "+base+"/l/autumn/kit/1 https://exa")
	r = desk.post("/drives/spring/kits/hand-out", "person", "2", "numbers", "kit 3", "due", "2026-03-20", "then", "next")
	require.Contains(t, r.Location, "/kits/hand-out?")
	desk.follow(r).has("Handed out: 1 kit with 2 pillowcases", "Bo Lund has", `href="/drives/spring/kits/3"`, `value="2026-03-20"`)
}

// What a recipient asks of homes is said before a kit leaves for another one, however it was chosen.
func TestHandOutSpeaksOfHomes(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	ctx := t.Context()
	r, err := ts.Store.CreateRecipient(ctx, ts.act("ward"), drive.Recipient{Kind: drive.RecipientWard, Name: "Larkspur ward", Homes: []string{drive.HomeNoSmoke}})
	require.NoError(t, err)
	line, err := ts.Store.CreateAsked(ctx, ts.act("asked"), drive.Asked{Recipient: r.Number, Sizes: []int64{z.Number}, Wanted: 20, Matter: drive.MatterMust})
	require.NoError(t, err)
	_, err = ts.Store.MakeOwnFabricKits(ctx, ts.act("kits"), drive.OwnFabric{Kits: 3, Cases: 2, Size: z.Number, Asked: &line.Number})
	require.NoError(t, err)
	ts.addKits(z, 1, 2) // for nobody yet
	for name, smoke := range map[string]drive.Declared{"Bo Lund": drive.DeclaredYes, "Mary Ellis": drive.NotDeclared, "Nell Orr": drive.DeclaredNo} {
		_, err := ts.Store.CreatePerson(ctx, ts.act(name), drive.Person{Kind: drive.PersonVolunteer, Name: name, Smoke: smoke}, nil)
		require.NoError(t, err)
	}
	number := func(name string) string {
		var n string
		require.NoError(t, ts.DB.Pool.QueryRow(ctx, `SELECT number::text FROM people WHERE name = $1`, name).Scan(&n))
		return n
	}
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/kits/hand-out").lacks("all the same")

	for _, chosen := range [][]string{{"kit", "1", "kit", "2"}, {"numbers", "1 2"}} {
		out := desk.post("/drives/spring/kits/hand-out", append([]string{"person", number("Bo Lund")}, chosen...)...)
		require.Equal(t, http.StatusUnprocessableEntity, out.Status)
		out.has("Kit 1 is for somebody who asks for homes with no smoke (and 1 more of them), and Bo Lund says that theirs is not so.", "They get them all the same")
	}
	desk.follow(desk.post("/drives/spring/kits/hand-out", "person", number("Bo Lund"), "kit", "4")).has("Handed out: 1 kit with 2 pillowcases.")
	out := desk.follow(desk.post("/drives/spring/kits/hand-out", "person", number("Bo Lund"), "kit", "1", "home", "yes"))
	out.has("Handed out: 1 kit with 2 pillowcases.")
	desk.follow(desk.post("/drives/spring/kits/hand-out", "person", number("Mary Ellis"), "kit", "2")).
		has("Handed out: 1 kit with 2 pillowcases. Kit 2 is for somebody who asks for homes with no smoke: ask Mary Ellis, and note it under People.")
	desk.follow(desk.post("/drives/spring/kits/hand-out", "person", number("Nell Orr"), "kit", "3")).lacks("asks for homes")
	desk.follow(desk.post("/drives/spring/kits/3/give", "person", number("Bo Lund"))).has("Kit 3 given again. Kit 3 is for somebody who asks for homes with no smoke, and Bo Lund says that theirs is not so.", "Undo")

	// What has gone out by a sheet, and what came in, is told of and not refused.
	_, err = ts.Store.MakeOwnFabricKits(ctx, ts.act("more"), drive.OwnFabric{Kits: 2, Cases: 2, Size: z.Number, Asked: &line.Number})
	require.NoError(t, err)
	desk.follow(desk.post("/drives/spring/kits/sign-out", "kit-1", "5", "name-1", "Bo Lund", "kit-2", "6", "name-2", "Mary Ellis")).has(
		"Handed out as on the sheet: 2 kits with 4 pillowcases. Kit 5 is for somebody who asks for homes with no smoke, and Bo Lund says that theirs is not so. Kit 6 is for somebody", "ask Mary Ellis")
	packing := ts.as(account.Organiser)
	loose := func(of string, more ...string) testAnswer {
		return packing.follow(packing.post("/drives/spring/back/loose", append([]string{"size", fmt.Sprint(z.Number), "n", "2", "person", of}, more...)...))
	}
	forWard := []string{"asked", fmt.Sprint(line.Number)}
	loose(number("Bo Lund"), forWard...).has("2 brought in without a kit. They wait to be checked. Larkspur ward asks for homes with no smoke, and Bo Lund says that theirs is not so")
	loose(number("Mary Ellis"), forWard...).has("Larkspur ward asks for homes with no smoke: ask Mary Ellis")
	loose(number("Nell Orr"), forWard...).lacks("asks for homes")
	loose(number("Bo Lund")).lacks("asks for homes")
}

// A kit that is to be back only after its ward needs it is told of, wherever its day is given.
func TestADayAfterTheOneAKitIsNeededByIsTold(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	r, err := ts.Store.CreateRecipient(t.Context(), ts.act("ward"), drive.Recipient{Kind: drive.RecipientWard, Name: "Larkspur ward"})
	require.NoError(t, err)
	needed := drive.Day(ts.Clock.Now(), time.UTC).AddDate(0, 0, 17)
	line, err := ts.Store.CreateAsked(t.Context(), ts.act("asked"), drive.Asked{Recipient: r.Number, Sizes: []int64{z.Number}, Wanted: 20, Matter: drive.MatterMust, Due: &needed})
	require.NoError(t, err)
	_, err = ts.Store.MakeOwnFabricKits(t.Context(), ts.act("kits"), drive.OwnFabric{Kits: 2, Cases: 2, Size: z.Number, Asked: &line.Number})
	require.NoError(t, err)
	ts.addPerson("Mary Ellis")
	ts.addPerson("Bo Lund")
	desk := ts.as(account.Desk)
	on := func(days int) string { return needed.AddDate(0, 0, days).Format(time.DateOnly) }
	said := " is needed by " + needed.Format("2 Jan 2006") + ", before the " + needed.AddDate(0, 0, 4).Format("2 Jan") + " it is to be back: agree on an earlier day."
	desk.follow(desk.post("/drives/spring/kits/hand-out", "person", "1", "kit", "1", "due", on(4))).has("Handed out: 1 kit with 2 pillowcases. Kit 1"+said, "Undo")
	desk.follow(desk.post("/drives/spring/kits/hand-out", "person", "1", "kit", "2", "due", on(0))).has("Handed out").lacks("agree on an earlier day")
	desk.get("/drives/spring/kits/2").has(`name="due" type="date" value="`+on(0)+`"`, `name="longer" type="date" value="`+on(7)+`"`)
	desk.follow(desk.post("/drives/spring/kits/2/longer", "longer", on(4))).has("Kit 2 has another day. Kit 2" + said)
	desk.follow(desk.post("/drives/spring/kits/2/give", "person", "2", "due", on(4))).has("given again. Kit 2" + said)
	desk.follow(desk.post("/drives/spring/kits/2/longer", "longer", "")).has("no day to be back by")

	// Each row of a sheet has its own day, and own fabric and a part that goes to somebody have one too.
	own := []string{"kits", "3", "cases", "2", "size", fmt.Sprint(z.Number), "asked", fmt.Sprint(line.Number)}
	require.Equal(t, http.StatusSeeOther, desk.post("/drives/spring/kits/own", own...).Status)
	rows := []string{"due", on(0), "kit-1", "3", "name-1", "Mary Ellis", "kit-2", "4", "name-2", "Bo Lund", "due-2", on(4), "kit-3", "5", "name-3", "Bo Lund", "due-3", on(9)}
	desk.follow(desk.post("/drives/spring/kits/sign-out", rows...)).
		has("Handed out as on the sheet: 3 kits with 6 pillowcases. Kit 4" + strings.Replace(said, "back:", "back (and 1 more of them):", 1)).lacks("Kit 3 is needed")
	given := append(own, "person", "1", "due")
	print := desk.follow(desk.post("/drives/spring/kits/own", append(given, on(4))...))
	print.has("Print the cards and put one into each bag. Kit 6" + strings.Replace(said, "back:", "back (and 2 more of them):", 1))
	desk.follow(desk.post("/drives/spring/kits/own", append(given, on(0))...)).lacks("agree on an earlier day")
	desk.follow(desk.post("/drives/spring/kits/6/split", "split", "1", "split_to", "2", "split_due", on(4))).has("Print its label and put it on the bag. Kit 6-2" + said)

	// Of a day that has passed nobody can agree on an earlier one.
	ts.Clock.Pass(18 * 24 * time.Hour)
	was := " was needed by " + needed.Format("2 Jan 2006") + "."
	desk = ts.as(account.Packer)
	desk.follow(desk.post("/drives/spring/kits/2/longer", "longer", on(4))).has("Kit 2 has another day. Kit 2" + was).lacks("agree on an earlier day")
}

func TestKitIsSplit(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	mary, bo := ts.addPerson("Mary Ellis"), ts.addPerson("Bo Lund")
	require.Equal(t, []int64{1, 2}, []int64{mary, bo})
	ts.addKits(z, 1, 6)
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/kits/1").has("Split it in two", "make a kit for a beginner")
	for typed, says := range map[string]string{"6": "part off 1 to 5", "0": "part off 1 to 5", "two": "Type a whole number"} {
		r := desk.post("/drives/spring/kits/1/split", "split", typed)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status)
		r.has(says, `value="`+typed+`"`)
	}
	desk.follow(desk.post("/drives/spring/kits/1/split", "split", "2")).has("2 pillowcases of kit 1 are kit 1-2 now", "4 cut, not sewn", "2 parted off, 4 stay")
	desk.get("/drives/spring/kits/1-2").has("Lies here, ready", "2 cut, not sewn", "parted off, 2 pillowcases", "2 parted off, 4 stay", `<td data-label="Kit"><b>1-2</b></td>`, `<td data-label="Kit"><a href="/drives/spring/kits/1">1</a></td>`)
	desk.get("/drives/spring/kits/1").has("parted off, 2 pillowcases", `<td data-label="Kit"><a href="/drives/spring/kits/1-2">1-2</a></td>`)

	desk.follow(desk.post("/drives/spring/kits/hand-out", "person", "1", "kit", "1", "due", "2026-03-09"))
	r := desk.post("/drives/spring/kits/1/split", "split", "1")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("choose who gets the part")
	desk.post("/drives/spring/kits/1/split", "split", "1", "split_to", "1").has("has kit 1 already")
	desk.post("/drives/spring/kits/1/split", "split", "1", "split_to", "2", "split_due", "2026-01-01").has("before 2 Mar 2026")
	desk.follow(desk.post("/drives/spring/kits/1/split", "split", "3", "split_to", "2", "split_due", "2026-03-20")).has("are kit 1-3 now", "1 being sewn")
	desk.get("/drives/spring/kits/1-3").has("Bo Lund", "20 Mar 2026", "3 being sewn")
	desk.get("/drives/spring/people/2").has("1-3", "got 3 pillowcases")
	r = desk.post("/drives/spring/kits/1/split", "split", "1", "split_to", "2")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("cannot be split")
	desk.follow(desk.post("/drives/spring/kits/1-3/back", "sewn", "3")).has("3 pillowcases of kit 1-3 taken back")
	require.Equal(t, http.StatusConflict, desk.post("/drives/spring/kits/1-3/split", "split", "1").Status)

	ts.addKits(z, 1, 3)
	desk.follow(desk.post("/drives/spring/kits/2/split", "split", "1")).has("kits/2-2/undo-split")
	desk.get("/drives/spring/kits/2-2").has("Undo the split")
	desk.follow(desk.post("/drives/spring/kits/2-2/undo-split")).has("Undone: kit 2 holds 3 pillowcases again", "<h1>Kit 2</h1>", "counted in its kit again", "Throw the label of 2-2 away").lacks("taken apart on")
	desk.get("/drives/spring/kits/2-2").has("again: throw its label away")
	desk.get("/drives/spring/kits/2-2").has(`It counts in kit <a href="/drives/spring/kits/2">2</a> again`).lacks("Taken apart", "Print the label", "To sew")
	desk.get("/drives/spring/kits/2").has("undone: 3 together again", "3 cut, not sewn").lacks("Undo the split", "Its parts")
	require.Equal(t, http.StatusConflict, desk.post("/drives/spring/kits/2-2/undo-split").Status)
}

// The card of a kit that somebody has opens their own page too, where they have a link; not one
// that lies here, and not for those who may not pass links on.
func TestACardOpensItsHoldersOwnPage(t *testing.T) {
	ts := newTestSite(t)
	z, mary := ts.addSize(), ts.addPerson("Mary Ellis")
	ts.giveKits(z, mary, 1, 6)
	ts.addKits(z, 1, 4)
	desk, reader := ts.as(account.Desk), ts.as(account.Reader)
	desk.get("/drives/spring/kits/1/card").lacks("Your own page")
	ts.personalPath(mary, "mary")
	desk.get("/drives/spring/kits/1/card").has("Your own page", "keep this card")
	desk.get("/drives/spring/kits/2/card").lacks("Your own page")
	reader.get("/drives/spring/kits/1/card").lacks("Your own page")
	require.Greater(t, len(desk.get("/drives/spring/kits/cards/cards.pdf?kit=1").Body), len(reader.get("/drives/spring/kits/cards/cards.pdf?kit=1").Body))
}

// What is told beside a booking cannot be read: the booking stands, and the page says so.
func TestABookingIsToldThoughWhatStandsBesideItIsNot(t *testing.T) {
	ts := newTestSite(t)
	z := ts.addSize()
	mary, bo := ts.addPerson("Mary Ellis"), ts.addPerson("Bo Lund")
	ts.giveKits(z, mary, 1, 6)
	ts.addKits(z, 1, 4)
	desk := ts.as(account.Desk)
	for _, tt := range []struct {
		path, done string
		form       []string
	}{
		{"1/split", "2 pillowcases of kit 1 are kit 1-2 now.", []string{"split", "2", "split_to", fmt.Sprint(bo), "split_due", "2026-03-20"}},
		{"sign-out", "Handed out as on the sheet: 1 kit with 4 pillowcases.", []string{"due", "2026-03-20", "kit-1", "2", "name-1", "Bo Lund"}},
		{"own", "1 kit made, for 3 pillowcases.", []string{"size", "1", "cases", "3", "kits", "1", "person", fmt.Sprint(bo), "due", "2026-03-20"}},
	} {
		_, err := ts.DB.Owner().Exec(t.Context(), `ALTER TABLE asked RENAME COLUMN due TO due_away`)
		require.NoError(t, err)
		r := desk.post("/drives/spring/kits/"+tt.path, tt.form...)
		_, err = ts.DB.Owner().Exec(t.Context(), `ALTER TABLE asked RENAME COLUMN due_away TO due`)
		require.NoError(t, err)
		require.Equal(t, http.StatusSeeOther, r.Status, tt.path)
		desk.follow(r).has(tt.done, "What else there is to say of it could not be read.")
	}
	require.GreaterOrEqual(t, strings.Count(ts.Log.String(), "request failed"), 3, "each is logged")
}
