package main

import (
	"bufio"
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
)

// streamRoutes are the routes whose answer goes on.
func (b *besieged) streamRoutes() []string {
	var paths []string
	for _, r := range b.routes {
		if strings.HasSuffix(r.path, "/progress") {
			paths = append(paths, r.path)
		}
	}
	require.Len(b.t, paths, 2)
	return paths
}

// Answers that go on are opened as every other: by nobody, by a stranger, by whoever may,
// whose stream carries the headers of every answer and ends with the session.
func openStreams(t *testing.T, b *besieged) {
	stranger := b.signIn("ines@example.org")
	for _, path := range b.streamRoutes() {
		path := b.address(path, nil)
		a := b.nobody().get(path)
		require.Equal(t, http.StatusUnauthorized, a.Code, path)
		require.True(t, strings.HasPrefix(a.Header.Get("Content-Type"), "application/json"), "a script reads it")
		require.Equal(t, http.StatusNotFound, stranger.get(path).Code, path)
		require.Equal(t, http.StatusNotFound, b.organiser.get(strings.Replace(path, "/1/", "/99/", 1)).Code, path)
	}
	// Of what is done already it says so, and ends.
	a := b.organiser.get("/drives/" + demoDrive + "/plan/1/progress")
	require.Equal(t, http.StatusOK, a.Code)
	require.Equal(t, "text/event-stream", a.Header.Get("Content-Type"))
	require.Contains(t, a.Body, "event: over")

	// One that goes on: nobody works on this plan here.
	act := drive.Act{Drive: demoDrive, Key: "a-plan-to-watch", At: time.Now(), Request: "test"}
	number, err := b.store.RequestPlan(t.Context(), act)
	require.NoError(t, err)
	server := httptest.NewServer(b.handler)
	defer server.Close()
	path := b.address("/drives/:drive/plan/:plan/progress", map[string]string{"plan": drive.NumberID(number)})
	watcher := b.signIn("rosa@example.org")
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, server.URL+path, nil)
	require.NoError(t, err)
	r.AddCookie(&http.Cookie{Name: "boltward", Value: watcher.cookie})
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer answer.Body.Close()
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, "text/event-stream", answer.Header.Get("Content-Type"))
	require.Equal(t, "no-store", answer.Header.Get("Cache-Control"))
	require.Empty(t, answer.Header.Get("Set-Cookie"))
	b.headed(r, reply{answer.StatusCode, answer.Header, ""})
	lines := bufio.NewScanner(answer.Body)
	until := func(want string) {
		t.Helper()
		for lines.Scan() {
			require.NotContains(t, lines.Text(), plantedName)
			if lines.Text() == want {
				return
			}
		}
		require.Fail(t, "the stream ended", "before %q: %v", want, lines.Err())
	}
	until("event: figures")
	require.Equal(t, http.StatusSeeOther, watcher.post("/sign-out", nil).Code)
	until("event: over")
	for rest := 0; lines.Scan(); rest++ { // the end of that event
		require.Less(t, rest, 2, "whoever signed out watches no longer: %s", lines.Text())
	}
	require.NoError(t, lines.Err())
	_, err = b.store.DropPlan(t.Context(), drive.Act{Drive: demoDrive, Key: "watched-enough", At: time.Now(), Request: "test"}, number)
	require.NoError(t, err)
}
