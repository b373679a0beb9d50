package main

import (
	"context"
	"fmt"
	"testing"
	"time"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// work counts what somebody does at the pages: keys pressed and taps.
type work struct {
	*tab
	keys, taps int
	since      time.Time
}

func (w *work) begin() { w.keys, w.taps, w.since = 0, 0, time.Now() }

// told logs what it took for each of n lots.
func (w *work) told(t *testing.T, what string, n int) {
	t.Helper()
	each := func(of int) string { return fmt.Sprintf("%.1f", float64(of)/float64(n)) }
	t.Logf("%s: %d lots, %s keys, %s taps and %.1f s a lot", what, n, each(w.keys), each(w.taps), time.Since(w.since).Seconds()/float64(n))
}

// press types a text, or presses single keys, one event each.
func (w *work) press(keys string) {
	w.t.Helper()
	w.keys += len([]rune(keys))
	w.do(chromedp.KeyEvent(keys))
}

// enter presses Enter and waits for the page that comes.
func (w *work) enter() {
	w.t.Helper()
	w.keys++
	w.comes(chromedp.KeyEvent(kb.Enter))
}

// tapOn taps a field's label or a choice; going taps what brings another page.
func (w *work) tapOn(kind, name string) {
	w.t.Helper()
	x, y := w.only(kind, name)
	w.taps++
	w.do(chromedp.MouseClickXY(x, y))
}

func (w *work) going(name string) {
	w.t.Helper()
	x, y := w.only("button or link", name)
	w.taps++
	w.comes(chromedp.MouseClickXY(x, y))
}

func (w *work) comes(act chromedp.Action[chromedp.Void]) {
	w.t.Helper()
	ctx, cancel := context.WithTimeout(w.ctx, actWithin)
	defer cancel()
	_, err := chromedp.Run(ctx, chromedp.WaitEvent(cdppage.LoadEventFired, nil, act))
	require.NoError(w.t, err)
}

// aLot is one lot of a drop-off: who gave it where that changes, and what its
// measuring finds. print counts arrow presses from the first kind.
type aLot struct {
	donor, long, width string
	print              int
	colour             string
}

func tenLots() []aLot {
	return []aLot{
		{"Orla Brandt", "2 1/2", "44", 2, "navy"},
		{"", "3", "44", 2, "blue"},
		{"", "1.5", "45", 0, "white"},
		{"", "72 in", "44", 2, "green"},
		{"Pim Adair", "5", "60", 1, "grey"},
		{"", "2", "44", 2, "pink"},
		{"The bolt shop", "10", "108", 0, "cream"},
		{"", "10", "44", 2, "teal"},
		{"", "4 1/4", "44", 1, "red"},
		{"Orla Brandt", "1", "36", 2, "purple"},
	}
}

// tenLotsIn gives a signed-in tab at a drive with one size.
func tenLotsIn(t *testing.T, width int64) *work {
	t.Helper()
	needsBrowser(t)
	set, _ := withDatabase(t)
	p := serving(t, set)
	w := &work{tab: newTab(t, p.address)}
	organiser(t, w.tab, p)
	startDrive(t, w.tab, "Harbour pillowcases")
	w.open(home + "/sizes")
	press(t, w.tab, "Add standard")
	w.size(width, 844)
	return w
}

// tenMeasured holds the list against what was typed.
func tenMeasured(t *testing.T, w *work) {
	t.Helper()
	w.size(wide, 900)
	w.open(home + "/fabric")
	says(t, w.tab, "10 lots", "Orla Brandt", "Pim Adair", "The bolt shop")
	h := w.page()
	require.NotContains(t, h.says(), "to measure 1", "none waits")
	for n, size := range map[int]string{1: "41 in × 2 yd 16 in", 3: "42 in × 1 yd 16 in", 7: "105 in × 9 yd 34 in", 10: "33 in × 34 in"} {
		w.open(fmt.Sprintf("%s/fabric/%d", home, n))
		says(t, w.tab, size)
	}
}

// Ten lots of a drop-off are tagged and measured without a hand on the mouse.
func TestTenLotsByKeyboard(t *testing.T) {
	t.Parallel()
	w := tenLotsIn(t, wide)
	w.open(home + "/fabric/tag")
	w.begin()
	for i, lot := range tenLots() {
		if lot.donor != "" {
			w.press(lot.donor) // in place of the one before, which is marked
		}
		if i%2 == 0 {
			w.press(kb.Tab + kb.Tab + fmt.Sprint(i+1)) // the tag that hangs on it
		}
		w.enter()
	}
	w.told(t, "tagged by keyboard at 1280 px", 10)
	require.Less(t, w.keys, 130, "keys for ten lots")

	w.open(home + "/fabric/measure")
	w.begin()
	for _, lot := range tenLots() {
		w.press(lot.long + kb.Tab + lot.width + kb.Tab)
		w.press(kb.Tab + kb.Tab) // past the usual widths and the pieces
		w.press(map[int]string{0: " ", 1: kb.ArrowDown, 2: kb.ArrowDown + kb.ArrowDown}[lot.print])
		w.press(kb.Tab + kb.Tab + kb.Tab + lot.colour) // past how it lies and the taps
		w.enter()
	}
	w.told(t, "measured by keyboard at 1280 px", 10)
	require.Less(t, w.keys, 300, "keys for ten lots")
	says(t, w.tab, "Lot 10 is measured", "No other lot waits")
	tenMeasured(t, w)
	w.open(home + "/fabric/1")
	says(t, w.tab, "feature", "navy")
}

// The same on a phone, by taps; only names and lengths are typed.
func TestTenLotsByTaps(t *testing.T) {
	t.Parallel()
	w := tenLotsIn(t, phone)
	w.open(home + "/fabric/tag")
	w.begin()
	known := map[string]bool{}
	for _, lot := range tenLots() {
		switch {
		case known[lot.donor] && lot.donor != "":
			w.tapOn("field", "Given by")
			w.marked()
			w.press(lot.donor[:3])
			w.offered(lot.donor)
		case lot.donor != "":
			w.tapOn("field", "Given by")
			w.marked()
			w.press(lot.donor)
			known[lot.donor] = true
		}
		w.going("Tag it, then the next")
	}
	w.told(t, "tagged by taps at 390 px", 10)
	require.Less(t, w.taps, 30, "taps for ten lots")

	w.open(home + "/fabric/measure")
	w.begin()
	for _, lot := range tenLots() {
		w.press(lot.long) // the length has the focus
		w.tapOn("field", map[string]string{"36": "36 in, 33 usable", "44": "44 in, 41 usable", "45": "45 in, 42 usable", "60": "60 in, 57 usable", "108": "108 in, 105 usable"}[lot.width])
		w.tapOn("field", []string{"solid", "tonal", "feature print"}[lot.print])
		w.tapOn("field", lot.colour)
		w.going("Save and next")
	}
	w.told(t, "measured by taps at 390 px", 10)
	require.Equal(t, 40, w.taps, "four taps a lot")
	tenMeasured(t, w)
}

// marked waits until what stands in the field is marked: no hand types sooner.
func (w *work) marked() {
	w.t.Helper()
	for end := time.Now().Add(10 * time.Second); !eval[bool](w.tab, `(n => n.selectionEnd - n.selectionStart === n.value.length)(document.activeElement)`); {
		require.True(w.t, time.Now().Before(end), "what stands is marked")
	}
}

// offered taps the name that is offered beside the field.
func (w *work) offered(name string) {
	w.t.Helper()
	type point struct{ X, Y float64 }
	var at point
	for end := time.Now().Add(10 * time.Second); at == (point{}); {
		require.True(w.t, time.Now().Before(end), "%q is offered for %q", name, eval[string](w.tab, `document.querySelector("[name=donor]").value`))
		at = eval[point](w.tab, `(() => {
	const n = [...document.querySelectorAll("[role=option]")].find(o => o.textContent === %s && o.checkVisibility());
	if (!n) return {X: 0, Y: 0};
	n.scrollIntoView({block: "center", inline: "center", behavior: "instant"});
	const b = n.getBoundingClientRect();
	return {X: b.x + b.width / 2, Y: b.y + b.height / 2};
})()`, name)
	}
	w.taps++
	w.do(chromedp.MouseClickXY(at.X, at.Y))
	require.Equal(w.t, name, eval[string](w.tab, `document.querySelector("[name=donor]").value`))
}
