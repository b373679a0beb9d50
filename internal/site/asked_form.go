package site

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// askedFormPage adds a line to what is asked for, or changes one.
type askedFormPage struct {
	Form       askedForm
	Problems   map[string]string
	Clash      clash
	Recipients []option
	Sizes      []option
	Matters    []option
	Themes     []string // in use already, to pick words from
	Line       drive.Asked
	Beyond     []option // what may become of good ones that are too many; none where nobody has to say
	Every      []option // how often, of a new line
	History    []askedPast
	Action     string
	Missing    string // sizes or recipients, where the drive has none yet
}

func (askedFormPage) template() string { return "asked-form.html" }
func (p askedFormPage) title() string {
	if p.Line.Number == 0 {
		return "Add what is asked for"
	}
	return "Change what is asked for"
}

// askedForm is as typed.
type askedForm struct {
	Recipient string   `form:"recipient"`
	Sizes     []string `form:"sizes"`
	Wanted    string   `form:"wanted"`
	Due       string   `form:"due"`
	Matter    string   `form:"matter"`
	Weight    string   `form:"weight"`
	Wants     string   `form:"themes_wanted"`
	Avoid     string   `form:"themes_avoid"`
	KitCases  string   `form:"kit_cases"`
	Note      string   `form:"note"`
	Beyond    string   `form:"beyond"`
	Every     string   `form:"every"` // month: the same every month
	Lead      string   `form:"lead"`
	Until     string   `form:"until"`
	Version   string   `form:"version"`
}

// addAsked handles GET /drives/:drive/asked/new?recipient=.
func (s *Site) addAsked(c *gin.Context) error {
	form := askedForm{Recipient: c.Query("recipient"), Matter: string(drive.MatterShould), Every: "once", Lead: strconv.Itoa(drive.UsualLead)}
	return s.askedWith(c, http.StatusOK, askedFormPage{Form: form})
}

// addAskedNow handles POST /drives/:drive/asked/new.
func (s *Site) addAskedNow(c *gin.Context) error {
	p := askedFormPage{Problems: map[string]string{}}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	a := p.Form.asked(0, p.Problems)
	if p.Form.Every == everyMonth {
		return s.addStanding(c, p, a)
	}
	if len(p.Problems) == 0 {
		a, err := s.db.CreateAsked(c.Request.Context(), s.act(c), a)
		if err == nil {
			s.flash(c, "%s more are asked for.", thousands(int64(a.Wanted)))
			return s.seeOther(c, s.path(c, "recipients", a.Recipient))
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.askedWith(c, http.StatusUnprocessableEntity, p)
}

// changeAsked handles GET /drives/:drive/asked/:line.
func (s *Site) changeAsked(c *gin.Context) error {
	a, err := s.askedLine(c)
	if err != nil {
		return err
	}
	return s.askedWith(c, http.StatusOK, askedFormPage{Form: askedAsTyped(a), Line: a})
}

// changeAskedNow handles POST /drives/:drive/asked/:line.
func (s *Site) changeAskedNow(c *gin.Context) error {
	stands, err := s.askedLine(c)
	if err != nil {
		return err
	}
	p := askedFormPage{Problems: map[string]string{}, Line: stands}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	status := http.StatusUnprocessableEntity
	a := p.Form.asked(stands.Number, p.Problems)
	if len(p.Problems) == 0 {
		a, err := s.db.UpdateAsked(c.Request.Context(), s.act(c), a)
		if err == nil {
			s.flash(c, "What is asked for is changed.")
			return s.seeOther(c, s.path(c, "recipients", a.Recipient))
		}
		if apperr.Is(err, apperr.KindConflict) {
			status, p.Clash.Found = http.StatusConflict, true
		} else if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.askedWith(c, status, p)
}

// closeAsked handles POST /drives/:drive/asked/:line/close.
func (s *Site) closeAsked(c *gin.Context) error {
	number, err := s.number(c, "line")
	if err != nil {
		return err
	}
	a, err := s.db.CloseAsked(c.Request.Context(), s.act(c), number)
	if err != nil {
		return err
	}
	s.flashUndo(c, s.path(c, "asked", number, "reopen"), "Nothing more is planned for this line. What is on its way stays on its way.")
	return s.seeOther(c, s.path(c, "recipients", a.Recipient))
}

// reopenAsked handles POST /drives/:drive/asked/:line/reopen.
func (s *Site) reopenAsked(c *gin.Context) error {
	number, err := s.number(c, "line")
	if err != nil {
		return err
	}
	a, err := s.db.ReopenAsked(c.Request.Context(), s.act(c), number)
	if err != nil {
		return err
	}
	s.flash(c, "The line is open again.")
	return s.seeOther(c, s.path(c, "recipients", a.Recipient))
}

func (s *Site) askedLine(c *gin.Context) (drive.Asked, error) {
	number, err := s.number(c, "line")
	if err != nil {
		return drive.Asked{}, err
	}
	return s.db.Asked(c.Request.Context(), s.driveID(c), number)
}

// askedWith fills what the form chooses from. A clash is worked out here, where
// the choices have their words.
func (s *Site) askedWith(c *gin.Context, status int, p askedFormPage) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	recipients, err := s.db.Recipients(ctx, driveID)
	if err != nil {
		return err
	}
	p.Recipients = []option{{"", "Choose a recipient"}}
	for _, r := range recipients {
		p.Recipients = append(p.Recipients, option{strconv.FormatInt(r.Number, 10), r.Name})
	}
	sizes, err := s.db.Sizes(ctx, driveID)
	if err != nil {
		return err
	}
	for _, z := range sizes {
		if !z.Retired || slices.Contains(p.Line.Sizes, z.Number) {
			p.Sizes = append(p.Sizes, option{strconv.FormatInt(z.Number, 10), z.Name})
		}
	}
	if p.Themes, err = s.db.Themes(ctx, driveID); err != nil {
		return err
	}
	switch {
	case len(p.Sizes) == 0:
		p.Missing = "sizes"
	case len(recipients) == 0:
		p.Missing = "recipients"
	}
	if p.Line.Number == 0 {
		p.Every = []option{{"once", "Once"}, {everyMonth, "Every month, the same again"}}
	}
	p.Matters, p.Action = matterOptions(), s.path(c, "asked", "new")
	if p.Line.Number != 0 {
		p.Action = s.path(c, "asked", p.Line.Number)
		if p.History, err = s.askedPast(c, 0, []drive.Asked{p.Line}, sizes); err != nil {
			return err
		}
	}
	if p.Problems["beyond"] != "" {
		p.Beyond = []option{{string(drive.BeyondKeep), "This recipient gets them all the same"}, {string(drive.BeyondRelease), "They are promised to nobody any more"}}
	}
	if p.Clash.Found {
		p.Clash = newClash(askedAsTyped(p.Line), p.Form, []clashField{
			{"recipient", "For", p.Recipients},
			{"sizes", "Sizes", p.Sizes},
			{"wanted", "How many", nil},
			{"due", "Due", nil},
			{"matter", "How much it matters", p.Matters},
			{"weight", "Own weight", nil},
			{"themes_wanted", "Themes wanted", nil},
			{"themes_avoid", "Themes to avoid", nil},
			{"kit_cases", "Pillowcases in a kit", nil},
			{"note", "Note", nil},
		})
		p.Form.Version = strconv.Itoa(p.Line.Version)
	}
	return s.page(c, status, p)
}

// asked gives the line as the form has it; what cannot be read is a problem at its field.
func (f askedForm) asked(number int64, problems map[string]string) drive.Asked {
	a := drive.Asked{
		Number: number, Recipient: typedNumber(f.Recipient), Wanted: typedCount(problems, "wanted", f.Wanted, 0), Due: typedDay(problems, "due", f.Due),
		Matter: drive.Matter(f.Matter), ThemesWanted: drive.Words(f.Wants), ThemesAvoid: drive.Words(f.Avoid), Note: f.Note, Beyond: drive.Beyond(f.Beyond),
		Version: typedCount(problems, "version", f.Version, 0),
	}
	for _, size := range f.Sizes {
		a.Sizes = append(a.Sizes, typedNumber(size))
	}
	if a.Matter == drive.MatterOwn {
		a.Weight = typedCount(problems, "weight", f.Weight, 0)
	}
	if f.KitCases != "" {
		cases := typedCount(problems, "kit_cases", f.KitCases, 0)
		a.KitCases = &cases
	}
	return a
}

func askedAsTyped(a drive.Asked) askedForm {
	f := askedForm{
		Recipient: strconv.FormatInt(a.Recipient, 10), Wanted: strconv.Itoa(a.Wanted), Matter: string(a.Matter),
		Wants: strings.Join(a.ThemesWanted, ", "), Avoid: strings.Join(a.ThemesAvoid, ", "), Note: a.Note, Version: strconv.Itoa(a.Version),
	}
	for _, size := range a.Sizes {
		f.Sizes = append(f.Sizes, strconv.FormatInt(size, 10))
	}
	if a.Due != nil {
		f.Due = a.Due.Format(time.DateOnly)
	}
	if a.Matter == drive.MatterOwn {
		f.Weight = strconv.Itoa(a.Weight)
	}
	if a.KitCases != nil {
		f.KitCases = strconv.Itoa(*a.KitCases)
	}
	return f
}

// matterOptions say what each word is worth, so that a choice is not a guess.
func matterOptions() []option {
	label := func(m drive.Matter, words string) option {
		return option{string(m), fmt.Sprintf("%s (%d each)", words, m.Weight())}
	}
	return []option{
		label(drive.MatterMust, "must"), label(drive.MatterShould, "should"), label(drive.MatterIfEnough, "if there is enough"),
		{string(drive.MatterOwn), "a weight of its own"},
	}
}
