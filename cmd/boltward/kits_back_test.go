package main

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// Whoever hands a kit out and goes back finds nothing ticked: the browser ticks again what stands
// where the kit stood, which is another one by then, and it would go to somebody unseen.
func TestGoingBackTicksNoOtherKit(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, _ := withDemo(t)
	b := newTab(t, p.address)
	again(t, b)
	b.open("/drives/lantern-row/kits/hand-out")
	const ticked = `[...document.querySelectorAll("[name=kit]:checked")].map(kit => kit.value).join()`
	b.fill("Who takes them", "Ravi Thornbury")
	eval[bool](b, `(document.querySelector("[name=kit]").click(), true)`)
	require.NotEmpty(t, eval[string](b, ticked))
	require.Greater(t, eval[int](b, `document.querySelectorAll("[name=kit]").length`), 1)
	b.press("Hand them out")
	require.Contains(t, b.page().says(), "Handed out: 1 kit")
	b.do(chromedp.NavigateBack())
	require.Equal(t, "Hand out kits", eval[string](b, `document.querySelector("h1").textContent`))
	require.Empty(t, eval[string](b, ticked))
}
