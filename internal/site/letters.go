package site

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// letterRulesPage says how a drive thanks by letter.
type letterRulesPage struct {
	Form     letterRulesForm
	Problems map[string]string
	Clash    clash
	Wordings []option
	Papers   []option
}

func (letterRulesPage) template() string { return "letter-rules.html" }
func (letterRulesPage) title() string    { return "Letters of thanks" }

// letterRulesForm is as typed.
type letterRulesForm struct {
	Version    string `form:"version"`
	Wording    string `form:"wording"`
	Paper      string `form:"paper"`
	Sender     string `form:"sender"`
	SignedBy   string `form:"signed_by"`
	InReturn   string `form:"in_return"`
	Registered string `form:"registered"`
	Left       string `form:"window_left"`
	Top        string `form:"window_top"`
}

// letterRules handles GET /drives/:drive/donors/letters.
func (s *Site) letterRules(c *gin.Context) error {
	form, err := s.letterRulesStand(c)
	if err != nil {
		return err
	}
	return s.letterRulesWith(c, http.StatusOK, letterRulesPage{Form: form})
}

// saveLetterRules handles POST /drives/:drive/donors/letters.
func (s *Site) saveLetterRules(c *gin.Context) error {
	page := letterRulesPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	f, unit := page.Form, s.drive(c).Unit
	rules := drive.LetterRules{
		Wording: f.Wording, Paper: f.Paper, Sender: f.Sender, SignedBy: f.SignedBy, InReturn: f.InReturn, Registered: f.Registered,
		WindowLeft: typedSize(page.Problems, "window_left", f.Left, unit), WindowTop: typedSize(page.Problems, "window_top", f.Top, unit),
		Version: typedCount(page.Problems, "version", f.Version, 0),
	}
	if len(page.Problems) == 0 {
		_, err := s.db.UpdateLetterRules(c.Request.Context(), s.act(c), rules)
		switch {
		case err == nil:
			s.flash(c, "Letters are worded so from now on.")
			return s.seeOther(c, s.path(c, "donors", "letters"))
		case apperr.Is(err, apperr.KindConflict):
			return s.letterRulesClash(c, page)
		case !adopt(page.Problems, err):
			return err
		}
	}
	return s.letterRulesWith(c, http.StatusUnprocessableEntity, page)
}

// letterRulesClash shows what somebody else saved beside what was typed.
func (s *Site) letterRulesClash(c *gin.Context, page letterRulesPage) error {
	stands, err := s.letterRulesStand(c)
	if err != nil {
		return err
	}
	page.Clash = newClash(stands, page.Form, []clashField{
		{"wording", "Worded for", wordingOptions()},
		{"paper", "Paper", nil},
		{"sender", "From", nil},
		{"signed_by", "Signed by", nil},
		{"in_return", "Given in return", nil},
		{"registered", "Charity's number", nil},
		{"window_left", "Window, from the left", nil},
		{"window_top", "Window, from the top", nil},
	})
	page.Form.Version = stands.Version
	return s.letterRulesWith(c, http.StatusConflict, page)
}

func (s *Site) letterRulesStand(c *gin.Context) (letterRulesForm, error) {
	rules, err := s.db.LetterRules(c.Request.Context(), s.drive(c))
	if err != nil {
		return letterRulesForm{}, err
	}
	unit := s.drive(c).Unit
	return letterRulesForm{
		Version: strconv.Itoa(rules.Version), Wording: rules.Wording, Paper: rules.Paper, Sender: rules.Sender, SignedBy: rules.SignedBy, InReturn: rules.InReturn,
		Registered: rules.Registered, Left: sizeText(rules.WindowLeft, unit), Top: sizeText(rules.WindowTop, unit),
	}, nil
}

func (s *Site) letterRulesWith(c *gin.Context, status int, page letterRulesPage) error {
	page.Wordings, page.Papers = wordingOptions(), optionsOf(drive.LetterPapers())
	return s.page(c, status, page)
}

func wordingOptions() []option {
	return []option{
		{drive.WordingPlain, "plain: thanks, and nothing on tax but to ask an adviser"},
		{drive.WordingUS, "United States: what was given, and whether anything was given in return"},
		{drive.WordingCanada, "Canada: with the value left blank, for whoever appraises it"},
		{drive.WordingUK, "United Kingdom: no Gift Aid on goods"},
	}
}
