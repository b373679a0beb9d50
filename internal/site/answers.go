package site

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/words"
)

// errorPage says what went wrong and where to go on.
type errorPage struct {
	Heading string
	Text    string
	Fields  []apperr.Field
	Number  string // of the request, where somebody may have to look it up
	Back    string // the page that they sent something from, where that is known
}

func (errorPage) template() string { return "error.html" }
func (p errorPage) title() string  { return p.Heading }

// answer is an error as a visitor may know it.
type answer struct {
	status  int
	heading string
	text    string
	fields  []apperr.Field
	logged  bool
}

// asPage answers a handler's error with a page.
func (s *Site) asPage(h handler) gin.HandlerFunc {
	return func(c *gin.Context) {
		c.Set(languageKey, s.languageOf(c.Request))
		err := h(c)
		if err == nil || s.gone(c, err) || s.sendOn(c, err) {
			return
		}
		a := s.answer(c, err)
		page := errorPage{Heading: a.heading, Text: a.text, Fields: a.fields, Back: cameFrom(c.Request)}
		if a.logged {
			page.Number = traceOf(c).number
		}
		if err := s.page(c, a.status, page); err != nil {
			s.logFailure(c, err)
			c.Data(a.status, "text/plain; charset=utf-8", fmt.Appendf(nil, "%s\n%s\n", a.text, traceOf(c).number))
		}
	}
}

// cameFrom is the page of a drive from which a refused wish was sent, empty where the browser does
// not say. A page that was itself the answer to that form is not opened by its address.
func cameFrom(r *http.Request) string {
	from, err := url.Parse(r.Referer())
	if err != nil || from.Host != r.Host || from.Path == r.URL.Path || !strings.HasPrefix(from.Path, "/drives/") {
		return ""
	}
	return from.RequestURI()
}

// asAPI answers a handler's error with JSON.
func (s *Site) asAPI(h handler) gin.HandlerFunc {
	return func(c *gin.Context) {
		err := h(c)
		if err == nil || s.gone(c, err) {
			return
		}
		a := answer{status: http.StatusUnauthorized, text: cmp.Or(s.whyOver(c), "Sign in first.")}
		var nobody errNobody
		var first errFirst
		switch {
		case errors.As(err, &first):
			a.text = first.why
		case !errors.As(err, &nobody):
			a = s.answer(c, err)
		}
		c.JSON(a.status, gin.H{"error": a.text, "fields": a.fields, "request": traceOf(c).number})
	}
}

// answer turns an error into what a visitor may know, and logs the rest.
func (s *Site) answer(c *gin.Context, err error) answer {
	w := aroundOf(c)
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return answer{
			status: http.StatusRequestEntityTooLarge, heading: w.TooLarge,
			text: w.TooMuch(max(1, tooLarge.Limit>>20)),
		}
	}
	if errors.Is(err, errNoMethod) {
		return answer{status: http.StatusMethodNotAllowed, heading: w.NotFound, text: errNoMethod.Error()}
	}
	e := apperr.As(err)
	if e == nil {
		s.logFailure(c, err)
		return answer{status: http.StatusInternalServerError, heading: w.Failed, text: w.Sorry, logged: true}
	}
	a := answer{text: e.Text, fields: e.Fields}
	switch e.Kind {
	case apperr.KindNotFound:
		a.status, a.heading = http.StatusNotFound, w.NotFound
	case apperr.KindConflict:
		a.status, a.heading = http.StatusConflict, w.NotNow
	case apperr.KindDenied:
		a.status, a.heading = http.StatusForbidden, w.NotYours
	default:
		a.status, a.heading = http.StatusUnprocessableEntity, w.PutRight
	}
	return a
}

// gone says whether nobody waits for the answer any more.
func (s *Site) gone(c *gin.Context, err error) bool {
	if !errors.Is(err, context.Canceled) || c.Request.Context().Err() == nil {
		return false
	}
	traceOf(c).gone = true
	c.Abort()
	return true
}

func (s *Site) logFailure(c *gin.Context, err error) {
	t := traceOf(c)
	s.log.ErrorContext(c.Request.Context(), "request failed", "request", t.number, "method", c.Request.Method, "route", t.route, "error", err.Error())
}

func (s *Site) noSuchPage(c *gin.Context) error { return apperr.NotFound("%s", aroundOf(c).NoPage) }

func noSuchPage() error {
	return apperr.NotFound("%s", words.In("en").Around.NoPage)
}

// errNoMethod says that there is such an address, but not for what was wished of
// it; the router has said in the header Allow what there is (RFC 9110, 15.5.6).
var errNoMethod = errors.New("There is nothing to be done in that way at this address.") //lint:ignore ST1005 a person reads it

func (s *Site) noSuchMethod(*gin.Context) error { return errNoMethod }
