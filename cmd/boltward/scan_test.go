package main

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

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
	b.scans(p.address + "/l/lantern-row/lot/43")
	require.Equal(t, "/drives/lantern-row/fabric/43", eval[string](b, `location.pathname`))

	// A link that has the focus is not followed by the Enter of a scanner.
	b.open("/drives/lantern-row/needs")
	require.True(t, eval[bool](b, `(() => { const link = document.querySelector("nav.pages a"); link.focus(); return document.activeElement === link })()`))
	b.scans("lot 44")
	require.Equal(t, "/drives/lantern-row/fabric/44", eval[string](b, `location.pathname`))

	onPage("/drives/lantern-row/kits")
	for _, key := range []string{"l", "o", "t", "4"} {
		b.do(chromedp.KeyEvent(key), chromedp.Sleep(120*time.Millisecond))
	}
	b.do(chromedp.KeyEvent(kb.Enter), chromedp.Sleep(500*time.Millisecond)) // what it would open had come by then
	require.Equal(t, "/drives/lantern-row/kits", eval[string](b, `location.pathname`))
}
