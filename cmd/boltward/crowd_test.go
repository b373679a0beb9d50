package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"
)

// crowd is people who send one form after the other, whatever becomes of the
// program meanwhile. A form that was not answered, or that the program failed over,
// is sent again as it is, under its key; what was confirmed is kept to be looked for.
type crowd struct {
	t      testing.TB
	client *http.Client
	blank  map[string]url.Values // forms as their pages gave them, by what they are for
	ending chan struct{}
	people sync.WaitGroup
	turn   sync.RWMutex // held for reading by whoever has a form in hand

	mu      sync.Mutex
	address string
	told    map[string]toldForm // confirmed, by the name in them
	again   int                 // sendings that got no good answer
	wrong   []string            // answers that nobody should get
}

// toldForm is a form that was confirmed, and where its answer led.
type toldForm struct {
	crowdForm
	location string
}

// crowdForm is one filled form. Its name stands in what it makes, and nowhere else.
type crowdForm struct {
	what, name string
	values     url.Values
}

// What a crowd does: a person added, a lot tagged, a kit of their own cloth made; how
// to see by names how often each was done, and where it is done.
var crowdDoes = map[string]struct{ path, field, done string }{
	"person": {home + "/people/new", "name", `SELECT name, count(*) FROM people WHERE name = ANY($1) GROUP BY name`},
	"lot":    {home + "/fabric/tag", "donor", `SELECT d.name, count(*) FROM lots l JOIN donors d ON d.drive_id = l.drive_id AND d.number = l.donor WHERE d.name = ANY($1) GROUP BY d.name`},
	"kit":    {home + "/kits/own", "note", `SELECT note, count(*) FROM kits WHERE note = ANY($1) GROUP BY note`},
}

// newCrowd opens the pages at a program in which h is signed in, in a drive that has
// a size. Nobody sends anything before send.
func newCrowd(t testing.TB, h *plain) *crowd {
	t.Helper()
	c := &crowd{
		t: t, blank: map[string]url.Values{}, ending: make(chan struct{}), told: map[string]toldForm{},
		address: h.at.Scheme + "://" + h.at.Host,
		client: &http.Client{
			Jar: h.client.Jar, Timeout: time.Minute,
			Transport: &http.Transport{DisableKeepAlives: true},
			// Where the answer sends the browser on is the answer.
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		},
	}
	for what, button := range map[string]string{"person": "Add to the list", "lot": "Tag it, then the next", "kit": "Make the kits"} {
		h.open(crowdDoes[what].path)
		form := formOf(h.page().root, h.page().pressable(t, button))
		c.blank[what] = h.page().values(form)
		if what == "kit" {
			c.blank[what].Set("cases", "2")
			c.blank[what].Set("kits", "1")
			c.blank[what].Set("size", "1")
		}
		require.NotEmpty(t, c.blank[what].Get("once"), "the form of a %s has a key", what)
	}
	return c
}

// form fills the n-th form, each under a key of its own.
func (c *crowd) form(what string, n int) crowdForm {
	f := crowdForm{what: what, name: fmt.Sprintf("%s %d of the crowd", what, n), values: url.Values{}}
	for field, values := range c.blank[what] {
		f.values[field] = values
	}
	f.values.Set(crowdDoes[what].field, f.name)
	f.values.Set("once", fmt.Sprintf("crowd-%s-%08d", what, n))
	return f
}

// at tells everybody where the program is now.
func (c *crowd) at(address string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.address = address
}

// post sends a form once and says where its answer led; empty where there was none,
// or the program failed over it.
func (c *crowd) post(f crowdForm) (location string) {
	c.mu.Lock()
	to := c.address + crowdDoes[f.what].path
	c.mu.Unlock()
	request, err := http.NewRequest(http.MethodPost, to, strings.NewReader(f.values.Encode()))
	if err != nil {
		c.isWrong("%s: %v", to, err)
		return ""
	}
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	request.Header.Set("Sec-Fetch-Site", "same-origin")
	answer, err := c.client.Do(request)
	if err != nil {
		return ""
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	location = answer.Header.Get("Location")
	switch {
	case answer.StatusCode >= http.StatusInternalServerError || answer.StatusCode < 400 && err != nil:
		return ""
	case answer.StatusCode != http.StatusSeeOther || strings.HasPrefix(location, "/sign-in"):
		c.isWrong("%s: %d to %q: %s", f.name, answer.StatusCode, location, readPage(c.t, string(text)).says())
		return ""
	}
	return location
}

func (c *crowd) isWrong(format string, args ...any) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.wrong = append(c.wrong, fmt.Sprintf(format, args...))
}

// send lets so many people send forms until the crowd is told to end.
func (c *crowd) send(people int) {
	for who := range people {
		c.people.Go(func() {
			for n := who; ; n += people {
				select {
				case <-c.ending:
					return
				case <-time.After(10 * time.Millisecond): // nobody types faster
				}
				c.turn.RLock()
				c.insist(c.form([]string{"person", "lot", "kit"}[n%3], n))
				c.turn.RUnlock()
			}
		})
	}
	c.t.Cleanup(c.end)
}

// insist sends a form until it is confirmed.
func (c *crowd) insist(f crowdForm) {
	for end := time.Now().Add(startsWithin); ; time.Sleep(20 * time.Millisecond) {
		location := c.post(f)
		c.mu.Lock()
		if location != "" {
			c.told[f.name] = toldForm{f, location}
		} else {
			c.again++
		}
		ended := location != "" || len(c.wrong) > 0
		c.mu.Unlock()
		if ended {
			return
		}
		if time.Now().After(end) {
			c.isWrong("%s: nobody confirmed it in %v", f.name, startsWithin)
			return
		}
	}
}

// end lets everybody bring the form in hand to its end, and nobody begin another.
func (c *crowd) end() {
	c.mu.Lock()
	select {
	case <-c.ending:
	default:
		close(c.ending)
	}
	c.mu.Unlock()
	c.people.Wait()
}

func (c *crowd) confirmed() map[string]toldForm {
	c.mu.Lock()
	defer c.mu.Unlock()
	require.Empty(c.t, c.wrong)
	told := make(map[string]toldForm, len(c.told))
	for name, f := range c.told {
		told[name] = f
	}
	return told
}

// more waits until so many more forms were confirmed.
func (c *crowd) more(n int) {
	c.t.Helper()
	before := len(c.confirmed())
	for end := time.Now().Add(startsWithin); len(c.confirmed()) < before+n; time.Sleep(10 * time.Millisecond) {
		require.True(c.t, time.Now().Before(end), "nothing more is confirmed")
	}
}

// atRest runs a look at what was done while nobody sends anything: the forms in hand
// are confirmed first, and what there is to look through does not grow meanwhile.
func (c *crowd) atRest(look func()) {
	c.t.Helper()
	c.turn.Lock()
	defer c.turn.Unlock()
	look()
}

// there requires that all that was confirmed is done, and once.
func (c *crowd) there(ctx context.Context, pool *pgxpool.Pool) {
	c.t.Helper()
	names := map[string][]string{}
	for name, f := range c.confirmed() {
		names[f.what] = append(names[f.what], name)
	}
	for what, want := range names {
		rows, err := pool.Query(ctx, crowdDoes[what].done, want)
		require.NoError(c.t, err)
		done, n, name := map[string]int{}, 0, ""
		_, err = pgx.ForEachRow(rows, []any{&name, &n}, func() error { done[name] = n; return nil })
		require.NoError(c.t, err)
		for _, name := range want {
			require.Equal(c.t, 1, done[name], "%s was confirmed", name)
		}
	}
}

// same requires that forms that are sent once more get the answer that they got.
func (c *crowd) same(most int) {
	c.t.Helper()
	for _, f := range c.confirmed() {
		if most--; most < 0 {
			return
		}
		require.Equal(c.t, f.location, c.post(f.crowdForm), "%s sent again", f.name)
	}
}

// waiting is how long a test waits for something that a page is to show.
type waiting time.Time

func patience() waiting { return waiting(time.Now().Add(startsWithin)) }

// wait lets a moment pass, and fails once it has been too many; says is what was
// seen instead.
func (w waiting) wait(t testing.TB, says string) {
	t.Helper()
	require.True(t, time.Now().Before(time.Time(w)), "it does not come: %s", says)
	time.Sleep(50 * time.Millisecond)
}

// has says whether a button or a link of the page reads so.
func (s page) has(name string) bool {
	for n := range s.root.Descendants() {
		if (n.Data == "button" || n.Data == "a") && textOf(n) == name {
			return true
		}
	}
	return false
}

// poolOf gives connections to the database of settings, as the program's own login.
func poolOf(t testing.TB, set settings) *pgxpool.Pool {
	t.Helper()
	pool, err := pgxpool.New(t.Context(), set["DATABASE_URL"])
	require.NoError(t, err)
	t.Cleanup(pool.Close)
	return pool
}
