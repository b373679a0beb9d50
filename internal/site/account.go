package site

import (
	"html/template"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// accountPage is one's own account.
type accountPage struct {
	Email    string
	Drives   []driveLine
	Second   postgres.SecondStep
	Places   []signedInAt
	Last     []lastSignIn
	NoCode   []withoutCode
	Alarm    *withoutCode // the last of these that is open
	Kept     int          // for how many days sign-ins stay known
	Mails    bool         // whoever signs in at a new browser is told by mail
	Zone     string       // of the times: that of the first of the drives
	Problems map[string]string
	Least    int // characters of a password
}

func (accountPage) template() string { return "account.html" }
func (accountPage) title() string    { return "Your account" }

// signedInAt is one place where somebody is signed in.
type signedInAt struct {
	postgres.SignIn
	Here          bool // this very session
	Since, Lately template.HTML
}

type passwordForm struct {
	Current  string `form:"current" typed:"secret"`
	Password string `form:"password" typed:"secret"`
}

// account handles GET /account.
func (s *Site) account(c *gin.Context) error {
	return s.accountWith(c, http.StatusOK, nil)
}

func (s *Site) accountWith(c *gin.Context, status int, problems map[string]string) error {
	ctx, v := c.Request.Context(), visitorOf(c)
	page := accountPage{Email: v.person.Email, Problems: problems, Least: account.MinPassword}
	members, err := s.db.MemberOf(ctx, v.person.ID)
	if err != nil {
		return err
	}
	zone := time.UTC
	for i, m := range members {
		if i == 0 {
			zone = drive.Drive{Zone: m.Zone}.Location()
		}
		page.Drives = append(page.Drives, driveLine{m, drivePath(m.DriveID)})
	}
	if page.Second, err = s.db.SecondStep(ctx, v.person.ID); err != nil {
		return err
	}
	places, err := s.db.SignIns(ctx, v.person.ID, s.now().Add(-sessionLife), s.idle)
	if err != nil {
		return err
	}
	for _, at := range places {
		page.Places = append(page.Places, signedInAt{at, at.ID == v.signIn, moment(at.Began, zone), moment(at.Seen, zone)})
	}
	if page.Last, err = s.lastSignIns(c, zone, lastShown); err != nil {
		return err
	}
	if page.NoCode, err = s.withoutCode(c, zone, lastShown); err != nil {
		return err
	}
	page.Alarm = lastOpen(page.NoCode)
	page.Zone, page.Mails, page.Kept = zone.String(), s.mails, int(s.kept.Hours()/24)
	return s.page(c, status, page)
}

// changePassword handles POST /account/password.
func (s *Site) changePassword(c *gin.Context) error {
	ctx, v := c.Request.Context(), visitorOf(c)
	var form passwordForm
	if err := s.readSecret(c, &form); err != nil {
		return err
	}
	// Sent twice, the password it asks for is the old one no longer.
	done, err := s.db.PasswordChanged(ctx, s.act(c))
	if err != nil {
		return err
	}
	if done {
		return s.passwordChanged(c, form.Password, "")
	}
	if why, err := s.askPassword(c, form.Current); err != nil {
		return err
	} else if why != "" {
		return s.accountWith(c, http.StatusUnprocessableEntity, map[string]string{"current": why})
	}
	hash := ""
	err = s.inTurn(ctx, func() (err error) {
		hash, err = s.hasher.Hash(form.Password, v.person.Email)
		return err
	})
	if problems := apperr.Fields(err); problems != nil {
		return s.accountWith(c, http.StatusUnprocessableEntity, problems)
	}
	if err != nil {
		return err
	}
	if err := s.db.ChangePassword(ctx, s.act(c), hash, v.signIn); err != nil {
		return err
	}
	if err := s.sessions.RenewToken(ctx); err != nil {
		return err
	}
	return s.passwordChanged(c, form.Password, hash)
}

// askPassword says what is wrong with a password that whoever is signed in types once more,
// before what an unattended device must not do; nothing where it is theirs.
func (s *Site) askPassword(c *gin.Context, typed string) (why string, err error) {
	fits, err := s.isPassword(c, typed)
	if err != nil || fits {
		return "", err
	}
	return notYourPassword, nil
}

func (s *Site) passwordChanged(c *gin.Context, typed, hash string) error {
	if err := s.samePassword(c, visitorOf(c).person.Email, typed, hash); err != nil {
		return err
	}
	s.flash(c, "Your password is changed. Wherever else you were signed in, you are signed out.")
	return s.seeOther(c, "/account")
}

const notYourPassword = "This is not your password now, or there were too many tries. After several tries, wait a quarter of an hour."

// isPassword says whether this is the password of whoever asks, unless there were too
// many tries.
func (s *Site) isPassword(c *gin.Context, typed string) (bool, error) {
	return s.isPasswordOf(c, visitorOf(c).person.Email, typed)
}

// samePassword refuses a form that was taken before with another password. Nothing that is
// kept of a form tells its password, so the account itself is asked: it has this hash, where
// the form was taken just now, or one that the typed password fits, where it came before.
func (s *Site) samePassword(c *gin.Context, email, typed, hash string) error {
	_, kept, err := s.db.Credentials(c.Request.Context(), email)
	if err != nil || hash != "" && kept == hash {
		return err
	}
	fits, err := s.isPasswordOf(c, email, typed)
	if err == nil && !fits {
		err = apperr.Conflict("This form was sent before with another password, or there were too many tries. Try which of them signs you in before you send it again.")
	}
	return err
}

func (s *Site) isPasswordOf(c *gin.Context, email, typed string) (bool, error) {
	ctx := c.Request.Context()
	_, kept, err := s.db.Credentials(ctx, email)
	if err != nil {
		return false, err
	}
	return s.limited(c, "account", email, func() (ok bool, err error) {
		err = s.inTurn(ctx, func() error {
			ok, err = s.hasher.Check(typed, kept)
			return err
		})
		return ok, err
	})
}

// endSignIn handles POST /account/signed-in/:place/end.
func (s *Site) endSignIn(c *gin.Context) error {
	place, err := s.number(c, "place")
	if err != nil {
		return err
	}
	if err := s.db.EndSignIn(c.Request.Context(), s.act(c), place); err != nil {
		return err
	}
	s.flash(c, "You are signed out there.")
	return s.seeOther(c, "/account")
}

// endOtherSignIns handles POST /account/sign-out-elsewhere.
func (s *Site) endOtherSignIns(c *gin.Context) error {
	if err := s.db.EndOtherSignIns(c.Request.Context(), s.act(c), visitorOf(c).signIn); err != nil {
		return err
	}
	s.flash(c, "Wherever else you were signed in, you are signed out.")
	return s.seeOther(c, "/account")
}
