package site

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// kitsPage lists kits: who has which, or those that lie here, come or are lost.
type kitsPage struct {
	List    listing
	Where   postgres.KitsWhere
	Groups  []kitGroup // by holder where the list is in that order, else one
	Grouped bool
	Total   int
	Cases   int
	Late    int
	File    string // the list as a spreadsheet
	Any     bool   // the drive has kits at all
	Acts    bool   // what is ticked can be made ready, handed out or printed
	Here    int    // kits that lie here, where nobody has one
}

func (kitsPage) template() string { return "kits.html" }
func (kitsPage) title() string    { return "Kits" }

// kitGroup is the kits of one holder.
type kitGroup struct {
	Holder int64 // 0: nobody
	Name   string
	Rows   []kitRow
}

// kitRow is one kit in a list, with how its day stands.
type kitRow struct {
	postgres.KitLine
	With int64 // who has it, 0: nobody
	When dueNote
}

// dueNote says in words how a day stands; Class is the style of it, with the
// word beside the colour always.
type dueNote struct{ Text, Class string }

// kits handles GET /drives/:drive/kits.
func (s *Site) kits(c *gin.Context) error {
	list, query := s.kitsLookedAt(c)
	where := query.Where
	found, err := s.db.Kits(c.Request.Context(), s.driveID(c), query)
	if err != nil {
		return err
	}
	list.Total = found.Total
	if to := list.pastEnd(); to != "" {
		return s.seeOther(c, to)
	}
	page := kitsPage{
		File: list.with(s.path(c, "kits", "kits.csv")),
		List: list, Where: where, Grouped: where.Held() && query.Sort == "holder", Total: found.Total, Cases: found.Cases, Late: found.Late,
		Acts: where == postgres.KitsInHouse && s.may(c, account.Kits, account.Write), Any: found.Total > 0,
	}
	if !page.Any {
		all, err := s.db.Kits(c.Request.Context(), s.driveID(c), postgres.KitsQuery{Limit: 1, Today: s.today(c)})
		if err != nil {
			return err
		}
		page.Any = all.Total > 0
	}
	if where == postgres.KitsOut && list.Q == "" && found.Total == 0 {
		if _, _, page.Here, err = s.db.KitsHere(c.Request.Context(), s.driveID(c), 1); err != nil {
			return err
		}
	}
	page.Groups = groupKits(s.kitRows(c, found.Kits), page.Grouped)
	return s.page(c, http.StatusOK, page)
}

// kitsFile handles GET /drives/:drive/kits/kits.csv: the list as it is looked at, all
// of its rows.
func (s *Site) kitsFile(c *gin.Context) error {
	_, query := s.kitsLookedAt(c)
	query.Limit, query.Offset = 0, 0
	found, err := s.db.Kits(c.Request.Context(), s.driveID(c), query)
	if err != nil {
		return err
	}
	lines := make([]workbook.KitLine, len(found.Kits))
	for i, k := range found.Kits {
		lines[i] = workbook.KitLine{Kit: k.Kit, Size: k.SizeName, For: k.ForWhom, NeededBy: k.NeededBy}
	}
	return s.written(c, s.driveID(c)+"-kits.csv", asText, func(w io.Writer) error { return workbook.WriteKits(w, lines, query.Today) })
}

// kitsLookedAt reads which kits somebody looks at, and how.
func (s *Site) kitsLookedAt(c *gin.Context) (listing, postgres.KitsQuery) {
	sorts := []string{"holder", "number", "due", "since", "cases", "size", "for", "needed"}
	if w := postgres.KitsWhere(c.Query("where")); w != "" && !w.Held() {
		sorts[0], sorts[1] = sorts[1], sorts[0]
	}
	list := s.listing(c, sorts...)
	where := postgres.KitsWhere(list.Choose("where", "Which", []option{
		{string(postgres.KitsOut), "who has which"},
		{string(postgres.KitsLate), "late"},
		{string(postgres.KitsDueSoon), "due soon"},
		{string(postgres.KitsInHouse), "here, to hand out"},
		{string(postgres.KitsComing), "not cut yet"},
		{string(postgres.KitsBack), "back"},
		{string(postgres.KitsLost), "lost"},
		{string(postgres.KitsAnywhere), "all, by number"},
	}))
	return list, postgres.KitsQuery{
		Q: list.Q, Where: where, Sort: list.Sort, Desc: list.Desc, Limit: list.Limit(), Offset: list.Offset(), Today: s.today(c),
	}
}

func (s *Site) kitRows(c *gin.Context, kits []postgres.KitLine) []kitRow {
	rows := make([]kitRow, len(kits))
	for i, k := range kits {
		rows[i] = kitRow{k, numberOr0(k.Holder), dueOf(k.Kit, s.today(c))}
	}
	return rows
}

func groupKits(rows []kitRow, byHolder bool) []kitGroup {
	var groups []kitGroup
	for _, r := range rows {
		last := len(groups) - 1
		if last < 0 || byHolder && groups[last].Holder != r.With {
			groups = append(groups, kitGroup{Holder: r.With, Name: r.HolderName})
			last++
		}
		groups[last].Rows = append(groups[last].Rows, r)
	}
	return groups
}

// dueOf says how the day of a kit stands.
func dueOf(k drive.Kit, today time.Time) dueNote {
	days, agreed := drive.DaysLate(k.Due, today)
	switch {
	case k.State != drive.KitOut:
		return dueNote{}
	case !agreed:
		return dueNote{"no day agreed", "quiet"}
	case days == 1:
		return dueNote{"1 day late", "late"}
	case days > 1:
		return dueNote{fmt.Sprintf("%d days late", days), "late"}
	case days == 0:
		return dueNote{"due today", "wait"}
	case days == -1:
		return dueNote{"due tomorrow", "wait"}
	case k.DueSoon(today):
		return dueNote{fmt.Sprintf("due in %d days", -days), "wait"}
	}
	return dueNote{}
}

// ticked is the kits that somebody chose in a list.
type ticked struct {
	Kits []string `form:"kit"`
}

// kitsReady handles POST /drives/:drive/kits/ready: the kits ticked are checked, bagged and labelled.
func (s *Site) kitsReady(c *gin.Context) error {
	var form ticked
	if err := s.read(c, &form); err != nil {
		return err
	}
	refs, err := kitRefs(form.Kits)
	if err != nil {
		return err
	}
	moved, err := s.db.MarkKitReady(c.Request.Context(), s.act(c), refs)
	if err != nil {
		return err
	}
	s.flashUndo(c, s.undoReadyPath(c, moved.Kits), "%s ready to hand out.", countKits(len(moved.Kits)))
	return s.seeOther(c, s.path(c, "kits")+"?where=here")
}

// undoKitsReady handles POST /drives/:drive/kits/ready/undo?kit=…: the kits are not bagged
// and labelled after all.
func (s *Site) undoKitsReady(c *gin.Context) error {
	refs, err := kitRefs(c.QueryArray("kit"))
	if err != nil {
		return err
	}
	moved, err := s.db.UndoKitReady(c.Request.Context(), s.act(c), refs)
	if err != nil {
		return err
	}
	s.flash(c, "Undone: %s not bagged and labelled after all.", countKits(len(moved.Kits)))
	return s.backToKits(c, moved.Kits)
}

// undoReadyPath is where it is undone that these kits are bagged and labelled.
func (s *Site) undoReadyPath(c *gin.Context, refs []drive.KitRef) string {
	return s.path(c, "kits", "ready", "undo") + "?" + kitsInQuery(refs)
}

// backToKits leads to what was changed: the one kit, or those that lie here.
func (s *Site) backToKits(c *gin.Context, refs []drive.KitRef) error {
	if len(refs) == 1 {
		return s.seeOther(c, s.path(c, "kits", refs[0]))
	}
	return s.seeOther(c, s.path(c, "kits")+"?where=here")
}

// placing is kits ticked and where their bags lie.
type placing struct {
	Kits  []string `form:"kit"`
	Place string   `form:"place"`
}

// placeKits handles POST /drives/:drive/kits/place: the kits ticked lie there.
func (s *Site) placeKits(c *gin.Context) error {
	var form placing
	if err := s.read(c, &form); err != nil {
		return err
	}
	refs, err := kitRefs(form.Kits)
	if err != nil {
		return err
	}
	moved, err := s.db.PlaceKits(c.Request.Context(), s.act(c), refs, form.Place)
	if err != nil {
		return err
	}
	if form.Place == "" {
		s.flash(c, "%s without a place.", countKits(len(moved.Kits)))
	} else {
		s.flash(c, "%s at %s.", countKits(len(moved.Kits)), form.Place)
	}
	return s.seeOther(c, s.path(c, "kits")+"?where=here")
}

// undoHandOut handles POST /drives/:drive/kits/hand-out/undo?kit=…: the kits go
// back to where they were.
func (s *Site) undoHandOut(c *gin.Context) error {
	refs, err := kitRefs(c.QueryArray("kit"))
	if err != nil {
		return err
	}
	moved, err := s.db.UndoHandOut(c.Request.Context(), s.act(c), refs)
	if err != nil {
		return err
	}
	s.flash(c, "Undone: %s back where they were.", countKits(len(moved.Kits)))
	return s.backToKits(c, moved.Kits)
}

// undoHandOutPath is where these kits' hand-out is undone.
func (s *Site) undoHandOutPath(c *gin.Context, refs []drive.KitRef) string {
	return s.path(c, "kits", "hand-out", "undo") + "?" + kitsInQuery(refs)
}

func kitsInQuery(refs []drive.KitRef) string {
	query := url.Values{}
	for _, ref := range refs {
		query.Add("kit", ref.String())
	}
	return query.Encode()
}

// kitRefs reads the names of kits; one that is none is an invalid "kit".
func kitRefs(names []string) ([]drive.KitRef, error) {
	refs := make([]drive.KitRef, 0, len(names))
	for _, name := range names {
		ref, err := drive.ParseKitName(name)
		if err != nil {
			return nil, apperr.Invalid("kit", "%q is no kit's number: it looks like 107, or 107-2 for what parted from it.", name)
		}
		refs = append(refs, ref)
	}
	return drive.SortedKits(refs), nil
}

func numberOr0(n *int64) int64 {
	if n == nil {
		return 0
	}
	return *n
}

func countKits(n int) string {
	if n == 1 {
		return "1 kit"
	}
	return fmt.Sprintf("%d kits", n)
}

func countCases(n int) string {
	if n == 1 {
		return "1 pillowcase"
	}
	return fmt.Sprintf("%d pillowcases", n)
}
