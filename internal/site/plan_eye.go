package site

import (
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// eyeKits is how many kits one page shows.
const eyeKits = 12

// planEyePage shows what meets in each pillowcase of a plan, side by side.
type planEyePage struct {
	Plan       drive.Plan
	Kits       []eyeKit
	Rules      []eyeRule
	Recipients []option
	May        bool // may make rules for this plan
	From, To   int
	Total      int
	Before     string // the pages before and after; empty where there is none
	After      string
}

func (planEyePage) template() string { return "plan-eye.html" }
func (p planEyePage) title() string  { return fmt.Sprintf("Plan %d by eye", p.Plan.Number) }

// eyeKit is one kit; pillowcases that are put together alike stand once.
type eyeKit struct {
	Number, For, Size string
	Cases             int
	Different         []eyeCase
}

// eyeCase is one pillowcase: its prints, and the pairs that a person may part.
type eyeCase struct {
	Panels []eyePanel
	Body   int64
	Pairs  []eyePair
}

// eyePanel is the cloth of one role.
type eyePanel struct {
	Role string
	Lots []eyeLot
}

// eyeLot is a lot as it looks.
type eyeLot struct {
	Lot   int64
	Looks string
	Photo string // its fingerprint; empty where nobody took one
}

// eyePair is a body and a trim that meet.
type eyePair struct {
	Role        string
	Body, Other int64
}

// eyeRule is a rule that holds, in words.
type eyeRule struct {
	Number int64
	Words  string
}

// planByEye handles GET /drives/:drive/plan/:plan/eye?from=N.
func (s *Site) planByEye(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	p, err := s.db.Plan(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	_, plan, err := s.db.PlanFiles(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	if plan == nil {
		return apperr.NotFound("Plan %d is not worked out yet.", number)
	}
	kits, err := drive.ByEye(plan)
	if err != nil {
		return err
	}
	page := planEyePage{Plan: p, Total: len(kits), May: s.may(c, account.Plan, account.Write) && (p.State == drive.PlanReady || p.State == drive.PlanAccepted)}
	from, _ := wholeNumber(c.Query("from"))
	from = max(1, min(from, int64(max(len(kits), 1))))
	page.From, page.To = int(from), min(int(from)-1+eyeKits, len(kits))
	here := s.path(c, "plan", number, "eye")
	if page.From > 1 {
		page.Before = fmt.Sprintf("%s?from=%d", here, max(1, page.From-eyeKits))
	}
	if page.To < len(kits) {
		page.After = fmt.Sprintf("%s?from=%d", here, page.To+1)
	}
	if err := s.aboutEye(c, &page, kits[page.From-1:page.To]); err != nil {
		return err
	}
	return s.page(c, http.StatusOK, page)
}

// aboutEye adds names, looks and the rules that hold.
func (s *Site) aboutEye(c *gin.Context, page *planEyePage, kits []drive.KitByEye) error {
	names, err := s.changeNames(c)
	if err != nil {
		return err
	}
	looks, err := s.db.LotLooks(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	for _, k := range kits {
		kit := eyeKit{Number: k.Kit, For: names.lines[k.Line].RecipientName, Size: names.sizes[k.Size], Cases: k.Cases}
		for _, one := range k.Different {
			kit.Different = append(kit.Different, eyeCaseOf(one, looks))
		}
		page.Kits = append(page.Kits, kit)
	}
	recipients, err := s.db.Recipients(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	called := map[int64]string{}
	for _, r := range recipients {
		called[r.Number] = r.Name
		page.Recipients = append(page.Recipients, option{fmt.Sprint(r.Number), r.Name})
	}
	rules, err := s.db.LotRules(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	for _, r := range rules {
		page.Rules = append(page.Rules, eyeRule{r.Number, ruleWords(r, called)})
	}
	return nil
}

func eyeCaseOf(one []drive.Together, looks map[int64]postgres.LotLook) eyeCase {
	var out eyeCase
	for _, t := range one {
		panel := eyePanel{Role: t.Role}
		for _, lot := range t.Lots {
			look := looks[lot]
			panel.Lots = append(panel.Lots, eyeLot{lot, look.Looks(), look.Photo})
			switch {
			case t.Role == "body" && out.Body == 0:
				out.Body = lot
			case t.Role != "body" && lot != out.Body:
				out.Pairs = append(out.Pairs, eyePair{t.Role, out.Body, lot})
			}
		}
		out.Panels = append(out.Panels, panel)
	}
	return out
}

func ruleWords(r drive.LotRule, called map[int64]string) string {
	if r.Recipient != nil {
		return fmt.Sprintf("Lot %d as a body only for %s", r.Lot, called[*r.Recipient])
	}
	return fmt.Sprintf("Lots %d and %d never meet as body and trim of one pillowcase", r.Lot, *r.Other)
}
