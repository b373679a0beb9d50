package site

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/paper"
)

// Sheets that the page begins with, and kits that are offered on it and on paper.
const (
	signOutSheets = 2
	signOutKits   = 5000
)

// signOutCells are the cells of a row, as on paper.
var signOutCells = []struct{ cell, label, list string }{{"kit", "Kit", "kits-here"}, {"name", "Taken by", "who-sews"}, {"on", "Taken on", ""}, {"due", "Back by", ""}}

// kitsSignOutPage prints sign-out sheets for a hall without network, and types in what
// was written on one.
type kitsSignOutPage struct {
	Form     kitsSignOutForm
	Problems map[string]string
	Wrong    []signOutWrong
	Rows     []signOutRow
	Names    []string // of those who sew
	KitNames []string
	Lie      int // kits that lie here
	Papers   []option
	MayMore  bool
}

func (kitsSignOutPage) template() string { return "kits-sign-out.html" }
func (kitsSignOutPage) title() string    { return "Sign-out sheet" }

// kitsSignOutForm is what stands above the rows, as typed.
type kitsSignOutForm struct {
	Day   string `form:"day"`
	Due   string `form:"due"`
	Paper string `form:"paper"`
	Shown string `form:"shown"` // rows of the page
	More  string `form:"more"`  // more of them, nothing booked
}

// signOutRow is one row of the sheet, as typed.
type signOutRow struct {
	Number int
	Cells  []signOutCell
}

type signOutCell struct{ Name, Label, Value, List, Problem string }

type signOutWrong struct{ Name, Label, Problem string }

// kitsSignOut handles GET /drives/:drive/kits/sign-out.
func (s *Site) kitsSignOut(c *gin.Context) error {
	form := kitsSignOutForm{Due: s.today(c).AddDate(0, 0, 7*dueWeeks).Format(time.DateOnly)}
	return s.kitsSignOutWith(c, http.StatusOK, form, map[string]string{}, nil)
}

// kitsSignOutSheet handles GET /drives/:drive/kits/sign-out/sheet.pdf?paper=….
func (s *Site) kitsSignOutSheet(c *gin.Context) error {
	lines, _, _, err := s.db.KitsHere(c.Request.Context(), s.driveID(c), signOutKits)
	if err != nil {
		return err
	}
	kits := make([]paper.SignOutKit, len(lines))
	for i, k := range lines {
		kits[i] = paper.SignOutKit{Number: k.String(), What: countCases(k.Cases) + ", " + k.SizeName, For: k.ForWhom}
		if k.OwnFabric {
			kits[i].What += ", own fabric"
		}
	}
	return s.printed(c, "sign-out.pdf", func(b *bytes.Buffer) error {
		return paper.SignOut(b, s.drive(c), sheetOf(s.drive(c), c.Query("paper")), kits, freeRows(len(kits), c.Query("free")), s.now())
	})
}

// freeRows fills the last sheet, with some rows at least for what is cut meanwhile, and gives
// as many free sheets beside as are asked for.
func freeRows(kits int, sheets string) int {
	const least = 4
	more, _ := wholeNumber(sheets)
	return least + (drive.SignOutRows-(kits+least)%drive.SignOutRows)%drive.SignOutRows + int(max(0, min(more, 20)))*drive.SignOutRows
}

// kitsSignOutNow handles POST /drives/:drive/kits/sign-out: all rows are booked, or each
// cell that is wrong is said at its place.
func (s *Site) kitsSignOutNow(c *gin.Context) error {
	var form kitsSignOutForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	typed := map[string]string{}
	for row := 1; row <= drive.MostSignedOut; row++ {
		for _, cell := range signOutCells {
			name := drive.SignedOutField(row, cell.cell)
			typed[name] = clean(c.Request.PostForm.Get(name))
		}
	}
	if form.More != "" {
		return s.kitsSignOutWith(c, http.StatusOK, form, map[string]string{}, typed)
	}
	problems, status := map[string]string{}, http.StatusUnprocessableEntity
	day := typedDay(problems, "day", form.Day)
	rows, err := s.signedOut(c, form, typed, problems)
	if err != nil {
		return err
	}
	if len(rows) == 0 && len(problems) == 0 {
		problem(problems, "", "Nothing is typed in yet: a row needs a kit and who took it.")
	}
	if len(problems) == 0 {
		moved, err := s.db.SignOutKits(c.Request.Context(), s.act(c), rows, orZeroDay(day))
		if err == nil {
			sooner, err := s.neededSoonerOnSheet(c, rows)
			if err == nil {
				var homes string
				homes, err = s.homesOnSheet(c, rows)
				sooner += homes
			}
			s.flashUndo(c, s.undoHandOutPath(c, moved.Kits), "Handed out as on the sheet: %s with %s.%s", countKits(len(moved.Kits)), countCases(moved.Cases), s.beside(c, sooner, err))
			return s.seeOther(c, s.path(c, "kits"))
		}
		var ok bool
		if status, ok = s.refused(problems, err); !ok {
			return err
		}
	}
	return s.kitsSignOutWith(c, status, form, problems, typed)
}

// signedOut reads the rows; a row without a kit and a name is empty.
func (s *Site) signedOut(c *gin.Context, form kitsSignOutForm, typed, problems map[string]string) ([]drive.SignedOut, error) {
	people, err := s.sewersByName(c.Request.Context(), s.driveID(c))
	if err != nil {
		return nil, err
	}
	usual := typedDay(problems, "due", form.Due)
	var rows []drive.SignedOut
	for n := 1; n <= drive.MostSignedOut; n++ {
		field := func(cell string) string { return drive.SignedOutField(n, cell) }
		kit, name := typed[field("kit")], typed[field("name")]
		if kit == "" && name == "" {
			if typed[field("due")] != "" || typed[field("on")] != "" {
				problem(problems, field("kit"), "Say which kit, or empty the row.")
			}
			continue
		}
		r := drive.SignedOut{Row: n, Due: usual, On: typedDay(problems, field("on"), typed[field("on")])}
		refs, err := drive.ReadKitCodes(kit, s.driveID(c), s.url.String())
		switch {
		case kit == "":
			problem(problems, field("kit"), "Say which kit.")
		case err != nil:
			problem(problems, field("kit"), "%s", apperr.Fields(err)["kit"])
		case len(refs) != 1:
			problem(problems, field("kit"), "One kit a row.")
		default:
			r.Kit = refs[0]
		}
		var known bool
		if r.Person, known = people[strings.ToLower(drive.TidyName(name))]; name == "" {
			problem(problems, field("name"), "Say who took it.")
		} else if !known {
			problem(problems, field("name"), "%s is not on the list of those who sew now. Add them first, or write the name as it stands there.", name)
		}
		if due := typedDay(problems, field("due"), typed[field("due")]); due != nil {
			r.Due = due
		}
		rows = append(rows, r)
	}
	return rows, nil
}

func (s *Site) sewersByName(ctx context.Context, driveID string) (map[string]int64, error) {
	sewers, err := s.db.Sewers(ctx, driveID)
	if err != nil {
		return nil, err
	}
	names := make(map[string]int64, len(sewers))
	for _, p := range sewers {
		names[strings.ToLower(p.Name)] = p.Number
	}
	return names, nil
}

func (s *Site) kitsSignOutWith(c *gin.Context, status int, form kitsSignOutForm, problems, typed map[string]string) error {
	page := kitsSignOutPage{Form: form, Problems: map[string]string{}, Papers: []option{{"a4", "A4"}, {"letter", "Letter"}}}
	if page.Form.Paper == "" {
		page.Form.Paper = "a4"
		if sheetOf(s.drive(c), "") == paper.Letter {
			page.Form.Paper = "letter"
		}
	}
	lines, _, all, err := s.db.KitsHere(c.Request.Context(), s.driveID(c), signOutKits)
	if err != nil {
		return err
	}
	page.Lie = all
	for _, k := range lines {
		page.KitNames = append(page.KitNames, k.String())
	}
	sewers, err := s.db.Sewers(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	for _, p := range sewers {
		page.Names = append(page.Names, p.Name)
	}
	shown := signOutShown(form, typed)
	page.Form.Shown = strconv.Itoa(shown)
	page.MayMore = shown < drive.MostSignedOut
	for n := 1; n <= shown; n++ {
		row := signOutRow{Number: n}
		for _, cell := range signOutCells {
			name := drive.SignedOutField(n, cell.cell)
			shown := signOutCell{name, fmt.Sprintf("%s, row %d", cell.label, n), typed[name], cell.list, problems[name]}
			if shown.Problem != "" {
				page.Wrong = append(page.Wrong, signOutWrong{name, shown.Label, shown.Problem})
				delete(problems, name)
			}
			row.Cells = append(row.Cells, shown)
		}
		page.Rows = append(page.Rows, row)
	}
	for name, why := range problems {
		page.Problems[name] = why
	}
	return s.page(c, status, page)
}

// signOutShown is how many rows the page has: whole sheets, as many as were there, one more
// where that is asked for, and all that hold something.
func signOutShown(form kitsSignOutForm, typed map[string]string) int {
	was, _ := wholeNumber(form.Shown)
	shown := max(signOutSheets*drive.SignOutRows, int(min(was, drive.MostSignedOut)))
	if form.More != "" {
		shown += drive.SignOutRows
	}
	for n := shown + 1; n <= drive.MostSignedOut; n++ {
		if typed[drive.SignedOutField(n, "kit")] != "" || typed[drive.SignedOutField(n, "name")] != "" {
			shown = n
		}
	}
	sheets := (shown + drive.SignOutRows - 1) / drive.SignOutRows
	return min(sheets*drive.SignOutRows, drive.MostSignedOut)
}
