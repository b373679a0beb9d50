package site

import (
	"bufio"
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/planning"
	"boltward/internal/postgres"
)

// watched is a stream as a browser reads it.
type watched struct {
	t      *testing.T
	answer *http.Response
	lines  *bufio.Scanner
	leave  context.CancelFunc
}

const progressPath = "/drives/spring/plan/1/progress"

// watch opens the stream of plan 1 over a real connection.
func (c *client) watch(server *httptest.Server) *watched { return c.watchAt(server, progressPath) }

func (c *client) watchAt(server *httptest.Server, path string) *watched {
	c.ts.t.Helper()
	ctx, leave := context.WithCancel(context.Background())
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, server.URL+path, nil)
	require.NoError(c.ts.t, err)
	for name, value := range c.cookies {
		r.AddCookie(&http.Cookie{Name: name, Value: value})
	}
	answer, err := server.Client().Do(r)
	require.NoError(c.ts.t, err)
	w := &watched{c.ts.t, answer, bufio.NewScanner(answer.Body), leave}
	c.ts.t.Cleanup(w.close)
	return w
}

func (w *watched) close() {
	w.leave()
	w.answer.Body.Close() // cut off: it has nothing more to say
}

// next gives the next event; no event where the stream ends.
func (w *watched) next() (event string, data figures) {
	w.t.Helper()
	for w.lines.Scan() {
		name, value, _ := strings.Cut(w.lines.Text(), ": ")
		switch name {
		case "event":
			event = value
		case "data":
			require.NoError(w.t, json.Unmarshal([]byte(value), &data))
			return event, data
		}
	}
	return "", figures{}
}

// until reads on to the figures of which this is true.
func (w *watched) until(what string, is func(figures) bool) figures {
	w.t.Helper()
	for {
		event, data := w.next()
		require.Equal(w.t, "figures", event, "before %s", what)
		if is(data) {
			return data
		}
	}
}

// planToWatch gives a site served over real connections, with plan 1 waiting.
func planToWatch(t *testing.T) (*testSite, *httptest.Server) {
	t.Helper()
	ts := newTestSite(t)
	ts.shelfAndWants(6)
	_, err := ts.Store.RequestPlan(t.Context(), ts.act("plan"))
	require.NoError(t, err)
	server := httptest.NewServer(ts.Site)
	t.Cleanup(server.Close)
	return ts, server
}

func (ts *testSite) begin() {
	ts.t.Helper()
	_, err := ts.Store.BeginPlan(ts.t.Context(), "spring", 1)
	require.NoError(ts.t, err)
}

func (ts *testSite) come(step postgres.PlanStep) {
	ts.t.Helper()
	goOn, _, err := ts.Store.PlanProgress(ts.t.Context(), "spring", 1, step)
	require.NoError(ts.t, err)
	require.True(ts.t, goOn)
}

func TestAPlanIsWatched(t *testing.T) {
	ts, server := planToWatch(t)
	w := ts.as(account.Reader).watch(server)
	require.Equal(t, http.StatusOK, w.answer.StatusCode)
	require.Equal(t, "text/event-stream", w.answer.Header.Get("Content-Type"))
	require.Equal(t, "no-store", w.answer.Header.Get("Cache-Control"))
	_, first := w.next()
	require.Equal(t, "It waits for its turn.", first.Texts["doing"])
	require.Equal(t, "0", first.Texts["made"])
	require.Empty(t, first.Texts["most"], "nothing is proven yet")

	ts.begin()
	ts.come(postgres.PlanStep{Phase: "bound", Cases: 3, Made: planning.Whole(30), CasesBound: 5, Bound: planning.Whole(52), Seconds: 0.4})
	got := w.until("the first figures", func(f figures) bool { return f.Texts["made"] == "3" })
	require.Equal(t, "It is working out the most that this cloth could make.", got.Texts["doing"])
	require.Contains(t, got.Texts["most"], "no cutting of this fabric makes more than 5.")
	require.Equal(t, "By what matters most it is worth 30 so far, and never more than 52.", got.Texts["worth"])
	require.Equal(t, "0.4 seconds so far.", got.Texts["took"])
	require.Equal(t, []string{"3 made so far", "2 not settled yet", "1 more than this fabric can make"},
		[]string{got.Texts["key-made"], got.Texts["key-open"], got.Texts["key-beyond"]})
	require.Equal(t, "359", got.Drawn["made"]["width"], "half of the tape")
	require.Equal(t, "360", got.Drawn["open"]["x"])

	ts.come(postgres.PlanStep{Phase: "saving cloth", Cases: 4, Made: planning.Whole(40), CasesBound: 4, Bound: planning.Whole(40), Seconds: 0.9})
	got = w.until("more is made", func(f figures) bool { return f.Texts["made"] == "4" })
	require.Contains(t, got.Texts["most"], "no cutting of this fabric makes more.")
	require.Empty(t, got.Texts["worth"], "it tells no more than the number")
	ts.workPlan(1)
	event, _ := w.next()
	require.Equal(t, "over", event)
	event, _ = w.next()
	require.Empty(t, event, "it ends")

	late := ts.as(account.Desk).watch(server)
	event, _ = late.next()
	require.Equal(t, "over", event, "a plan that is done")
	require.Eventually(t, func() bool { return ts.open() == 0 }, 5*time.Second, 5*time.Millisecond)
}

func TestAStreamEndsWithItsReader(t *testing.T) {
	ts, server := planToWatch(t)
	ts.begin()
	w := ts.as(account.Desk).watch(server)
	w.next()
	w.close()
	require.Eventually(t, func() bool { return ts.open() == 0 }, 5*time.Second, 5*time.Millisecond)
	require.NotContains(t, ts.Log.String(), `"level":"ERROR"`)
}

func (ts *testSite) open() int {
	ts.Site.streams.mu.Lock()
	defer ts.Site.streams.mu.Unlock()
	return ts.Site.streams.sum
}

// A right that is lost is not waited for until the plan is done.
func TestAStreamEndsWithTheRight(t *testing.T) {
	for name, lose := range map[string]func(*testSite, *client){
		"the session": func(ts *testSite, c *client) { c.post("/sign-out") },
		"all sessions": func(ts *testSite, c *client) {
			_, err := ts.DB.Pool.Exec(t.Context(), `UPDATE accounts SET epoch = epoch + 1`)
			require.NoError(t, err)
		},
		"the role": func(ts *testSite, c *client) {
			_, err := ts.DB.Owner().Exec(t.Context(), `DELETE FROM memberships`)
			require.NoError(t, err)
		},
		"no second step where one is asked by now": func(ts *testSite, c *client) {
			_, err := ts.DB.Owner().Exec(t.Context(), `UPDATE drives SET second_step = true`)
			require.NoError(t, err)
		},
	} {
		t.Run(name, func(t *testing.T) {
			ts, server := planToWatch(t)
			ts.begin()
			c := ts.as(account.Organiser)
			w := c.watch(server)
			w.next()
			lose(ts, c)
			ts.come(postgres.PlanStep{Seconds: 1})
			event := "figures"
			for event == "figures" {
				event, _ = w.next()
			}
			require.Equal(t, "over", event, "the page opens again, and learns why")
			require.NotEqual(t, http.StatusOK, c.watch(server).answer.StatusCode)
		})
	}
}

func TestStreamsEndWithTheProcess(t *testing.T) {
	ts, server := planToWatch(t)
	ending := make(chan struct{})
	ts.Site.ending = ending
	w := ts.as(account.Desk).watch(server)
	w.next()
	close(ending)
	event, _ := w.next()
	require.Empty(t, event, "the browser opens the next, at another process perhaps")
	require.NoError(t, w.lines.Err(), "it ends in order")
}

func TestStreamsAreBounded(t *testing.T) {
	ts, server := planToWatch(t)
	ts.Site.streams.all, ts.Site.streams.each, ts.Site.streams.life = 3, 2, 600*time.Millisecond
	ts.Site.streams.breath = 100 * time.Millisecond
	desk, lead := ts.as(account.Desk), ts.as(account.CuttingLead)
	first := desk.watch(server)
	require.Equal(t, http.StatusOK, desk.watch(server).answer.StatusCode)
	require.Equal(t, http.StatusConflict, desk.watch(server).answer.StatusCode, "two for one account")
	require.Equal(t, http.StatusOK, lead.watch(server).answer.StatusCode)
	require.Equal(t, http.StatusConflict, lead.watch(server).answer.StatusCode, "three in all")
	var read strings.Builder
	for first.lines.Scan() {
		read.WriteString(first.lines.Text() + "\n")
	}
	require.NoError(t, first.lines.Err(), "it ends after its time, in order")
	require.Contains(t, read.String(), "retry: 1000\n")
	require.Contains(t, read.String(), ":\n", "it breathes while nothing moves")
	require.Equal(t, 1, strings.Count(read.String(), "event: figures"), "what stands still is said once")
	require.Eventually(t, func() bool { return ts.open() == 0 }, 5*time.Second, 5*time.Millisecond)
	require.Equal(t, http.StatusOK, lead.watch(server).answer.StatusCode)
}

// A database that is away for a moment ends nothing.
func TestAStreamOutlivesTheDatabase(t *testing.T) {
	ts, server := planToWatch(t)
	ts.begin()
	w := ts.as(account.Desk).watch(server)
	w.next()
	_, err := ts.DB.Owner().Exec(t.Context(), `ALTER TABLE plans RENAME TO plans_away`)
	require.NoError(t, err)
	require.Eventually(t, func() bool { return strings.Contains(ts.Log.String(), "request failed") }, 5*time.Second, 5*time.Millisecond)
	_, err = ts.DB.Owner().Exec(t.Context(), `ALTER TABLE plans_away RENAME TO plans`)
	require.NoError(t, err)
	ts.come(postgres.PlanStep{Cases: 2, Seconds: 1})
	w.until("it goes on", func(f figures) bool { return f.Texts["made"] == "2" })
	require.Equal(t, 1, strings.Count(ts.Log.String(), "request failed"), "it is said once")
}

func TestPlanInWords(t *testing.T) {
	running := planProgress{Plan: drive.Plan{State: drive.PlanRunning, Phase: "proving", Cases: 1, CasesBound: 1234, Made: 1, Bound: 1234}, Wanted: 2000}
	quiet, stopping, waits := running, running, running
	quiet.Quiet, stopping.Stopping = true, true
	waits.State, waits.Stopping, waits.CasesBound = drive.PlanWaiting, true, 0
	require.Equal(t, "pillowcase so far", running.Kind())
	require.Contains(t, running.Most(), "more than 1,234.")
	require.Equal(t, "It is looking for a better way to cut, or for proof that there is none.", running.Doing())
	closed := running
	closed.Plan.Made, closed.Bound, closed.Phase = 12, 12, "saving cloth"
	require.Equal(t, "Closed: nothing better is possible. It is looking for a way to make the same from less cloth.", closed.Doing())
	require.Empty(t, closed.Took(), "no seconds that tick for nothing")
	require.NotEmpty(t, running.Took())
	require.Contains(t, quiet.Doing(), "Nobody is at work")
	require.Contains(t, stopping.Doing(), "keeps the best so far")
	require.Contains(t, waits.Doing(), "waits for its turn")
	require.Equal(t, "1,999 not settled yet", waits.Tape().KeyOpen())
	require.Equal(t, "0 more than this fabric can make", waits.Tape().KeyBeyond())
	running.Bound = 1250.5
	require.Equal(t, "By what matters most it is worth 1 so far, and never more than 1250.5.", running.Worth())
}
