package site

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// visitor is who sends a request, and what they are in the drive it is about.
type visitor struct {
	person account.Person
	role   account.Role
	drive  drive.Drive
	signIn int64
	second bool                // this session has passed the second step of signing in
	pass   *postgres.PassVisit // at a tablet, by its pass
	said   bool                // not at a tablet, or somebody there has said who they are
}

// errNobody says that somebody has to sign in first.
type errNobody struct{ next string }

func (errNobody) Error() string { return "nobody is signed in" }

// errFirst says that something else comes first, and where.
type errFirst struct{ to, why string }

func (e errFirst) Error() string { return e.why }

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
	if v.pass != nil && v.pass.Over {
		return errFirst{"/pass/over", "This tablet's pass is over."}
	}
	c.Set(visitorKey, v)
	if r.need.who == needSignedIn {
		return nil
	}
	if (r.need.who == needAccount || r.need.own) && v.pass != nil ||
		r.need.who == needOpener && !v.person.Opens ||
		r.need.who == needRole && v.role.Allows(r.need.area) < r.need.access {
		s.noteRefused(c, "right", "method", r.method, "account", v.person.ID, "drive", v.drive.ID, "role", v.role)
		return noSuchPage()
	}
	if r.need.who == needRole {
		if err := v.first(c.Request); err != nil {
			return err
		}
	}
	if r.method != http.MethodPost {
		return nil
	}
	return needKey(c)
}

// noteRefused writes a line of its own for what somebody tried and was refused: a password, a code, a
// right. It holds numbers, and nothing of what was typed.
func (s *Site) noteRefused(c *gin.Context, what string, more ...any) {
	t := traceOf(c)
	s.log.InfoContext(c.Request.Context(), "refused", append([]any{"what", what, "request", t.number, "route", t.route}, more...)...)
}

// first says what comes before anything else in the drive: a second step, where it
// is asked of organisers, and at a tablet who is there.
func (v *visitor) first(r *http.Request) error {
	switch {
	case lacksSecond(v.role, v.drive, v.second):
		return errFirst{secondStepPath, "Set up your second step of signing in first: this drive asks it of its organisers."}
	case !v.said:
		return errFirst{withNext("/pass/initials", nextAfter(r)), "Say who is at the tablet first."}
	}
	return nil
}

// lacksSecond says whether the drive asks a second step of somebody who has none.
func lacksSecond(role account.Role, d drive.Drive, second bool) bool {
	return role == account.Organiser && d.SecondStep && !second
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

// noteEvery is how often it is noted that somebody was seen in a drive.
const noteEvery = 5 * time.Minute

// visit gives who is signed in, or nil. A session of an earlier epoch, one that
// was ended or lay unused for too long, or of an account that is gone, ends here.
func (s *Site) visit(c *gin.Context, driveID string) (*visitor, error) {
	ctx := c.Request.Context()
	number := s.sessions.GetInt64(ctx, sessionSignIn)
	if number == 0 {
		return nil, nil
	}
	if s.livedOut(ctx) {
		if err := s.db.LeaveSignIn(ctx, number); err != nil {
			return nil, err
		}
		return nil, s.leave(c, overLived)
	}
	var v postgres.Visit
	var d drive.Drive
	var noDrive error
	how := postgres.Looking{Idle: s.idle, Use: !c.GetBool(unaskedKey)}
	err := s.db.Together(ctx,
		func(ctx context.Context) (err error) { v, err = s.db.Visit(ctx, number, driveID, how); return err },
		func(ctx context.Context) error {
			if driveID != "" {
				d, noDrive = s.db.Drive(ctx, driveID)
			}
			return nil
		})
	if v.Unused {
		if err := s.db.LeaveSignIn(ctx, number); err != nil {
			return nil, err
		}
		return nil, s.leave(c, overUnused)
	}
	if apperr.Is(err, apperr.KindNotFound) {
		return nil, s.leave(c, overEnded)
	}
	if err != nil {
		return nil, err
	}
	traceOf(c).account = v.Person.ID
	switch {
	case v.Role == "":
		d = drive.Drive{} // nobody else's business
	case noDrive != nil:
		return nil, noDrive
	}
	if how.Use && v.Role != "" && v.Pass == nil && (v.Here == nil || v.Here.Before(s.now().Add(-noteEvery))) {
		if err := s.db.NoteSeen(ctx, v.Person.ID, driveID); err != nil {
			return nil, err
		}
	}
	return &visitor{
		person: v.Person, role: v.Role, signIn: v.SignIn, second: v.Second, pass: v.Pass,
		said: v.Pass == nil || v.Person.ID != 0, drive: d,
	}, nil
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
	return byPerson(r.URL)
}

// withNext adds to an address of ours where to go on from there.
func withNext(path, next string) string {
	if next == "" || next == "/" {
		return path
	}
	return path + "?" + url.Values{"next": {next}}.Encode()
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
