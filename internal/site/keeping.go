package site

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// keepingPage is how long a drive keeps what is personal, and what would go.
type keepingPage struct {
	Form     keepingForm
	Problems map[string]string
	Clash    clash
	Set      drive.Keeping // what stands
	Tried    bool          // Past speaks of what is typed, not of what stands
	Past     drive.PastKeeping
}

func (keepingPage) template() string { return "keeping.html" }
func (keepingPage) title() string    { return "How long what is kept" }

// keepingForm is as typed: months, or nothing for without end.
type keepingForm struct {
	People   string `form:"people"`
	Donors   string `form:"donors"`
	Writing  string `form:"writing"`
	Initials string `form:"initials"`
	Things   string `form:"things"`
	Version  string `form:"version"`
	Look     string `form:"look"`
}

// keeping handles GET /drives/:drive/settings/keeping.
func (s *Site) keeping(c *gin.Context) error {
	k, err := s.db.Keeping(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	return s.keepingWith(c, http.StatusOK, keepingPage{Form: keepingOf(k)}, &k)
}

// keepingNow handles POST /drives/:drive/settings/keeping: what is typed is shown in
// what it would do, or kept.
func (s *Site) keepingNow(c *gin.Context) error {
	p := keepingPage{Problems: map[string]string{}}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	k := p.Form.keeping(p.Problems)
	if adopt(p.Problems, k.Check()) || len(p.Problems) > 0 {
		return s.keepingWith(c, http.StatusUnprocessableEntity, p, nil)
	}
	if p.Form.Look != "" {
		p.Tried = true
		return s.keepingWith(c, http.StatusOK, p, &k)
	}
	_, err := s.db.UpdateKeeping(c.Request.Context(), s.act(c), k)
	switch {
	case err == nil:
		s.flash(c, "Saved. What is past its time goes within the day, and each in the trail.")
		return s.seeOther(c, s.path(c, "settings", "keeping"))
	case apperr.Is(err, apperr.KindConflict):
		stands, failed := s.db.Keeping(c.Request.Context(), s.driveID(c))
		if failed != nil {
			return failed
		}
		p.Clash = newClash(keepingOf(stands), p.Form, []clashField{
			{"people", "Those who sew", nil},
			{"donors", "Donors", nil},
			{"writing", "What people wrote", nil},
			{"initials", "Initials", nil},
			{"things", "Photos and notes", nil},
		})
		p.Form.Version = strconv.Itoa(stands.Version)
		return s.keepingWith(c, http.StatusConflict, p, nil)
	case adopt(p.Problems, err):
		return s.keepingWith(c, http.StatusUnprocessableEntity, p, nil)
	}
	return err
}

// keepingWith shows the page, with what would go under k where it is given.
func (s *Site) keepingWith(c *gin.Context, status int, p keepingPage, k *drive.Keeping) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	var err error
	if p.Set, err = s.db.Keeping(ctx, driveID); err != nil {
		return err
	}
	if k != nil {
		if p.Past, err = s.db.PastKeeping(ctx, driveID, *k); err != nil {
			return err
		}
	}
	return s.page(c, status, p)
}

func (f keepingForm) keeping(problems map[string]string) drive.Keeping {
	months := func(field, typed string) *int {
		if typed == "" {
			return nil
		}
		n := typedCount(problems, field, typed, 0)
		return &n
	}
	return drive.Keeping{
		People: months("people", f.People), Donors: months("donors", f.Donors), Writing: months("writing", f.Writing), Initials: months("initials", f.Initials), Things: months("things", f.Things),
		Version: typedCount(problems, "version", f.Version, 0),
	}
}

func keepingOf(k drive.Keeping) keepingForm {
	text := func(months *int) string {
		if months == nil {
			return ""
		}
		return strconv.Itoa(*months)
	}
	return keepingForm{People: text(k.People), Donors: text(k.Donors), Writing: text(k.Writing), Initials: text(k.Initials), Things: text(k.Things), Version: strconv.Itoa(k.Version)}
}
