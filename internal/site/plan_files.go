package site

import (
	"fmt"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
)

// planProblemFile handles GET /drives/:drive/plan/:plan/problem.json: what the
// plan was made from, for boltward plan.
func (s *Site) planProblemFile(c *gin.Context) error {
	return s.planFile(c, "plan-%d-problem.json", func(problem, _ []byte) []byte { return problem })
}

// planPlanFile handles GET /drives/:drive/plan/:plan/plan.json: the plan with
// what proves its figures, for boltward plan --prove.
func (s *Site) planPlanFile(c *gin.Context) error {
	return s.planFile(c, "plan-%d.json", func(_, plan []byte) []byte { return plan })
}

func (s *Site) planFile(c *gin.Context, name string, choose func(problem, plan []byte) []byte) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	problem, plan, err := s.db.PlanTexts(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	contents := choose(problem, plan)
	if contents == nil {
		return apperr.NotFound("Plan %d is not made yet.", number)
	}
	return s.file(c, fmt.Sprintf(name, number), "application/json", contents)
}
