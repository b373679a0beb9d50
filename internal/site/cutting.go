package site

import (
	"context"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// cuttingPage lists cut sheets, in the order of the shelves.
type cuttingPage struct {
	List   listing
	Sheets []sheetRow
	Totals postgres.SheetsList
	Any    bool  // the drive has sheets at all
	Plan   int64 // sheets of one plan only, 0: of any
	Print  string
	Papers string
	File   string // the list as a spreadsheet
	Loose  int    // panels that no kit has any more
}

func (cuttingPage) template() string { return "cutting.html" }
func (cuttingPage) title() string    { return "Cutting" }

// sheetRow is one sheet in the list.
type sheetRow struct{ postgres.SheetLine }

// Piece names the piece.
func (r sheetRow) PieceName() string { return drive.PieceName(r.Lot, r.Piece) }

// Cloth says what the cloth looks like.
func (r sheetRow) Cloth() string { return r.SheetLot.Looks() }

// StateWords says how far the sheet has come.
func (r sheetRow) StateWords() string {
	if r.State == drive.SheetOnTable {
		return "with " + r.Helper
	}
	return string(r.State)
}

// cutting handles GET /drives/:drive/cutting.
func (s *Site) cutting(c *gin.Context) error {
	list, query := s.sheetsLookedAt(c)
	page := cuttingPage{Print: s.path(c, "cutting", "print"), Papers: s.path(c, "cutting", "papers"), File: list.with(s.path(c, "cutting", "sheets.csv"))}
	if page.Plan = query.Plan; page.Plan > 0 {
		page.Print += "?plan=" + c.Query("plan")
		page.Papers += "?plan=" + c.Query("plan")
	}
	found, err := s.db.Sheets(c.Request.Context(), s.driveID(c), query)
	if err != nil {
		return err
	}
	list.Total = found.Total
	if to := list.pastEnd(); to != "" {
		return s.seeOther(c, to)
	}
	page.List, page.Totals, page.Any = list, found, found.Total > 0
	for _, line := range found.Sheets {
		page.Sheets = append(page.Sheets, sheetRow{line})
	}
	loose, err := s.db.LoosePanels(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	for _, p := range loose {
		page.Loose += p.N
	}
	if !page.Any {
		all, err := s.db.Sheets(c.Request.Context(), s.driveID(c), postgres.SheetsQuery{All: true, Limit: 1})
		if err != nil {
			return err
		}
		page.Any = all.Total > 0
	}
	return s.page(c, http.StatusOK, page)
}

// sheetsLookedAt reads which sheets somebody looks at, and how.
func (s *Site) sheetsLookedAt(c *gin.Context) (listing, postgres.SheetsQuery) {
	list := s.listing(c, "shelf", "number", "lot", "helper")
	state := list.Choose("state", "Which", []option{
		{"", "still to cut"},
		{string(drive.SheetWaiting), "waiting"},
		{string(drive.SheetOnTable), "on the table"},
		{string(drive.SheetShort), "came up short"},
		{string(drive.SheetCut), "cut"},
		{string(drive.SheetWithdrawn), "withdrawn"},
		{"all", "all"},
	})
	query := postgres.SheetsQuery{Q: list.Q, Sort: list.Sort, Desc: list.Desc, Limit: list.Limit(), Offset: list.Offset()}
	if query.All = state == "all"; !query.All {
		query.State = drive.SheetState(state)
	}
	if n, ok := wholeNumber(list.Filter("plan")); ok {
		query.Plan = n
	}
	return list, query
}

// signOutForm is who takes a sheet to the table.
type signOutForm struct {
	Helper   string `form:"helper"`
	Revision string `form:"revision"` // that the page showed, empty where it did not say
}

// signOutSheet handles POST /drives/:drive/cutting/:sheet/out.
func (s *Site) signOutSheet(c *gin.Context) error {
	number, err := s.number(c, "sheet")
	if err != nil {
		return err
	}
	var form signOutForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	_, err = s.db.SignOutPrint(c.Request.Context(), s.act(c), drive.SheetRef{Number: number, Revision: revisionShown(form.Revision)}, form.Helper)
	if problems := apperr.Fields(err); problems != nil {
		return s.showSheet(c, http.StatusUnprocessableEntity, number, form, problems, "")
	}
	if apperr.Is(err, apperr.KindConflict) {
		return s.showSheet(c, http.StatusConflict, number, form, nil, err.Error())
	}
	if err != nil {
		return err
	}
	s.flashUndo(c, s.path(c, "cutting", number, "back"), "Sheet %d is with %s.", number, form.Helper)
	return s.seeOther(c, s.path(c, "cutting", number))
}

// putBackSheet handles POST /drives/:drive/cutting/:sheet/back.
func (s *Site) putBackSheet(c *gin.Context) error {
	return s.moveSheet(c, s.db.PutBackSheet, func(number int64, _ postgres.SheetMoved) {
		s.flash(c, "Sheet %d waits on its shelf again.", number)
	})
}

// sheetCut handles POST /drives/:drive/cutting/:sheet/cut.
func (s *Site) sheetCut(c *gin.Context) error {
	var form signOutForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	mark := func(ctx context.Context, act drive.Act, number int64) (postgres.SheetMoved, error) {
		return s.db.MarkPrintCut(ctx, act, drive.SheetRef{Number: number, Revision: revisionShown(form.Revision)})
	}
	return s.moveSheet(c, mark, func(number int64, m postgres.SheetMoved) {
		s.flashUndo(c, s.path(c, "cutting", number, "undo"), "Sheet %d is cut.%s", number, cameOf(m))
	})
}

// revisionShown reads a revision of a sheet; 0 is whichever.
func revisionShown(text string) int {
	n, _ := wholeNumber(text)
	return int(min(n, 1<<30))
}

// cameOf says what came of a sheet that was cut: kits that are whole, remnants.
func cameOf(moved ...postgres.SheetMoved) string {
	var kits []drive.KitRef
	var labels []string
	for _, m := range moved {
		kits = append(kits, m.KitsCut...)
		for _, piece := range m.Remnants {
			labels = append(labels, drive.ClothID(m.Lot, piece))
		}
	}
	text := ""
	if n := len(kits); n > 0 {
		text += " " + kitsByName(kits) + " " + is(n) + " complete: bag and label " + oneOr(n, "it", "them") + "."
	}
	if n := len(labels); n > 0 {
		text += " Back to the shelf with " + oneOr(n, "its label", "their labels") + ": " + strings.Join(labels, ", ") + "."
	}
	return text
}

// undoSheetCut handles POST /drives/:drive/cutting/:sheet/undo.
func (s *Site) undoSheetCut(c *gin.Context) error {
	return s.moveSheet(c, s.db.UndoSheetCut, func(number int64, _ postgres.SheetMoved) {
		s.flash(c, "Sheet %d counts as not cut: it is on the table again.", number)
	})
}

func kitsByName(refs []drive.KitRef) string {
	names := make([]string, len(refs))
	for i, r := range refs {
		names[i] = r.String()
	}
	if len(names) == 1 {
		return "Kit " + names[0]
	}
	return "Kits " + strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}
