package site

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"runtime/debug"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gin-gonic/gin"
)

// trace follows one request: the number that logs and error pages share.
type trace struct {
	number  string
	route   string
	account int64
	gone    bool
}

type traceKey struct{}

// wrap puts around the router what every answer has: a number, a line in the
// log, the headers, the refusal of other sites' forms, and the session.
func (s *Site) wrap(engine *gin.Engine) (http.Handler, error) {
	cross := http.NewCrossOriginProtection()
	if err := cross.AddTrustedOrigin(s.url.Scheme + "://" + s.url.Host); err != nil {
		return nil, fmt.Errorf("the site's own address: %w", err)
	}
	cross.SetDenyHandler(http.HandlerFunc(s.crossSite))
	withSession := s.sessions.LoadAndSave(engine)
	inner := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodHead {
			// As GET, of which the server then sends the headers alone (RFC 9110, 9.3.2).
			r = r.WithContext(r.Context())
			r.Method = http.MethodGet
		}
		r = withLegibleQuery(r)
		if sessionless(r.URL.Path) {
			engine.ServeHTTP(w, r)
			return
		}
		withSession.ServeHTTP(w, r)
	})
	return s.observe(headers(s.url.Scheme == "https", cross.Handler(inner))), nil
}

// sessionless says whether an address is answered without looking at who asks.
func sessionless(path string) bool {
	return strings.HasPrefix(path, "/files/") || path == "/healthz" || path == "/readyz" || path == "/favicon.ico"
}

// legible says whether something of an address can be looked up: it is UTF-8, and
// holds no NUL, which no table takes.
func legible(text string) bool { return utf8.ValidString(text) && !strings.Contains(text, "\x00") }

// withLegibleQuery takes out of what is asked for what is no text, as forms do with
// what is typed.
func withLegibleQuery(r *http.Request) *http.Request {
	if r.URL.RawQuery == "" {
		return r
	}
	asked, err := url.ParseQuery(r.URL.RawQuery)
	if err == nil && legible(r.URL.RawQuery) && !slices.ContainsFunc(slices.Concat(slices.Collect(maps.Values(asked))...), func(v string) bool { return !legible(v) }) {
		return r
	}
	clear := url.Values{}
	for name, values := range asked { // what could be read of it
		for _, v := range values {
			clear.Add(strings.ToValidUTF8(name, ""), clean(v))
		}
	}
	r = r.Clone(r.Context())
	r.URL.RawQuery = clear.Encode()
	return r
}

// observe numbers a request, writes its line in the log, and answers where a
// handler panicked. The log names the route, never the address, which may hold
// a link's token.
func (s *Site) observe(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		t := &trace{number: newNumber()}
		r = r.WithContext(context.WithValue(r.Context(), traceKey{}, t))
		out := &statusWriter{ResponseWriter: w}
		defer func() {
			if p := recover(); p != nil {
				if err, ok := p.(error); ok && errors.Is(err, http.ErrAbortHandler) {
					panic(p)
				}
				s.log.Error("panic", "request", t.number, "method", r.Method, "route", t.route, "panic", fmt.Sprint(p), "stack", string(debug.Stack()))
				said := s.languageOf(r).Around
				s.plain(out, r, http.StatusInternalServerError, said.Failed, said.Sorry)
			}
			took := time.Since(start)
			if s.answered != nil {
				s.answered(r.Method, t.route, out.status, took)
			}
			s.log.Info("request", "request", t.number, "method", r.Method, "route", t.route, "status", out.status,
				"account", t.account, "ms", took.Milliseconds(), "bytes", out.bytes, "gone", t.gone)
		}()
		out.Header().Set("X-Request-Id", t.number)
		next.ServeHTTP(out, r)
	})
}

// headers are on every answer. Nothing from elsewhere and nothing inline runs,
// no other site frames a page, and the camera is for scanning labels here alone. Where
// the address is https, browsers ask for nothing else for a year.
func headers(secure bool, next http.Handler) http.Handler {
	const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; " +
		"connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), geolocation=(), microphone=()")
		if secure {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		next.ServeHTTP(w, r)
	})
}

// crossSite answers a form that another site sent.
func (s *Site) crossSite(w http.ResponseWriter, r *http.Request) {
	s.log.InfoContext(r.Context(), "refused", "what", "form of another site", "request", requestTrace(r.Context()).number, "method", r.Method)
	said := s.languageOf(r).Around
	s.plain(w, r, http.StatusForbidden, said.Foreign, said.ForeignLong)
}

// sessionFailed answers when sessions cannot be read or kept.
func (s *Site) sessionFailed(w http.ResponseWriter, r *http.Request, err error) {
	t := requestTrace(r.Context())
	s.log.Error("session", "request", t.number, "error", err.Error())
	said := s.languageOf(r).Around
	s.plain(w, r, http.StatusInternalServerError, said.Failed, said.Sorry)
}

// plain writes an error page from outside the router, where no session is known.
func (s *Site) plain(w http.ResponseWriter, r *http.Request, status int, heading, text string) {
	if out, ok := w.(*statusWriter); ok && out.status != 0 {
		return
	}
	t := requestTrace(r.Context())
	page := errorPage{Heading: heading, Text: text, Number: t.number}
	var b bytes.Buffer
	kind := "text/html; charset=utf-8"
	shown, err := s.template(page.template())
	if err == nil {
		err = shown.ExecuteTemplate(&b, "layout", &view{Page: page, Title: heading, Now: s.now(), Lang: "en"})
	}
	if err != nil {
		s.log.Error("error page", "request", t.number, "error", err.Error())
		kind = "text/plain; charset=utf-8"
		b.Reset()
		fmt.Fprintf(&b, "%s\n%s\n", text, t.number)
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	if _, err := w.Write(b.Bytes()); err != nil {
		t.gone = true
	}
}

// statusWriter remembers what was answered.
type statusWriter struct {
	http.ResponseWriter
	status int
	bytes  int
}

func (w *statusWriter) WriteHeader(status int) {
	if w.status == 0 {
		w.status = status
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *statusWriter) Write(b []byte) (int, error) {
	if w.status == 0 {
		w.status = http.StatusOK
	}
	n, err := w.ResponseWriter.Write(b)
	w.bytes += n
	return n, err
}

// Unwrap lets a ResponseController reach the connection.
func (w *statusWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// newNumber gives the number of a request: short enough to read out on the phone.
func newNumber() string {
	text := strings.ToLower(rand.Text())
	return text[:4] + "-" + text[4:8]
}

// RouteOf gives the route of the request that a context is of, as routes.go writes it;
// empty where it is of no request, or of one whose route is not found yet.
func RouteOf(ctx context.Context) string { return requestTrace(ctx).route }

func traceOf(c *gin.Context) *trace { return requestTrace(c.Request.Context()) }

func requestTrace(ctx context.Context) *trace {
	if t, ok := ctx.Value(traceKey{}).(*trace); ok {
		return t
	}
	return &trace{}
}
