package site

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"
	"boltward/internal/postgres"
)

// eyeEffort is how much planning goes into saying what a rule costs: both plans get the same.
const eyeEffort = 100

// eyeTime is the most of somebody's time that each of the two may take.
const eyeTime = 20 * time.Second

// planRulePage says what a rule would cost before it is kept.
type planRulePage struct {
	Plan          drive.Plan
	Form          ruleForm
	Words         string
	Before, After int
	Costs         int    // pillowcases fewer
	Lighter       string // what it costs in weight, where weights differ; empty where nothing
	Lines         []changedLine
	Refused       string
}

func (planRulePage) template() string { return "plan-rule.html" }
func (p planRulePage) title() string  { return fmt.Sprintf("A rule for plan %d", p.Plan.Number) }

// ruleForm is a rule as it is asked for.
type ruleForm struct {
	Kind      string `form:"kind"`
	Roles     string `form:"roles"`
	Lot       string `form:"lot"`
	Other     string `form:"other"`
	Recipient string `form:"recipient"`
}

func (f ruleForm) rule() drive.LotRule {
	r := drive.LotRule{Kind: drive.LotRuleKind(f.Kind), Roles: drive.RuleRoles(f.Roles)}
	r.Lot, _ = wholeNumber(f.Lot)
	if n, ok := wholeNumber(f.Other); ok {
		r.Other = &n
	}
	if n, ok := wholeNumber(f.Recipient); ok {
		r.Recipient = &n
	}
	if f.Kind == "" { // the address says it all
		r.Kind = drive.LotNever
		if r.Recipient != nil {
			r.Kind = drive.LotKeptFor
		}
	}
	if f.Roles == "" && r.Kind == drive.LotNever {
		r.Roles = drive.BodyAndTrim
	}
	return r
}

// tryRule handles GET /drives/:drive/plan/:plan/eye/try?lot=3&other=7: what it would cost.
func (s *Site) tryRule(c *gin.Context) error {
	return s.showRule(c, http.StatusOK, ruleForm{c.Query("kind"), c.Query("roles"), c.Query("lot"), c.Query("other"), c.Query("recipient")}, "")
}

func (s *Site) showRule(c *gin.Context, status int, form ruleForm, refused string) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	p, err := s.db.Plan(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	of := int64(0)
	if p.State == drive.PlanAccepted {
		of = number
	} else if p.State != drive.PlanReady {
		return apperr.Conflict("Plan %d neither stands nor waits to be accepted.", number)
	}
	rule := form.rule()
	tried, err := s.db.TryLotRule(c.Request.Context(), s.driveID(c), of, rule)
	if err != nil {
		return err
	}
	before, after, err := s.tried(c.Request.Context(), tried)
	if err != nil {
		return err
	}
	names, err := s.changeNames(c)
	if err != nil {
		return err
	}
	called := map[int64]string{}
	recipients, err := s.db.Recipients(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	for _, r := range recipients {
		called[r.Number] = r.Name
	}
	if rule.Recipient != nil && called[*rule.Recipient] == "" {
		return apperr.NotFound("There is no such recipient here.")
	}
	page := planRulePage{Plan: p, Form: form, Words: ruleWords(rule, called), Before: before.Cases(), After: after.Cases(), Refused: refused}
	page.Costs = max(0, page.Before-page.After)
	if b, a := before.Summary.WeightMade, after.Summary.WeightMade; a != b {
		page.Lighter = fmt.Sprintf("%s instead of %s", a, b)
	}
	for _, q := range tried.Without.Quotas {
		if from, to := before.Made(q.ID), after.Made(q.ID); from != to {
			page.Lines = append(page.Lines, changedLine{Name: names.line(q.ID), Wanted: q.Wanted, From: from, To: to})
		}
	}
	return s.page(c, status, page)
}

// tried plans without the rule and with it. Planning takes all the processor it
// gets, so one page waits for another.
func (s *Site) tried(ctx context.Context, of postgres.RuleTried) (before, after *planning.Plan, err error) {
	end, err := s.trying.take(ctx)
	if err != nil {
		return nil, nil, err
	}
	defer end()
	if before, err = sewn(ctx, of.Without, of.StandWithout); err != nil {
		return nil, nil, err
	}
	after, err = sewn(ctx, of.With, of.StandWith)
	return before, after, err
}

// sewn plans a problem with a little effort and has it checked by the independent check; where
// an accepted plan stands, as a change of it.
func sewn(ctx context.Context, problem *planning.Problem, stands *drive.PlanStands) (*planning.Plan, error) {
	options := planning.Options{Effort: eyeEffort, Within: eyeTime}
	var plan *planning.Plan
	if stands == nil {
		var err error
		if plan, err = planning.Solve(ctx, problem, options); err != nil {
			return nil, err
		}
	} else {
		r, err := planning.Replan(ctx, problem, stands.Plan, stands.Settled, options)
		if err != nil {
			return nil, err
		}
		problem, plan = r.Problem, r.Plan
	}
	if faults := planning.Check(problem, plan); len(faults) > 0 {
		return nil, fmt.Errorf("a plan with a rule breaks it: %s", faults[0])
	}
	return plan, nil
}

// keepRule handles POST /drives/:drive/plan/:plan/eye: the rule is kept, and a plan that keeps
// to it is worked out at once, to be accepted or not.
func (s *Site) keepRule(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	var form ruleForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	_, err = s.db.AddLotRule(c.Request.Context(), s.act(c), form.rule())
	if problems := apperr.Fields(err); problems != nil || apperr.Is(err, apperr.KindConflict) {
		return s.showRule(c, http.StatusConflict, form, err.Error())
	}
	if err != nil {
		return err
	}
	return s.replanByRules(c, number, "The rule is kept")
}

// endRule handles POST /drives/:drive/plan/:plan/eye/rules/:rule/end.
func (s *Site) endRule(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	rule, err := s.number(c, "rule")
	if err != nil {
		return err
	}
	if _, err := s.db.EndLotRule(c.Request.Context(), s.act(c), rule); err != nil {
		return err
	}
	return s.replanByRules(c, number, "The rule is ended")
}

// replanByRules has a plan worked out by the rules that hold now, in place of one that is
// looked at; where that cannot be now, the rules hold for the next.
func (s *Site) replanByRules(c *gin.Context, number int64, done string) error {
	p, err := s.db.Plan(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	act := s.act(c)
	if act.Key != "" {
		act.Key += "/plan"
	}
	var next int64
	if p.State == drive.PlanAccepted {
		next, err = s.db.RequestChange(c.Request.Context(), act, number, false)
	} else {
		next, err = s.db.RequestPlan(c.Request.Context(), act)
	}
	if apperr.Is(err, apperr.KindConflict) {
		s.flash(c, "%s. It holds for the next plan: %s", done, err.Error())
		return s.seeOther(c, s.path(c, "plan", number, "eye"))
	}
	if err != nil {
		return err
	}
	s.flash(c, "%s. Plan %d is being worked out by it; plan %d made %s.", done, next, number, countCases(p.Cases))
	return s.seeOther(c, s.path(c, "plan", next))
}
