package site

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/postgres"
)

// keepsWidth is how much wider than needed a panel may stay for somebody who
// trims all of a pillowcase to its narrowest.
const keepsWidth = 4 * length.Inch

// sheetPage is one cut sheet with what can be done with it.
type sheetPage struct {
	Form     signOutForm
	Problems map[string]string
	Refused  string
	Short    shortForm
	Booked   string // cloth of the sheet and what is left after it, as it is booked
	Unit     string // that a bare number is in
	Change   int64  // the plan to change after it came up short, 0: none
	Earlier  []postgres.SheetRevision
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
	postgres.SheetPage
	PieceName string
	Cloth     string
	OneWay    bool
	Torn      bool
	Drawing   layoutDrawing
	Steps     []cutStep
	Kits      []sheetKit
	Keep      []sheetRemnant
}

// onSheet is a sheet for the template that two pages share.
type onSheet struct {
	View  *view
	Sheet cutSheet
}

// cutStep is one step with what is done after it, in words.
type cutStep struct{ Text, Done string }

// sheetKit is what of a sheet goes to one kit.
type sheetKit struct {
	Kit     drive.KitRef
	ForWhom string
	Size    string
	Panels  []rolePanels
}

// rolePanels are the numbers of a kit's panels of one role.
type rolePanels struct{ Role, Numbers string }

// sheetRemnant is rectangles of one size to keep.
type sheetRemnant struct {
	W, H  length.Length
	N     int
	Names []string // of the pieces they became, none until the sheet is cut
}

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
	found, err := s.db.SheetsToPrint(c.Request.Context(), s.driveID(c), plan)
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

func newCutSheet(sheet postgres.SheetPage, unit length.Unit) cutSheet {
	out := cutSheet{
		SheetPage: sheet, PieceName: pieceName(sheet.Lot, sheet.Piece), Cloth: sheetClothWords(sheet.SheetLot),
		OneWay: sheet.Turn != string(planning.Either), Torn: sheet.Ends == "torn",
	}
	panels := make([]drive.Panel, len(sheet.Panels))
	around := map[int]length.Length{}
	for i, p := range sheet.Panels {
		panels[i] = p.Panel
		around[p.Panel.Panel] = p.Around
	}
	out.Drawing = drawLayout(layoutToDraw{
		Width: sheet.Width, Used: sheet.Used, Left: sheet.Left, Panels: panels, Remnants: sheet.Remnants,
		Kit: drive.KitRef.String, OneWay: out.OneWay, Unit: unit,
	})
	fullWidth := func(p drive.Panel) bool {
		return p.W == around[p.Panel] && p.W < sheet.Width && sheet.Width-p.W <= keepsWidth
	}
	for _, step := range drive.CutSteps(panels, drive.CutOrder(panels, sheet.Remnants),
		drive.SheetCloth{Width: sheet.Width, Torn: out.Torn, OneWay: out.OneWay, Unit: unit}, fullWidth) {
		out.Steps = append(out.Steps, cutStep{step.Text, doneWords(step)})
	}
	out.Kits = kitsOnSheet(sheet.Panels)
	out.Keep = remnantsToKeep(sheet)
	return out
}

func remnantsToKeep(sheet postgres.SheetPage) []sheetRemnant {
	var keep []sheetRemnant
	for _, r := range sheet.Remnants {
		i := slices.IndexFunc(keep, func(k sheetRemnant) bool { return k.W == r.W && k.H == r.H })
		if i < 0 {
			i = len(keep)
			keep = append(keep, sheetRemnant{W: r.W, H: r.H})
		}
		keep[i].N++
		if r.NewPiece != nil {
			keep[i].Names = append(keep[i].Names, pieceName(sheet.Lot, *r.NewPiece))
		}
	}
	return keep
}

// doneWords says which panels and remnants a step finishes.
func doneWords(step drive.CutStep) string {
	var parts []string
	if n := len(step.Panels); n > 0 {
		parts = append(parts, oneOr(n, "panel ", "panels ")+ranges(step.Panels))
	}
	if n := len(step.Remnants); n > 0 {
		parts = append(parts, oneOr(n, "a remnant to keep", "remnants to keep"))
	}
	return strings.Join(parts, " and ")
}

// ranges writes numbers in order with runs drawn together: 1 to 4, 7, 9.
func ranges(numbers []int) string {
	numbers = slices.Sorted(slices.Values(numbers))
	var parts []string
	for i := 0; i < len(numbers); {
		j := i
		for j+1 < len(numbers) && numbers[j+1] == numbers[j]+1 {
			j++
		}
		switch {
		case j-i > 1:
			parts = append(parts, fmt.Sprintf("%d to %d", numbers[i], numbers[j]))
		default:
			for _, n := range numbers[i : j+1] {
				parts = append(parts, strconv.Itoa(n))
			}
		}
		i = j + 1
	}
	return strings.Join(parts, ", ")
}

func kitsOnSheet(panels []postgres.SheetPanel) []sheetKit {
	type key struct {
		kit  drive.KitRef
		role string
	}
	var kits []sheetKit
	var roles []string
	numbers := map[key][]int{}
	for _, p := range panels {
		if !slices.ContainsFunc(kits, func(k sheetKit) bool { return k.Kit == p.Kit }) {
			kits = append(kits, sheetKit{Kit: p.Kit, ForWhom: p.ForWhom, Size: p.SizeName})
		}
		if !slices.Contains(roles, p.Role) {
			roles = append(roles, p.Role)
		}
		numbers[key{p.Kit, p.Role}] = append(numbers[key{p.Kit, p.Role}], p.Panel.Panel)
	}
	slices.SortFunc(kits, func(a, b sheetKit) int { return a.Kit.Compare(b.Kit) })
	for i := range kits {
		for _, role := range roles {
			if list := numbers[key{kits[i].Kit, role}]; len(list) > 0 {
				kits[i].Panels = append(kits[i].Panels, rolePanels{role, ranges(list)})
			}
		}
	}
	return kits
}
