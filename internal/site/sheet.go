package site

import (
	"context"
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// sheetPage is one cut sheet with what can be done with it.
type sheetPage struct {
	Form     signOutForm
	Problems map[string]string
	Refused  string
	Short    shortForm
	Booked   string // cloth of the sheet and what is left after it, as it is booked
	Wide     string // as wide as it is booked
	Unit     string // that a bare number is in
	Change   int64  // the plan to change after it came up short, 0: none
	Earlier  []postgres.SheetRevision
	OldPrint string  // why the print that was scanned is not to be cut
	Instead  []int64 // what is cut in place of a sheet that was withdrawn
	Labels   string  // where labels for what it left are printed
	Sheet    cutSheet
}

func (sheetPage) template() string { return "sheet.html" }
func (p sheetPage) title() string  { return fmt.Sprintf("Sheet %d", p.Sheet.Number) }

// cutSheetsPage is many cut sheets to print, each on a page of its own.
type cutSheetsPage struct {
	Plan   int64
	Sheets []cutSheet
}

func (cutSheetsPage) template() string { return "sheets.html" }
func (cutSheetsPage) title() string    { return "Cut sheets" }

// cutSheet is what stands on a sheet that a helper can follow.
type cutSheet struct {
	drive.CutSheet
	Drawing layoutDrawing
	Steps   []cutStep
}

// onSheet is a sheet for the template that two pages share.
type onSheet struct {
	View  *view
	Sheet cutSheet
}

// cutStep is one step with what is done after it, in words.
type cutStep struct{ Text, Done string }

// sheet handles GET /drives/:drive/cutting/:sheet.
func (s *Site) sheet(c *gin.Context) error {
	number, err := s.number(c, "sheet")
	if err != nil {
		return err
	}
	return s.showSheet(c, http.StatusOK, number, signOutForm{}, nil, "")
}

func (s *Site) showSheet(c *gin.Context, status int, number int64, form signOutForm, problems map[string]string, refused string) error {
	sheet, err := s.db.Sheet(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	page := sheetPage{Form: form, Problems: problems, Refused: refused, Sheet: newCutSheet(sheet, s.drive(c).Unit)}
	if err := s.aboutShort(c, &page); err != nil {
		return err
	}
	return s.page(c, status, page)
}

// printSheets handles GET /drives/:drive/cutting/print?plan=N: those still to
// cut, of one plan or of all.
func (s *Site) printSheets(c *gin.Context) error {
	plan, _ := wholeNumber(c.Query("plan"))
	found, err := s.db.SheetsToPrint(c.Request.Context(), s.driveID(c), plan, false)
	if err != nil {
		return err
	}
	page := cutSheetsPage{Plan: plan}
	for _, sheet := range found {
		page.Sheets = append(page.Sheets, newCutSheet(sheet, s.drive(c).Unit))
	}
	return s.page(c, http.StatusOK, page)
}

// moveSheet does one thing with a sheet; what stands against it is shown on its page.
func (s *Site) moveSheet(c *gin.Context, move func(context.Context, drive.Act, int64) (postgres.SheetMoved, error), say func(int64, postgres.SheetMoved)) error {
	number, err := s.number(c, "sheet")
	if err != nil {
		return err
	}
	moved, err := move(c.Request.Context(), s.act(c), number)
	if apperr.Is(err, apperr.KindConflict) {
		return s.showSheet(c, http.StatusConflict, number, signOutForm{}, nil, err.Error())
	}
	if err != nil {
		return err
	}
	say(number, moved)
	return s.seeOther(c, s.path(c, "cutting", number))
}

func newCutSheet(sheet drive.WholeSheet, unit length.Unit) cutSheet {
	out := cutSheet{CutSheet: sheet.CutSheet(unit)}
	out.Drawing = drawLayout(layoutToDraw{
		Width: sheet.Width, Used: sheet.Used, Left: sheet.Left, Panels: sheet.Laid(), Remnants: sheet.Remnants,
		Kit: drive.KitRef.String, OneWay: out.OneWay, Unit: unit,
	})
	for _, step := range out.CutSheet.Steps {
		out.Steps = append(out.Steps, cutStep{step.Text, step.Done()})
	}
	return out
}
