package site

import (
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

// passOpenPage is what the link of a pass opens on the tablet: a button that takes it.
type passOpenPage struct {
	Pass  postgres.OpenPass
	Token string
}

func (passOpenPage) template() string { return "pass-open.html" }
func (passOpenPage) title() string    { return "A pass for this tablet" }

// passDigitsPage is where the digits of a pass are typed.
type passDigitsPage struct{ Problems map[string]string }

func (passDigitsPage) template() string { return "pass-digits.html" }
func (passDigitsPage) title() string    { return "A pass for this tablet" }

// handsPage asks who is at the tablet.
type handsPage struct {
	Pass     postgres.PassVisit
	Typed    string
	Next     string
	Problems map[string]string
}

func (handsPage) template() string { return "pass-initials.html" }
func (handsPage) title() string    { return "Who is at this tablet?" }

// passOverPage says that a pass is over, to whoever still has the tablet.
type passOverPage struct{}

func (passOverPage) template() string { return "pass-over.html" }
func (passOverPage) title() string    { return "This pass is over" }

type initialsForm struct {
	Initials string `form:"initials"`
	Next     string `form:"next"`
}

// passDigits handles GET /pass.
func (s *Site) passDigits(c *gin.Context) error {
	return s.page(c, http.StatusOK, passDigitsPage{})
}

// passDigitsNow handles POST /pass. Tries are counted by browser, so that the slips at
// one tablet do not lock the others of the hall out, and by address, which is the wider
// limit for whoever keeps no cookie.
func (s *Site) passDigitsNow(c *gin.Context) error {
	ctx := c.Request.Context()
	var form codeForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	if err := needKey(c); err != nil {
		return err
	}
	link, browser := "", s.sessions.GetString(ctx, sessionTries)
	if browser == "" {
		var err error
		if browser, err = account.NewLinkID(); err != nil {
			return err
		}
	}
	_, err := s.limitedBy(c, "digits of a pass", s.key.Fingerprint("pass", browser), s.db.TryDigits, func() (ok bool, err error) {
		s.sessions.Put(ctx, sessionTries, browser)
		if hash := s.key.SpokenHash(form.Code); hash != nil {
			link, err = s.db.PassSpoken(ctx, hash, onceKey(c))
		}
		return link != "", err
	})
	if err != nil {
		return err
	}
	if link == "" {
		return s.page(c, http.StatusUnprocessableEntity, passDigitsPage{map[string]string{
			"code": "These digits open nothing: they are nine, work for half an hour and for one tablet. After several tries, wait a quarter of an hour.",
		}})
	}
	return s.giveTablet(c, link)
}

// passOpen handles GET /pass/open/:token. Looking changes nothing.
func (s *Site) passOpen(c *gin.Context) error {
	id, ok := s.key.Open(c.Param("token"))
	if !ok {
		return apperr.NotFound("This link is not whole. Scan the code again, or type the digits.")
	}
	p, err := s.db.PassOf(c.Request.Context(), id)
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, passOpenPage{Pass: p, Token: c.Param("token")})
}

// passOpenNow handles POST /pass/open/:token.
func (s *Site) passOpenNow(c *gin.Context) error {
	id, ok := s.key.Open(c.Param("token"))
	if !ok {
		return apperr.NotFound("This link is not whole. Scan the code again, or type the digits.")
	}
	if err := needKey(c); err != nil {
		return err
	}
	return s.giveTablet(c, id)
}

// giveTablet opens the pass on this tablet; whoever was signed in there is not any more.
func (s *Site) giveTablet(c *gin.Context, link string) error {
	opened, err := s.db.OpenPass(c.Request.Context(), link, onceKey(c), device(c.Request.UserAgent()))
	if err != nil {
		return err
	}
	if err := s.hold(c, opened.SignIn); err != nil {
		return err
	}
	return s.seeOther(c, withNext("/pass/initials", drivePath(opened.Drive)))
}

// hands handles GET /pass/initials: who is at the tablet?
func (s *Site) hands(c *gin.Context) error {
	v, err := s.atTablet(c)
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, handsPage{Pass: *v.pass, Next: ownPath(c.Query("next"))})
}

// setHand handles POST /pass/initials.
func (s *Site) setHand(c *gin.Context) error {
	v, err := s.atTablet(c)
	if err != nil {
		return err
	}
	var form initialsForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	err = s.db.SetHand(c.Request.Context(), v.signIn, *v.pass, form.Initials)
	if problems := apperr.Fields(err); problems != nil {
		return s.page(c, http.StatusUnprocessableEntity, handsPage{Pass: *v.pass, Typed: form.Initials, Next: ownPath(form.Next), Problems: problems})
	}
	if err != nil {
		return err
	}
	next := ownPath(form.Next)
	if next == "" {
		next = drivePath(v.pass.Drive)
	}
	return s.seeOther(c, next)
}

// passOver handles GET /pass/over.
func (s *Site) passOver(c *gin.Context) error {
	return s.page(c, http.StatusOK, passOverPage{})
}

// atTablet gives whoever sends a request by a tablet's pass. Anybody else finds no
// such page, and whoever's pass is over is told so.
func (s *Site) atTablet(c *gin.Context) (*visitor, error) {
	v, err := s.visit(c, "")
	switch {
	case err != nil:
		return nil, err
	case v == nil || v.pass == nil:
		return nil, noSuchPage()
	case v.pass.Over:
		return nil, errFirst{"/pass/over", "This tablet's pass is over."}
	}
	return v, nil
}

// handsView is the top of every page at a tablet: who is there, and who else was.
type handsView struct {
	Place  string
	Now    string
	Others []string
	Next   string // the page that is open
	Else   string // where somebody new says who they are
}

// handsOf gives it; nil where nobody is at a tablet, or has not said who they are.
func handsOf(c *gin.Context) *handsView {
	v := visitorOf(c)
	if v.pass == nil || !v.said {
		return nil
	}
	others := slices.DeleteFunc(slices.Clone(v.pass.Hands), func(initials string) bool { return initials == v.person.Initials })
	next := nextAfter(c.Request)
	return &handsView{
		Place: v.pass.Place, Now: v.person.Initials, Others: others[:min(len(others), 4)], Next: next, Else: withNext("/pass/initials", next),
	}
}
