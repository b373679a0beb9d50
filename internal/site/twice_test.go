package site

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Every form that any test of this package sends and that is taken goes off a second time,
// as a finger that trembles or a browser that lost the answer sends it, and after midnight
// where somebody is signed in with an account: the second is answered as the first, and leaves
// every table as the first left it, but for what changesAgain names. Which routes that was of is
// tallied; TestMain fails where one is missing, so that a new route is tried as soon as it is there.

// onlyOnce are the routes whose second sending is not the first's business, each with why.
func onlyOnce() map[string]string {
	return map[string]string{
		"/sign-out":       "who sends it again is signed out and finds the door",
		"/sign-in/second": "a code fits once and half a sign-in is used up: who sends it again finds the door, which lets on whoever is signed in",
	}
}

// sameDay are the routes that lead elsewhere on another day, each with why.
func sameDay() map[string]string {
	return map[string]string{
		"/drives/:drive/fabric/:lot/untag": "the door shows the lot before it within the hour that somebody stands there",
	}
}

// sentTwice are the routes that were.
type sentTwice struct {
	mu     sync.Mutex
	routes map[string]bool
}

var tallied = sentTwice{routes: map[string]bool{}}

func (s *sentTwice) add(route string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.routes[route] = true
}

// missing gives the routes that no test has sent twice.
func (s *sentTwice) missing() []string {
	whole := &Site{}
	whole.list()
	var missing []string
	for _, r := range whole.routes {
		if r.method == http.MethodPost && !s.routes[r.path] && onlyOnce()[r.path] == "" {
			missing = append(missing, r.path)
		}
	}
	return missing
}

func TestMain(m *testing.M) {
	code := m.Run()
	every := true
	for _, some := range []string{"test.run", "test.skip", "test.list", "test.fuzz"} {
		every = every && flag.Lookup(some).Value.String() == ""
	}
	if missing := tallied.missing(); code == 0 && every && len(missing) > 0 {
		fmt.Printf("No test sends these forms, so nobody knows what they answer when they are sent twice:\n%s\n", strings.Join(missing, "\n"))
		code = 1
	}
	os.Exit(code)
}

// tomorrow is later than any midnight in the zone of the drives here, and sooner than
// anything ends that people are given for a day.
const tomorrow = 20*time.Hour + 30*time.Minute

// once gives the same client for a form that is not to be sent twice, as where several send at
// once: what another changes would be taken for what the second sending did.
func (c *client) once() *client {
	alone := *c
	alone.single = true
	return &alone
}

// repeatable reads a form before it is sent, and gives what sends it again and holds the
// second answer against the first; nil where there is nothing to send again.
func (c *client) repeatable(r *http.Request) func(testAnswer) {
	c.ts.t.Helper()
	route := c.ts.routeOf(r)
	if c.single || r.Method != http.MethodPost || r.ContentLength < 0 || onlyOnce()[route] != "" {
		return nil
	}
	body, err := io.ReadAll(r.Body)
	require.NoError(c.ts.t, err)
	r.Body = io.NopCloser(bytes.NewReader(body))
	before := &client{ts: c.ts, Person: c.Person, cookies: maps.Clone(c.cookies)}
	return func(first testAnswer) {
		c.ts.t.Helper()
		again := httptest.NewRequest(http.MethodPost, r.URL.RequestURI(), bytes.NewReader(body))
		for name, values := range r.Header {
			if name != "Cookie" {
				again.Header[name] = values
			}
		}
		who := before
		if strings.HasPrefix(route, "/account/") {
			who = c // a new session may have come with the answer
		}
		if c.Person.ID != 0 && sameDay()[route] == "" {
			c.ts.Clock.Pass(tomorrow)
			defer c.ts.Clock.Pass(-tomorrow)
		}
		was := c.ts.everything(route)
		second := who.sent(again)
		require.Equal(c.ts.t, []any{first.Status, first.Location}, []any{second.Status, second.Location}, "%s sent a second time: %s", route, second.Body)
		require.Empty(c.ts.t, differences(was, c.ts.everything(route)), "%s sent a second time changes something", route)
		tallied.add(route)
	}
}

// routeOf gives the route that answers a request, as routes.go writes it.
func (ts *testSite) routeOf(r *http.Request) string {
	parts := strings.Split(r.URL.Path, "/")
	found, fixed := "", ""
	for _, one := range ts.Site.routes {
		pattern := strings.Split(one.path, "/")
		if one.method != r.Method || len(pattern) != len(parts) {
			continue
		}
		same := make([]byte, len(parts))
		fits := true
		for i, part := range pattern {
			same[i] = '0'
			if part == parts[i] {
				same[i] = '1'
			} else if !strings.HasPrefix(part, ":") {
				fits = false
			}
		}
		if fits && string(same) > fixed { // what is written out goes before what changes
			found, fixed = one.path, string(same)
		}
	}
	return found
}
