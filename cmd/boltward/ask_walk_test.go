package main

import (
	"testing"

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
	b.turns("To send to donors")
	require.Empty(t, b.look(axe(t)))
	b.press("Work it out again")
	b.turns("Work it out again")
}
