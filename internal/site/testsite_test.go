package site

import (
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// testSite is a whole site on a database of its own, with one drive, "spring".
type testSite struct {
	t     *testing.T
	Site  *Site
	Store *postgres.Store
	Clock *testClock
	Drive string
	Log   *lockedText
	DB    *pgtest.DB

	tables []string // every one, once somebody asked
}

// newTestSite gives a site with the drive "spring" and nobody in it.
func newTestSite(t *testing.T) *testSite {
	t.Helper()
	db := pgtest.New(t)
	clock := &testClock{at: time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)}
	ts := &testSite{t: t, Clock: clock, Drive: "spring", Log: &lockedText{}, Store: postgres.New(db.Pool, clock.Now), DB: db}
	hasher := account.NewHasherAt(64, 1)
	key, err := account.ParseKey(strings.Repeat("5e", 32))
	require.NoError(t, err)
	ts.Site, err = New(Config{
		Store: ts.Store, Key: key, Hasher: hasher, Now: clock.Now,
		Log:   slog.New(slog.NewJSONHandler(ts.Log, nil)),
		URL:   &url.URL{Scheme: "http", Host: "boltward.test"},
		Ready: func(ctx context.Context) error { return db.Pool.Ping(ctx) },
	})
	require.NoError(t, err)
	ts.addDrive("spring", "Spring drive")
	return ts
}

// addDrive starts a drive without anybody in it.
func (ts *testSite) addDrive(id, name string) {
	ts.t.Helper()
	act := ts.act("drive-" + id)
	act.Drive = ""
	_, err := ts.Store.CreateDrive(context.Background(), act, drive.Drive{
		ID: id, Name: name, Zone: "America/Chicago", Unit: length.In, Washing: drive.WashedFirst, KitCases: 4,
		KeepWidth: 9 * length.Inch, KeepLength: 18 * length.Inch,
	})
	require.NoError(ts.t, err)
}

// act gives an act of the command line in the drive "spring", for asking the store itself.
func (ts *testSite) act(key string) drive.Act {
	return drive.Act{Drive: ts.Drive, Key: "test-key-" + key, At: ts.Clock.Now(), Request: "test"}
}

// as gives a client signed in with a role in the drive "spring".
func (ts *testSite) as(role account.Role) *client { return ts.asIn(role, ts.Drive) }

// asIn gives a client signed in with a role in that drive.
func (ts *testSite) asIn(role account.Role, driveID string) *client {
	ts.t.Helper()
	ctx := context.Background()
	email := strings.ReplaceAll(string(role), " ", "-") + "@" + driveID + ".example"
	act := ts.act("account-" + email)
	act.Drive = ""
	p, err := ts.Store.AddAccount(ctx, act, "Ada "+string(role), email, role == account.Organiser)
	require.NoError(ts.t, err)
	act.Drive, act.Key = driveID, "test-key-role-"+email
	require.NoError(ts.t, ts.Store.SetRole(ctx, act, email, role))
	return ts.signedInAs(p)
}

// signedInAs gives a client with a session of this person.
func (ts *testSite) signedInAs(p account.Person) *client {
	ts.t.Helper()
	ctx, err := ts.Site.sessions.Load(context.Background(), "")
	require.NoError(ts.t, err)
	number, err := ts.Store.BeginSignIn(ctx, p, postgres.Device{Words: "Firefox on Android"}, false, false)
	require.NoError(ts.t, err)
	ts.Site.sessions.Put(ctx, sessionSignIn, number)
	token, _, err := ts.Site.sessions.Commit(ctx)
	require.NoError(ts.t, err)
	c := ts.nobody()
	c.Person = p
	c.cookies["boltward"] = token
	return c
}

// tablet gives a client at a tablet that has a pass with this role in that drive, and
// at which somebody with the initials RB is.
func (ts *testSite) tablet(role account.Role, driveID string) *client {
	ts.t.Helper()
	ctx := context.Background()
	link, err := account.NewLinkID()
	require.NoError(ts.t, err)
	act := ts.act("pass-" + link)
	act.Drive = driveID
	made, err := ts.Store.MakePass(ctx, act, postgres.PassWish{Role: role, Place: "table by the door"}, link, ts.Site.key.SpokenHash(ts.Site.key.Spoken(link)))
	require.NoError(ts.t, err)
	c := ts.nobody()
	a := c.post("/pass/open/" + ts.Site.key.Sign(made.Link))
	require.Equal(ts.t, http.StatusSeeOther, a.Status, a.Body)
	a = c.post("/pass/initials", "initials", "rb")
	require.Equal(ts.t, http.StatusSeeOther, a.Status, a.Body)
	return c
}

// nobody gives a client that is not signed in.
func (ts *testSite) nobody() *client {
	return &client{ts: ts, cookies: map[string]string{}}
}

// client is a browser that keeps cookies and follows no redirect by itself.
type client struct {
	ts      *testSite
	Person  account.Person
	cookies map[string]string
	single  bool // sends each form once
}

// answer of a request, easy to ask things of.
type testAnswer struct {
	t        *testing.T
	Status   int
	Body     string
	Header   http.Header
	Location string
}

// get asks for a page.
func (c *client) get(path string) testAnswer {
	c.ts.t.Helper()
	return c.do(httptest.NewRequest(http.MethodGet, path, nil))
}

// post sends a form: names and values in turn. It carries a fresh key unless it
// has a "once" of its own.
func (c *client) post(path string, pairs ...string) testAnswer {
	c.ts.t.Helper()
	require.Zero(c.ts.t, len(pairs)%2, "names and values come in pairs")
	form := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	if !form.Has("once") {
		form.Set("once", (&view{}).Once())
	}
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return c.do(r)
}

// follow goes where an answer sends the browser.
func (c *client) follow(a testAnswer) testAnswer {
	c.ts.t.Helper()
	require.Equal(c.ts.t, http.StatusSeeOther, a.Status, "an answer that sends on; it said %s", a.Body)
	path, _, _ := strings.Cut(a.Location, "#") // which a browser keeps to itself
	return c.get(path)
}

// do sends any request with the cookies. A form that was taken is sent again: see again.
func (c *client) do(r *http.Request) testAnswer {
	c.ts.t.Helper()
	repeat := c.repeatable(r)
	a := c.sent(r)
	if a.Status < http.StatusBadRequest && repeat != nil {
		repeat(a)
	}
	return a
}

// sent is do, once.
func (c *client) sent(r *http.Request) testAnswer {
	c.ts.t.Helper()
	for name, value := range c.cookies {
		r.AddCookie(&http.Cookie{Name: name, Value: value})
	}
	w := httptest.NewRecorder()
	c.ts.Site.ServeHTTP(w, r)
	for _, cookie := range w.Result().Cookies() {
		if cookie.MaxAge < 0 {
			delete(c.cookies, cookie.Name)
			continue
		}
		c.cookies[cookie.Name] = cookie.Value
	}
	return testAnswer{c.ts.t, w.Code, w.Body.String(), w.Result().Header, w.Result().Header.Get("Location")}
}

// has fails unless the page holds every text, and gives the page.
func (a testAnswer) has(texts ...string) testAnswer {
	a.t.Helper()
	for _, text := range texts {
		require.True(a.t, strings.Contains(a.Body, text), "the page (%d) should hold %q; it is:\n%s", a.Status, text, a.Body)
	}
	return a
}

// lacks fails when the page holds any of the texts, and gives the page.
func (a testAnswer) lacks(texts ...string) testAnswer {
	a.t.Helper()
	for _, text := range texts {
		require.False(a.t, strings.Contains(a.Body, text), "the page (%d) should not hold %q", a.Status, text)
	}
	return a
}

// hidden gives the value of the first hidden field of this name.
func (a testAnswer) hidden(name string) string {
	a.t.Helper()
	_, after, found := strings.Cut(a.Body, `<input type="hidden" name="`+name+`" value="`)
	require.True(a.t, found, "the page (%d) should carry %s; it is:\n%s", a.Status, name, a.Body)
	value, _, _ := strings.Cut(after, `"`)
	return value
}

// testClock is a clock that stands until it is set.
type testClock struct {
	mu sync.Mutex
	at time.Time
}

func (c *testClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

// Pass lets time pass.
func (c *testClock) Pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

// lockedText collects the log.
type lockedText struct {
	mu   sync.Mutex
	text strings.Builder
}

func (l *lockedText) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(b)
}

func (l *lockedText) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// rebuild puts routes that a test has added on the router.
func (ts *testSite) rebuild() {
	ts.t.Helper()
	engine, err := ts.Site.engine(nil)
	require.NoError(ts.t, err)
	ts.Site.handler, err = ts.Site.wrap(engine)
	require.NoError(ts.t, err)
}
