package site

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
)

// forgetForm is the day up to which notes are emptied, as typed.
type forgetForm struct {
	Until string `form:"until"`
}

// forgetStepNote handles POST /drives/:drive/back/forget/:step: what somebody wrote beside
// one step is emptied.
func (s *Site) forgetStepNote(c *gin.Context) error {
	step, err := s.number(c, "step")
	if err != nil {
		return err
	}
	if _, err := s.db.ForgetStepNote(c.Request.Context(), s.act(c), step); err != nil {
		return err
	}
	s.flash(c, "The note is forgotten. What was counted stays.")
	return s.seeOther(c, s.path(c, "back")+"#lately")
}

// forgetBatchNote handles POST /drives/:drive/back/laundry/:batch/forget.
func (s *Site) forgetBatchNote(c *gin.Context) error {
	batch, err := s.number(c, "batch")
	if err != nil {
		return err
	}
	if _, err := s.db.ForgetBatchNote(c.Request.Context(), s.act(c), batch); err != nil {
		return err
	}
	s.flash(c, "The note of batch %d is forgotten.", batch)
	return s.seeOther(c, s.path(c, "back", "laundry"))
}

// forgetNotes handles POST /drives/:drive/back/forget: every note up to a day is emptied.
func (s *Site) forgetNotes(c *gin.Context) error {
	p := backPage{Problems: map[string]string{}}
	if err := s.read(c, &p.Forget); err != nil {
		return err
	}
	until := typedDay(p.Problems, "until", p.Forget.Until)
	if until == nil && len(p.Problems) == 0 {
		problem(p.Problems, "until", "Give the last day whose notes go.")
	}
	if len(p.Problems) == 0 {
		n, err := s.db.ForgetNotes(c.Request.Context(), s.act(c), *until)
		if err == nil {
			s.flash(c, "What was written is forgotten, %d in all. What was counted stays.", n)
			return s.seeOther(c, s.path(c, "back")+"#lately")
		}
		if apperr.Is(err, apperr.KindConflict) { // nothing is kept until then
			err = apperr.Invalid("until", "%s", err.Error())
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.backWith(c, http.StatusUnprocessableEntity, p)
}
