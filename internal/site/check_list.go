package site

import (
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
)

// pointRows is how many points the form has room for: those there are, and a few more.
const pointRows = 20

// checkListPage says what the checking table of a drive looks at.
type checkListPage struct {
	Form     checkListForm
	Problems map[string]string
	Clash    clash
	Unit     string
	Shown    int // rows that show
}

func (checkListPage) template() string { return "check-list.html" }
func (checkListPage) title() string    { return "What is checked" }

// checkListForm is as typed.
type checkListForm struct {
	Version   string               `form:"version"`
	Tolerance string               `form:"tolerance"`
	Launders  string               `form:"launders"`
	Point     [pointRows]pointForm `form:"point"`
}

// pointForm is one point as typed.
type pointForm struct {
	Kind  string `form:"kind"`
	On    string `form:"on"`
	Look  string `form:"look"`
	Fault string `form:"fault"`
	Tell  string `form:"tell"`
}

// checkList handles GET /drives/:drive/back/list.
func (s *Site) checkList(c *gin.Context) error {
	form, err := s.checkListStands(c)
	if err != nil {
		return err
	}
	return s.checkListWith(c, http.StatusOK, checkListPage{Form: form, Problems: map[string]string{}})
}

// saveCheckList handles POST /drives/:drive/back/list.
func (s *Site) saveCheckList(c *gin.Context) error {
	page := checkListPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	list := page.Form.list(page.Problems, s.drive(c).Unit)
	if len(page.Problems) == 0 {
		_, err := s.db.UpdateCheckList(c.Request.Context(), s.act(c), list)
		switch {
		case err == nil:
			s.flash(c, "The checking table looks at this from now on. What was found before stays as it was.")
			return s.seeOther(c, s.path(c, "back"))
		case apperr.Is(err, apperr.KindConflict):
			return s.checkListClash(c, page)
		case !adopt(page.Problems, err):
			return err
		}
	}
	return s.checkListWith(c, http.StatusUnprocessableEntity, page)
}

// list reads the form. Rows keep their places, so that a message stands beside its row.
func (f checkListForm) list(problems map[string]string, unit length.Unit) drive.CheckList {
	l := drive.CheckList{Launders: f.Launders == "yes", Version: typedCount(problems, "version", f.Version, 0)}
	l.Tolerance = typedSize(problems, "tolerance", f.Tolerance, unit)
	for _, p := range f.Point {
		kind := drive.CheckKind(p.Kind)
		if kind == "" || kind == drive.CheckPins {
			kind = drive.CheckOwn
		}
		l.Points = append(l.Points, drive.CheckPoint{Kind: kind, Look: p.Look, Fault: p.Fault, Tell: p.Tell, Off: p.On != "yes"})
	}
	return l
}

func (s *Site) checkListClash(c *gin.Context, page checkListPage) error {
	stands, err := s.checkListStands(c)
	if err != nil {
		return err
	}
	page.Clash = newClash(stands, page.Form, []clashField{
		{"tolerance", "Give or take", nil},
		{"launders", "Laundered here", []option{{"yes", "yes"}, {"", "no"}}},
	}, lengthsIn(s.drive(c).Unit, "tolerance"))
	for i := range page.Form.Point {
		page.Clash.Rows = append(page.Clash.Rows, pointClash(i+1, stands.Point[i], page.Form.Point[i])...)
	}
	page.Form.Version = stands.Version
	return s.checkListWith(c, http.StatusConflict, page)
}

// pointClash says where a point that stands and the one typed in its row differ. Whether a row without
// words is looked at says nothing.
func pointClash(n int, stands, typed pointForm) []clashRow {
	fields := []clashField{{"look", "looked for", nil}, {"fault", "ticked where it is not so", nil}, {"tell", "sewers are told", nil}}
	if !stands.empty() || !typed.empty() {
		fields = append(fields, clashField{"on", "looked at in this drive", []option{{"yes", "yes"}, {"", "no"}}})
	}
	rows := newClash(stands, typed, fields).Rows
	for i := range rows {
		rows[i].Label = fmt.Sprintf("Point %d: %s", n, rows[i].Label)
	}
	return rows
}

func (p pointForm) empty() bool { return p.Look+p.Fault+p.Tell == "" }

func (s *Site) checkListStands(c *gin.Context) (checkListForm, error) {
	list, err := s.db.CheckList(c.Request.Context(), s.driveID(c))
	if err != nil {
		return checkListForm{}, err
	}
	form := checkListForm{Version: strconv.Itoa(list.Version), Tolerance: sizeText(list.Tolerance, s.drive(c).Unit)}
	if list.Launders {
		form.Launders = "yes"
	}
	for i := range form.Point {
		form.Point[i].On = "yes"
		if i < len(list.Points) {
			p := list.Points[i]
			form.Point[i] = pointForm{Kind: string(p.Kind), Look: p.Look, Fault: p.Fault, Tell: p.Tell}
			if !p.Off {
				form.Point[i].On = "yes"
			}
		}
	}
	return form, nil
}

func (s *Site) checkListWith(c *gin.Context, status int, page checkListPage) error {
	page.Unit = string(s.drive(c).Unit)
	for i, p := range page.Form.Point {
		if !p.empty() {
			page.Shown = i + 1
		}
	}
	page.Shown = min(page.Shown+2, pointRows)
	return s.page(c, status, page)
}
