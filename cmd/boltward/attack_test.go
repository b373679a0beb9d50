package main

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/metrics"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
	"boltward/internal/site"
)

// What nobody but those it is for may ever read, and no log may hold.
const (
	plantedName  = "Zephyrine Quarrel"
	plantedMail  = "zephyrine@example.org"
	plantedPhone = "0999 777 311"
	plantedHome  = "7 Zephyr Lane"
	plantedPass  = "heron lamp seventeen"
)

// besieged is the demo drive behind the real handler, with what it logs, and an
// organiser of it who is signed in.
type besieged struct {
	t         *testing.T
	db        *pgtest.DB
	store     *postgres.Store
	key       account.Key
	handler   http.Handler
	log       *lockedBuffer
	routes    []listedRoute
	organiser *caller
	params    map[string]string
	pages     []string // one address of each kind of page
	tokens    map[string]string
}

// listedRoute is one line of routes.go.
type listedRoute struct{ method, path string }

func besiege(t *testing.T) *besieged {
	t.Helper()
	ctx := t.Context()
	db := demoDatabase(t)
	env, _, _ := testEnv(t, map[string]string{"DATABASE_URL": db.URL, "BOLTWARD_KEY": strings.Repeat("5e", 32)})
	b := &besieged{t: t, db: db, store: postgres.New(db.Pool, env.Now), log: &lockedBuffer{}, routes: listedRoutes(t)}
	use, err := postgres.BeginUse(ctx, db.Pool)
	require.NoError(t, err)
	t.Cleanup(func() { endUse(use) })
	b.handler, b.key, err = newSite(ctx, env, serveConfig{url: &url.URL{Scheme: "http", Host: "boltward.test"}, watched: watched{Metrics: metrics.New(site.RouteOf)}}, &database{pool: db.Pool, use: use}, b.store, slog.New(slog.NewJSONHandler(b.log, nil)))
	require.NoError(t, err)
	b.plant()
	b.organiser = b.signIn("rosa@example.org")
	b.params = b.examples()
	b.tokens = map[string]string{"v": b.token("v"), "r": b.token("r"), "sign-in": b.token("")}
	return b
}

// plant adds the organiser of the demo drive, one of another drive, and somebody who sews.
func (b *besieged) plant() {
	ctx, t := b.t.Context(), b.t
	id, err := b.store.FirstLink(ctx)
	require.NoError(t, err)
	a := b.nobody().post("/sign-in/link/"+b.key.Sign(id), url.Values{"name": {"Rosa Lind"}, "email": {"rosa@example.org"}, "password": {plantedPass}})
	require.Equal(t, http.StatusSeeOther, a.Code, a.Body)
	act := drive.Act{Key: "plant-autumn", At: time.Now(), Request: "test"}
	_, err = b.store.CreateDrive(ctx, act, drive.NewDrive("autumn", "Autumn drive", "Europe/Dublin", "in"))
	require.NoError(t, err)
	act.Key = "plant-stranger"
	_, err = b.store.AddAccount(ctx, act, "Ines Far", "ines@example.org", false)
	require.NoError(t, err)
	act.Drive, act.Key = "autumn", "plant-role"
	require.NoError(t, b.store.SetRole(ctx, act, "ines@example.org", account.Organiser))
	act.Key = "plant-link"
	id, err = b.store.AccountLink(ctx, act, "ines@example.org")
	require.NoError(t, err)
	a = b.nobody().post("/sign-in/link/"+b.key.Sign(id), url.Values{"password": {plantedPass}})
	require.Equal(t, http.StatusSeeOther, a.Code, a.Body)
	act.Drive, act.Key = demoDrive, "plant-person"
	_, err = b.store.CreatePerson(ctx, act, drive.Person{Kind: drive.PersonVolunteer, Name: plantedName, Heads: 1}, &drive.Contacts{Email: plantedMail, Phone: plantedPhone, Address: plantedHome})
	require.NoError(t, err)
}

// examples gives for each part of an address that changes one that is there.
func (b *besieged) examples() map[string]string {
	one := func(q string) string {
		var text string
		require.NoError(b.t, b.db.Owner().QueryRow(b.t.Context(), q).Scan(&text), q)
		return text
	}
	return map[string]string{
		"drive": demoDrive, "in": demoDrive, "kind": "lot", "number": "1", "hash": "older", "name": "style.css", "list": "kits.csv",
		"lot": one(`SELECT lot::text FROM pieces WHERE free > 0 ORDER BY lot LIMIT 1`), "piece": "1", "act": "part", "deed": "1", "take": "1", "supply": "1", "paper": "1",
		"donor": "1", "thanks": "1", "recipient": "1", "standing": "1", "line": "1", "plan": "1", "rule": "1",
		"sheet":  one(`SELECT number::text FROM sheets WHERE state = 'waiting' ORDER BY number LIMIT 1`),
		"kit":    one(`SELECT number::text FROM kits WHERE state = 'out' AND part = 1 ORDER BY number LIMIT 1`),
		"person": one(`SELECT holder::text FROM kits WHERE state = 'out' AND part = 1 ORDER BY number LIMIT 1`),
		"hours":  "1", "report": "1", "reminder": "1", "batch": "1", "box": "1", "delivery": "1", "size": "1", "asked": "1", "part": "1", "state": "good", "step": "1", "upload": "1", "import": "1", "id": "1",
		"print": "1", "invite": "1", "pass": "1",
		"account": "2", "place": "99999", "time": "99999", // nobody of this drive, and no session of whoever attacks
	}
}

// address fills a route with what is there, and with these instead.
func (b *besieged) address(route string, instead map[string]string) string {
	parts := strings.Split(route, "/")
	for i, part := range parts {
		name, changes := strings.CutPrefix(strings.Replace(part, "*", ":", 1), ":")
		if !changes {
			continue
		}
		switch value, there := instead[name]; {
		case there:
			parts[i] = value
		case name == "token":
			parts[i] = b.tokens[parts[1]]
		case name == "paper" && strings.Contains(route, "/cutting/papers/"):
			parts[i] = "cut-sheets.pdf"
		case name == "kind" && strings.Contains(route, "/blank/"):
			parts[i] = "fabric.xlsx"
		default:
			parts[i] = b.params[name]
		}
	}
	return strings.Join(parts, "/")
}

// token gives a good token of the links under /v/ or /r/; elsewhere one of a link that is not there.
func (b *besieged) token(under string) string {
	q := map[string]string{
		"v": `SELECT id FROM links WHERE purpose = 'person' AND revoked_at IS NULL AND person = (SELECT holder FROM kits WHERE state = 'out' AND part = 1 ORDER BY number LIMIT 1)`,
		"r": `SELECT id FROM links WHERE purpose = 'recipient' AND revoked_at IS NULL ORDER BY recipient LIMIT 1`,
	}[under]
	id := "abcdefghijkmnpqr"
	if q != "" {
		require.NoError(b.t, b.db.Owner().QueryRow(b.t.Context(), q).Scan(&id))
	}
	return b.key.Sign(id)
}

// listedRoutes reads routes.go: the whole product.
func listedRoutes(t testing.TB) []listedRoute {
	t.Helper()
	var routes []listedRoute
	for _, m := range regexp.MustCompile(`s\.(get|post)\("([^"]+)"`).FindAllStringSubmatch(string(readFile(t, filepath.Join("..", "..", "internal", "site", "routes.go"))), -1) {
		routes = append(routes, listedRoute{strings.ToUpper(m[1]), m[2]})
	}
	require.Greater(t, len(routes), 200)
	return routes
}

// caller is a client at the handler itself, which keeps its session and follows nothing.
type caller struct {
	b      *besieged
	cookie string
}

func (b *besieged) nobody() *caller { return &caller{b: b} }

func (b *besieged) signIn(email string) *caller {
	b.t.Helper()
	c := b.nobody()
	a := c.post("/sign-in", url.Values{"email": {email}, "password": {plantedPass}})
	require.Equal(b.t, http.StatusSeeOther, a.Code)
	require.NotEmpty(b.t, c.cookie)
	return c
}

// reply is an answer with its body as text.
type reply struct {
	Code   int
	Header http.Header
	Body   string
}

func (c *caller) get(path string) reply {
	r := httptest.NewRequest(http.MethodGet, "http://boltward.test/", nil)
	c.aim(r, path)
	return c.do(r)
}

func (c *caller) post(path string, form url.Values) reply {
	r := httptest.NewRequest(http.MethodPost, "http://boltward.test/", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	c.aim(r, path)
	return c.do(r)
}

// aim sends a request to a path as somebody types it, good or not, as a server reads it
// from the first line; it says no where a server would refuse that line itself.
func (c *caller) aim(r *http.Request, path string) bool {
	u, err := url.ParseRequestURI(path)
	if err != nil {
		r.URL = &url.URL{Path: "/"}
		return false
	}
	r.URL, r.RequestURI = u, path
	return true
}

func (c *caller) do(r *http.Request) reply {
	c.b.t.Helper()
	if c.cookie != "" {
		r.AddCookie(&http.Cookie{Name: "boltward", Value: c.cookie})
	}
	ctx, cancel := context.WithTimeout(r.Context(), time.Minute)
	defer cancel()
	w := httptest.NewRecorder()
	c.b.handler.ServeHTTP(w, r.WithContext(ctx))
	answer := w.Result()
	for _, cookie := range answer.Cookies() {
		if c.cookie = cookie.Value; cookie.MaxAge < 0 {
			c.cookie = ""
		}
	}
	got := reply{answer.StatusCode, answer.Header, w.Body.String()}
	require.NotZero(c.b.t, got.Code)
	require.Less(c.b.t, got.Code, 500, "%s %s: %s", r.Method, r.RequestURI, got.Body)
	c.b.headed(r, got)
	return got
}

// headed holds that an answer, whatever it says, carries the headers that keep it where it belongs.
func (b *besieged) headed(r *http.Request, a reply) {
	b.t.Helper()
	for name, want := range map[string]string{
		"X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY", "Referrer-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin",
	} {
		require.Equal(b.t, []string{want}, a.Header.Values(name), "%s of %s %s", name, r.Method, r.RequestURI)
	}
	policy := a.Header.Values("Content-Security-Policy")
	require.Len(b.t, policy, 1)
	require.Contains(b.t, policy[0], "default-src 'none'")
	require.Contains(b.t, policy[0], "frame-ancestors 'none'")
	require.NotContains(b.t, policy[0], "unsafe")
	require.NotContains(b.t, policy[0], "*")
	if to := a.Header.Get("Location"); to != "" {
		at, err := url.Parse(to)
		require.NoError(b.t, err)
		require.True(b.t, at.Host == "" && at.Scheme == "" && strings.HasPrefix(to, "/") && !strings.HasPrefix(to, "//"), "%s %s sends to %s", r.Method, r.RequestURI, to)
	}
	if strings.HasPrefix(a.Header.Get("Content-Type"), "text/html") {
		require.NotContains(b.t, a.Body, hostileTag, "%s %s shows what somebody typed as it is", r.Method, r.RequestURI)
	}
}

// hostileTag is in everything hostile that is typed: as it stands here no page may hold it.
const hostileTag = "<script>alert(311)"

// kept gives the rows of every table as one sum each, but for tables of passing visits.
func (b *besieged) kept() map[string]string {
	b.t.Helper()
	ctx, owner := b.t.Context(), b.db.Owner()
	rows, err := owner.Query(ctx, `SELECT table_name::text FROM information_schema.tables WHERE table_schema = 'public' AND table_type = 'BASE TABLE' ORDER BY 1`)
	require.NoError(b.t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(b.t, err)
	sums := map[string]string{}
	for _, table := range tables {
		if slices.Contains([]string{"sessions", "sign_ins", "half_sign_ins", "devices", "sign_in_attempts"}, table) {
			continue // who is signed in, when they were seen last, what the next page says once, and who tried
		}
		var sum string
		// When somebody was seen last is noted as they look, and is no change.
		q := `SELECT count(*) || ' ' || coalesce(md5(string_agg(x::text, E'\n' ORDER BY x::text)), '') FROM (SELECT to_jsonb(t) - 'seen_at' AS x FROM ` + pgx.Identifier{table}.Sanitize() + ` t) y`
		require.NoError(b.t, owner.QueryRow(ctx, q).Scan(&sum))
		sums[table] = sum
	}
	return sums
}

// unchanged holds that no table has changed.
func (b *besieged) unchanged(before map[string]string) {
	b.t.Helper()
	after := b.kept()
	for table := range before {
		require.Equal(b.t, before[table], after[table], "the rows of %s", table)
	}
}

// logLine is one line of the log.
type logLine struct {
	Level, Msg, Request, Route, Method, Error string
	Status                                    int
}

// logged gives the lines since a place in the log, and how long it is now.
func (b *besieged) logged(since int) ([]logLine, int) {
	b.t.Helper()
	text := b.log.String()
	var lines []logLine
	d := json.NewDecoder(strings.NewReader(text[since:]))
	for {
		var line logLine
		if err := d.Decode(&line); err == io.EOF {
			return lines, len(text)
		} else {
			require.NoError(b.t, err)
		}
		lines = append(lines, line)
	}
}

// quiet holds that what was done since a place in the log is there once for each
// request, with no failure, and holds nothing that a log must not hold.
func (b *besieged) quiet(since int) {
	b.t.Helper()
	lines, _ := b.logged(since)
	seen := map[string]int{}
	for _, line := range lines {
		require.Equal(b.t, "INFO", line.Level, "%+v", line)
		if line.Msg == "request" {
			seen[line.Request]++
		}
	}
	for request, n := range seen {
		require.Equal(b.t, 1, n, "request %s has one line", request)
	}
	text := b.log.String()[since:]
	for _, secret := range []string{
		plantedName, plantedMail, plantedPhone, plantedHome, plantedPass, "rosa@", "Rosa Lind", "alert(311)", "DROP TABLE", b.organiser.cookie, b.tokens["v"], b.tokens["r"], "5e5e5e5e",
	} {
		require.NotContains(b.t, text, secret, "the log holds nothing personal and nothing secret")
	}
}
