package main

import (
	"net/http"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
)

// The hand-out table: whoever is chosen sees what suits them, labels are scanned one
// after another, the next person follows, and of two tables that want one kit the
// second reads who has it and loses nothing.
func TestHandOutTable(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, first := withDemo(t)
	first.open("/drives/lantern-row/kits?where=here")
	found := regexp.MustCompile(`name="kit" value="([\d-]+)"`).FindAllSubmatch(first.body, -1)
	require.GreaterOrEqual(t, len(found), 2, "kits that lie here")
	at := 0
	for name, noScript := range map[string][]string{"with scripts": nil, "without": {"no"}} {
		kit := string(found[at][1])
		at++
		t.Run(name, func(t *testing.T) {
			b := newTab(t, p.address)
			if noScript != nil {
				b = newTab(t, p.address, noScripts)
			}
			again(t, b)
			other := newPlain(t, p.address)
			again(t, other)
			other.open("/drives/lantern-row/kits/hand-out")
			b.open("/drives/lantern-row/kits/hand-out")
			b.fill("Who takes them", "Yuki Stanmere")
			b.press("Show what suits them first")
			require.Contains(t, b.page().says(), "In order for Yuki Stanmere")

			b.fill("Other numbers", "https://foreign.example/l/lantern-row/kit/"+kit)
			b.press("Hand them out")
			require.Equal(t, http.StatusUnprocessableEntity, b.status())
			require.Contains(t, b.page().says(), "label of another installation")

			b.fill("Other numbers", p.address+"/l/lantern-row/kit/"+kit)
			b.press("Hand them out, and the next person")
			require.Contains(t, b.page().says(), "Handed out: 1 kit")
			require.Contains(t, b.page().says(), "Yuki Stanmere has")

			other.fill("Who takes them", "Bea Quillfeather")
			other.fill("Other numbers", kit)
			other.press("Hand them out")
			require.Equal(t, http.StatusConflict, other.status())
			require.Contains(t, string(other.body), "Kit "+kit+" is with Yuki Stanmere")
			require.Contains(t, string(other.body), ">"+kit+"</textarea>")
		})
	}
}
