package site

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/postgres"
)

// passesPage lists the passes of today and makes another, which it then shows, once.
type passesPage struct {
	Form     passForm
	Problems map[string]string
	Roles    []option
	Open     []postgres.Pass
	Over     []postgres.Pass
	Made     *passMade
}

func (passesPage) template() string { return "passes.html" }
func (passesPage) title() string    { return "Passes for a day" }

type passForm struct {
	Role  string `form:"role"`
	Place string `form:"place"`
	Until string `form:"until"`
}

// passMade is what is shown of a pass that was just made.
type passMade struct {
	Number  int64
	Place   string
	Address string
	Code    codeDrawn
	Door    string // where the digits are typed
	Digits  string
	Spoken  time.Time // until when they work
	Until   time.Time
}

// passes handles GET /drives/:drive/settings/passes.
func (s *Site) passes(c *gin.Context) error {
	return s.passesWith(c, http.StatusOK, passesPage{Form: passForm{Role: string(account.Desk)}})
}

func (s *Site) passesWith(c *gin.Context, status int, page passesPage) error {
	page.Roles = roleWords(account.PassRoles())
	now := s.now()
	list, err := s.db.Passes(c.Request.Context(), s.driveID(c), now.AddDate(0, 0, -7))
	if err != nil {
		return err
	}
	for _, p := range list {
		if p.Ended == nil && p.Until.After(now) {
			page.Open = append(page.Open, p)
		} else {
			page.Over = append(page.Over, p)
		}
	}
	return s.page(c, status, page)
}

// makePass handles POST /drives/:drive/settings/passes: the answer is the only page
// that shows how to open it; the same form sent again shows the same.
func (s *Site) makePass(c *gin.Context) error {
	page := passesPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	wish := postgres.PassWish{Role: account.Role(page.Form.Role), Place: page.Form.Place}
	if page.Form.Until != "" {
		var ok bool
		if wish.Until, ok = s.clockToday(c, page.Form.Until); !ok {
			problem(page.Problems, "until", "Write a time later today, such as 17:30.")
			return s.passesWith(c, http.StatusUnprocessableEntity, page)
		}
	}
	link, err := account.NewLinkID()
	if err != nil {
		return err
	}
	made, err := s.db.MakePass(c.Request.Context(), s.act(c), wish, link, s.key.SpokenHash(s.key.Spoken(link)))
	if adopt(page.Problems, err) {
		return s.passesWith(c, http.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	page.Made = &passMade{
		Number: made.Number, Place: wish.Place, Until: made.Until, Spoken: made.Spoken,
		Address: s.url.String() + "/pass/open/" + s.key.Sign(made.Link),
		Door:    s.url.String() + "/pass", Digits: account.SpokenText(s.key.Spoken(made.Link)),
	}
	if page.Made.Code, err = drawCode(page.Made.Address); err != nil {
		return err
	}
	page.Form = passForm{Role: page.Form.Role}
	return s.passesWith(c, http.StatusOK, page)
}

// clockToday reads a time of day of the drive, such as 17:30, of today.
func (s *Site) clockToday(c *gin.Context, typed string) (time.Time, bool) {
	zone := s.drive(c).Location()
	clock, err := time.Parse("15:04", typed)
	if err != nil {
		return time.Time{}, false
	}
	y, m, d := s.now().In(zone).Date()
	return time.Date(y, m, d, clock.Hour(), clock.Minute(), 0, 0, zone), true
}

// endPass handles POST /drives/:drive/settings/passes/:pass/end.
func (s *Site) endPass(c *gin.Context) error {
	number, err := s.number(c, "pass")
	if err != nil {
		return err
	}
	if err := s.db.EndPass(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "Pass %d is ended. Its tablet finds nothing open any more.", number)
	return s.seeOther(c, s.path(c, "settings", "passes"))
}
