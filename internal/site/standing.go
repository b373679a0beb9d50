package site

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// everyMonth is the choice of asking for the same again every month.
const everyMonth = "month"

// monthlyRow is one standing request as it is listed.
type monthlyRow struct {
	Number      int64
	Name        string
	Wanted      int
	Next, Until *time.Time
}

// monthly lists what is asked for every month.
func (s *Site) monthly(c *gin.Context, list []drive.StandingAsk, recipients []drive.Recipient) []monthlyRow {
	names := map[int64]string{}
	for _, r := range recipients {
		names[r.Number] = r.Name
	}
	var rows []monthlyRow
	for _, a := range list {
		rows = append(rows, monthlyRow{a.Number, names[a.Line.Recipient], a.Line.Wanted, a.Next(s.today(c)), a.Until})
	}
	return rows
}

// addStanding keeps a new line that is asked for every month.
func (s *Site) addStanding(c *gin.Context, p askedFormPage, line drive.Asked) error {
	a := drive.StandingAsk{Line: line, LeadDays: drive.UsualLead, Until: typedDay(p.Problems, "until", p.Form.Until)}
	if p.Form.Lead != "" {
		a.LeadDays = typedCount(p.Problems, "lead", p.Form.Lead, 0)
	}
	if len(p.Problems) == 0 {
		saved, err := s.db.CreateStanding(c.Request.Context(), s.act(c), a)
		if err == nil {
			s.flash(c, "%s are asked for every month. Each month's line comes by itself.", thousands(int64(line.Wanted)))
			return s.seeOther(c, s.path(c, "recipients", saved.Recipient))
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.askedWith(c, http.StatusUnprocessableEntity, p)
}

// standingPage is one standing request, to be changed or ended.
type standingPage struct {
	Ask      drive.StandingAsk
	Name     string
	Form     standingForm
	Problems map[string]string
	Action   string
	History  []askedPast
}

func (standingPage) template() string { return "standing.html" }
func (standingPage) title() string    { return "Asked for every month" }

// standingForm is as typed.
type standingForm struct {
	Wanted  string `form:"wanted"`
	Until   string `form:"until"`
	Version string `form:"version"`
}

// standing handles GET /drives/:drive/asked/every-month/:standing.
func (s *Site) standing(c *gin.Context) error {
	a, err := s.standingAsk(c)
	if err != nil {
		return err
	}
	form := standingForm{Wanted: strconv.Itoa(a.Line.Wanted), Version: strconv.Itoa(a.Version)}
	if a.Until != nil {
		form.Until = a.Until.Format(time.DateOnly)
	}
	return s.standingWith(c, http.StatusOK, standingPage{Ask: a, Form: form})
}

// changeStanding handles POST /drives/:drive/asked/every-month/:standing.
func (s *Site) changeStanding(c *gin.Context) error {
	a, err := s.standingAsk(c)
	if err != nil {
		return err
	}
	p := standingPage{Ask: a, Problems: map[string]string{}}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	wanted, until := typedCount(p.Problems, "wanted", p.Form.Wanted, 0), typedDay(p.Problems, "until", p.Form.Until)
	version := typedCount(p.Problems, "version", p.Form.Version, 0)
	status := http.StatusUnprocessableEntity
	if len(p.Problems) == 0 {
		_, err := s.db.ChangeStanding(c.Request.Context(), s.act(c), a.Number, version, wanted, until)
		switch {
		case err == nil:
			s.flash(c, "What is asked for every month is changed.")
			return s.seeOther(c, s.path(c, "asked"))
		case apperr.Is(err, apperr.KindConflict) && !a.Ended:
			// What was typed stays; sent again it stands in place of what somebody else saved.
			status, p.Form.Version = http.StatusConflict, strconv.Itoa(a.Version)
			problem(p.Problems, "wanted", "Somebody else changed this while the page was open; it stands above as it is now. Send yours again to put it in its place.")
		case !adopt(p.Problems, err):
			return err
		}
	}
	return s.standingWith(c, status, p)
}

// endStanding handles POST /drives/:drive/asked/every-month/:standing/end.
func (s *Site) endStanding(c *gin.Context) error {
	a, err := s.standingAsk(c)
	if err != nil {
		return err
	}
	if _, err := s.db.EndStanding(c.Request.Context(), s.act(c), a.Number); err != nil {
		return err
	}
	s.flash(c, "No more lines come of it. Those that have come stay.")
	return s.seeOther(c, s.path(c, "asked"))
}

func (s *Site) standingAsk(c *gin.Context) (drive.StandingAsk, error) {
	number, err := s.number(c, "standing")
	if err != nil {
		return drive.StandingAsk{}, err
	}
	return s.db.StandingAsk(c.Request.Context(), s.driveID(c), number)
}

func (s *Site) standingWith(c *gin.Context, status int, p standingPage) error {
	r, err := s.db.Recipient(c.Request.Context(), s.driveID(c), p.Ask.Line.Recipient)
	if err != nil {
		return err
	}
	sizes, err := s.db.Sizes(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	steps, err := s.db.StandingHistory(c.Request.Context(), s.driveID(c), p.Ask.Number)
	if err != nil {
		return err
	}
	p.History = s.pastWords(c, steps, false, sizes)
	p.Name, p.Action = r.Name, s.path(c, "asked", "every-month", p.Ask.Number)
	return s.page(c, status, p)
}
