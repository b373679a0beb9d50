package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Letters at twice their size (WCAG 2.2, 1.4.4), with everything unfolded: what does not fit
// in the width of a phone goes on below, and nothing has to be looked for at the side.
func TestLettersAtTwiceTheirSize(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, _ := withDemo(t)
	b := newTab(t, p.address)
	again(t, b)
	for _, page := range []string{"needs", "asked", "fabric", "kits?where=all", "back", "trail"} {
		b.open("/drives/lantern-row/" + page)
		require.True(t, eval[bool](b, `(() => {
	document.querySelectorAll("details").forEach(d => d.open = true);
	document.documentElement.style.fontSize = "200%%";
	return true;
})()`))
		require.Empty(t, b.sticksOut(phone), page)
	}
}
