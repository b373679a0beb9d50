package site

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/sizing"
)

// sizesPage is every size of the drive with its cut sizes, drawn, and the
// ready-made ones that can be added as they are.
type sizesPage struct {
	Sizes     []shownSize
	Retired   []shownSize
	ReadyMade []readyMade
	Problems  map[string]string
	Next      *step
}

func (sizesPage) template() string { return "sizes.html" }
func (sizesPage) title() string    { return "Sizes" }

// shownSize is a size with what follows from it.
type shownSize struct {
	drive.Size
	Cut caseShown
}

// readyMade is a built-in size.
type readyMade struct {
	Name string
	Cut  caseShown
}

// sizes handles GET /drives/:drive/sizes.
func (s *Site) sizes(c *gin.Context) error {
	return s.sizesWith(c, http.StatusOK, nil)
}

// takeReadyMade handles POST /drives/:drive/sizes/ready-made: a built-in size is added as it is.
func (s *Site) takeReadyMade(c *gin.Context) error {
	var form struct {
		Name string `form:"name"`
	}
	if err := s.read(c, &form); err != nil {
		return err
	}
	problems := map[string]string{}
	built, known := sizing.CaseNamed(form.Name)
	if !known {
		problem(problems, "name", "There is no ready-made size of this name. Take one from the list, or type your own.")
		return s.sizesWith(c, http.StatusUnprocessableEntity, problems)
	}
	z, err := s.db.CreateSize(c.Request.Context(), s.act(c), drive.Size{Name: built.Name, Spec: built.Spec})
	if err == nil {
		s.flash(c, "The size %s is added.", z.Name)
		return s.seeOther(c, s.path(c, "sizes"))
	}
	if !adopt(problems, err) {
		return err
	}
	return s.sizesWith(c, http.StatusUnprocessableEntity, problems)
}

// retireSize handles POST /drives/:drive/sizes/:size/retire.
func (s *Site) retireSize(c *gin.Context) error {
	number, err := s.number(c, "size")
	if err != nil {
		return err
	}
	z, err := s.db.RetireSize(c.Request.Context(), s.act(c), number)
	if err != nil {
		return err
	}
	s.flashUndo(c, s.path(c, "sizes", number, "restore"), "The size %s is no longer offered.", z.Name)
	return s.seeOther(c, s.path(c, "sizes"))
}

// restoreSize handles POST /drives/:drive/sizes/:size/restore.
func (s *Site) restoreSize(c *gin.Context) error {
	number, err := s.number(c, "size")
	if err != nil {
		return err
	}
	z, err := s.db.RestoreSize(c.Request.Context(), s.act(c), number)
	if err != nil {
		return err
	}
	s.flash(c, "The size %s is offered again.", z.Name)
	return s.seeOther(c, s.path(c, "sizes"))
}

func (s *Site) sizesWith(c *gin.Context, status int, problems map[string]string) error {
	p := sizesPage{Problems: problems}
	sizes, err := s.db.Sizes(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	stock, err := s.db.Stock(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	taken := map[string]bool{}
	for _, z := range sizes {
		taken[strings.ToLower(z.Name)] = true
		cut, err := newCaseShown(z.Spec, stock, s.drive(c).Washing)
		if err != nil {
			return err
		}
		cut.Name = z.Name
		if z.Retired {
			p.Retired = append(p.Retired, shownSize{z, cut})
		} else {
			p.Sizes = append(p.Sizes, shownSize{z, cut})
		}
	}
	if p.ReadyMade, err = readyMadeFor(s.drive(c), taken); err != nil {
		return err
	}
	if p.Next, err = s.nextStep(c); err != nil {
		return err
	}
	if p.Next != nil && p.Next.Path == s.path(c, "sizes") {
		p.Next = nil // it is this page
	}
	return s.page(c, status, p)
}

// readyMadeFor gives the built-in sizes that the drive has not taken, those in its own unit first.
func readyMadeFor(d drive.Drive, taken map[string]bool) ([]readyMade, error) {
	var own, other []readyMade
	for _, built := range sizing.Cases() {
		if taken[strings.ToLower(built.Name)] {
			continue
		}
		cut, err := newCaseShown(built.Spec, nil, "")
		if err != nil {
			return nil, err
		}
		if built.Spec.Unit.Metric() == d.Unit.Metric() {
			own = append(own, readyMade{built.Name, cut})
		} else {
			other = append(other, readyMade{built.Name, cut})
		}
	}
	return append(own, other...), nil
}
