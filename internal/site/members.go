package site

import (
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

// membersPage lists who signs in for a drive. Addresses and what is open are for
// organisers.
type membersPage struct {
	Members []memberRow
	Invites []postgres.Invite
	Without int // organisers without a second step
}

func (membersPage) template() string { return "members.html" }
func (membersPage) title() string    { return "People who sign in" }

type memberRow struct {
	postgres.DriveMember
	Does string
	You  bool
}

// memberPage is one of them, with what an organiser may do.
type memberPage struct {
	Member   postgres.DriveMember
	You      bool
	Role     string
	Roles    []option
	Problems map[string]string
	Clash    clash
}

func (memberPage) template() string { return "member.html" }
func (p memberPage) title() string  { return p.Member.Name }

type roleForm struct {
	Role    string `form:"role"`
	Version string `form:"version"`
	Current string `form:"current" typed:"secret"`
}

// members handles GET /drives/:drive/settings/people.
func (s *Site) members(c *gin.Context) error {
	ctx := c.Request.Context()
	members, err := s.db.Members(ctx, s.driveID(c))
	if err != nil {
		return err
	}
	var page membersPage
	organises := s.may(c, account.Drive, account.Write)
	for _, m := range members {
		if m.Role == account.Organiser && !m.Second {
			page.Without++
		}
		if !organises {
			m.Email = ""
		}
		page.Members = append(page.Members, memberRow{m, m.Role.Does(), m.ID == s.person(c).ID})
	}
	if organises {
		if page.Invites, err = s.db.Invites(ctx, s.driveID(c)); err != nil {
			return err
		}
	}
	return s.page(c, http.StatusOK, page)
}

// member handles GET /drives/:drive/settings/people/:account.
func (s *Site) member(c *gin.Context) error {
	return s.memberWith(c, http.StatusOK, func(m postgres.DriveMember) memberPage {
		return memberPage{Member: m, Role: string(m.Role)}
	})
}

// memberWith shows the member of the address as fill makes the page of what stands.
func (s *Site) memberWith(c *gin.Context, status int, fill func(postgres.DriveMember) memberPage) error {
	id, err := s.number(c, "account")
	if err != nil {
		return err
	}
	m, err := s.db.Member(c.Request.Context(), s.driveID(c), id)
	if err != nil {
		return err
	}
	page := fill(m)
	page.You, page.Roles = m.ID == s.person(c).ID, roleOptions()
	return s.page(c, status, page)
}

// changeRole handles POST /drives/:drive/settings/people/:account/role. Making somebody an
// organiser asks for the password: it outlives the session of whoever did it.
func (s *Site) changeRole(c *gin.Context) error {
	id, err := s.number(c, "account")
	if err != nil {
		return err
	}
	var form roleForm
	if err := s.readSecret(c, &form); err != nil {
		return err
	}
	role, bad := account.ParseRole(form.Role)
	if bad != nil {
		return s.memberWith(c, http.StatusUnprocessableEntity, func(m postgres.DriveMember) memberPage {
			return memberPage{Member: m, Role: string(m.Role), Problems: map[string]string{"role": "Choose a role from the list."}}
		})
	}
	if role == account.Organiser {
		why, err := s.askPassword(c, form.Current)
		if err != nil {
			return err
		}
		if why != "" {
			return s.memberWith(c, http.StatusUnprocessableEntity, func(m postgres.DriveMember) memberPage {
				return memberPage{Member: m, Role: form.Role, Problems: map[string]string{"current": why}}
			})
		}
	}
	return s.setRole(c, id, form, role, "The role is changed.")
}

// takeRole handles POST /drives/:drive/settings/people/:account/leave.
func (s *Site) takeRole(c *gin.Context) error {
	id, err := s.number(c, "account")
	if err != nil {
		return err
	}
	var form roleForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	return s.setRole(c, id, form, "", "The role is taken away. This drive is closed to them.")
}

func (s *Site) setRole(c *gin.Context, id int64, form roleForm, role account.Role, done string) error {
	ctx := c.Request.Context()
	version, err := strconv.Atoi(form.Version)
	if err != nil {
		return apperr.Invalid("", "The form did not arrive whole. Open the page again and send it once more.")
	}
	err = s.db.ChangeRole(ctx, s.act(c), id, version, role)
	if apperr.Is(err, apperr.KindConflict) {
		why := apperr.As(err).Text
		return s.memberWith(c, http.StatusConflict, func(m postgres.DriveMember) memberPage {
			page := memberPage{Member: m, Role: form.Role}
			if m.Version == version {
				page.Problems = map[string]string{"": why}
			} else {
				typed := form
				if role == "" {
					typed.Role = "no role"
				}
				page.Clash = newClash(roleForm{Role: string(m.Role)}, typed, []clashField{{"role", "Role", nil}})
			}
			return page
		})
	}
	if err != nil {
		return err
	}
	s.flash(c, "%s", done)
	if id == s.person(c).ID && role != account.Organiser {
		return s.seeOther(c, "/")
	}
	return s.seeOther(c, s.path(c, "settings", "people"))
}

// endSessions handles POST /drives/:drive/settings/people/:account/end-sessions.
func (s *Site) endSessions(c *gin.Context) error {
	id, err := s.number(c, "account")
	if err != nil {
		return err
	}
	if err := s.db.EndSessions(c.Request.Context(), s.act(c), id); err != nil {
		return err
	}
	if id == s.person(c).ID {
		return s.seeOther(c, "/sign-in")
	}
	s.flash(c, "They are signed out everywhere, and have to sign in again.")
	return s.seeOther(c, s.path(c, "settings", "people", id))
}

// roleOptions gives the roles of people who sign in, with what each does.
func roleOptions() []option { return roleWords(account.Roles()) }

func roleWords(roles []account.Role) []option {
	var options []option
	for _, r := range roles {
		if r.SignsIn() {
			options = append(options, option{string(r), fmt.Sprintf("%s: %s", r, r.Does())})
		}
	}
	return options
}
