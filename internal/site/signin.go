package site

import (
	"context"
	"net/http"
	"net/netip"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
)

// hashesAtOnce bounds how many passwords are checked at the same time: each
// takes 19 MiB, and a flood of tries must not take all there is.
const hashesAtOnce = 4

// refusedSignIn is all that a failed try tells, whatever failed.
const refusedSignIn = "That address and password do not go together here, or there were too many tries. Check both; after several tries, wait a quarter of an hour."

// signInPage is the door. First says that nobody can sign in yet.
type signInPage struct {
	Form     signInForm
	Problems map[string]string
	First    bool
	Over     string // why nobody is signed in here any more
}

func (signInPage) template() string { return "sign-in.html" }
func (signInPage) title() string    { return "Sign in" }

type signInForm struct {
	Email    string `form:"email"`
	Password string `form:"password" typed:"secret"`
	Next     string `form:"next"`
}

// signIn handles GET /sign-in.
func (s *Site) signIn(c *gin.Context) error {
	next := ownPath(c.Query("next"))
	v, err := s.visit(c, "")
	if err != nil {
		return err
	}
	if v != nil && v.pass == nil {
		return s.seeOther(c, nextOrHome(next))
	}
	any, err := s.db.AnyAccount(c.Request.Context())
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, signInPage{Form: signInForm{Next: next}, First: !any, Over: s.whyOver(c)})
}

// signInNow handles POST /sign-in. Every refusal takes the same time and says
// the same, so that it tells nothing about who has an account.
func (s *Site) signInNow(c *gin.Context) error {
	began := time.Now()
	var form signInForm
	if err := s.readSecret(c, &form); err != nil {
		return err
	}
	person, ok, err := s.tryPassword(c, form)
	if err != nil {
		return err
	}
	if err := waitUntil(c.Request.Context(), began.Add(s.takes)); err != nil {
		return err
	}
	if !ok {
		return s.page(c, http.StatusUnprocessableEntity, signInPage{
			Form:     signInForm{Email: form.Email, Next: ownPath(form.Next)},
			Problems: map[string]string{"": refusedSignIn},
		})
	}
	return s.enter(c, person, ownPath(form.Next))
}

// signOut handles POST /sign-out.
func (s *Site) signOut(c *gin.Context) error {
	ctx, v := c.Request.Context(), visitorOf(c)
	if err := s.db.LeaveSignIn(ctx, v.signIn); err != nil {
		return err
	}
	if err := s.sessions.Destroy(ctx); err != nil {
		return err
	}
	if v.pass != nil {
		return s.seeOther(c, "/pass/over")
	}
	return s.seeOther(c, "/sign-in")
}

// tryPassword says whether the address and the password go together, unless
// there were too many tries.
func (s *Site) tryPassword(c *gin.Context, form signInForm) (account.Person, bool, error) {
	ctx := c.Request.Context()
	email := strings.ToLower(form.Email)
	who := s.key.Fingerprint("account", email)
	source := s.key.Fingerprint("address", network(c.ClientIP()))
	try, allowed, err := s.db.TrySignIn(ctx, who, source)
	if err != nil {
		return account.Person{}, false, err
	}
	if !allowed {
		s.noteRefused(c, "password", "limited", true)
		return account.Person{}, false, nil
	}
	person, hash, err := s.db.Credentials(ctx, email)
	if err != nil {
		return account.Person{}, false, err
	}
	ok := false
	err = s.inTurn(ctx, func() error {
		ok, err = s.hasher.Check(form.Password, hash)
		return err
	})
	if err != nil {
		return account.Person{}, false, err
	}
	if !ok {
		s.noteRefused(c, "password", "limited", false, "whose", person.ID) // 0: nobody has the address
		return account.Person{}, false, nil
	}
	return person, true, s.db.SignedIn(ctx, try)
}

// inTurn runs work that takes much memory when few others do.
func (s *Site) inTurn(ctx context.Context, work func() error) error {
	end, err := s.hashing.take(ctx)
	if err != nil {
		return err
	}
	defer end()
	return work()
}

// network gives what tries are counted by: an IPv4 address, or the /64 that one
// household or hall has of IPv6.
func network(address string) string {
	a, err := netip.ParseAddr(address)
	if err != nil {
		return address
	}
	if a = a.Unmap(); a.Is4() {
		return a.String()
	}
	return netip.PrefixFrom(a.WithZone(""), 64).Masked().String()
}

func nextOrHome(next string) string {
	if next == "" {
		return "/"
	}
	return next
}

func waitUntil(ctx context.Context, at time.Time) error {
	timer := time.NewTimer(time.Until(at))
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
