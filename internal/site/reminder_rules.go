package site

import (
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// reminderRulesPage says when a drive reminds those who have kits.
type reminderRulesPage struct {
	Form     reminderRulesForm
	Problems map[string]string
	Clash    clash
	Days     []option
	Mails    bool // the program can send e-mail
}

func (reminderRulesPage) template() string { return "reminder-rules.html" }
func (reminderRulesPage) title() string    { return "When to remind" }

// reminderRulesForm is as typed.
type reminderRulesForm struct {
	Version string   `form:"version"`
	On      string   `form:"on"`
	Soon    string   `form:"soon"`
	Late    string   `form:"late"`
	Silent  string   `form:"silent"`
	Quiet   []string `form:"quiet"`
	Itself  string   `form:"itself"`
	From    string   `form:"from"`
	Reply   string   `form:"reply"`
}

// reminderRules handles GET /drives/:drive/people/reminders/rules.
func (s *Site) reminderRules(c *gin.Context) error {
	form, err := s.reminderRulesStand(c)
	if err != nil {
		return err
	}
	return s.reminderRulesWith(c, http.StatusOK, reminderRulesPage{Form: form})
}

// saveReminderRules handles POST /drives/:drive/people/reminders/rules.
func (s *Site) saveReminderRules(c *gin.Context) error {
	page := reminderRulesPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	f := page.Form
	rules := drive.ReminderRules{
		On: f.On == "yes", SoonDays: typedCount(page.Problems, "soon", f.Soon, 0), LateDays: typedCount(page.Problems, "late", f.Late, 0),
		SilentDays: typedCount(page.Problems, "silent", f.Silent, 0), ByItself: f.Itself == "yes", FromName: f.From, ReplyTo: f.Reply,
		Version: typedCount(page.Problems, "version", f.Version, 0),
	}
	for _, typed := range f.Quiet {
		if day, err := strconv.Atoi(typed); err == nil && day >= 0 && day <= 6 {
			rules.Quiet = append(rules.Quiet, time.Weekday(day))
		}
	}
	if len(page.Problems) == 0 {
		_, err := s.db.UpdateReminderRules(c.Request.Context(), s.act(c), rules)
		switch {
		case err == nil:
			s.flash(c, "People are reminded so from now on.")
			return s.seeOther(c, s.path(c, "people", "reminders"))
		case apperr.Is(err, apperr.KindConflict):
			return s.reminderRulesClash(c, page)
		case !adopt(page.Problems, err):
			return err
		}
	}
	return s.reminderRulesWith(c, http.StatusUnprocessableEntity, page)
}

// reminderRulesClash shows what somebody else saved beside what was typed.
func (s *Site) reminderRulesClash(c *gin.Context, page reminderRulesPage) error {
	stands, err := s.reminderRulesStand(c)
	if err != nil {
		return err
	}
	yes := []option{{"yes", "yes"}, {"", "no"}}
	page.Clash = newClash(stands, page.Form, []clashField{
		{"on", "Remind people", yes},
		{"soon", "Days before", nil},
		{"late", "Days after", nil},
		{"silent", "Days of silence", nil},
		{"quiet", "Quiet days", weekdays()},
		{"itself", "Send by itself", yes},
		{"from", "Signed", nil},
		{"reply", "Answers to", nil},
	})
	page.Form.Version = stands.Version
	return s.reminderRulesWith(c, http.StatusConflict, page)
}

func (s *Site) reminderRulesStand(c *gin.Context) (reminderRulesForm, error) {
	rules, err := s.db.ReminderRules(c.Request.Context(), s.driveID(c))
	if err != nil {
		return reminderRulesForm{}, err
	}
	form := reminderRulesForm{
		Version: strconv.Itoa(rules.Version), Soon: strconv.Itoa(rules.SoonDays), Late: strconv.Itoa(rules.LateDays), Silent: strconv.Itoa(rules.SilentDays),
		From: rules.FromName, Reply: rules.ReplyTo,
	}
	if rules.On {
		form.On = "yes"
	}
	if rules.ByItself {
		form.Itself = "yes"
	}
	for _, day := range rules.Quiet {
		form.Quiet = append(form.Quiet, fmt.Sprint(int(day)))
	}
	return form, nil
}

func (s *Site) reminderRulesWith(c *gin.Context, status int, page reminderRulesPage) error {
	page.Days, page.Mails = weekdays(), s.mails
	return s.page(c, status, page)
}

// weekdays gives the days of a week to choose from, Monday first.
func weekdays() []option {
	var days []option
	for i := range 7 {
		day := time.Weekday((i + 1) % 7)
		days = append(days, option{fmt.Sprint(int(day)), day.String()})
	}
	return days
}
