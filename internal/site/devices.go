package site

import (
	"crypto/rand"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/postgres"
)

// deviceLife is how long a browser is asked to keep what it is known by: as long as they do.
const deviceLife = 400 * 24 * time.Hour

// lastShown is how many of their last sign-ins somebody sees.
const lastShown = 20

// device gives the browser at which an account signs in, and lets it keep what it is known again by.
// That says nothing of who uses it, opens nothing, and goes nowhere but here; each account knows it
// by a mark of its own, so that nothing kept tells who shares a browser.
func (s *Site) device(c *gin.Context, account int64) postgres.Device {
	name := "boltward-device"
	if s.sessions.Cookie.Secure {
		name = "__Host-" + name
	}
	token, err := c.Cookie(name)
	if err != nil || len(token) != len(rand.Text()) {
		token = rand.Text()
	}
	http.SetCookie(c.Writer, &http.Cookie{
		Name: name, Value: token, Path: "/", MaxAge: int(deviceLife.Seconds()),
		HttpOnly: true, Secure: s.sessions.Cookie.Secure, SameSite: http.SameSiteLaxMode,
	})
	at := postgres.Device{Words: device(c.Request.UserAgent()), Mark: s.key.Fingerprint("device", fmt.Sprintf("%d %s", account, token))}
	if key := onceKey(c); key != "" { // no page but this one has it, however the browser is called
		at.Form = s.key.Fingerprint("sign-in form", fmt.Sprintf("%d %s", account, key))
	}
	return at
}

// lastSignIn is one time when somebody signed in.
type lastSignIn struct {
	postgres.SignIn
	Here bool // this very session
	When template.HTML
	Tell string // of the browser; empty where nobody looked
}

func (s *Site) lastSignIns(c *gin.Context, zone *time.Location, limit int) ([]lastSignIn, error) {
	v := visitorOf(c)
	list, err := s.db.LastSignIns(c.Request.Context(), v.person.ID, limit)
	if err != nil {
		return nil, err
	}
	last := make([]lastSignIn, len(list))
	for i, at := range list {
		last[i] = lastSignIn{at, at.ID == v.signIn, moment(at.Began, zone), tellBrowser(at.Told)}
	}
	return last, nil
}

// tellBrowser says what was known of a browser and, where it was new, whether a mail told of it.
func tellBrowser(told postgres.Told) string {
	switch told {
	case "":
		return ""
	case postgres.ToldKnown:
		return "known"
	case postgres.ToldFirst:
		return "your first"
	}
	if mailed := tellMail(told); mailed != "" {
		return "new; " + mailed
	}
	return "new"
}

// tellMail says what became of a mail about signing in; nothing where there is none.
func tellMail(told postgres.Told) string {
	switch told {
	case postgres.ToldQueued:
		return "a mail to you waits to be sent"
	case postgres.ToldSending:
		return "a mail is on its way to you"
	case postgres.ToldSent:
		return "you were told by mail"
	case postgres.ToldPerhaps:
		return "you were perhaps told by mail"
	case postgres.ToldFailed:
		return "the mail to you did not go"
	default:
		return ""
	}
}

// withoutCode is one time when somebody's password was given and the code of their second step did
// not come.
type withoutCode struct {
	postgres.HalfSignIn
	When template.HTML
	Tell string // of the mail about it; empty where there is none
}

func (s *Site) withoutCode(c *gin.Context, zone *time.Location, limit int) ([]withoutCode, error) {
	list, err := s.db.LastHalves(c.Request.Context(), visitorOf(c).person.ID, limit)
	if err != nil {
		return nil, err
	}
	last := make([]withoutCode, len(list))
	for i, at := range list {
		last[i] = withoutCode{at, moment(at.Began, zone), tellMail(at.Told)}
	}
	return last, nil
}

// lastOpen gives the last of these that nobody has dealt with; nil where there is none.
func lastOpen(list []withoutCode) *withoutCode {
	if at := slices.IndexFunc(list, func(at withoutCode) bool { return at.Open }); at >= 0 {
		return &list[at]
	}
	return nil
}

// notMe handles POST /account/not-me: a sign-in was somebody else's.
func (s *Site) notMe(c *gin.Context) error {
	if err := s.db.NotMe(c.Request.Context(), s.act(c), visitorOf(c).signIn); err != nil {
		return err
	}
	s.flash(c, "Wherever else you were signed in, you are signed out. Now change your password: whoever signed in as you knows it.")
	return s.seeOther(c, "/account#password")
}

// wasMe handles POST /account/without-code/:time/mine: the password without the code was their own.
func (s *Site) wasMe(c *gin.Context) error {
	half, err := s.number(c, "time")
	if err != nil {
		return err
	}
	if err := s.db.WasMe(c.Request.Context(), s.act(c), half); err != nil {
		return err
	}
	s.flash(c, "It was you.")
	return s.seeOther(c, "/account#sign-ins")
}
