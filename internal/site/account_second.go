package site

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

const secondStepPath = "/account/second-step"

// secondStepPage sets the second step of signing in up, and turns it off again.
type secondStepPage struct {
	On       bool
	Left     int       // recovery codes not used yet
	Of       int       // recovery codes in all
	Code     codeDrawn // of the secret, while it is set up
	Secret   string    // the same in text; empty where none was begun
	Asked    []driveLine
	Problems map[string]string
	Which    string // the form that was refused
}

func (secondStepPage) template() string { return "second-step.html" }
func (secondStepPage) title() string    { return "The second step" }

// recoveryPage shows recovery codes, once.
type recoveryPage struct {
	Codes []string
	Begun bool // the second step was turned on just now
}

func (recoveryPage) template() string { return "recovery.html" }
func (recoveryPage) title() string    { return "Your recovery codes" }

// secondStep handles GET /account/second-step.
func (s *Site) secondStep(c *gin.Context) error {
	return s.secondStepWith(c, http.StatusOK, "", nil)
}

func (s *Site) secondStepWith(c *gin.Context, status int, which string, problems map[string]string) error {
	ctx, p := c.Request.Context(), s.person(c)
	step, err := s.db.SecondStep(ctx, p.ID)
	if err != nil {
		return err
	}
	page := secondStepPage{On: step.On, Left: step.Left, Of: account.RecoveryCodes, Problems: problems, Which: which}
	members, err := s.db.MemberOf(ctx, p.ID)
	if err != nil {
		return err
	}
	for _, m := range members {
		if m.AsksSecond && m.Role == account.Organiser {
			page.Asked = append(page.Asked, driveLine{m, drivePath(m.DriveID)})
		}
	}
	if step.Secret != nil && !step.On {
		secret, err := s.key.Unseal(p.ID, step.Secret)
		if err != nil {
			return err
		}
		page.Secret = account.SecretText(secret)
		if page.Code, err = drawCode(account.SecretAddress(secret, p.Email)); err != nil {
			return err
		}
	}
	return s.page(c, status, page)
}

// beginSecondStep handles POST /account/second-step/begin: a new secret, to be
// confirmed by a code of it.
func (s *Site) beginSecondStep(c *gin.Context) error {
	secret, err := account.NewSecret()
	if err != nil {
		return err
	}
	sealed, err := s.key.Seal(s.person(c).ID, secret)
	if err != nil {
		return err
	}
	if err := s.db.BeginSecondStep(c.Request.Context(), s.act(c), sealed); err != nil {
		return err
	}
	return s.seeOther(c, secondStepPath)
}

// confirmSecondStep handles POST /account/second-step/confirm: with a code of the
// secret that was shown it is on. It asks for the password too: whoever finds a device
// signed in would else shut its owner out.
func (s *Site) confirmSecondStep(c *gin.Context) error {
	ctx, id, here := c.Request.Context(), s.person(c).ID, visitorOf(c).signIn
	var form secondForm
	if err := s.readSecret(c, &form); err != nil {
		return err
	}
	step, err := s.db.SecondStep(ctx, id)
	if err != nil {
		return err
	}
	codes, hashes := s.recoveryCodes(c)
	if step.On {
		// Sent twice, it shows the codes again; sent anew, it is too late.
		err := s.db.ConfirmSecondStep(ctx, s.act(c), postgres.SecondCode{SignIn: here})
		if apperr.Is(err, apperr.KindConflict) {
			return s.seeOther(c, secondStepPath)
		}
		if err != nil {
			return err
		}
		return s.page(c, http.StatusOK, recoveryPage{Codes: codes, Begun: true})
	}
	if step.Secret == nil {
		return s.seeOther(c, secondStepPath)
	}
	secret, err := s.key.Unseal(id, step.Secret)
	if err != nil {
		return err
	}
	at, ok, err := account.CodeStep(secret, form.Code, s.now(), step.Last)
	if err != nil {
		return err
	}
	if !ok {
		return s.secondStepWith(c, http.StatusUnprocessableEntity, "confirm", map[string]string{"code": "This is not the code the app shows now. Wait for the next one; if it is refused again, look whether the phone's clock is right."})
	}
	if why, err := s.askPassword(c, form.Current); why != "" || err != nil {
		if err != nil {
			return err
		}
		return s.secondStepWith(c, http.StatusUnprocessableEntity, "confirm", map[string]string{"current": why})
	}
	code := postgres.SecondCode{Secret: step.Secret, Step: at, Recovery: hashes, SignIn: here}
	if err := s.db.ConfirmSecondStep(ctx, s.act(c), code); err != nil {
		return err
	}
	return s.page(c, http.StatusOK, recoveryPage{Codes: codes, Begun: true})
}

// renewRecovery handles POST /account/second-step/codes: ten new recovery codes. Sent
// twice, it shows them again: the code it was sent with is spent.
func (s *Site) renewRecovery(c *gin.Context) error {
	codes, hashes := s.recoveryCodes(c)
	granted, err := s.db.RecoveryIs(c.Request.Context(), s.person(c).ID, hashes)
	if err != nil {
		return err
	}
	if granted {
		return s.page(c, http.StatusOK, recoveryPage{Codes: codes})
	}
	fits, err := s.tryCode(c, s.person(c).ID)
	if err != nil {
		return err
	}
	if !fits {
		return s.secondStepWith(c, http.StatusUnprocessableEntity, "codes", map[string]string{"code": refusedCode})
	}
	if err := s.db.RenewRecovery(c.Request.Context(), s.act(c), hashes); err != nil {
		return err
	}
	return s.page(c, http.StatusOK, recoveryPage{Codes: codes})
}

// endSecondStep handles POST /account/second-step/off. Sent twice, it is off: the code
// it was sent with is spent.
func (s *Site) endSecondStep(c *gin.Context) error {
	if err := parseForm(c.Request); err != nil {
		return err
	}
	ended, err := s.db.SecondStepEnded(c.Request.Context(), s.act(c))
	if err != nil {
		return err
	}
	if ended {
		return s.secondStepOff(c)
	}
	fits, err := s.tryCode(c, s.person(c).ID)
	if err != nil {
		return err
	}
	if !fits {
		return s.secondStepWith(c, http.StatusUnprocessableEntity, "off", map[string]string{"code": refusedCode})
	}
	if err := s.db.EndSecondStep(c.Request.Context(), s.act(c)); err != nil {
		return err
	}
	return s.secondStepOff(c)
}

func (s *Site) secondStepOff(c *gin.Context) error {
	s.flash(c, "Your second step is off. You sign in with the password alone.")
	return s.seeOther(c, secondStepPath)
}

// recoveryCodes gives the codes that this form asks for and what is kept of them.
func (s *Site) recoveryCodes(c *gin.Context) (codes []string, hashes [][]byte) {
	id := s.person(c).ID
	codes = s.key.RecoveryCodes(id, onceKey(c))
	for _, code := range codes {
		hashes = append(hashes, s.key.RecoveryHash(id, code))
	}
	return codes, hashes
}
