package site

import (
	"context"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// tablePage is the cutting table: sheets go out to helpers and come back cut, many in a row.
type tablePage struct {
	Form     tableForm
	Problems map[string]string
	Next     string   // the field where typing goes on
	Done     []string // what was booked, in words
	Refused  []string // what was not, and why
	OnTable  []sheetRow
	Waiting  int
}

func (tablePage) template() string { return "cutting-table.html" }
func (tablePage) title() string    { return "At the table" }

// tableForm is as typed.
type tableForm struct {
	Helper string `form:"helper"`
	Take   string `form:"take"`
	Cut    string `form:"cut"`
}

// table handles GET /drives/:drive/cutting/table?helper=…: whoever took the last sheet
// stands there for the next.
func (s *Site) table(c *gin.Context) error {
	page := tablePage{Form: tableForm{Helper: clean(c.Query("helper"))}, Next: "helper"}
	switch {
	case c.Query("next") == "cut":
		page.Next = "cut"
	case page.Form.Helper != "":
		page.Next = "take"
	}
	return s.showTable(c, http.StatusOK, page)
}

func (s *Site) showTable(c *gin.Context, status int, page tablePage) error {
	out, err := s.db.Sheets(c.Request.Context(), s.driveID(c), postgres.SheetsQuery{State: drive.SheetOnTable, Sort: "helper", Limit: 200})
	if err != nil {
		return err
	}
	for _, line := range out.Sheets {
		page.OnTable = append(page.OnTable, sheetRow{line})
	}
	waiting, err := s.db.Sheets(c.Request.Context(), s.driveID(c), postgres.SheetsQuery{State: drive.SheetWaiting, Limit: 1})
	if err != nil {
		return err
	}
	page.Waiting = waiting.Total
	return s.page(c, status, page)
}

// tableOut handles POST /drives/:drive/cutting/table/out: a helper takes sheets.
func (s *Site) tableOut(c *gin.Context) error {
	var form tableForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	page := tablePage{Form: form, Next: "take", Problems: map[string]string{}}
	if strings.TrimSpace(form.Helper) == "" {
		problem(page.Problems, "helper", "Say who takes the sheets, a name or initials.")
	}
	return s.atTable(c, page, &form.Take, func(ctx context.Context, act drive.Act, ref drive.SheetRef) (postgres.SheetMoved, error) {
		return s.db.SignOutPrint(ctx, act, ref, form.Helper)
	}, func(moved []postgres.SheetMoved) string {
		return upperFirst(sheetsByName(moved)) + " " + is(len(moved)) + " with " + strings.TrimSuffix(strings.TrimSpace(form.Helper), ".") + "."
	})
}

// tableCut handles POST /drives/:drive/cutting/table/cut: sheets are cut.
func (s *Site) tableCut(c *gin.Context) error {
	var form tableForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	page := tablePage{Form: form, Next: "cut", Problems: map[string]string{}}
	return s.atTable(c, page, &form.Cut, s.db.MarkPrintCut, func(moved []postgres.SheetMoved) string {
		return upperFirst(sheetsByName(moved)) + " " + is(len(moved)) + " cut." + cameOf(moved...)
	})
}

// atTable does one thing with each sheet that was typed. What is refused does not keep
// the others back: it stays in the field, with the reason.
func (s *Site) atTable(c *gin.Context, page tablePage, typed *string,
	do func(context.Context, drive.Act, drive.SheetRef) (postgres.SheetMoved, error), say func([]postgres.SheetMoved) string,
) error {
	refs, err := drive.ParseSheetRefs(s.driveID(c), *typed)
	if problems := apperr.Fields(err); problems != nil {
		problem(page.Problems, page.Next, "%s", problems["sheets"])
	} else if err != nil {
		return err
	}
	if len(page.Problems) > 0 {
		return s.showTable(c, http.StatusUnprocessableEntity, page)
	}
	var moved []postgres.SheetMoved
	var left []string
	for _, ref := range refs {
		act := s.act(c)
		if act.Key != "" {
			act.Key += "/" + ref.String()
		}
		m, err := do(c.Request.Context(), act, ref)
		switch {
		case err == nil:
			moved = append(moved, m)
			continue
		case adopt(page.Problems, err):
		case apperr.Is(err, apperr.KindConflict), apperr.Is(err, apperr.KindNotFound):
			page.Refused = append(page.Refused, err.Error())
		default:
			return err
		}
		left = append(left, ref.String())
	}
	if len(moved) > 0 {
		page.Done = append(page.Done, say(moved))
	}
	if len(left) == 0 {
		s.flash(c, "%s", strings.Join(page.Done, " "))
		return s.seeOther(c, s.path(c, "cutting", "table")+"?next="+page.Next+"&helper="+url.QueryEscape(page.Form.Helper))
	}
	*typed = strings.Join(left, " ")
	if page.Next == "cut" {
		page.Form.Cut = *typed
	} else {
		page.Form.Take = *typed
	}
	return s.showTable(c, http.StatusConflict, page)
}

func sheetsByName(moved []postgres.SheetMoved) string {
	numbers := make([]int64, len(moved))
	for i, m := range moved {
		numbers[i] = m.Number
	}
	return numbered("sheet", "sheets", numbers)
}

// Ref names the sheet as its print does.
func (r sheetRow) Ref() string { return r.Sheet.Ref().String() }
