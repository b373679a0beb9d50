package main

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The organiser of another drive asks, under their own drive, for everything by the
// numbers of this one, and under this one for everything: nothing is told and nothing changes.
func foreignNumbers(t *testing.T, b *besieged) {
	stranger := b.signIn("ines@example.org")
	before := b.kept()
	for _, r := range b.routes {
		if !strings.Contains(r.path, ":drive") {
			continue
		}
		ask := func(path string) reply {
			if r.method == http.MethodPost {
				return stranger.post(path, url.Values{"once": {"a-key-of-the-stranger"}, "version": {"1"}})
			}
			return stranger.get(path)
		}
		a := ask(b.address(r.path, nil))
		require.Equal(t, http.StatusNotFound, a.Code, "%s %s as the organiser of another drive", r.method, r.path)
		require.NotContains(t, a.Body, "Lantern Row", "%s %s tells nothing", r.method, r.path)
		if r.method == http.MethodGet {
			a = ask(b.address(r.path, map[string]string{"drive": "autumn"}))
			for _, theirs := range []string{"Lantern Row", demoDrive, "Larkspur", "Winnie Aldercroft", plantedName} {
				require.NotContains(t, a.Body, theirs, "%s tells of another drive by its numbers", r.path)
			}
		}
	}
	b.unchanged(before)
}

// Forms that another site sends, or that carry the session of nobody, of somebody
// who signed out, or of another, are refused, each way a browser may send them.
func stolenForms(t *testing.T, b *besieged) {
	before := b.kept()
	gone := b.signIn("rosa@example.org")
	left := gone.cookie
	require.Equal(t, http.StatusSeeOther, gone.post("/sign-out", nil).Code)
	for _, r := range b.routes {
		if r.method != http.MethodPost {
			continue
		}
		path, body := b.address(r.path, nil), url.Values{"once": {"a-key-from-elsewhere"}}.Encode()
		send := func(session string, headers ...string) reply {
			q := httptest.NewRequest(http.MethodPost, path, strings.NewReader(body))
			q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			for i := 0; i < len(headers); i += 2 {
				q.Header.Set(headers[i], headers[i+1])
			}
			return (&caller{b: b, cookie: session}).do(q)
		}
		for _, from := range [][]string{
			{"Sec-Fetch-Site", "cross-site"},
			{"Sec-Fetch-Site", "same-site"},
			{"Origin", "https://elsewhere.example"},
			{"Origin", "null"},
			{"Origin", "http://boltward.test.elsewhere.example"},
			{"Origin", "https://elsewhere.example", "Sec-Fetch-Site", "cross-site"},
		} {
			require.Equal(t, http.StatusForbidden, send(b.organiser.cookie, from...).Code, "%s from %s", r.path, from)
		}
		if strings.HasPrefix(r.path, "/drives") {
			// What says nothing of where it comes from is a program's, which has no session of
			// ours unless it was given one: it is judged by who asks alone.
			a := send("")
			require.Equal(t, []any{http.StatusSeeOther, "/sign-in"}, []any{a.Code, a.Header.Get("Location")}, "%s from a program", r.path)
			for name, session := range map[string]string{"of nobody": "", "ended": left, "made up": "bm90LWEtc2Vzc2lvbi1hdC1hbGwtYnV0LWxvbmctZW5vdWdo"} {
				a := send(session, "Sec-Fetch-Site", "same-origin")
				if a.Code == http.StatusUnauthorized && session != "" { // who was signed in keeps what they typed, in the page itself
					require.Contains(t, a.Body, "Not taken yet", "%s with a session %s", r.path, name)
					require.NotContains(t, a.Body, "Lantern Row", "%s with a session %s", r.path, name)
					continue
				}
				require.Equal(t, http.StatusSeeOther, a.Code, "%s with a session %s", r.path, name)
				require.Equal(t, "/sign-in", a.Header.Get("Location"))
			}
		}
	}
	b.unchanged(before)
}

// What no route listens to is refused in the same words, and says what would be.
func oddMethods(t *testing.T, b *besieged) {
	before := b.kept()
	for _, method := range []string{http.MethodPut, http.MethodDelete, http.MethodPatch, http.MethodOptions, http.MethodTrace, "PROPFIND", "get"} {
		for _, path := range []string{"/", "/sign-in", "/drives/" + demoDrive + "/kits", b.address("/v/:token", nil), "/files/x/style.css", "/nowhere"} {
			a := b.organiser.do(httptest.NewRequest(method, path, strings.NewReader("x")))
			require.Contains(t, []int{http.StatusNotFound, http.StatusMethodNotAllowed}, a.Code, "%s %s", method, path)
			require.NotContains(t, a.Body, "Lantern Row")
		}
	}
	for _, r := range b.routes {
		path := b.address(r.path, nil)
		for _, method := range []string{http.MethodOptions, http.MethodTrace, http.MethodPut, http.MethodDelete} {
			q := httptest.NewRequest(method, path, nil)
			q.Header.Set("X-Told-Back", plantedName)
			a := b.organiser.do(q)
			require.Contains(t, []int{http.StatusNotFound, http.StatusMethodNotAllowed}, a.Code, "%s %s", method, path)
			require.NotContains(t, a.Body, plantedName, "%s %s tells back what was sent", method, path)
			require.Empty(t, a.Header.Get("Access-Control-Allow-Origin"))
		}
		if r.method == http.MethodGet {
			a := b.organiser.do(httptest.NewRequest(http.MethodHead, path, nil))
			require.Equal(t, b.organiser.get(path).Code, a.Code, "HEAD %s comes to what GET does", path)
		}
	}
	b.unchanged(before)
}

// oddParts are what may stand where an address has a number or a name.
func oddParts() []string {
	return []string{
		"..%2f..%2fetc%2fpasswd", "1%00", "%ff%fe", "99999999999999999999", "-1", "1'%20OR%20'1'='1", "..", "%2e%2e", "..%5c..%5c", "%00", "0", "0x1", "1e3", "%2b1", "1.0",
		"1;%20DROP%20TABLE%20kits;--", "%3Cscript%3Ealert(311)%3C%2Fscript%3E", "%0d%0aSet-Cookie:%20x=1", "%25s%25n", "1-1-1", "%E2%80%AE1", strings.Repeat("9", 3000),
	}
}

// Whatever stands in an address in place of a number leads nowhere, says so, and opens no file.
func oddAddresses(t *testing.T, b *besieged) {
	before := b.kept()
	for _, path := range []string{
		"//elsewhere.example/x", "/%2f%2felsewhere.example", "/\\elsewhere.example", "/files/../go.mod", "/files/x/../../go.mod", "/files/x/%2e%2e/%2e%2e/go.mod", "/files/x/..%2f..%2fgo.mod",
		"/files/x//etc/passwd", "/../../etc/passwd", "/drives/" + demoDrive + "/../autumn/needs", "/drives/" + demoDrive + "%2f..%2fautumn/needs", "/drives//needs", "/sign-in/", "/drives/" + demoDrive + "/needs/",
		"/v/", "/v//reminders", "/r/x", "/l/" + demoDrive + "/lot/..", "/" + strings.Repeat("a/", 4000), "/?" + strings.Repeat("q=1&", 10_000),
	} {
		a := b.organiser.get(path)
		require.Contains(t, []int{http.StatusSeeOther, http.StatusNotFound}, a.Code, "%.80s", path)
		for _, inside := range []string{"module boltward", "root:x:", "Autumn"} {
			require.NotContains(t, a.Body, inside, path)
		}
		require.Empty(t, a.Header.Get("Set-Cookie"))
	}
	for _, r := range b.routes {
		for part := range strings.SplitSeq(r.path, "/") {
			name, changes := strings.CutPrefix(part, ":")
			if !changes {
				continue
			}
			odds := oddParts()
			if r.method == http.MethodPost {
				odds = odds[:6] // the parts are read by the same code
			}
			for _, odd := range odds {
				path := b.address(r.path, map[string]string{name: odd})
				var a reply
				if r.method == http.MethodGet {
					a = b.organiser.get(path)
				} else {
					a = b.organiser.post(path, url.Values{"once": {"a-key-for-odd-parts"}})
				}
				require.Contains(t, []int{http.StatusNotFound, http.StatusUnprocessableEntity, http.StatusSeeOther, http.StatusConflict, http.StatusOK}, a.Code, "%s %.200s: %.300s", r.method, path, a.Body)
				if a.Code == http.StatusOK {
					require.Equal(t, http.MethodGet, r.method, path)
				}
				require.NotContains(t, a.Header.Get("Location"), "\n")
			}
		}
	}
	b.unchanged(before)
}

// Whatever is asked for behind the question mark, a page comes and nothing breaks.
func oddQuestions(t *testing.T, b *besieged) {
	before := b.kept()
	names := []string{
		"q", "sort", "order", "page", "from", "to", "kind", "which", "by", "who", "where", "state", "lot", "kit", "person", "piece", "number", "code", "next", "text", "size", "paper", "start", "labels", "unit", "for",
		"revision", "sheets", "holder", "recipient", "day", "week", "cards", "only", "shelf", "fibre", "colour", "theme", "left", "asked", "at", "tablet", "in", "trim", "body", "rule", "swap", "copies",
	}
	odd := []string{hostile(0), "-1", "99999999999999999999", "\xff\x00", strings.Repeat("9", 3000)}
	for i, r := range b.routes {
		if r.method != http.MethodGet {
			continue
		}
		query := url.Values{}
		for j, name := range names {
			query.Set(name, odd[j%len(odd)])
		}
		odd = append(odd[1:], odd[0])
		b.organiser.get(b.address(r.path, nil) + "?" + query.Encode())
		if i%5 == 0 {
			b.organiser.get(b.address(r.path, nil) + "?%zz&;=&&q[]=1&page=2&page=3")
		}
	}
	b.unchanged(before)
}

// endless is a body that goes on, and counts how much of it was taken.
type endless struct{ taken int64 }

func (e *endless) Read(p []byte) (int, error) {
	if e.taken >= 100<<20 {
		return 0, io.EOF
	}
	for i := range p {
		p[i] = 'a'
	}
	e.taken += int64(len(p))
	return len(p), nil
}

func (*endless) Close() error { return nil }

// A hundred mebibytes are taken by no route: each stops at its limit, those for
// whom there is nothing to take do not begin, and the answer says how much is too much.
func endlessBodies(t *testing.T, b *besieged) {
	before := b.kept()
	for _, r := range b.routes {
		if r.method != http.MethodPost || r.path == "/sign-out" || r.path == "/account/sign-out-elsewhere" {
			continue // which take nothing, and end sessions
		}
		for kind, most := range map[string]int64{"application/x-www-form-urlencoded": 2 << 20, "multipart/form-data; boundary=x": 42 << 20, "text/plain": 0} {
			send := func(c *caller) (reply, int64) {
				body := &endless{}
				q := httptest.NewRequest(http.MethodPost, b.address(r.path, nil), body)
				q.ContentLength = 100 << 20
				q.Header.Set("Content-Type", kind)
				q.Header.Set("Sec-Fetch-Site", "same-origin")
				a := c.do(q)
				return a, body.taken
			}
			a, taken := send(&caller{b: b, cookie: b.organiser.cookie})
			require.LessOrEqual(t, taken, most, "%s of %s", r.path, kind)
			if strings.HasPrefix(r.path, "/drives") || most > 0 && !strings.HasPrefix(r.path, "/sign-in/second") && !strings.HasPrefix(r.path, "/pass") {
				require.Contains(t, []int{http.StatusRequestEntityTooLarge, http.StatusUnprocessableEntity, http.StatusNotFound, http.StatusConflict}, a.Code, "%s of %s: %.200s", r.path, kind, a.Body)
			}
			if strings.HasPrefix(r.path, "/drives") {
				a, taken = send(b.nobody())
				require.Equal(t, http.StatusSeeOther, a.Code)
				require.Zero(t, taken, "%s takes nothing from nobody", r.path)
			}
		}
	}
	b.unchanged(before)
}
