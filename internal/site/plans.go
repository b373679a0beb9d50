package site

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// plansPage says what could be planned now, shows a plan that is being worked
// out, and lists those that were made.
type plansPage struct {
	List    listing
	Shelf   postgres.ShelfSum
	Waiting []waitingLots
	Busy    *planProgress // being worked out
	Plans   []planRow
	Asked   bool     // somebody asks for something, or did
	Ready   *planRow // the newest, where it waits for a decision
	Refused string   // why a new plan cannot be made
}

func (plansPage) template() string { return "plans.html" }
func (plansPage) title() string    { return "Plan" }

// refresh opens the page again by itself while a plan is being worked out.
func (p plansPage) refresh() int {
	return whileBusy(p.Busy)
}

// planRow is one plan in the list.
type planRow struct {
	drive.Plan
	Short int // pillowcases short of the most that could be made
}

// State says in words how far a plan has come.
func (r planRow) StateWords() string {
	switch {
	case r.Withdrawn():
		return "withdrawn"
	case r.Plan.State == drive.PlanDropped:
		return "put away"
	case r.PassedOver:
		return "passed over for another plan"
	case r.Plan.State == drive.PlanReady:
		return "ready, not accepted"
	case r.Plan.State == drive.PlanFailed:
		return "failed"
	case r.Busy():
		return "being worked out"
	}
	return string(r.Plan.State)
}

// waitingLots are lots that a plan may not draw on yet.
type waitingLots struct {
	Why  string
	Lots []int64
	More int
}

// plans handles GET /drives/:drive/plan.
func (s *Site) plans(c *gin.Context) error { return s.showPlans(c, http.StatusOK, "") }

func (s *Site) showPlans(c *gin.Context, status int, refused string) error {
	list := s.listing(c)
	found, total, err := s.db.Plans(c.Request.Context(), s.driveID(c), list.Limit(), list.Offset())
	if err != nil {
		return err
	}
	list.Total = total
	if to := list.pastEnd(); to != "" {
		return s.seeOther(c, to)
	}
	page := plansPage{List: list, Refused: refused}
	for i, p := range found {
		row := planRow{p, max(0, p.CasesBound-p.Cases)}
		if p.Busy() {
			if page.Busy, err = s.progressOf(c, p, s.path(c, "plan")); err != nil {
				return err
			}
		}
		if i == 0 && list.Page == 1 && p.State == drive.PlanReady && !p.PassedOver {
			page.Ready = &row
		}
		page.Plans = append(page.Plans, row)
	}
	if page.Busy == nil {
		if page.Shelf, err = s.db.ShelfForPlan(c.Request.Context(), s.driveID(c)); err != nil {
			return err
		}
		page.Waiting = waitingWords(page.Shelf)
		done, err := s.db.FirstSteps(c.Request.Context(), s.driveID(c))
		if err != nil {
			return err
		}
		page.Asked = done.Asked
	}
	return s.page(c, status, page)
}

func waitingWords(sum postgres.ShelfSum) []waitingLots {
	var list []waitingLots
	add := func(why string, lots []int64) {
		if len(lots) == 0 {
			return
		}
		w := waitingLots{Why: why, Lots: lots}
		if len(lots) > 12 {
			w.Lots, w.More = lots[:12], len(lots)-12
		}
		list = append(list, w)
	}
	add("Not in it before they are measured", sum.ToMeasure)
	add("Not in it before they are washed", sum.Waiting[drive.WaitsWashing])
	add("Not in it, set aside", sum.Waiting[drive.WaitsSetAside])
	return list
}

// requestPlan handles POST /drives/:drive/plan.
func (s *Site) requestPlan(c *gin.Context) error {
	number, err := s.db.RequestPlan(c.Request.Context(), s.act(c))
	if apperr.Is(err, apperr.KindConflict) {
		return s.showPlans(c, http.StatusConflict, err.Error())
	}
	if err != nil {
		return err
	}
	return s.seeOther(c, s.path(c, "plan", number))
}

// stopPlan handles POST /drives/:drive/plan/:plan/stop: the best so far is kept.
func (s *Site) stopPlan(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	if _, err := s.db.StopPlan(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	return s.seeOther(c, s.path(c, "plan", number))
}

// acceptPlan handles POST /drives/:drive/plan/:plan/accept. Where somebody was
// first, the plan is shown again with what stands against it.
func (s *Site) acceptPlan(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	got, err := s.db.AcceptPlan(c.Request.Context(), s.act(c), number)
	if apperr.Is(err, apperr.KindConflict) {
		return s.showPlan(c, http.StatusConflict, number, err.Error())
	}
	if err != nil {
		return err
	}
	if got.Changed > 0 {
		s.flash(c, "%s", changeAccepted(got))
		return s.seeOther(c, s.path(c, "plan", number, "changes"))
	}
	s.flashUndo(c, s.path(c, "plan", number, "withdraw"), "Plan %d accepted: %s to cut, %s for %s.", number,
		counted(got.Sheets, "sheet", "sheets"), counted(got.Kits, "kit", "kits"), counted(got.Cases, "pillowcase", "pillowcases"))
	return s.seeOther(c, s.path(c, "cutting"))
}

// dropPlan handles POST /drives/:drive/plan/:plan/drop.
func (s *Site) dropPlan(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	if _, err := s.db.DropPlan(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "Plan %d is put away. Nothing of it was promised.", number)
	return s.seeOther(c, s.path(c, "plan"))
}

// withdrawPlan handles POST /drives/:drive/plan/:plan/withdraw.
func (s *Site) withdrawPlan(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	_, err = s.db.WithdrawPlan(c.Request.Context(), s.act(c), number)
	if apperr.Is(err, apperr.KindConflict) {
		return s.showPlan(c, http.StatusConflict, number, err.Error())
	}
	if err != nil {
		return err
	}
	s.flash(c, "Plan %d is withdrawn: its cloth is free again. Take its printed sheets off the table.", number)
	return s.seeOther(c, s.path(c, "plan", number))
}

// kitsOfLine says how many kits of which sizes a line gets: "3 kits of 4, 2 of 3".
func kitsOfLine(sizes []int) string {
	slices.Sort(sizes)
	slices.Reverse(sizes)
	var parts []string
	for i := 0; i < len(sizes); {
		j := i
		for j < len(sizes) && sizes[j] == sizes[i] {
			j++
		}
		words := fmt.Sprintf("%d of %d", j-i, sizes[i])
		if len(parts) == 0 {
			words = counted(j-i, "kit", "kits") + " of " + strconv.Itoa(sizes[i])
		}
		parts = append(parts, words)
		i = j
	}
	return strings.Join(parts, ", ")
}
