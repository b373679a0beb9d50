package site

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"
	"boltward/internal/postgres"
)

// planChangePage is what a changed plan does to the one whose place it takes: what stays,
// what changes and how, and whom it concerns.
type planChangePage struct {
	Plan    drive.Plan
	Of      int64
	Refused string // why it cannot be accepted
	Nothing bool   // everything would stay as it is
	Away    *postgres.PutAway
	Short   []int64 // sheets that came up short since: a ready one cannot be accepted
	GivenUp int     // kits that could stay as they are
	Whole   bool    // it was to give none up
	Swapped string  // the kit whose cuff or accent somebody chose; empty where nobody did
	Words   string
	Ended   string
	Lines   []changedLine
	Stay    []changedKits // by where they are
	StayN   int
	Change  []changedKit
	Gone    []changedKit
	New     []changedKit
	Sheets  changedSheets
	Whom    []concerned
}

func (planChangePage) template() string { return "plan-change.html" }
func (p planChangePage) title() string {
	return fmt.Sprintf("Plan %d, a change of plan %d", p.Plan.Number, p.Of)
}

// changedLine is one line before and after.
type changedLine struct {
	Name             string
	Wanted, From, To int
}

// By says how many more or fewer the line gets.
func (l changedLine) By() string {
	switch d := l.To - l.From; {
	case d > 0:
		return fmt.Sprintf("%s more", thousands(int64(d)))
	case d < 0:
		return fmt.Sprintf("%s fewer", thousands(int64(-d)))
	}
	return "as before"
}

// Fewer says whether the line gets fewer than before.
func (l changedLine) Fewer() bool { return l.To < l.From }

// changedKits are kits that stay, in one place or with one person.
type changedKits struct {
	Where  string
	Holder int64 // 0: nobody
	Kits   []drive.KitRef
}

// changedKit is a kit that does not stay as it was.
type changedKit struct {
	Number   int64
	For      string
	Size     string
	From, To int
	How      string
	Lots     []int64
}

// changedSheets are the cut sheets by what becomes of them.
type changedSheets struct {
	Stay, Anew, Gone, Regiven []int64
	New                       []string
}

// inChange is something of a change for the templates that its pages share.
type inChange struct {
	View *view
	Of   any
}

// concerned is somebody whom the change concerns.
type concerned struct {
	Path string // empty where the reader may not open it
	Who  string
	What string
}

// planChange handles GET /drives/:drive/plan/:plan/changes.
func (s *Site) planChange(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	p, err := s.db.Plan(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	if p.Changes == nil {
		return apperr.NotFound("Plan %d changes no other plan.", number)
	}
	if p.Busy() || p.State == drive.PlanFailed {
		return s.seeOther(c, s.path(c, "plan", number))
	}
	return s.showChange(c, http.StatusOK, p, "")
}

func (s *Site) showChange(c *gin.Context, status int, p drive.Plan, refused string) error {
	changed, err := s.db.PlanChanged(c.Request.Context(), s.driveID(c), p.Number)
	if err != nil {
		return err
	}
	if changed == nil {
		return s.seeOther(c, s.path(c, "plan", p.Number)) // put away before it was worked out
	}
	_, plan, err := s.db.PlanFiles(c.Request.Context(), s.driveID(c), p.Number)
	if err != nil {
		return err
	}
	names, err := s.changeNames(c)
	if err != nil {
		return err
	}
	page := planChangePage{
		Plan: p, Of: *p.Changes, Refused: refused, Nothing: changed.Told.Nothing(), GivenUp: changed.GivenUp, Whole: changed.Whole, Swapped: changed.Swapped,
		Words: planning.Words(plan), Ended: planning.Ended(plan.Summary.Stopped),
	}
	switch p.State {
	case drive.PlanReady:
		page.Short = changed.Short
	case drive.PlanDropped:
		if page.Away, err = s.db.PlanPutAway(c.Request.Context(), s.driveID(c), p.Number); err != nil {
			return err
		}
	}
	t := changed.Told
	for _, l := range t.Lines {
		page.Lines = append(page.Lines, changedLine{Name: names.line(l.ID), Wanted: l.Wanted, From: l.From, To: l.To})
	}
	page.Stay, page.StayN = staying(t.Stay, changed.Kits), len(t.Stay)
	page.Change, page.Gone, page.New = names.kits(t.Change), names.kits(t.Gone), names.kits(t.New)
	page.Sheets = changedSheets{Stay: t.SheetsStay, Anew: t.SheetsAnew, Gone: t.SheetsGone, Regiven: t.SheetsRegiven}
	for _, id := range t.SheetsNew {
		lot, piece, err := drive.ParseClothID(id)
		if err != nil {
			return err
		}
		page.Sheets.New = append(page.Sheets.New, drive.PieceName(lot, piece))
	}
	page.Whom = s.concerns(c, changed, names)
	return s.page(c, status, page)
}

// changeNames are the names of lines and sizes.
type changeNames struct {
	lines map[string]drive.AskedLine
	sizes map[string]string
}

func (s *Site) changeNames(c *gin.Context) (changeNames, error) {
	n := changeNames{map[string]drive.AskedLine{}, map[string]string{}}
	lines, err := s.db.AskedLines(c.Request.Context(), s.driveID(c))
	if err != nil {
		return n, err
	}
	for _, l := range lines {
		n.lines[drive.NumberID(l.Number)] = l
	}
	sizes, err := s.db.Sizes(c.Request.Context(), s.driveID(c))
	if err != nil {
		return n, err
	}
	for _, z := range sizes {
		n.sizes[drive.NumberID(z.Number)] = z.Name
	}
	return n, nil
}

func (n changeNames) line(id string) string {
	l, known := n.lines[id]
	if !known {
		return "line " + id
	}
	return l.RecipientName + ", " + strings.Join(l.SizeNames, " or ")
}

func (n changeNames) kits(list []drive.KitChange) []changedKit {
	out := make([]changedKit, len(list))
	for i, k := range list {
		out[i] = changedKit{
			Number: k.Number, For: n.lines[k.Line].RecipientName, Size: n.sizes[k.Size], From: k.From, To: k.To,
			How: upperFirst(strings.Join(k.How, "; ")), Lots: k.Lots,
		}
	}
	return out
}

// staying sorts the kits that stay by where they are now.
func staying(list []drive.KitChange, now map[int64]drive.Kit) []changedKits {
	var out []changedKits
	for _, k := range list {
		kit := now[k.Number]
		where, holder := placeOfKit(kit), int64(0)
		if kit.Holder != nil {
			where, holder = "With "+kit.HolderName, *kit.Holder
		}
		i := slices.IndexFunc(out, func(o changedKits) bool { return o.Where == where && o.Holder == holder })
		if i < 0 {
			i = len(out)
			out = append(out, changedKits{Where: where, Holder: holder})
		}
		out[i].Kits = append(out[i].Kits, drive.KitRef{Number: k.Number, Part: 1})
	}
	return out
}

func placeOfKit(k drive.Kit) string {
	switch k.State {
	case drive.KitPlanned:
		return "Planned, not cut yet"
	case drive.KitOnTable:
		return "On the cutting table, or cut in part"
	case drive.KitBack:
		return "Came back sewn"
	case drive.KitLost:
		return "Lost"
	case drive.KitTakenApart:
		return "Taken apart"
	}
	return "Cut, and lies here"
}

// requestChange handles POST /drives/:drive/plan/:plan/change.
func (s *Site) requestChange(c *gin.Context) error {
	of, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	number, err := s.db.RequestChange(c.Request.Context(), s.act(c), of, c.PostForm("whole") == "yes")
	if apperr.Is(err, apperr.KindConflict) {
		return s.showPlan(c, http.StatusConflict, of, err.Error())
	}
	if err != nil {
		return err
	}
	s.flash(c, "Plan %d is being worked out: it would take the place of plan %d.", number, of)
	return s.seeOther(c, s.path(c, "plan", number))
}

// changeAccepted says what accepting a changed plan did.
func changeAccepted(got postgres.Accepted) string {
	text := fmt.Sprintf("Plan %d took the place of plan %d: %s as they were", got.Plan, got.Changed, counted(got.KitsStay, "kit stays", "kits stay"))
	if got.KitsStay == 1 {
		text = fmt.Sprintf("Plan %d took the place of plan %d: 1 kit stays as it was", got.Plan, got.Changed)
	}
	if got.Kits > 0 {
		text += fmt.Sprintf(", %s", counted(got.Kits, "has a new number", "have new numbers"))
	}
	if n := got.Revised + got.Withdrawn; n > 0 {
		text += fmt.Sprintf(". Put away the old prints of %s", counted(n, "sheet", "sheets"))
	}
	return text + "."
}
