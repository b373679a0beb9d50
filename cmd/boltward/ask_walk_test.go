package main

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// From the plan to what to ask donors for: worked out in the background while the page waits,
// and shown on a phone with the words to send.
func TestWalkToFabricToAskFor(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, _ := withDemo(t)
	b := newTab(t, p.address)
	again(t, b)
	b.size(390, 844)
	b.open("/drives/lantern-row/plan")
	b.press("Fabric to ask for")
	// Tidying asks by itself once the program runs; whoever is sooner does it.
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.body.innerText`))
	require.NoError(t, err)
	if strings.Contains(text, "Work out what to ask for") {
		b.press("Work out what to ask for")
	}
	b.turns("To send to donors")
	require.Empty(t, b.look(axe(t)))
	b.press("Work it out again")
	b.turns("Work it out again")
}
