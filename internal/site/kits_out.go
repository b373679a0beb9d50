package site

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// kitsOffered is the most kits a form offers to tick, the most urgent first;
// any other is typed or scanned.
const kitsOffered = 60

// dueWeeks is how long a kit is given for where nobody says otherwise.
const dueWeeks = 3

// handOutPage gives kits to somebody.
type handOutPage struct {
	Form     handOutForm
	Problems map[string]string
	Sewers   []option
	Here     []option // kits that can be ticked
	Whom     string   // that the kits are in order for; empty: nobody chosen yet
	Just     []kitRow // that went out last, where many go out in a row
	More     int      // kits here that are not among them
	AskHome  bool     // a kit goes to a home that is not as its recipient asks
}

func (handOutPage) template() string { return "kits-hand-out.html" }
func (handOutPage) title() string    { return "Hand out kits" }

// handOutForm is as typed.
type handOutForm struct {
	Person  string   `form:"person"`
	Due     string   `form:"due"`
	Kits    []string `form:"kit"`
	Numbers string   `form:"numbers"` // more kits, typed or scanned
	Day     string   `form:"day"`
	Then    string   `form:"then"` // next: on to the next person
	Home    string   `form:"home"` // yes: though their home is not as a recipient asks
}

// handOut handles GET /drives/:drive/kits/hand-out; ?person= and ?kit= choose ahead.
func (s *Site) handOut(c *gin.Context) error {
	form := handOutForm{
		Person: clean(c.Query("person")), Kits: c.QueryArray("kit"),
		Due: s.today(c).AddDate(0, 0, 7*dueWeeks).Format(time.DateOnly),
	}
	if due := clean(c.Query("due")); due != "" {
		form.Due = due
	}
	form.Numbers, form.Day = clean(c.Query("numbers")), clean(c.Query("day"))
	return s.handOutWith(c, http.StatusOK, form, map[string]string{})
}

// handOutNow handles POST /drives/:drive/kits/hand-out.
func (s *Site) handOutNow(c *gin.Context) error {
	var form handOutForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	wish, problems := form.wish(s.driveID(c), s.url.String())
	if len(problems) > 0 {
		return s.handOutWith(c, http.StatusUnprocessableEntity, form, problems)
	}
	homes, err := s.homesOf(c, wish)
	if err != nil {
		return err
	}
	if homes.Against != "" && form.Home != "yes" {
		problem(problems, "home", "%s Choose other kits, or tick that they get them all the same.", homes.Against)
		return s.handOutWith(c, http.StatusUnprocessableEntity, form, problems)
	}
	sooner, err := s.neededSooner(c, wish.Kits, wish.Due)
	if err != nil {
		return err
	}
	moved, err := s.db.HandOut(c.Request.Context(), s.act(c), wish)
	if err == nil {
		s.flashUndo(c, s.undoHandOutPath(c, moved.Kits), "Handed out: %s with %s.%s%s", countKits(len(moved.Kits)), countCases(moved.Cases), sooner, homes.Ask)
		if form.Then == "next" {
			next := url.Values{"just": {fmt.Sprint(moved.Person)}, "due": {form.Due}, "day": {form.Day}}
			return s.seeOther(c, s.path(c, "kits", "hand-out")+"?"+next.Encode())
		}
		return s.seeOther(c, s.path(c, "people", moved.Person))
	}
	status, ok := s.refused(problems, err)
	if !ok {
		return err
	}
	return s.handOutWith(c, status, form, problems)
}

// wish reads the form as a hand-out, with what is wrong with it.
func (f handOutForm) wish(driveID, base string) (drive.HandOut, map[string]string) {
	problems := map[string]string{}
	wish := drive.HandOut{Person: typedNumber(f.Person), Due: typedDay(problems, "due", f.Due)}
	if wish.Person == 0 {
		problem(problems, "person", "Choose who takes them.")
	}
	if day := typedDay(problems, "day", f.Day); day != nil {
		wish.Day = *day
	}
	var err error
	if wish.Kits, err = kitRefs(f.Kits); err != nil {
		problem(problems, "kit", "%s", apperr.Fields(err)["kit"])
	}
	typed, err := drive.ReadKitCodes(f.Numbers, driveID, base)
	if err != nil {
		problem(problems, "numbers", "%s", apperr.Fields(err)["kit"])
	}
	wish.Kits = drive.SortedKits(append(wish.Kits, typed...))
	if len(wish.Kits) == 0 && len(problems) == 0 {
		problem(problems, "kit", "Tick at least one kit, or type its number.")
	}
	return wish, problems
}

// typedKits parts kits' names that were typed or scanned one after another.
func typedKits(typed string) []string {
	return strings.FieldsFunc(typed, func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '\n' || r == '\r' || r == '\t' })
}

// refused puts a refusal beside its fields, or above the form where somebody
// else was first, with the status of the page; not so other errors.
func (s *Site) refused(problems map[string]string, err error) (int, bool) {
	if apperr.Is(err, apperr.KindConflict) {
		problem(problems, "", "%s", err.Error())
		return http.StatusConflict, true
	}
	return http.StatusUnprocessableEntity, adopt(problems, err)
}

func (s *Site) handOutWith(c *gin.Context, status int, form handOutForm, problems map[string]string) error {
	ctx := c.Request.Context()
	sewers, err := s.sewerOptions(ctx, s.driveID(c), "Choose who takes them")
	if err != nil {
		return err
	}
	page := handOutPage{Form: form, Problems: problems, Sewers: sewers, AskHome: problems["home"] != "" || form.Home == "yes"}
	if page.Here, page.More, page.Whom, err = s.kitsToOffer(c, form); err != nil {
		return err
	}
	if just := typedNumber(c.Query("just")); just != 0 && c.Request.Method == http.MethodGet {
		had, err := s.db.Kits(ctx, s.driveID(c), postgres.KitsQuery{Where: postgres.KitsOut, Holder: just, Sort: "since", Desc: true, Limit: 20, Today: s.today(c)})
		if err != nil {
			return err
		}
		page.Just = s.kitRows(c, had.Kits)
	}
	page.Form.Kits, page.Form.Numbers = offered(page.Here, form)
	return s.page(c, status, page)
}

// offered keeps chosen kits that can be ticked as ticks and writes the others
// among the numbers, so that nothing that was chosen is lost.
func offered(here []option, form handOutForm) (ticks []string, numbers string) {
	typed := typedKits(form.Numbers)
	for _, name := range form.Kits {
		if slices.ContainsFunc(here, func(o option) bool { return o.Value == name }) {
			ticks = append(ticks, name)
		} else if !slices.Contains(typed, name) {
			typed = append(typed, name)
		}
	}
	return ticks, strings.Join(typed, " ")
}

// kitLabel says what a kit is in a list to tick.
func kitLabel(k postgres.KitLine) string {
	label := fmt.Sprintf("%s: %d × %s", k.KitRef, k.Cases, k.SizeName)
	if k.ForWhom != "" {
		label += " for " + k.ForWhom
	}
	if k.NeededBy != nil {
		label += ", needed by " + k.NeededBy.Format("2 Jan")
	}
	if k.OwnFabric {
		label += ", own fabric"
	}
	return label
}

// ownKitsPage makes kits without fabric of ours.
type ownKitsPage struct {
	Form     ownKitsForm
	Problems map[string]string
	Sizes    []option
	Lines    []option
	Sewers   []option
}

func (ownKitsPage) template() string { return "kits-own.html" }
func (ownKitsPage) title() string    { return "Kits of their own fabric" }

// ownKitsForm is as typed.
type ownKitsForm struct {
	Person string `form:"person"`
	Size   string `form:"size"`
	Cases  string `form:"cases"`
	Kits   string `form:"kits"`
	Asked  string `form:"asked"`
	Due    string `form:"due"`
	Note   string `form:"note"`
}

// ownKits handles GET /drives/:drive/kits/own.
func (s *Site) ownKits(c *gin.Context) error {
	form := ownKitsForm{
		Person: clean(c.Query("person")), Kits: "1", Cases: fmt.Sprint(s.drive(c).KitCases),
		Due: s.today(c).AddDate(0, 0, 7*dueWeeks).Format(time.DateOnly),
	}
	return s.ownKitsWith(c, http.StatusOK, form, map[string]string{})
}

// ownKitsNow handles POST /drives/:drive/kits/own.
func (s *Site) ownKitsNow(c *gin.Context) error {
	var form ownKitsForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	wish, problems := form.wish()
	if len(problems) > 0 {
		return s.ownKitsWith(c, http.StatusUnprocessableEntity, form, problems)
	}
	moved, err := s.db.MakeOwnFabricKits(c.Request.Context(), s.act(c), wish)
	if err == nil {
		sooner, err := s.neededSooner(c, moved.Kits, wish.Due)
		s.flash(c, "%s made, for %s. Print the cards and put one into each bag.%s", countKits(len(moved.Kits)), countCases(moved.Cases), s.beside(c, sooner, err))
		return s.seeOther(c, s.path(c, "kits", "cards")+"?"+kitsInQuery(moved.Kits))
	}
	status, ok := s.refused(problems, err)
	if !ok {
		return err
	}
	return s.ownKitsWith(c, status, form, problems)
}

func (f ownKitsForm) wish() (drive.OwnFabric, map[string]string) {
	problems := map[string]string{}
	wish := drive.OwnFabric{
		Kits: typedCount(problems, "kits", f.Kits, 1), Cases: typedCount(problems, "cases", f.Cases, 0),
		Size: typedNumber(f.Size), Note: f.Note,
	}
	if n := typedNumber(f.Asked); n > 0 {
		wish.Asked = &n
	}
	if n := typedNumber(f.Person); n > 0 {
		wish.Person = &n
		wish.Due = typedDay(problems, "due", f.Due)
	}
	return wish, problems
}

func (s *Site) ownKitsWith(c *gin.Context, status int, form ownKitsForm, problems map[string]string) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	page := ownKitsPage{Form: form, Problems: problems}
	var err error
	if page.Sizes, err = s.sizeOptions(ctx, driveID); err != nil {
		return err
	}
	if page.Lines, err = s.lineOptions(ctx, driveID, "Nobody yet: not promised"); err != nil {
		return err
	}
	if page.Sewers, err = s.sewerOptions(ctx, driveID, "Nobody yet: they lie ready"); err != nil {
		return err
	}
	return s.page(c, status, page)
}
