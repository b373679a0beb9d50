package site

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"
	"boltward/internal/postgres"
)

// planSwapPage lets somebody choose another cuff or accent for pillowcases of a kit, and says
// what that costs before it is kept.
type planSwapPage struct {
	Plan    drive.Plan
	Form    swapForm
	Kit     string
	For     string
	Size    string
	Now     []eyePanel // as it is put together now
	Alike   int        // pillowcases of the kit that are
	Body    int64
	Choices []swapChoice
	Cost    *swapCost // of the lot that was chosen
	Refused string    // why it cannot be
	HowMany string    // what is wrong with how many of them
}

func (planSwapPage) template() string { return "plan-swap.html" }
func (p planSwapPage) title() string  { return fmt.Sprintf("Another %s for kit %s", p.Form.Role, p.Kit) }

// swapForm is a swap as it is asked for.
type swapForm struct {
	Kit  string `form:"kit"`
	Case string `form:"case"`
	Role string `form:"role"`
	Lot  string `form:"lot"`
	N    string `form:"n"`
}

func (f swapForm) swap() drive.Swap {
	w := drive.Swap{Kit: f.Kit, Role: f.Role}
	at, _ := wholeNumber(f.Case)
	w.Case = int(min(at, 1_000_000))
	if f.N != "" {
		w.N = -1 // which no kit has
		if n, ok := wholeNumber(strings.TrimSpace(f.N)); ok {
			w.N = int(min(n, 1_000_000))
		}
	}
	w.Lot, _ = wholeNumber(f.Lot)
	return w
}

// swapChoice is a lot that may be the trim.
type swapChoice struct {
	EyeLot eyeLot
	Chosen bool
}

// swapCost is what a swap costs, in words.
type swapCost struct {
	N             int
	Before, After int
	Costs         int // pillowcases fewer
	Exchange      bool
	Lines         []changedLine
	Cloth         []string // what is cut more or less of which lot
	Kits          []string // others that change too
	Bundles       string
}

// trySwap handles GET /drives/:drive/plan/:plan/eye/swap?kit=K1&case=1&role=cuff&lot=7.
func (s *Site) trySwap(c *gin.Context) error {
	return s.showSwap(c, http.StatusOK, swapForm{c.Query("kit"), c.Query("case"), c.Query("role"), c.Query("lot"), c.Query("n")}, "")
}

func (s *Site) showSwap(c *gin.Context, status int, form swapForm, refused string) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	looked, err := s.db.LookedAt(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	if err := looked.MaySwap(s.drive(c)); err != nil {
		return err
	}
	page := planSwapPage{Plan: looked.Of, Form: form, Refused: refused}
	if err := s.aboutSwap(c, &page, looked); err != nil {
		return err
	}
	if w := form.swap(); w.Lot > 0 && refused == "" {
		swapped, err := s.swapped(c.Request.Context(), looked, w)
		switch fields := apperr.Fields(err); {
		case fields["n"] != "":
			status, page.HowMany = http.StatusUnprocessableEntity, fields["n"]
		case fields != nil:
			status, page.Refused = http.StatusUnprocessableEntity, err.Error()
		case apperr.Is(err, apperr.KindConflict):
			status, page.Refused = http.StatusConflict, err.Error()
		case err != nil:
			return err
		default:
			if page.Cost, err = s.swapCost(c, looked, swapped, w); err != nil {
				return err
			}
		}
	}
	return s.page(c, status, page)
}

// swapped carries a swap out, one at a time as rules by eye are tried.
func (s *Site) swapped(ctx context.Context, l postgres.Looked, w drive.Swap) (drive.Swapped, error) {
	end, err := s.trying.take(ctx)
	if err != nil {
		return drive.Swapped{}, err
	}
	defer end()
	return w.By(ctx, l.Problem, l.Plan, l.Stands, planning.Options{Effort: eyeEffort, Within: eyeTime})
}

// aboutSwap says what the pillowcases are put together from, and what else they could be.
func (s *Site) aboutSwap(c *gin.Context, page *planSwapPage, l postgres.Looked) error {
	kits, err := drive.ByEye(l.Plan)
	if err != nil {
		return err
	}
	looks, err := s.db.LotLooks(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	w := page.Form.swap()
	at := slices.IndexFunc(kits, func(k drive.KitByEye) bool { return k.Kit == w.Kit })
	if at < 0 {
		return apperr.NotFound("There is no such kit in plan %d any more.", page.Plan.Number)
	}
	i := slices.Index(kits[at].First, w.Case)
	if i < 0 {
		return apperr.NotFound("There is no such pillowcase in this kit any more.")
	}
	names, err := s.changeNames(c)
	if err != nil {
		return err
	}
	page.Kit, page.Alike = w.Kit, kits[at].Alike[i]
	page.For, page.Size = names.lines[kits[at].Line].RecipientName, names.sizes[kits[at].Size]
	one := eyeCaseOf(kits[at].Different[i], looks)
	page.Now, page.Body = one.Panels, one.Body
	choices, err := drive.SwapChoices(l.Problem)
	if err != nil {
		return err
	}
	var has []int64
	for _, t := range kits[at].Different[i] {
		if t.Role == w.Role {
			has = t.Lots
		}
	}
	if len(has) == 0 || w.Role == planning.Body {
		return apperr.NotFound("A pillowcase of this kit has no such trim.")
	}
	for _, lot := range choices[drive.SwapChoice(one.Body, w.Role)] {
		if !slices.Contains(has, lot) {
			look := looks[lot]
			page.Choices = append(page.Choices, swapChoice{eyeLot{lot, look.Looks(), look.Photo}, lot == w.Lot})
		}
	}
	return nil
}

// swapCost compares what was looked at with what the swap makes of it.
func (s *Site) swapCost(c *gin.Context, l postgres.Looked, swapped drive.Swapped, w drive.Swap) (*swapCost, error) {
	d := s.drive(c)
	cost := &swapCost{N: swapped.N, Before: l.Plan.Cases(), After: swapped.Plan.Cases(), Exchange: swapped.Exchange}
	cost.Costs = max(0, cost.Before-cost.After)
	names, err := s.changeNames(c)
	if err != nil {
		return nil, err
	}
	for _, q := range l.Problem.Quotas {
		if from, to := l.Plan.Made(q.ID), swapped.Plan.Made(q.ID); from != to {
			cost.Lines = append(cost.Lines, changedLine{Name: names.line(q.ID), Wanted: q.Wanted, From: from, To: to})
		}
	}
	moved, err := drive.ClothMoved(l.Plan, swapped.Plan)
	if err != nil {
		return nil, err
	}
	for _, m := range moved {
		long, how := m.More, "more"
		if long < 0 {
			long, how = -long, "less"
		}
		cost.Cloth = append(cost.Cloth, fmt.Sprintf("%s %s of lot %d", drive.OnTape(long, d.Unit), how, m.Lot))
	}
	for _, id := range drive.KitsMoved(l.Plan, swapped.Plan) {
		if id != w.Kit {
			cost.Kits = append(cost.Kits, id)
		}
	}
	switch before, after := planning.Bundles(l.Plan), planning.Bundles(swapped.Plan); {
	case after > before:
		cost.Bundles = fmt.Sprintf("%s more to cut, fold and label: %d instead of %d.", counted(after-before, "bundle", "bundles"), after, before)
	case after < before:
		cost.Bundles = fmt.Sprintf("%s fewer to cut, fold and label: %d instead of %d.", counted(before-after, "bundle", "bundles"), after, before)
	default:
		cost.Bundles = fmt.Sprintf("As many bundles to cut, fold and label as before: %d.", after)
	}
	return cost, nil
}

// keepSwap handles POST /drives/:drive/plan/:plan/eye/swap: a plan with it is kept, to be
// accepted or not.
func (s *Site) keepSwap(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	var form swapForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	looked, err := s.db.LookedAt(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	if err := looked.MaySwap(s.drive(c)); err != nil {
		return err
	}
	w := form.swap()
	swapped, err := s.swapped(c.Request.Context(), looked, w)
	next := int64(0)
	if err == nil {
		next, err = s.db.KeepSwap(c.Request.Context(), s.act(c), looked, w, swapped)
	}
	if apperr.Fields(err)["n"] != "" {
		return s.showSwap(c, http.StatusUnprocessableEntity, form, "")
	}
	if apperr.Is(err, apperr.KindConflict) || apperr.Fields(err) != nil {
		return s.showSwap(c, http.StatusConflict, form, err.Error())
	}
	if err != nil {
		return err
	}
	s.flash(c, "Plan %d is plan %d with that %s. Look at it, then accept it or put it away.", next, number, w.Role)
	if looked.Stands != nil {
		return s.seeOther(c, s.path(c, "plan", next, "changes"))
	}
	return s.seeOther(c, s.path(c, "plan", next))
}
