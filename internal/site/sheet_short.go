package site

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/workbook"
)

// shortForm is what somebody found of a sheet's cloth: how much of it is good, how wide it
// is, or where it is flawed.
type shortForm struct {
	Found string `form:"found"`
	Wide  string `form:"wide"`
	Flaws string `form:"flaws"`
	Sure  string `form:"sure"`
}

// Typed says what was typed: a sheet that is cut by now has no fields for it.
func (f shortForm) Typed() string {
	var typed []string
	for _, said := range [][2]string{{"good", f.Found}, {"wide", f.Wide}, {"flawed", f.Flaws}} {
		if said[1] != "" {
			typed = append(typed, said[0]+": "+said[1])
		}
	}
	return strings.Join(typed, "; ")
}

// sheetShort handles POST /drives/:drive/cutting/:sheet/short: the piece is short, narrow,
// flawed, or longer than was thought. Where the sheet cannot be cut as it is drawn, the
// change of its plan is worked out at once.
func (s *Site) sheetShort(c *gin.Context) error {
	number, err := s.number(c, "sheet")
	if err != nil {
		return err
	}
	var form shortForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	problems := map[string]string{}
	found := s.clothFound(c, form, problems)
	if len(problems) > 0 {
		return s.showShort(c, http.StatusUnprocessableEntity, number, form, problems, "")
	}
	moved, err := s.db.SheetFound(c.Request.Context(), s.act(c), number, found)
	if apperr.Is(err, apperr.KindConflict) {
		return s.showShort(c, http.StatusConflict, number, form, nil, err.Error())
	}
	if err != nil {
		if adopt(problems, err) {
			for from, to := range map[string]string{"length": "found", "width": "wide"} {
				if said, ok := problems[from]; ok {
					delete(problems, from)
					problem(problems, to, "%s", said)
				}
			}
			return s.showShort(c, http.StatusUnprocessableEntity, number, form, problems, "")
		}
		return err
	}
	switch {
	case moved.Longer:
		s.flash(c, "Sheet %d stays as it is; more is left of its piece now. Change the plan to make use of it.", number)
	case moved.Narrow:
		s.flash(c, "Sheet %d still fits: cut it as it is drawn. What is left of its cloth is booked as wide as you say.", number)
	case moved.State != drive.SheetShort:
		s.flash(c, "Sheet %d still fits; what is left of the piece after it is less now.", number)
	default:
		return s.changeAtOnce(c, number)
	}
	return s.seeOther(c, s.path(c, "cutting", number))
}

// clothFound reads the form: one of its fields says something.
func (s *Site) clothFound(c *gin.Context, form shortForm, problems map[string]string) drive.ClothFound {
	var found drive.ClothFound
	d := s.drive(c)
	found.Sure = form.Sure == "yes"
	if form.Found != "" || form.Wide == "" && form.Flaws == "" {
		l := typedCloth(problems, "found", form.Found, d.Unit)
		found.Length = &l
	}
	if form.Wide != "" {
		found.Width = clothLength(problems, "wide", form.Wide, d.Unit)
	}
	if form.Flaws != "" {
		flaws, _, err := workbook.ParseFlaws(form.Flaws, d.Unit)
		if err != nil {
			problem(problems, "flaws", "%s", upperFirst(err.Error()))
		} else if len(flaws) == 0 {
			problem(problems, "flaws", "Say from where to where the flaw lies, such as %s.", workbook.FlawLike(d.Unit))
		}
		found.Flaws = flaws
	}
	return found
}

// changeAtOnce has the change of a plan worked out whose sheet came up short, and shows it,
// for whoever may change plans; others tell who may.
func (s *Site) changeAtOnce(c *gin.Context, number int64) error {
	sheet, err := s.db.Sheet(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	of, err := s.db.StandsNow(c.Request.Context(), s.driveID(c), sheet.Plan)
	if err != nil {
		return err
	}
	if of == 0 || !s.may(c, account.Plan, account.Write) {
		s.flash(c, "Sheet %d came up short. Its plan has to be changed before it is cut: tell whoever leads the cutting.", number)
		return s.seeOther(c, s.path(c, "cutting", number))
	}
	act := s.act(c)
	if act.Key != "" {
		act.Key += "/change"
	}
	change, err := s.db.RequestChangeAnew(c.Request.Context(), act, of)
	if apperr.Is(err, apperr.KindConflict) {
		s.flash(c, "Sheet %d came up short. %s", number, err.Error())
		return s.seeOther(c, s.path(c, "cutting", number))
	}
	if err != nil {
		return err
	}
	instead := ""
	if change.Instead != 0 {
		instead = fmt.Sprintf(" Plan %d did not know of that yet and is put away.", change.Instead)
	}
	s.flash(c, "Sheet %d came up short. Plan %d is being worked out: it would take the place of plan %d. Nothing changes until you accept it.%s", number, change.Plan, of, instead)
	return s.seeOther(c, s.path(c, "plan", change.Plan))
}

// showShort shows the sheet again with what was typed; refused says what stands against it.
func (s *Site) showShort(c *gin.Context, status int, number int64, form shortForm, problems map[string]string, refused string) error {
	sheet, err := s.db.Sheet(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	page := sheetPage{Short: form, Problems: problems, Refused: refused, Sheet: newCutSheet(sheet, s.drive(c).Unit)}
	if err := s.aboutShort(c, &page); err != nil {
		return err
	}
	return s.page(c, status, page)
}

// undoSheetShort handles POST /drives/:drive/cutting/:sheet/good.
func (s *Site) undoSheetShort(c *gin.Context) error {
	number, err := s.number(c, "sheet")
	if err != nil {
		return err
	}
	moved, err := s.db.UndoSheetShort(c.Request.Context(), s.act(c), number)
	if apperr.Is(err, apperr.KindConflict) {
		return s.showSheet(c, http.StatusConflict, number, signOutForm{}, nil, err.Error())
	}
	if err != nil {
		return err
	}
	if moved.Wide {
		s.flash(c, "Sheet %d is as wide as booked again.", number)
	} else {
		s.flash(c, "Sheet %d waits on its shelf again.", number)
	}
	return s.seeOther(c, s.path(c, "cutting", number))
}

// typedCloth reads a length of cloth that may be nothing at all; a bare number is in unit.
func typedCloth(problems map[string]string, name, typed string, unit length.Unit) length.Length {
	switch typed {
	case "":
		problem(problems, name, "Give how much is good, 0 where nothing is.")
		return 0
	case "0":
		return 0
	}
	return clothLength(problems, name, typed, unit)
}

// aboutShort adds what a page needs about a sheet that is or may be short, and its earlier revisions.
func (s *Site) aboutShort(c *gin.Context, page *sheetPage) (err error) {
	d := s.drive(c)
	page.Unit = string(d.Unit)
	page.Wide = drive.OnTape(page.Sheet.Width, d.Unit)
	page.Booked = drive.OnTape(page.Sheet.Used+page.Sheet.Left, d.Unit)
	if page.Sheet.State == drive.SheetShort {
		if page.Change, err = s.db.StandsNow(c.Request.Context(), s.driveID(c), page.Sheet.Plan); err != nil {
			return err
		}
	}
	if page.Earlier, err = s.db.SheetRevisions(c.Request.Context(), s.driveID(c), page.Sheet.Number); err != nil {
		return err
	}
	return s.aboutPrint(c, page)
}

// aboutPrint says what became of the print that was scanned, and what a sheet left.
func (s *Site) aboutPrint(c *gin.Context, page *sheetPage) (err error) {
	sheet := page.Sheet
	if old := sheet.Printed(revisionShown(c.Query("print"))); old != nil {
		page.OldPrint = old.Error()
	}
	if sheet.State == drive.SheetWithdrawn {
		page.Instead, err = s.db.SheetsInstead(c.Request.Context(), s.driveID(c), sheet.Number)
	}
	var left []string
	for _, k := range sheet.Keep {
		left = append(left, k.Labels...)
	}
	if sheet.State == drive.SheetCut && len(left) > 0 && s.may(c, account.Fabric, account.Write) {
		page.Labels = s.path(c, "fabric", "labels") + "?which=" + string(drive.LabelsNamed) + "&lots=" + url.QueryEscape(strings.Join(left, ","))
	}
	return err
}
