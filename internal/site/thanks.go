package site

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/paper"
	"boltward/internal/postgres"
	"boltward/internal/words"
)

// thanksPage is the gifts of one week, with the letters for them.
type thanksPage struct {
	Monday  time.Time
	Sunday  time.Time
	Weeks   []postgres.ThanksWeek
	Gifts   []giftRow
	Letters []string // gifts the PDF has a letter for
	File    string
	Due     int
	Wording string
	Rules   bool
}

func (thanksPage) template() string { return "thanks.html" }
func (thanksPage) title() string    { return "Thanks" }

// giftRow is what somebody brought on one day.
type giftRow struct {
	Gift      string // as forms send it
	Donor     int64
	Name      string
	On        time.Time
	Gave      []string
	Asked     bool
	How       string // they can be thanked: by post, by e-mail, handed over; empty: not by letter
	Why       string // why not
	Mail      string // a draft for the mail program
	Thanks    int64
	Way       string
	ThankedOn *time.Time
}

// The ways a letter goes to somebody.
const (
	byPost  = "by post"
	byMail  = "by e-mail"
	handed  = "hand it over: no address is noted"
	noWords = "does not want to be written to: thank in person"
	nobody  = "asked to be forgotten"
)

func newGiftRow(g postgres.Gift, d drive.Drive) giftRow {
	row := giftRow{
		Gift: g.String(), Donor: g.Donor, Name: g.Name, On: g.On, Asked: g.Asked, Thanks: g.Thanks, Way: g.Way, ThankedOn: g.ThankedOn,
	}
	for _, l := range g.Lots {
		row.Gave = append(row.Gave, l.Describe(d))
	}
	switch {
	case g.Erased:
		row.Why = nobody
	case g.NoLetters:
		row.Why = noWords
	case g.Address != "":
		row.How = byPost
	case g.Email != "":
		row.How = byMail
	default:
		row.How = handed
	}
	return row
}

// thanks handles GET /drives/:drive/donors/thanks?week=….
func (s *Site) thanks(c *gin.Context) error {
	if !s.may(c, account.Contacts, account.Read) {
		return noSuchPage()
	}
	ctx, d := c.Request.Context(), s.drive(c)
	weeks, err := s.db.ThanksDue(ctx, d.ID)
	if err != nil {
		return err
	}
	page := thanksPage{Weeks: weeks, Monday: drive.Week(s.today(c)), Rules: s.may(c, account.Drive, account.Write)}
	if day := typedDay(map[string]string{}, "week", clean(c.Query("week"))); day != nil {
		page.Monday = drive.Week(*day)
	} else if len(weeks) > 0 {
		page.Monday = weeks[len(weeks)-1].Monday
	}
	page.Sunday = page.Monday.AddDate(0, 0, 6)
	gifts, err := s.db.Gifts(ctx, d.ID, 0, page.Monday, page.Sunday)
	if err != nil {
		return err
	}
	rules, err := s.db.LetterRules(ctx, d)
	if err != nil {
		return err
	}
	page.Wording = labelOf(wordingOptions(), rules.Wording)
	for _, g := range gifts {
		row := newGiftRow(g, d)
		if row.Thanks == 0 && row.Why != nobody {
			page.Due++
		}
		if row.Thanks == 0 && (row.How == byPost || row.How == handed) {
			page.Letters = append(page.Letters, row.Gift)
		}
		if row.Thanks == 0 && row.How == byMail {
			letter, err := s.letterFor(c, g, rules)
			if err != nil {
				return err
			}
			row.Mail = draft(g.Email, letter.Subject, letter.Text())
		}
		page.Gifts = append(page.Gifts, row)
	}
	page.File = s.path(c, "donors", "thanks", "letters.pdf") + "?week=" + page.Monday.Format(time.DateOnly)
	return s.page(c, http.StatusOK, page)
}

// weekLetters handles GET /drives/:drive/donors/thanks/letters.pdf?week=…: every
// letter of the week that goes on paper, those with an address first.
func (s *Site) weekLetters(c *gin.Context) error {
	day := typedDay(map[string]string{}, "week", clean(c.Query("week")))
	if day == nil {
		return apperr.Invalid("week", "Say which week, by a day of it.")
	}
	monday := drive.Week(*day)
	gifts, err := s.db.Gifts(c.Request.Context(), s.driveID(c), 0, monday, monday.AddDate(0, 0, 6))
	if err != nil {
		return err
	}
	var chosen []postgres.Gift
	for _, how := range []string{byPost, handed} {
		for _, g := range gifts {
			if g.Thanks == 0 && newGiftRow(g, s.drive(c)).How == how {
				chosen = append(chosen, g)
			}
		}
	}
	return s.letters(c, chosen, "letters-"+monday.Format(time.DateOnly)+".pdf")
}

// donorLetter handles GET /drives/:drive/donors/:donor/letter.pdf?on=…: the letter
// for one gift, again too.
func (s *Site) donorLetter(c *gin.Context) error {
	number, err := s.number(c, "donor")
	if err != nil {
		return err
	}
	day := typedDay(map[string]string{}, "on", clean(c.Query("on")))
	if day == nil {
		return apperr.Invalid("on", "Say for which gift, by its day.")
	}
	gifts, err := s.db.Gifts(c.Request.Context(), s.driveID(c), number, *day, *day)
	if err != nil {
		return err
	}
	if len(gifts) == 1 && newGiftRow(gifts[0], s.drive(c)).How == "" {
		return apperr.Conflict("No letter is written to this donor: %s.", newGiftRow(gifts[0], s.drive(c)).Why)
	}
	return s.letters(c, gifts, fmt.Sprintf("letter-%d.pdf", number))
}

func (s *Site) letters(c *gin.Context, gifts []postgres.Gift, name string) error {
	if !s.may(c, account.Contacts, account.Read) {
		return noSuchPage()
	}
	if len(gifts) == 0 {
		return apperr.NotFound("There is no letter to print for that.")
	}
	rules, err := s.db.LetterRules(c.Request.Context(), s.drive(c))
	if err != nil {
		return err
	}
	var posts []paper.Post
	for _, g := range gifts {
		letter, err := s.letterFor(c, g, rules)
		if err != nil {
			return err
		}
		posts = append(posts, paper.Post{Letter: letter, To: g.Name + "\n" + g.Address, Day: longDay(s.today(c))})
	}
	var pdf bytes.Buffer
	if err := paper.Letters(&pdf, s.drive(c).Name+": letters", rules, posts, s.now()); err != nil {
		return err
	}
	return s.file(c, name, "application/pdf", pdf.Bytes())
}

// letterFor words the letter for a gift.
func (s *Site) letterFor(c *gin.Context, g postgres.Gift, rules drive.LetterRules) (words.Letter, error) {
	d := s.drive(c)
	facts := words.LetterFacts{
		Drive: d.Name, Name: g.Name, On: longDay(g.On), Law: words.Law(rules.Wording), InReturn: rules.InReturn, Registered: rules.Registered, SignedBy: rules.SignedBy,
	}
	for _, l := range g.Lots {
		facts.Gave = append(facts.Gave, l.Describe(d))
	}
	_, cases, err := s.db.DonorGave(c.Request.Context(), d.ID, g.Donor)
	if err != nil {
		return words.Letter{}, err
	}
	facts.InPlan, facts.Delivered = holding(cases)
	return words.In("en").Letter(facts), nil
}

// holding counts the pillowcases that a donor's cloth is in, and those that were
// delivered, each for certain: of a kit of which only some hold it, as many as must.
// What is lost or not usable is in neither: nobody lies on it.
func holding(cases []postgres.GaveCases) (all, delivered int) {
	for _, kit := range kitsOf(cases, 0) {
		whole, there, gone := 0, 0, 0
		for _, c := range kit {
			whole += c.N
			switch reachedWords(c.State) {
			case "":
				there += c.N
			case reachedNobody:
				gone += c.N
			}
		}
		all += max(0, kit[0].Holding-gone)
		delivered += max(0, there-max(0, whole-kit[0].Holding))
	}
	return all, delivered
}

func longDay(day time.Time) string { return day.Format("2 January 2006") }

// draft is a message for somebody's own mail program (RFC 6068), to somebody or to
// whom they choose there.
func draft(to, subject, body string) string {
	return "mailto:" + strings.ReplaceAll(escapeText(to), "%40", "@") + "?subject=" + escapeText(subject) + "&body=" + escapeText(strings.ReplaceAll(body, "\n", "\r\n"))
}

// escapeText writes blanks as %20: mail programs show a plus as it is.
func escapeText(text string) string { return strings.ReplaceAll(url.QueryEscape(text), "+", "%20") }

// thanksForm is as sent.
type thanksForm struct {
	Gifts []string `form:"gift"`
	Way   string   `form:"way"`
	Back  string   `form:"back"`
}

// noteThanks handles POST /drives/:drive/donors/thanks: somebody was thanked.
func (s *Site) noteThanks(c *gin.Context) error {
	var form thanksForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	var gifts []drive.GiftOf
	for _, typed := range form.Gifts {
		g, err := drive.ParseGift(typed)
		if err != nil {
			return err
		}
		gifts = append(gifts, g)
	}
	number, err := s.db.NoteThanks(c.Request.Context(), s.act(c), gifts, form.Way, s.today(c))
	if err != nil {
		return err
	}
	s.flashUndo(c, s.path(c, "donors", "thanks", number, "undo")+"?back="+url.QueryEscape(form.Back), "Thanked %s: %s.", form.Way, counted(len(gifts), "gift", "gifts"))
	return s.seeOther(c, s.backTo(c, form.Back, "donors", "thanks"))
}

// undoThanks handles POST /drives/:drive/donors/thanks/:thanks/undo.
func (s *Site) undoThanks(c *gin.Context) error {
	number, err := s.number(c, "thanks")
	if err != nil {
		return err
	}
	if _, err := s.db.UndoThanks(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "Not thanked yet, after all.")
	return s.seeOther(c, s.backTo(c, c.Query("back"), "donors", "thanks"))
}

// backTo gives the page of this drive that a form came from, else another.
func (s *Site) backTo(c *gin.Context, typed string, otherwise ...any) string {
	if own := ownPath(typed); strings.HasPrefix(own, s.path(c, "donors")) {
		return own
	}
	return s.path(c, otherwise...)
}
