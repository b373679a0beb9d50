package site

import (
	"errors"
	"fmt"
	"maps"
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

// invitePage makes an invitation, and then shows its link, once.
type invitePage struct {
	Form     inviteForm
	Problems map[string]string
	Roles    []option
	Made     *inviteMade
}

func (invitePage) template() string { return "invite.html" }
func (invitePage) title() string    { return "Invite somebody" }

type inviteForm struct {
	Name    string `form:"name"`
	Role    string `form:"role"`
	Current string `form:"current" typed:"secret"`
}

// inviteMade is what is shown of an invitation that was just made.
type inviteMade struct {
	Address string
	Text    string // a message that holds it
	Mail    string // the same as a draft
	Days    int
}

// invitedPage is what the link of an invitation opens.
type invitedPage struct {
	Invite   postgres.Invite
	Does     string
	Token    string
	You      *account.Person // who is signed in here
	Form     linkForm
	Problems map[string]string
	Least    int
}

func (invitedPage) template() string { return "invited.html" }
func (p invitedPage) title() string  { return "You are invited" }

// invite handles GET /drives/:drive/settings/people/invite.
func (s *Site) invite(c *gin.Context) error {
	return s.page(c, http.StatusOK, invitePage{Form: inviteForm{Role: string(account.Desk)}, Roles: roleOptions()})
}

// makeInvite handles POST /drives/:drive/settings/people/invite: the answer is the
// only page that shows the link; the same form sent again shows the same one.
func (s *Site) makeInvite(c *gin.Context) error {
	page := invitePage{Problems: map[string]string{}, Roles: roleOptions()}
	if err := s.readSecret(c, &page.Form); err != nil {
		return err
	}
	if page.Form.Role == string(account.Organiser) { // as where a role is changed
		why, err := s.askPassword(c, page.Form.Current)
		if err != nil {
			return err
		}
		if page.Form.Current = ""; why != "" {
			page.Problems["current"] = why
			return s.page(c, http.StatusUnprocessableEntity, page)
		}
	}
	link, err := account.NewLinkID()
	if err != nil {
		return err
	}
	made, err := s.db.MakeInvite(c.Request.Context(), s.act(c), account.Role(page.Form.Role), page.Form.Name, link)
	if adopt(page.Problems, err) {
		return s.page(c, http.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	address := s.url.String() + "/invite/" + s.key.Sign(made.Link)
	text := fmt.Sprintf("%s invites you to help with %s.\n\nOpen this link and choose a password. It works once, until %s.\n\n%s\n",
		s.person(c).Name, s.drive(c).Name, made.Until.In(s.drive(c).Location()).Format("2 January 2006, 15:04"), address)
	page.Made = &inviteMade{
		Address: address, Text: text, Mail: draft("", "Help with "+s.drive(c).Name, text), Days: int(account.InviteLife.Hours() / 24),
	}
	return s.page(c, http.StatusOK, page)
}

// endInvite handles POST /drives/:drive/settings/people/invites/:invite/end.
func (s *Site) endInvite(c *gin.Context) error {
	number, err := s.number(c, "invite")
	if err != nil {
		return err
	}
	if err := s.db.EndInvite(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "The invitation is ended. Its link opens nothing any more.")
	return s.seeOther(c, s.path(c, "settings", "people"))
}

// invited handles GET /invite/:token. Looking changes nothing.
func (s *Site) invited(c *gin.Context) error {
	_, i, err := s.openInvite(c)
	if err != nil {
		return err
	}
	return s.invitedPage(c, http.StatusOK, i, linkForm{Name: i.Name}, nil)
}

// takeInvite handles POST /invite/:token: somebody new says who they are and
// chooses a password; whoever is signed in takes the role.
func (s *Site) takeInvite(c *gin.Context) error {
	ctx := c.Request.Context()
	if err := needKey(c); err != nil {
		return err
	}
	link, i, err := s.openInvite(c)
	if err != nil {
		return err
	}
	you, err := s.ownVisit(c)
	if err != nil {
		return err
	}
	if you != nil {
		if i, err = s.db.TakeInvite(ctx, link, onceKey(c), you.person); err != nil {
			return err
		}
		s.flash(c, "You have joined %s.", i.DriveName)
		return s.seeOther(c, drivePath(i.Drive))
	}
	var form linkForm
	if err := s.readSecret(c, &form); err != nil {
		return err
	}
	p, err := s.joinNow(c, link, form)
	if problems := apperr.Fields(err); problems != nil {
		return s.invitedPage(c, http.StatusUnprocessableEntity, i, form, problems)
	}
	if err != nil {
		return err
	}
	s.flash(c, "Welcome to %s, %s. You can sign in from now on.", i.DriveName, p.Name)
	return s.enter(c, p, drivePath(i.Drive))
}

// joinNow makes the account of whoever was invited.
func (s *Site) joinNow(c *gin.Context, link string, form linkForm) (account.Person, error) {
	ctx, problems := c.Request.Context(), map[string]string{}
	_, err := account.CleanName(form.Name)
	maps.Copy(problems, apperr.Fields(err))
	email, err := account.CleanEmail(form.Email)
	maps.Copy(problems, apperr.Fields(err))
	hash := ""
	err = s.inTurn(ctx, func() (err error) {
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
	// Whoever holds a link could ask it who signs in here, address by address.
	var p account.Person
	var refused error
	joining := postgres.Joining{Link: link, Name: form.Name, Email: form.Email}
	ok, err := s.limited(c, "invite", link, func() (bool, error) {
		p, refused = s.db.JoinByInvite(ctx, joining, onceKey(c), hash)
		return refused == nil, nil
	})
	if err == nil && refused == nil && !ok {
		refused = apperr.Invalid("", "There were too many tries. Wait a quarter of an hour.")
	}
	if err = errors.Join(err, refused); err != nil {
		return account.Person{}, err
	}
	return p, s.samePassword(c, email, form.Password, hash)
}

// openInvite gives the id of the link in the address and the invitation it opens.
func (s *Site) openInvite(c *gin.Context) (string, postgres.Invite, error) {
	id, ok := s.key.Open(c.Param("token"))
	if !ok {
		return "", postgres.Invite{}, apperr.NotFound("This link is not whole. Copy all of it, or ask for a new one.")
	}
	i, err := s.db.InviteOf(c.Request.Context(), id, onceKey(c))
	return id, i, err
}

// ownVisit gives who is signed in with an account, on a page for everybody; nil
// where nobody is, or a tablet's pass.
func (s *Site) ownVisit(c *gin.Context) (*visitor, error) {
	v, err := s.visit(c, "")
	if err != nil || v == nil || v.pass != nil {
		return nil, err
	}
	return v, nil
}

func (s *Site) invitedPage(c *gin.Context, status int, i postgres.Invite, form linkForm, problems map[string]string) error {
	form.Password = ""
	page := invitedPage{Invite: i, Does: i.Role.Does(), Token: c.Param("token"), Form: form, Problems: problems, Least: account.MinPassword}
	you, err := s.ownVisit(c)
	if err != nil {
		return err
	}
	if you != nil {
		page.You = &you.person
	}
	return s.page(c, status, page)
}
