package site

import (
	"context"
	"fmt"
	"mime"
	"net/http"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
)

// usualBody is the most bytes a form sends, usualTime the longest a request
// works; a route says so where it needs more.
const (
	usualBody = 1 << 20
	usualTime = 30 * time.Second
)

// handler answers one request, or gives the error that an adapter answers with.
type handler func(*gin.Context) error

// route is one line of routes.go.
type route struct {
	method, path string
	need         need
	handler      handler
	json         bool
	body         int64
	long         bool
	unasked      bool
}

// need is the right a route asks for. Its zero value is none at all, which
// route.check refuses.
type need struct {
	who    needWho
	area   account.Area
	access account.Access
	own    bool // not by a tablet's pass, whatever its role
}

type needWho int

const (
	needAnybody needWho = iota + 1
	needSignedIn
	needAccount
	needOpener
	needRole
)

// The needs that are not about a drive: nobody has to sign in, anybody who has,
// those who did with an account and not by a tablet's pass, and those who may
// start a new drive.
var (
	public   = need{who: needAnybody}
	signedIn = need{who: needSignedIn}
	ownOnly  = need{who: needAccount}
	opener   = need{who: needOpener}
)

// read and write ask for a role in the drive of the address.
func read(area account.Area) need  { return need{who: needRole, area: area, access: account.Read} }
func write(area account.Area) need { return need{who: needRole, area: area, access: account.Write} }

// byAccount asks for somebody who signed in with an account of their own: what is done
// outlives the day of a tablet's pass.
func (n need) byAccount() need {
	n.own = true
	return n
}

// routeOption is what a route has beyond the usual.
type routeOption func(*route)

// asJSON answers errors as JSON, to programs and scripts.
func asJSON(r *route) { r.json = true }

// long lifts the limit on time, for downloads and events.
func long(r *route) { r.long = true }

// unasked is for what pages ask by themselves and nobody opens: it is no use of a session.
func unasked(r *route) { r.unasked = true }

// body takes this many bytes, for uploads.
func body(bytes int64) routeOption { return func(r *route) { r.body = bytes } }

func (s *Site) get(path string, need need, h handler, options ...routeOption) {
	s.add(http.MethodGet, path, need, h, options)
}

func (s *Site) post(path string, need need, h handler, options ...routeOption) {
	s.add(http.MethodPost, path, need, h, options)
}

func (s *Site) add(method, path string, need need, h handler, options []routeOption) {
	r := route{method: method, path: path, need: need, handler: h, body: usualBody}
	for _, o := range options {
		o(&r)
	}
	s.routes = append(s.routes, r)
}

// check refuses a route that asks for no right, for a right that cannot be
// known from its address, or that changes things on the right to read.
func (r route) check() error {
	inDrive := strings.Contains(r.path, "/:drive")
	switch {
	case r.handler == nil:
		return fmt.Errorf("%s %s has no handler", r.method, r.path)
	case r.need.who == 0:
		return fmt.Errorf("%s %s names no right", r.method, r.path)
	case inDrive != (r.need.who == needRole):
		return fmt.Errorf("%s %s: a role is for addresses of a drive, and they need one", r.method, r.path)
	case r.method == http.MethodPost && r.need.who == needRole && r.need.access != account.Write:
		return fmt.Errorf("%s %s changes things and asks only to read", r.method, r.path)
	case r.need.who == needRole && account.Organiser.Allows(r.need.area) == account.None:
		return fmt.Errorf("%s %s names the area %q, which is not in the table", r.method, r.path, r.need.area)
	}
	return nil
}

// mount is what runs for a route: its limits, the gate, then the handler.
func (s *Site) mount(r route) gin.HandlerFunc {
	adapt := s.asPage
	if r.json {
		adapt = s.asAPI
	}
	return adapt(func(c *gin.Context) error {
		traceOf(c).route = r.path
		c.Set(unaskedKey, r.unasked || c.Request.URL.Query().Has(itself))
		if !legible(c.Request.URL.Path) {
			return noSuchPage()
		}
		c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, r.bodyOf(c.Request))
		if r.long || r.body > usualBody {
			s.liftDeadlines(c)
		}
		// The adapter answers with the request as it came, not with one whose
		// time is up; and a copied request's uploads are ours to remove.
		outer := c.Request
		ctx, cancel := outer.Context(), context.CancelFunc(func() {})
		if !r.long {
			ctx, cancel = context.WithTimeout(ctx, usualTime)
		}
		c.Request = outer.WithContext(ctx)
		defer func() {
			cancel()
			s.removeUploads(c.Request)
			c.Request = outer
		}()
		if err := s.admit(c, r); err != nil {
			return err
		}
		return r.handler(c)
	})
}

// bodyOf is the most bytes of this request: more than usual only where files are
// sent, which wait on the disk; the fields of a form are held in memory.
func (r route) bodyOf(sent *http.Request) int64 {
	if kind, _, err := mime.ParseMediaType(sent.Header.Get("Content-Type")); err != nil || kind != "multipart/form-data" {
		return min(r.body, usualBody)
	}
	return r.body
}

func (s *Site) removeUploads(r *http.Request) {
	if r.MultipartForm == nil {
		return
	}
	if err := r.MultipartForm.RemoveAll(); err != nil {
		s.log.Warn("an upload stays in the temporary folder", "error", err.Error())
	}
}

// liftDeadlines lets a slow network take its time over a long body or answer.
func (s *Site) liftDeadlines(c *gin.Context) {
	control := http.NewResponseController(c.Writer)
	// A writer without deadlines, as in tests, has none to lift.
	_ = control.SetReadDeadline(time.Time{})
	_ = control.SetWriteDeadline(time.Time{})
}
