package main

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const (
	ward = "Heron ward"
	home = "/drives/harbour-pillowcases"
)

// figures are how far what the ward asked for has come, as its page says.
type figures struct{ asked, delivered, good, back, out, planned, missing int }

func figuresOf(t testing.TB, h hands) figures {
	t.Helper()
	h.open(home + "/asked")
	row := h.page().row(t, ward)
	n := func(label string) int {
		text, there := row[label]
		require.True(t, there, "%q in %v", label, row)
		if text == "" {
			return 0
		}
		n, err := strconv.Atoi(text)
		require.NoError(t, err, label)
		return n
	}
	return figures{n("Asked"), n("Delivered"), n("Good"), n("To check, mend"), n("With volunteers"), n("Planned"), n("Missing")}
}

// The whole job once through, from three lots of fabric to pillowcases counted on
// a ward and the books that say so: in a browser, in one whose scripts are off,
// and by a client that knows forms only.
func TestWalk(t *testing.T) {
	for name, hand := range everyHand() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			set, db := withDatabase(t)
			p := serving(t, set)
			h := hand(t, p)
			walk(t, h, p)
			balanced(t, t.Context(), db.Pool)
		})
	}
}

func walk(t *testing.T, h hands, p *program) {
	organiser(t, h, p)
	require.Equal(t, "Start your first drive", h.page().heading())
	startDrive(t, h, "Harbour pillowcases")
	askForSix(t, h)
	require.Equal(t, figures{asked: 6, missing: 6}, figuresOf(t, h))

	takeInThreeLots(t, h)
	plan := planned(t, h)
	press(t, h, "Accept this plan")
	require.Equal(t, figures{asked: 6, planned: 6}, figuresOf(t, h), "plan %s is accepted", plan)
	cutAllSheets(t, h)
	require.Equal(t, figures{asked: 6, planned: 6}, figuresOf(t, h), "what is cut is planned still")

	handOutKit(t, h)
	require.Equal(t, figures{asked: 6, out: 6}, figuresOf(t, h))
	takeBackFive(t, h)
	require.Equal(t, figures{asked: 6, back: 5, out: 1}, figuresOf(t, h))
	checkFive(t, h)
	require.Equal(t, figures{asked: 6, good: 4, back: 1, out: 1}, figuresOf(t, h))
	bringInOne(t, h)
	require.Equal(t, figures{asked: 6, good: 5, back: 1, out: 1}, figuresOf(t, h))

	pack(t, h)
	require.Equal(t, figures{asked: 6, good: 5, back: 1, out: 1}, figuresOf(t, h), "what is packed is good still")
	deliver(t, h)
	require.Equal(t, figures{asked: 6, delivered: 5, back: 1, out: 1}, figuresOf(t, h))
	confirm(t, h)
	require.Equal(t, figures{asked: 6, delivered: 5, back: 1, out: 1}, figuresOf(t, h))
	theBooks(t, h)
}

// press goes on where a press leads and requires that it was taken.
func press(t testing.TB, h hands, name string) {
	t.Helper()
	h.press(name)
	require.Equal(t, http.StatusOK, h.status(), "after %q: %s", name, h.page().says())
}

func says(t testing.TB, h hands, words ...string) {
	t.Helper()
	text := h.page().says()
	for _, w := range words {
		require.Contains(t, text, w)
	}
}

func askForSix(t testing.TB, h hands) {
	t.Helper()
	h.open(home + "/sizes")
	press(t, h, "Add standard")
	says(t, h, "standard")
	h.open(home + "/recipients/new")
	h.fill("Name", ward)
	h.fill("Other rules", "washed hot\nno fragrance")
	press(t, h, "Save the recipient")
	h.open(home + "/asked/new")
	h.fill("For", ward)
	h.fill("How many", "6")
	h.tick("standard")
	h.fill("Due", time.Now().AddDate(0, 0, 30).Format(time.DateOnly))
	h.fill("Pillowcases in a kit", "6")
	press(t, h, "Save")
}

// takeInThreeLots tags three lots at the door, and measures them afterwards: a
// print for bodies, a plain for cuffs, another for accents.
func takeInThreeLots(t testing.TB, h hands) {
	t.Helper()
	h.open(home + "/fabric/tag")
	for _, shelf := range []string{"A1", "A2", "B1"} {
		h.fill("Given by", "The bolt shop")
		h.press("Set it aside, shelf, note, another day")
		h.fill("Shelf", shelf)
		press(t, h, "Tag it, then the next")
	}
	h.open(home + "/fabric")
	says(t, h, "3 lots")
	for i, lot := range []struct{ long, print, colours, themes string }{
		{"5 1/2 yd", "feature print", "navy, white", "sea"},
		{"58 in", "solid", "white", ""},
		{"27 in", "tonal", "navy", ""},
	} {
		h.open(fmt.Sprintf("%s/fabric/%d/measure", home, i+1))
		h.fill("Length", lot.long)
		h.fill("Width", "44")
		h.tick("quilting")
		h.tick("cotton")
		h.tick("Washed already")
		h.tick(lot.print)
		h.fill("Other colours", lot.colours)
		h.fill("Other themes", lot.themes)
		press(t, h, "Save")
		says(t, h, fmt.Sprintf("Lot %d", i+1), "Usable:")
	}
}

// planned asks for a plan, waits for it and looks at it.
func planned(t testing.TB, h hands) (number string) {
	t.Helper()
	h.open(home + "/plan")
	says(t, h, "6 pillowcases are asked for and in no plan yet")
	h.press("Make a plan")
	if b, ok := h.(*tab); ok {
		b.turns("How it is cut") // by itself: nothing can be asked of a page that is about to go
		b.open(home + "/plan")
	}
	for end := time.Now().Add(60 * time.Second); !strings.Contains(h.page().says(), "is ready"); time.Sleep(100 * time.Millisecond) {
		require.True(t, time.Now().Before(end), "the plan does not come: %s", h.page().says())
		h.open(home + "/plan")
	}
	says(t, h, "6 pillowcases", "no plan makes more")
	press(t, h, "Look at plan 1")
	says(t, h, "6 of 6 asked for", ward, "How it is cut", "Lot 1")
	return "1"
}

// cutAllSheets prints the sheets, and takes each to the table and cuts it.
func cutAllSheets(t testing.TB, h hands) {
	t.Helper()
	h.open(home + "/cutting")
	says(t, h, "3 sheets")
	if b, ok := h.(*tab); ok {
		b.open(home + "/cutting/print")
		onPaper(t, b)
	}
	for sheet := 1; sheet <= 3; sheet++ {
		h.open(fmt.Sprintf("%s/cutting/%d", home, sheet))
		h.fill("Who takes it", "Bel")
		press(t, h, "Sign it out")
		says(t, h, "on the table with Bel")
		press(t, h, "It is cut")
		says(t, h, "It is cut by Bel")
	}
	says(t, h, "Kit 1 is complete: bag and label it")
}

func handOutKit(t testing.TB, h hands) {
	t.Helper()
	h.open(home + "/people/new")
	h.fill("Name", "Agnes Dunmore")
	press(t, h, "Add to the list")
	h.open(home + "/kits")
	h.fill("Which", "here, to hand out")
	press(t, h, "Find")
	says(t, h, "1 kit, 6 pillowcases")
	h.open(home + "/kits/hand-out?kit=1")
	h.fill("Who takes them", "Agnes Dunmore")
	press(t, h, "Hand them out")
	says(t, h, "Handed out: 1 kit with 6 pillowcases.")
	h.open(home + "/kits/1")
	says(t, h, "With Agnes Dunmore", "6 being sewn", "Lot", "1/1")
}

func takeBackFive(t testing.TB, h hands) {
	t.Helper()
	h.open(home + "/back")
	h.fill("Kit", "1")
	h.fill("Sewn", "5")
	press(t, h, "Next")
	says(t, h, "5 sewn of kit 1 came back. 1 to go, with Agnes Dunmore.", "5 pillowcases wait to be checked")
	h.open(home + "/kits/1-2")
	says(t, h, "Came back", "5 sewn, to be checked")
}

func checkFive(t testing.TB, h hands) {
	t.Helper()
	h.open(home + "/back")
	press(t, h, "Check these")
	h.fill("Passed all of it", "4")
	h.fill("How many", "1")
	h.press("Save the check")
	require.Equal(t, http.StatusUnprocessableEntity, h.status(), "nobody said that they were looked through for pins")
	says(t, h, "pins")
	require.Equal(t, "4", attr(h.page().field(t, "Passed all of it"), "value"), "what was typed stands")
	h.tick("to mend")
	h.tick("seam open")
	h.fill("Width, laid flat", "20")
	h.fill("Length", "30 1/2")
	h.tick("Every one was looked through for pins and needles")
	press(t, h, "Save the check")
	says(t, h, "Checked: 4 good, 1 to mend, 0 not usable.")
}

func bringInOne(t testing.TB, h hands) {
	t.Helper()
	h.open(home + "/back")
	h.fill("Size", "standard")
	h.fill("How many", "1")
	h.fill("For", ward+": standard, 0 missing")
	press(t, h, "Bring in")
	says(t, h, "1 brought in without a kit.", "1 pillowcase waits to be checked")
	press(t, h, "Check these")
	h.fill("Width, laid flat", "20 1/4")
	h.fill("Length", "30 1/4")
	h.tick("Every one was looked through for pins and needles")
	press(t, h, "Save the check")
	says(t, h, "Checked: 1 good")
}

func pack(t testing.TB, h hands) {
	t.Helper()
	h.open(home + "/deliveries")
	says(t, h, "5 good pillowcases wait for a box")
	press(t, h, "Pack a box")
	h.tick("washed hot")
	h.fill("Packed by", "RL")
	h.fill("Counted again by", "AD")
	h.press("Close this box")
	require.Equal(t, http.StatusUnprocessableEntity, h.status(), "a rule was neither ticked nor said why")
	h.fill("Not ticked: why it goes", "unscented soap was out")
	press(t, h, "Close this box")
	says(t, h, "Box 1")
}

func deliver(t testing.TB, h hands) {
	t.Helper()
	h.open(home + "/deliveries")
	h.fill("Carried by", "Tomas")
	press(t, h, "Make the delivery note for "+ward)
	says(t, h, "Delivery 1", ward, "5 sent, not confirmed yet", "washed hot")
	if b, ok := h.(*tab); ok {
		text := printed(t, b.pdf())
		for _, words := range []string{"Delivery 1", ward, "standard", "RL, AD", "Received, counted by box"} {
			require.Contains(t, text, words, "the note on paper")
		}
	}
}

func confirm(t testing.TB, h hands) {
	t.Helper()
	h.open(home + "/deliveries/1")
	h.fill("Said by", "Sister Okafor")
	h.tick("by phone")
	press(t, h, "Confirm")
	says(t, h, "All 5 are confirmed.", "5 of 5 confirmed")
}
