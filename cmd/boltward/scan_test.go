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

// scanner types into the page from within, as fast as a scanner does however busy the
// machine is, and waits for the page that comes. The Enter at its end must not reach
// what has the focus.
func (b *tab) scanner(text string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, actWithin)
	defer cancel()
	typing := fmt.Sprintf(`(text => {
	const key = k => document.activeElement.dispatchEvent(new KeyboardEvent("keydown", {key: k, bubbles: true, cancelable: true}));
	[...text].forEach(key);
	if (key("Enter")) throw new Error("the Enter of a scanner goes to what has the focus");
})(%q)`, text)
	_, err := chromedp.Run(ctx, chromedp.WaitEvent(cdppage.LoadEventFired, nil, chromedp.Evaluate[chromedp.Void](typing)))
	require.NoError(b.t, err, "scan %q", text)
}

// A scanner types where nobody is in a field: what it reads opens from any page,
// in one go; what a slow hand types there opens nothing.
func TestScannerWhereNobodyTypes(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, _ := withDemo(t)
	b := newTab(t, p.address)
	again(t, b)
	onPage := func(path string) {
		b.open(path)
		require.True(t, eval[bool](b, `(() => { document.activeElement.blur(); return document.activeElement === document.body })()`))
	}

	onPage("/drives/lantern-row/kits")
	b.scanner(p.address + "/l/lantern-row/lot/43")
	require.Equal(t, "/drives/lantern-row/fabric/43", eval[string](b, `location.pathname`))

	// A link that has the focus is not followed by the Enter of a scanner.
	b.open("/drives/lantern-row/needs")
	require.True(t, eval[bool](b, `(() => { const link = document.querySelector("nav.pages a"); link.focus(); return document.activeElement === link })()`))
	b.scanner("lot 44")
	require.Equal(t, "/drives/lantern-row/fabric/44", eval[string](b, `location.pathname`))

	onPage("/drives/lantern-row/kits")
	for _, key := range []string{"l", "o", "t", "4"} {
		b.do(chromedp.KeyEvent(key), chromedp.Sleep(120*time.Millisecond))
	}
	b.do(chromedp.KeyEvent(kb.Enter), chromedp.Sleep(500*time.Millisecond)) // what it would open had come by then
	require.Equal(t, "/drives/lantern-row/kits", eval[string](b, `location.pathname`))
}
