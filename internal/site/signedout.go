package site

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
)

// How long a session may lie unused: usually, at least, and at most, which is as long as it
// lives at all. What is configured may be 0 as well: for ever.
const (
	IdleUsual = 2 * time.Hour
	IdleLeast = 5 * time.Minute
	IdleMost  = sessionLife
)

// itself marks the address of a page that a page opens by itself, not a person, where people
// open it too: that is no use of the session either.
const itself = "itself"

const unaskedKey = "unasked"

// byItself gives an address of ours as a page asks for it by itself.
func byItself(path string) string {
	path, fragment, _ := strings.Cut(path, "#")
	joint := "?"
	if strings.Contains(path, "?") {
		joint = "&"
	}
	if path += joint + itself + "=yes"; fragment != "" {
		path += "#" + fragment
	}
	return path
}

// byPerson gives an address as a person opens it.
func byPerson(u *url.URL) string {
	asked := u.Query()
	if !asked.Has(itself) {
		return ownPath(u.RequestURI())
	}
	asked.Del(itself)
	plain := url.URL{Path: u.Path, RawPath: u.RawPath, RawQuery: asked.Encode()}
	return ownPath(plain.RequestURI())
}

// Why a session that named somebody names nobody any more.
const (
	overUnused = "unused"
	overEnded  = "ended"
	overLived  = "lived"
)

// leave takes everything out of a session that is over but why it is: nothing that was said to
// whoever had it is said to the next, and each page that is still open there learns why.
func (s *Site) leave(c *gin.Context, why string) error {
	ctx := c.Request.Context()
	if err := s.sessions.Clear(ctx); err != nil {
		return fmt.Errorf("empty the session: %w", err)
	}
	if err := s.sessions.RenewToken(ctx); err != nil {
		return fmt.Errorf("renew the session: %w", err)
	}
	s.sessions.Put(ctx, sessionOver, why)
	return nil
}

const endedSaid = "This browser was signed out. Sign in to go on."

// whyOver says why nobody is signed in at this browser any more; nothing where nobody was.
func (s *Site) whyOver(c *gin.Context) string {
	switch s.sessions.GetString(c.Request.Context(), sessionOver) {
	case overUnused:
		return fmt.Sprintf("Nobody used this browser here for %s, so it was signed out. Sign in to go on.", forHow(s.idle))
	case overLived:
		return fmt.Sprintf("Nobody stays signed in for longer than %s, so this browser was signed out. Sign in to go on.", forHow(sessionLife))
	case overEnded:
		return endedSaid
	}
	// A session that is not known any more: a backup was restored, which holds none.
	if _, err := c.Request.Cookie(s.sessions.Cookie.Name); err == nil && s.sessions.Token(c.Request.Context()) == "" {
		return endedSaid
	}
	return ""
}

// forHow says how long a time is, in whole minutes, hours or days.
func forHow(d time.Duration) string {
	if d == 0 { // set to never since
		return "too long"
	}
	const day = 24 * time.Hour
	if d%day == 0 {
		return counted(int(d/day), "day", "days")
	}
	if d%time.Hour == 0 {
		return counted(int(d/time.Hour), "hour", "hours")
	}
	return counted(int(d/time.Minute), "minute", "minutes")
}

// sendOn answers what cannot be done before something else is: with where that is. A script
// that asks for a part of a page would follow a redirect unseen and put what it finds in the
// part's place; so it is told to open the address as a page, or where it sends what somebody
// typed, to leave the page as it is. It says no for any other error.
func (s *Site) sendOn(c *gin.Context, err error) bool {
	var nobody errNobody
	var first errFirst
	status, to, script := 0, "", c.GetHeader("HX-Request") != ""
	switch {
	case errors.As(err, &nobody):
		next := nobody.next
		if script {
			next = openPage(c.Request, next)
		}
		status, to = http.StatusUnauthorized, withNext("/sign-in", next)
	case errors.As(err, &first):
		status, to = http.StatusForbidden, first.to
	default:
		return false
	}
	c.Header("Cache-Control", "no-store")
	switch {
	case script && c.Request.Method == http.MethodGet:
		c.Header("HX-Redirect", to)
		c.Status(status)
	case script:
		c.Header("HX-Reswap", "none")
		why := strings.TrimSuffix(s.whyOver(c), " Sign in to go on.")
		c.String(status, "%s", strings.TrimSpace(why+" What is typed here stays. Sign in beside this page, and go on."))
	default:
		late := c.Request.Method == http.MethodPost && status == http.StatusUnauthorized && traceOf(c).route != "/sign-out" && s.whyOver(c) != ""
		if late && s.keepForm(c) {
			return true
		}
		if late {
			s.flash(c, "What you just sent was not taken. Sign in, go back to it, and send it again.")
		}
		c.Redirect(http.StatusSeeOther, to)
	}
	return true
}

// openPage gives the page that a script asks from, or else what it asks for: also where that is the
// same page, as somebody looks for something there.
func openPage(r *http.Request, asked string) string {
	u, err := url.Parse(r.Header.Get("HX-Current-URL"))
	if err != nil || u.Path == "" || u.Path == r.URL.Path {
		return asked
	}
	return byPerson(u)
}
