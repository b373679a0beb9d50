package site

import (
	"fmt"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
)

// eyeKits is how many kits one page shows.
const eyeKits = 12

// planEyePage shows what meets in each pillowcase of a plan, side by side.
type planEyePage struct {
	Plan       drive.Plan
	Kits       []eyeKit
	Rules      []eyeRule
	Recipients []option
	May        bool   // may make rules for this plan
	NoSwaps    string // why its pillowcases cannot be put together otherwise now
	Stands     bool   // an accepted plan, with its kits' true numbers
	swaps      bool
	begun      []string
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
	Swaps             bool // whether somebody may put it together otherwise
	Different         []eyeCase
}

// eyeCase is one pillowcase: its prints, and the pairs that a person may part.
type eyeCase struct {
	Panels []eyePanel
	First  int // the first of those pillowcases in the kit
	Alike  int // how many are so
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

// onPrint is a lot as it looks, for the template that pages share.
type onPrint struct {
	View *view
	Role string // empty where it is not said
	Lot  eyeLot
}

// eyePair is two lots that meet, and as what.
type eyePair struct {
	Roles      drive.RuleRoles
	Lot, Other int64
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
	looked, err := s.db.LookedAt(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	if looked.Plan == nil {
		return apperr.NotFound("Plan %d is not worked out yet.", number)
	}
	kits, err := drive.ByEye(looked.Plan)
	if err != nil {
		return err
	}
	p := looked.Of
	page := planEyePage{Plan: p, Total: len(kits), Stands: looked.Stands != nil, May: s.may(c, account.Plan, account.Write) && (p.State == drive.PlanReady || p.State == drive.PlanAccepted)}
	if page.May {
		if err := looked.MaySwap(s.drive(c)); err == nil {
			page.swaps = true
		} else {
			page.NoSwaps = err.Error()
		}
	}
	if looked.Stands != nil {
		page.begun = looked.Stands.Settled.Kits
	}
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
		kit.Swaps = page.swaps && !slices.Contains(page.begun, k.Kit)
		for i, one := range k.Different {
			shown := eyeCaseOf(one, looks)
			shown.First, shown.Alike = k.First[i], k.Alike[i]
			kit.Different = append(kit.Different, shown)
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
	trims := map[string]int64{}
	for _, t := range one {
		panel := eyePanel{Role: t.Role}
		for _, lot := range t.Lots {
			look := looks[lot]
			panel.Lots = append(panel.Lots, eyeLot{lot, look.Looks(), look.Photo})
			if trims[t.Role] == 0 {
				trims[t.Role] = lot
			}
		}
		out.Panels = append(out.Panels, panel)
	}
	out.Body = trims[planning.Body]
	for _, pair := range []struct {
		roles     drive.RuleRoles
		one, more string
	}{{drive.BodyAndCuff, planning.Body, sizing.Cuff}, {drive.BodyAndAccent, planning.Body, sizing.Accent}, {drive.CuffAndAccent, sizing.Cuff, sizing.Accent}} {
		if a, b := trims[pair.one], trims[pair.more]; a != 0 && b != 0 && a != b {
			out.Pairs = append(out.Pairs, eyePair{pair.roles, a, b})
		}
	}
	return out
}

func ruleWords(r drive.LotRule, called map[int64]string) string {
	switch {
	case r.Kind == drive.LotKeptFor && r.Recipient != nil:
		return fmt.Sprintf("Lot %d as a body only for %s", r.Lot, called[*r.Recipient])
	case r.Other == nil:
		return ""
	case r.Kind == drive.LotAlways:
		return fmt.Sprintf("A body of lot %d always with lot %d as its %s", r.Lot, *r.Other, r.Roles.Trim())
	case r.Roles == drive.BodyAndTrim, r.Roles == drive.CuffAndAccent:
		return fmt.Sprintf("Lots %d and %d never meet as %s of one pillowcase", r.Lot, *r.Other, r.Roles)
	}
	return fmt.Sprintf("A body of lot %d never with lot %d as its %s", r.Lot, *r.Other, r.Roles.Trim())
}
