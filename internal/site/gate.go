package site

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// visitor is who sends a request, and what they are in the drive it is about.
type visitor struct {
	person account.Person
	role   account.Role
	drive  drive.Drive
}

// errNobody says that somebody has to sign in first.
type errNobody struct{ next string }

func (errNobody) Error() string { return "nobody is signed in" }

// admit lets a request through to its handler, or says why not. Who is signed
// in without the role learns no more than that there is no such page.
func (s *Site) admit(c *gin.Context, r route) error {
	if r.need.who == needAnybody {
		return nil
	}
	v, err := s.visit(c, c.Param("drive"))
	if err != nil {
		return err
	}
	if v == nil {
		return errNobody{next: nextAfter(c.Request)}
	}
	if v.role != "" {
		if v.drive, err = s.db.Drive(c.Request.Context(), c.Param("drive")); err != nil {
			return err
		}
	}
	c.Set(visitorKey, v)
	switch {
	case r.need.who == needSignedIn:
		return nil
	case r.need.who == needOpener && !v.person.Opens:
		return noSuchPage()
	case r.need.who == needRole && v.role.Allows(r.need.area) < r.need.access:
		return noSuchPage()
	case r.method != http.MethodPost:
		return nil
	}
	return needKey(c)
}

// needKey refuses a form without the key that keeps it from being booked twice.
func needKey(c *gin.Context) error {
	if err := parseForm(c.Request); err != nil {
		return err
	}
	if onceKey(c) == "" {
		return apperr.Invalid("", "%s", aroundOf(c).NoKey)
	}
	return nil
}

// visit gives who is signed in, or nil. A session of an earlier epoch, or of an
// account that is gone, ends here.
func (s *Site) visit(c *gin.Context, driveID string) (*visitor, error) {
	ctx := c.Request.Context()
	id := s.sessions.GetInt64(ctx, sessionAccount)
	if id == 0 {
		return nil, nil
	}
	person, role, err := s.db.Visitor(ctx, id, driveID)
	if apperr.Is(err, apperr.KindNotFound) || (err == nil && person.Epoch != s.sessions.GetInt(ctx, sessionEpoch)) {
		return nil, s.sessions.Destroy(ctx)
	}
	if err != nil {
		return nil, err
	}
	traceOf(c).account = person.ID
	return &visitor{person: person, role: role}, nil
}

const visitorKey = "visitor"

// visitorOf gives who was admitted; nobody on a public page.
func visitorOf(c *gin.Context) *visitor {
	if v, ok := c.Get(visitorKey); ok {
		return v.(*visitor)
	}
	return &visitor{}
}

// drive gives the drive of the address; the gate has found it.
func (s *Site) drive(c *gin.Context) drive.Drive { return visitorOf(c).drive }

// driveID gives the id of the drive of the address.
func (s *Site) driveID(c *gin.Context) string { return visitorOf(c).drive.ID }

// person gives who is signed in.
func (s *Site) person(c *gin.Context) account.Person { return visitorOf(c).person }

// may says whether who is signed in has this right in the drive of the address.
func (s *Site) may(c *gin.Context, area account.Area, access account.Access) bool {
	return visitorOf(c).role.Allows(area) >= access
}

// nextAfter gives the address to go on to after signing in: only pages that
// were asked for with GET, and only our own.
func nextAfter(r *http.Request) string {
	if r.Method != http.MethodGet {
		return ""
	}
	return ownPath(r.URL.RequestURI())
}

// ownPath gives the text back when it is a path on this site, else nothing.
func ownPath(text string) string {
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(text, "/") ||
		strings.HasPrefix(text, "//") || strings.ContainsAny(text, "\\\r\n\t") || len(text) > 1000 {
		return ""
	}
	return text
}
