package main

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The demo drive is attacked at every address of the product, by whoever may hold
// what: a session, a link, a form of another site, the numbers of another drive.
func TestAttacked(t *testing.T) {
	b := besiege(t)
	for _, attack := range []struct {
		name string
		do   func(*testing.T, *besieged)
	}{
		{"looking changes nothing", lookingChangesNothing},
		{"another drive's numbers", foreignNumbers},
		{"stolen forms", stolenForms},
		{"personal links", personalLinks},
		{"answers that go on", openStreams},
		{"odd methods", oddMethods},
		{"odd addresses", oddAddresses},
		{"odd questions", oddQuestions},
		{"bodies without end", endlessBodies},
		{"every field of every form", hostileFields},
		{"looking afterwards", lookingAfterwards},
		{"what goes out", hostileExports},
	} {
		ok := t.Run(attack.name, func(t *testing.T) {
			outer := b.t
			b.t = t
			defer func() { b.t = outer }()
			_, since := b.logged(0)
			attack.do(t, b)
			b.quiet(since)
		})
		require.True(t, ok, "what comes after builds on %s", attack.name)
	}
	balanced(t, t.Context(), b.db.Pool)
}

// Opening every page and every file there is changes no row of any table.
func lookingChangesNothing(t *testing.T, b *besieged) {
	before := b.kept()
	shown := func() map[string]bool {
		routes := map[string]bool{}
		lines, _ := b.logged(0)
		for _, line := range lines {
			if (line.Status == http.StatusOK || line.Status == http.StatusSeeOther) && line.Method == http.MethodGet {
				routes[line.Route] = true
			}
		}
		return routes
	}
	b.pages = b.crawl(func(string, string) {})
	led := shown()
	for _, r := range b.routes {
		if r.method == http.MethodGet && !led[r.path] {
			b.organiser.get(b.address(r.path, nil))
		}
	}
	led = shown()
	var unseen []string
	for _, r := range b.routes {
		if r.method == http.MethodGet && !led[r.path] {
			unseen = append(unseen, r.path)
		}
	}
	// The demo drive has no file under way, no printed label, no pass: their pages are not found.
	require.LessOrEqual(t, len(unseen), 30, "opened to no good: %q", unseen)
	b.unchanged(before)
}

// crawl follows every link of the demo drive from its first page and gives one
// address of each kind; look sees each page.
func (b *besieged) crawl(look func(path, text string)) []string {
	seen := map[string]bool{}
	var pages []string
	for queue := []string{"/drives", "/drives/" + demoDrive + "/needs"}; len(queue) > 0; queue = queue[1:] {
		path := queue[0]
		if seen[shapeOf(path)] || strings.Contains(path, "/progress") {
			continue
		}
		seen[shapeOf(path)] = true
		a := b.organiser.get(path)
		require.Less(b.t, a.Code, 400, "the link %s leads nowhere", path)
		if a.Code == http.StatusOK && strings.HasPrefix(a.Header.Get("Content-Type"), "text/html") {
			pages = append(pages, path)
			look(path, a.Body)
			queue = append(queue, readPage(b.t, a.Body).links()...)
		} else if to := a.Header.Get("Location"); to != "" {
			queue = append(queue, to)
		}
	}
	return pages
}
