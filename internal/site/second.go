package site

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/postgres"
)

// halfLife is how long the second step may take after the password.
const halfLife = postgres.HalfLife

// refusedCode is all that a refused code tells.
const refusedCode = "That code does not fit now, was used already, or there were too many tries. Wait for the next one; after several tries, wait a quarter of an hour."

// half is who has given the right password and not yet the second step. It opens nothing.
type half struct {
	Account int64
	Epoch   int
	Until   time.Time
	Next    string
	Note    int64 // under which it is kept that the code has not come; 0 where it is not
}

// secondPage asks for the second step of signing in.
type secondPage struct{ Problems map[string]string }

func (secondPage) template() string { return "sign-in-second.html" }
func (secondPage) title() string    { return "The second step" }

type codeForm struct {
	Code string `form:"code"`
}

// secondForm turns the second step on.
type secondForm struct {
	Code    string `form:"code"`
	Current string `form:"current" typed:"secret"`
}

// beginHalf sends somebody to the second step, under a new token. Where the code does not come, whose
// password it is will be told.
func (s *Site) beginHalf(c *gin.Context, p account.Person, next string) error {
	ctx := c.Request.Context()
	if old := s.sessions.GetInt64(ctx, sessionSignIn); old != 0 {
		if err := s.db.LeaveSignIn(ctx, old); err != nil {
			return err
		}
	}
	if err := s.renew(ctx); err != nil {
		return err
	}
	note, err := s.db.BeginHalf(ctx, p.ID, p.Epoch, s.device(c, p.ID))
	if err != nil {
		return err
	}
	s.sessions.Put(ctx, sessionHalf, half{Account: p.ID, Epoch: p.Epoch, Until: s.now().Add(halfLife), Next: next, Note: note})
	return s.seeOther(c, "/sign-in/second")
}

// halfOf gives who is half way in; false where nobody is, or it took too long.
func (s *Site) halfOf(c *gin.Context) (half, bool) {
	h, ok := s.sessions.Get(c.Request.Context(), sessionHalf).(half)
	return h, ok && s.now().Before(h.Until)
}

// signInSecond handles GET /sign-in/second.
func (s *Site) signInSecond(c *gin.Context) error {
	if _, ok := s.halfOf(c); !ok {
		return s.seeOther(c, "/sign-in")
	}
	return s.page(c, http.StatusOK, secondPage{})
}

// signInSecondNow handles POST /sign-in/second.
func (s *Site) signInSecondNow(c *gin.Context) error {
	ctx := c.Request.Context()
	h, ok := s.halfOf(c)
	if !ok {
		return s.seeOther(c, "/sign-in")
	}
	fits, err := s.tryCode(c, h.Account)
	if err != nil {
		return err
	}
	if !fits {
		if err := s.db.WrongCode(ctx, h.Note); err != nil {
			return err
		}
		return s.page(c, http.StatusUnprocessableEntity, secondPage{map[string]string{"code": refusedCode}})
	}
	if err := s.db.EndHalf(ctx, h.Account, h.Note, s.device(c, h.Account)); err != nil {
		return err
	}
	person, err := s.db.Account(ctx, h.Account)
	if err != nil {
		return err
	}
	if person.Epoch != h.Epoch { // the password was changed meanwhile
		return s.seeOther(c, "/sign-in")
	}
	if err := s.begin(c, person, true); err != nil {
		return err
	}
	return s.seeOther(c, nextOrHome(h.Next))
}

// tryCode says whether the code of the form is one of somebody's second step, or
// one of their recovery codes, unless there were too many tries. A code fits once.
func (s *Site) tryCode(c *gin.Context, id int64) (bool, error) {
	var form codeForm
	if err := s.read(c, &form); err != nil {
		return false, err
	}
	return s.limited(c, "second step", fmt.Sprint(id), func() (bool, error) {
		ctx := c.Request.Context()
		step, err := s.db.SecondStep(ctx, id)
		if err != nil || !step.On {
			return false, err
		}
		secret, err := s.key.Unseal(id, step.Secret)
		if err != nil {
			return false, err
		}
		at, ok, err := account.CodeStep(secret, form.Code, s.now(), step.Last)
		if err != nil {
			return false, err
		}
		if ok {
			return s.db.TakeCode(ctx, id, at)
		}
		return s.db.TakeRecovery(ctx, id, s.key.RecoveryHash(id, form.Code))
	})
}

// limited counts a try at something secret of somebody's, and says whether it was
// let through and right. Every answer takes the same time.
func (s *Site) limited(c *gin.Context, what, whose string, right func() (bool, error)) (bool, error) {
	return s.limitedBy(c, what, s.key.Fingerprint(what, whose), s.db.TrySignIn, right)
}

// limitedBy is limited with its own way of counting.
func (s *Site) limitedBy(c *gin.Context, what string, who []byte, count func(ctx context.Context, who, source []byte) (int64, bool, error), right func() (bool, error)) (bool, error) {
	ctx, began := c.Request.Context(), time.Now()
	source := s.key.Fingerprint("address", network(c.ClientIP()))
	try, allowed, err := count(ctx, who, source)
	if err != nil {
		return false, err
	}
	ok := false
	if allowed {
		if ok, err = right(); err != nil {
			return false, err
		}
	}
	if ok {
		if err := s.db.SignedIn(ctx, try); err != nil {
			return false, err
		}
	} else {
		s.noteRefused(c, what, "limited", !allowed)
	}
	return ok, waitUntil(ctx, began.Add(s.takes))
}
