package site

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
)

// shortForm is how much of a sheet's cloth is good.
type shortForm struct {
	Found string `form:"found"`
}

// sheetShort handles POST /drives/:drive/cutting/:sheet/short: the piece is short, or flawed.
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
	found := typedCloth(problems, "found", form.Found, s.drive(c).Yardage())
	if len(problems) == 0 {
		moved, err := s.db.SheetShort(c.Request.Context(), s.act(c), number, found)
		if apperr.Is(err, apperr.KindConflict) {
			return s.showSheet(c, http.StatusConflict, number, signOutForm{}, nil, err.Error())
		}
		if err != nil && !adopt(problems, err) {
			return err
		}
		if err == nil {
			if moved.State == drive.SheetShort {
				s.flash(c, "Sheet %d came up short. Change the plan, then print its next revision.", number)
			} else {
				s.flash(c, "Sheet %d still fits; what is left of the piece after it is less now.", number)
			}
			return s.seeOther(c, s.path(c, "cutting", number))
		}
	}
	return s.showShort(c, number, form, problems)
}

// showShort shows the sheet again with what was typed.
func (s *Site) showShort(c *gin.Context, number int64, form shortForm, problems map[string]string) error {
	sheet, err := s.db.Sheet(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	page := sheetPage{Short: form, Problems: problems, Sheet: newCutSheet(sheet, s.drive(c).Unit)}
	if err := s.aboutShort(c, &page); err != nil {
		return err
	}
	return s.page(c, http.StatusUnprocessableEntity, page)
}

// undoSheetShort handles POST /drives/:drive/cutting/:sheet/good.
func (s *Site) undoSheetShort(c *gin.Context) error {
	number, err := s.number(c, "sheet")
	if err != nil {
		return err
	}
	_, err = s.db.UndoSheetShort(c.Request.Context(), s.act(c), number)
	if apperr.Is(err, apperr.KindConflict) {
		return s.showSheet(c, http.StatusConflict, number, signOutForm{}, nil, err.Error())
	}
	if err != nil {
		return err
	}
	s.flash(c, "Sheet %d waits on its shelf again.", number)
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
	page.Unit = string(d.Yardage())
	page.Booked = drive.OnTape(page.Sheet.Used+page.Sheet.Left, d.Yardage())
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
