package main

import (
	"context"
	"net/http"
	"regexp"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// scanInto types into whatever field has the focus, Enter at the end, as a scanner
// does, and waits for the page that comes. A person scans once the field shows that
// it waits.
func (b *tab) scanInto(text string) {
	b.t.Helper()
	for end := time.Now().Add(actWithin); !eval[bool](b, `document.activeElement.matches("main input, [role=status] button")`); {
		require.True(b.t, time.Now().Before(end), "no field waits for %q on the page: %s", text, b.page().says())
		// A field gets its focus when the page is drawn, and what nobody looks at may not be.
		b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Call(ctx, cdppage.BringToFront, cdp.Empty{})
			return err
		}))
	}
	ctx, cancel := context.WithTimeout(b.ctx, actWithin)
	defer cancel()
	_, err := chromedp.Run(ctx, chromedp.WaitEvent(cdppage.LoadEventFired, nil, chromedp.KeyEvent(text+kb.Enter)))
	require.NoError(b.t, err, "scan %q", text)
}

// The returns table by scanner: a label, a count, the next label, and never a hand on
// the mouse; more than the kit holds is asked about; what was slipped is undone from
// where it was made. The same without scripts, and at a phone's width.
func TestReturnsTable(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, first := withDemo(t)
	const back = "/drives/lantern-row/back"
	first.open("/drives/lantern-row/kits?where=out")
	found := regexp.MustCompile(`href="/drives/lantern-row/kits/(\d+)"`).FindAllSubmatch(first.body, -1)
	require.GreaterOrEqual(t, len(found), 4, "kits that are out")
	for at, noScript := range []bool{false, true} {
		b := newTab(t, p.address)
		if noScript {
			b = newTab(t, p.address, noScripts)
		} else {
			b.size(phone, 900)
		}
		again(t, b)
		kit := string(found[2*at][1])
		b.open(back)
		b.scanInto(p.address + "/l/lantern-row/kit/" + kit)
		require.Contains(t, b.page().says(), "Kit "+kit)
		b.scanInto("9") // over what is selected there: how many it holds
		require.Equal(t, http.StatusUnprocessableEntity, b.status())
		require.Regexp(t, `holds \d+ pillowcases? with .+, not 9`, b.page().says())
		require.Contains(t, b.page().says(), "more of their own fabric")
		b.fill("How many are sewn", "1")
		b.press("Take back")
		require.Contains(t, b.page().says(), "1 sewn of kit "+kit+" came back")
		eval[bool](b, `(document.querySelector("[role=status] button").focus(), true)`)
		b.scanInto("")
		require.Contains(t, b.page().says(), "did not come back after all")

		// The next, as soon as the page is there: the field waits for it.
		next := string(found[2*at+1][1])
		b.scanInto(next)
		require.Contains(t, b.page().says(), "Kit "+next)
		b.scanInto(p.address + "/l/lantern-row/kit/" + kit)
		require.Equal(t, http.StatusUnprocessableEntity, b.status())
		require.Contains(t, b.page().says(), "That is a label. Say first how many of kit "+next)
		b.open(back)
		b.scanInto(p.address + "/l/lantern-row/kit/99999")
		require.Equal(t, http.StatusUnprocessableEntity, b.status())
		require.Contains(t, b.page().says(), "There is no kit 99999")
	}
}
