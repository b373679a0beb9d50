package main

import (
	"context"
	"fmt"
	"testing"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// scans types as a scanner does, into whatever has the focus: the text, then
// Enter, which leads to another page.
func (b *tab) scans(text string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, actWithin)
	defer cancel()
	_, err := chromedp.Run(ctx, chromedp.WaitEvent(cdppage.LoadEventFired, nil, chromedp.KeyEvent(text+kb.Enter)))
	require.NoError(b.t, err, "scan %q", text)
}

// A stocktake by scanner alone: nobody touches the mouse between the first label
// and the last, and two people go along the shelves at once.
func TestStocktakeByScanner(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, _ := withDemo(t)
	b, other := newTab(t, p.address), newTab(t, p.address)
	again(t, b)
	again(t, other)
	b.open("/drives/lantern-row/fabric/stocktakes")
	b.press("Begin a stocktake")
	other.open("/drives/lantern-row/fabric/stocktakes/2") // the demo drive has counted one shelf before
	label := func(lot int) string { return fmt.Sprintf("%s/l/lantern-row/lot/%d", p.address, lot) }

	b.scans(label(43))
	require.Contains(t, b.page().says(), "Count lot 43")
	b.scans("") // Enter: as booked
	require.Contains(t, b.page().says(), "Lot 43 is as booked")
	b.scans(label(44))
	b.scans(label(45)) // the next label without a word about this one: as booked
	require.Contains(t, b.page().says(), "Count lot 45")
	b.scans("1 1/4 yd")
	require.Contains(t, b.page().says(), "Lot 45 differs")
	b.scans("D07") // the tag of a lot that waits to be measured
	require.Contains(t, b.page().says(), "It waits to be measured")
	b.scans("46") // a number typed by hand
	require.Contains(t, b.page().says(), "Count lot 46")

	// The other scans the lot that was counted just now, and one of their own.
	other.scans("45")
	require.Contains(t, other.page().says(), "Counted already by Rosa Lind")
	other.scans(label(47))
	require.Contains(t, other.page().says(), "Count lot 47")
	b.scans("")
	says := b.page().says()
	require.Contains(t, says, "5 lots counted")
	require.Contains(t, says, "Not scanned yet")
	b.fill("Why the books differ", "counted")
	b.scans("")
	require.Contains(t, b.page().says(), "is posted")
}
