package site

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/mail"
	"boltward/internal/words"
)

// remindersShown is how many of the reminders that ended are listed.
const remindersShown = 50

// remindersPage is who should be reminded, with what to say, and who was.
type remindersPage struct {
	On       bool
	Rules    bool // may be changed by who looks
	ByItself bool // they go out by e-mail without a person
	Mails    bool // the program can send e-mail
	Waiting  []reminderRow
	Mailable int // of those waiting, by the program
	Ended    []reminderRow
	Problems map[string]string
}

func (remindersPage) template() string { return "reminders.html" }
func (remindersPage) title() string    { return "Reminders" }

// reminderRow is one reminder in words.
type reminderRow struct {
	drive.Reminder
	Why      string
	Text     string
	Mail     string       // a draft for the mail program; empty: no address
	Message  template.URL // for a phone; empty: no number
	Dial     template.URL
	Sendable bool // by the program
	Again    bool // it went wrong, or perhaps did
	Became   string
}

// reminders handles GET /drives/:drive/people/reminders.
func (s *Site) reminders(c *gin.Context) error {
	return s.remindersWith(c, http.StatusOK, map[string]string{})
}

func (s *Site) remindersWith(c *gin.Context, status int, problems map[string]string) error {
	ctx, d := c.Request.Context(), s.drive(c)
	rules, err := s.db.ReminderRules(ctx, d.ID)
	if err != nil {
		return err
	}
	waiting, ended, err := s.db.Reminders(ctx, d.ID, remindersShown)
	if err != nil {
		return err
	}
	page := remindersPage{On: rules.On, Rules: s.may(c, account.Drive, account.Write), ByItself: rules.ByItself && s.mails, Mails: s.mails, Problems: problems}
	for _, r := range waiting {
		if len(r.Kits) == 0 {
			continue // every kit has come back: the next tidying drops it
		}
		row := s.reminderRow(c, r, d, rules)
		if row.Sendable && !row.Again {
			page.Mailable++
		}
		page.Waiting = append(page.Waiting, row)
	}
	for _, r := range ended {
		page.Ended = append(page.Ended, s.reminderRow(c, r, d, rules))
	}
	return s.page(c, status, page)
}

func (s *Site) reminderRow(c *gin.Context, r drive.Reminder, d drive.Drive, rules drive.ReminderRules) reminderRow {
	row := reminderRow{Reminder: r, Why: reminderWhy(r.Why(s.today(c))), Became: reminderBecame(r), Again: r.State == drive.ReminderFailed || r.State == drive.ReminderPerhaps}
	open := r.State == drive.ReminderDraft || row.Again
	if len(r.Kits) == 0 || !open {
		return row
	}
	own := ""
	if s.showsLink(c) {
		own = s.personalAddress(r.Link)
	}
	m := mail.Reminder(r, d, rules, s.today(c), own, s.guests)
	row.Text = m.Text
	row.Sendable = s.mails && r.Email != ""
	if !s.may(c, account.Contacts, account.Read) {
		return row
	}
	if r.Email != "" {
		row.Mail = draft(r.Email, m.Subject, m.Text)
	}
	if r.Phone != "" {
		row.Message, row.Dial = messageTo(r.Phone, m.Text), telTo(r.Phone)
	}
	return row
}

func reminderWhy(kind drive.ReminderKind) string {
	switch kind {
	case drive.RemindLate:
		return "late"
	case drive.RemindSoon:
		return "due soon"
	}
	return "nothing heard for a while"
}

// reminderBecame says what became of a reminder.
func reminderBecame(r drive.Reminder) string {
	switch r.State {
	case drive.ReminderQueued:
		if r.Trouble != "" {
			return "waits to be tried again: " + r.Trouble
		}
		return "goes out now"
	case drive.ReminderSending:
		return "is being sent"
	case drive.ReminderSent:
		if r.Way == drive.RemindedInPerson {
			return "told in person"
		}
		return "sent by " + string(r.Way)
	case drive.ReminderPerhaps:
		return "perhaps sent: " + cmp.Or(r.Trouble, "the program stopped while it was sending") + ". Ask before you send it again"
	case drive.ReminderFailed:
		return "not sent: " + r.Trouble
	case drive.ReminderDropped:
		if r.Trouble != "" {
			return "not sent: " + r.Trouble
		}
		return "not sent"
	}
	return "waits for you"
}

// lookForReminders handles POST …/people/reminders/look: made now, not at the next round.
func (s *Site) lookForReminders(c *gin.Context) error {
	made, err := s.db.MakeReminders(c.Request.Context(), s.act(c), s.mails)
	if err != nil {
		return err
	}
	if made == 0 {
		s.flash(c, "Nobody else is to be reminded today.")
	} else {
		s.flash(c, "%s made.", counted(made, "reminder", "reminders"))
	}
	return s.seeOther(c, s.path(c, "people", "reminders"))
}

// remindForm names the reminders to send.
type remindForm struct {
	Reminders []string `form:"reminder"`
}

// sendReminders handles POST …/people/reminders/send: by the program, by e-mail.
func (s *Site) sendReminders(c *gin.Context) error {
	var form remindForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	if !s.mails {
		return s.remindersWith(c, http.StatusConflict, map[string]string{"": "The program has no mail server to send by. Send it by your own mail program."})
	}
	var numbers []int64
	for _, typed := range form.Reminders {
		if n := typedNumber(typed); n > 0 && len(numbers) < 1000 {
			numbers = append(numbers, n)
		}
	}
	sent, err := s.db.QueueReminders(c.Request.Context(), s.act(c), numbers)
	if err != nil {
		return err
	}
	if sent < len(numbers) {
		s.flash(c, "%s: %d of %d; the others do not wait any more, or have no address.", goOut(sent), sent, len(numbers))
	} else {
		s.flash(c, "%s.", goOut(sent))
	}
	return s.seeOther(c, s.path(c, "people", "reminders"))
}

func goOut(n int) string {
	return counted(n, "reminder goes out", "reminders go out")
}

// wayForm says how somebody was reminded.
type wayForm struct {
	Way string `form:"way"`
}

// noteReminder handles POST …/people/reminders/:reminder/told.
func (s *Site) noteReminder(c *gin.Context) error {
	var form wayForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	way := drive.ReminderWay(form.Way)
	if !slices.Contains(drive.ReminderWays(), way) {
		return apperr.Invalid("way", "Say how: by e-mail, text message, phone or in person.")
	}
	return s.onReminder(c, "Noted: reminded "+wayWords(way)+".", func(number int64) error {
		_, err := s.db.NoteReminder(c.Request.Context(), s.act(c), number, way)
		return err
	})
}

func wayWords(way drive.ReminderWay) string {
	if way == drive.RemindedInPerson {
		return string(way)
	}
	return "by " + string(way)
}

// dropReminder handles POST …/people/reminders/:reminder/drop.
func (s *Site) dropReminder(c *gin.Context) error {
	return s.onReminder(c, "Left out. The rules look again in a week.", func(number int64) error {
		_, err := s.db.DropReminder(c.Request.Context(), s.act(c), number)
		return err
	})
}

func (s *Site) onReminder(c *gin.Context, said string, do func(int64) error) error {
	number, err := s.number(c, "reminder")
	if err != nil {
		return err
	}
	err = do(number)
	if apperr.Is(err, apperr.KindConflict) {
		return s.remindersWith(c, http.StatusConflict, map[string]string{"": err.Error()})
	}
	if err != nil {
		return err
	}
	s.flash(c, "%s", said)
	return s.seeOther(c, s.path(c, "people", "reminders"))
}

// wantReminders handles POST …/people/:person/reminders: whether somebody wants any.
func (s *Site) wantReminders(c *gin.Context) error {
	var form struct {
		Wanted string `form:"wanted"`
	}
	if err := s.read(c, &form); err != nil {
		return err
	}
	said := "They get no reminders."
	if form.Wanted == "yes" {
		said = "They are reminded again."
	}
	return s.onPersonLink(c, said, func(who int64) error {
		_, err := s.db.SetReminded(c.Request.Context(), s.act(c), who, form.Wanted == "yes")
		return err
	})
}

// inReminder is a reminder with the page it stands on.
type inReminder struct {
	View *view
	Row  reminderRow
}

// Ways gives how somebody can have been reminded.
func (inReminder) Ways() []option {
	var ways []option
	for _, way := range drive.ReminderWays() {
		ways = append(ways, option{string(way), wayWords(way)})
	}
	return ways
}

// telTo gives the address that dials a number (RFC 3966).
func telTo(number string) template.URL { return template.URL("tel:" + digitsOf(number)) }

// stopPage is where somebody ends reminders by their personal link.
type stopPage struct {
	Words words.StopPage
	Token string
	Wants bool
}

func (stopPage) template() string { return "volunteer-reminders.html" }
func (p stopPage) title() string  { return p.Words.Title }

// stopReminders handles GET /v/:token/reminders.
func (s *Site) stopReminders(c *gin.Context) error {
	guest, err := s.openPersonalLink(c)
	if err != nil {
		return err
	}
	wants, err := s.db.WantsReminders(c.Request.Context(), guest.Drive.ID, guest.Person.Number)
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, stopPage{Words: s.guests.StopPage(), Token: c.Param("token"), Wants: wants})
}

// stopRemindersNow handles POST /v/:token/reminders.
func (s *Site) stopRemindersNow(c *gin.Context) error {
	guest, err := s.openPersonalLink(c)
	if err != nil {
		return err
	}
	if err := needKey(c); err != nil {
		return err
	}
	wanted := c.Request.PostForm.Get("wanted") == "yes"
	// A form that was sent before with the other wish has been heard: the page says how it stands.
	_, err = s.db.SetReminded(c.Request.Context(), s.guestAct(c, guest), guest.Person.Number, wanted)
	if err != nil && !apperr.Is(err, apperr.KindConflict) {
		return err
	}
	return s.seeOther(c, fmt.Sprintf("/v/%s/reminders", c.Param("token")))
}
