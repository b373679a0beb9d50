package site

import (
	"maps"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

// linkPage is what a sign-in link opens. Looking changes nothing: the link is
// used by sending the form.
type linkPage struct {
	Link     postgres.Link
	Token    string
	Form     linkForm
	Problems map[string]string
	Least    int // characters of a password
}

func (linkPage) template() string { return "sign-in-link.html" }
func (p linkPage) title() string {
	if p.Link.First {
		return "Be the first organiser"
	}
	return "Choose a password"
}

type linkForm struct {
	Name     string `form:"name"`
	Email    string `form:"email"`
	Password string `form:"password" typed:"secret"`
}

// signInLink handles GET /sign-in/link/:token.
func (s *Site) signInLink(c *gin.Context) error {
	_, link, err := s.openLink(c)
	if err != nil {
		return err
	}
	return s.linkPage(c, http.StatusOK, link, linkForm{}, nil)
}

// useSignInLink handles POST /sign-in/link/:token: the first organiser says who
// they are, or somebody chooses a password, and is signed in.
func (s *Site) useSignInLink(c *gin.Context) error {
	id, link, err := s.openLink(c)
	if apperr.Is(err, apperr.KindNotFound) && id != "" {
		return s.linkAgain(c, id)
	}
	if err != nil {
		return err
	}
	var form linkForm
	if err := s.readSecret(c, &form); err != nil {
		return err
	}
	person, err := s.useLink(c, id, link, form)
	if problems := apperr.Fields(err); problems != nil {
		return s.linkPage(c, http.StatusUnprocessableEntity, link, form, problems)
	}
	if err != nil {
		return err
	}
	if link.First {
		s.flash(c, "Welcome, %s. You can sign in from now on.", person.Name)
	} else {
		s.flash(c, "Your password is set. Whoever was signed in as you is signed out.")
	}
	return s.enter(c, person, "")
}

// linkAgain answers a form whose link was used already. Where it is the form that used it,
// whose answer got lost, its password is the one that was set, and signs in as it would at
// the door; all else learns no more than that the link works no more.
func (s *Site) linkAgain(c *gin.Context, id string) error {
	began := time.Now()
	var form linkForm
	if err := s.readSecret(c, &form); err != nil {
		return err
	}
	email, gone := s.db.UsedBy(c.Request.Context(), id)
	if gone != nil {
		return gone
	}
	if email == "" {
		email = form.Email
	}
	person, ok, err := s.tryPassword(c, signInForm{Email: email, Password: form.Password})
	if err != nil {
		return err
	}
	if err := waitUntil(c.Request.Context(), began.Add(s.takes)); err != nil {
		return err
	}
	if !ok {
		return apperr.NotFound("This link was used already. Sign in with the password that was chosen by it, or ask for a new link.")
	}
	s.flash(c, "Your password is set. You can sign in with it from now on.")
	return s.enter(c, person, "")
}

// openLink gives the id and the purpose of the link in the address.
func (s *Site) openLink(c *gin.Context) (string, postgres.Link, error) {
	id, ok := s.key.Open(c.Param("token"))
	if !ok {
		return "", postgres.Link{}, apperr.NotFound("This link is not whole. Copy all of it, or ask for a new one.")
	}
	link, err := s.db.Link(c.Request.Context(), id)
	return id, link, err
}

func (s *Site) useLink(c *gin.Context, id string, link postgres.Link, form linkForm) (account.Person, error) {
	ctx := c.Request.Context()
	email, problems := link.Person.Email, map[string]string{}
	if link.First {
		_, err := account.CleanName(form.Name)
		maps.Copy(problems, apperr.Fields(err))
		email, err = account.CleanEmail(form.Email)
		maps.Copy(problems, apperr.Fields(err))
	}
	var hash string
	err := s.inTurn(ctx, func() (err error) {
		hash, err = s.hasher.Hash(form.Password, email)
		return err
	})
	maps.Copy(problems, apperr.Fields(err))
	if err != nil && apperr.Fields(err) == nil {
		return account.Person{}, err
	}
	if len(problems) > 0 {
		return account.Person{}, invalid(problems)
	}
	if link.First {
		return s.db.UseFirstLink(ctx, id, form.Name, form.Email, hash)
	}
	return s.db.UseAccountLink(ctx, id, hash)
}

func (s *Site) linkPage(c *gin.Context, status int, link postgres.Link, form linkForm, problems map[string]string) error {
	form.Password = ""
	return s.page(c, status, linkPage{
		Link: link, Token: c.Param("token"), Form: form, Problems: problems, Least: account.MinPassword,
	})
}

// invalid turns messages by field into an error.
func invalid(problems map[string]string) error {
	fields := make([]apperr.Field, 0, len(problems))
	for name, why := range problems {
		fields = append(fields, apperr.Field{Name: name, Why: why})
	}
	return apperr.InvalidFields(fields)
}
