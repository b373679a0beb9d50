package site

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

// eraseForm is the wish that an account is erased, with the password of whoever asks.
type eraseForm struct {
	Current string `form:"erase_current" typed:"secret"`
	Sure    string `form:"sure"`
}

const notSure = "Tick that you are sure: who this is cannot be brought back."

// eraseMe handles POST /account/erase: with the password, so that nobody does it at a
// device that was left open.
func (s *Site) eraseMe(c *gin.Context) error {
	ctx, v := c.Request.Context(), visitorOf(c)
	var form eraseForm
	if err := s.readSecret(c, &form); err != nil {
		return err
	}
	if form.Sure != "yes" {
		return s.accountWith(c, http.StatusUnprocessableEntity, map[string]string{"sure": notSure})
	}
	if why, err := s.askPassword(c, form.Current); err != nil {
		return err
	} else if why != "" {
		return s.accountWith(c, http.StatusUnprocessableEntity, map[string]string{"erase_current": why})
	}
	if err := s.db.EraseAccount(ctx, s.act(c), v.person.ID); apperr.Is(err, apperr.KindConflict) {
		return s.accountWith(c, http.StatusConflict, map[string]string{"": apperr.As(err).Text})
	} else if err != nil {
		return err
	}
	s.logErased(c, "account", "", v.person.ID)
	if err := s.renew(ctx); err != nil {
		return err
	}
	s.flash(c, "Your account is erased, and you are signed out everywhere.")
	return s.seeOther(c, "/sign-in")
}

// logErased notes, by a number and without a name, who was erased. The log stands outside the
// database: after a backup of before is put back it says who has to be erased again.
func (s *Site) logErased(c *gin.Context, kind, driveID string, number int64) {
	s.log.InfoContext(c.Request.Context(), "erased", "kind", kind, "drive", driveID, "number", number)
}

// eraseMember handles POST /drives/:drive/settings/people/:account/erase: with the password
// of whoever asks, since it is for good and outlives their session.
func (s *Site) eraseMember(c *gin.Context) error {
	id, err := s.number(c, "account")
	if err != nil {
		return err
	}
	var form eraseForm
	if err := s.readSecret(c, &form); err != nil {
		return err
	}
	refused := func(status int, field, why string) error {
		return s.memberWith(c, status, func(m postgres.DriveMember) memberPage {
			return memberPage{Member: m, Role: string(m.Role), Problems: map[string]string{field: why}}
		})
	}
	if form.Sure != "yes" {
		return refused(http.StatusUnprocessableEntity, "sure", notSure)
	}
	if id == s.person(c).ID {
		return refused(http.StatusConflict, "", "Your own account you erase on its page, with your password.")
	}
	if why, err := s.askPassword(c, form.Current); err != nil {
		return err
	} else if why != "" {
		return refused(http.StatusUnprocessableEntity, "erase_current", why)
	}
	if err := s.db.EraseAccount(c.Request.Context(), s.act(c), id); apperr.Is(err, apperr.KindConflict) {
		return refused(http.StatusConflict, "", apperr.As(err).Text)
	} else if err != nil {
		return err
	}
	s.logErased(c, "account", s.driveID(c), id)
	s.flash(c, "They are erased. What they did keeps its place in the trail and the books.")
	return s.seeOther(c, s.path(c, "settings", "people"))
}
