package site

import (
	"context"
	"encoding/gob"
	"fmt"
	"net/http"
	"time"

	"github.com/alexedwards/scs/pgxstore"
	"github.com/alexedwards/scs/v2"
	"github.com/gin-gonic/gin"
	"github.com/jackc/pgx/v5/pgxpool"

	"boltward/internal/account"
)

// What a session holds.
const (
	sessionSignIn = "sign-in" // the number under which the database knows whose it is
	sessionHalf   = "half"    // who has given the password and not the second step yet
	sessionFlash  = "flash"
	sessionTries  = "tries" // a key of this browser, by which its tries at digits are counted
	sessionOver   = "over"  // why nobody is signed in here any more
	sessionUntil  = "until" // when it is over at the latest; none in sessions of before, which end whole
)

// sessionLife is how long somebody stays signed in, and sessionAfter how much longer their
// browser can be told that it was for so long.
const (
	sessionLife  = 7 * 24 * time.Hour
	sessionAfter = 7 * 24 * time.Hour
)

// flash is what the next page says was done, once, and how to undo it.
type flash struct {
	Text string
	Undo string // where to send an undo; empty where there is none
	Of   int64  `json:",omitempty"` // the sign-in it is said to; 0: to whoever is at the browser
}

// quickSessions writes what sessions hold without waiting until it lies on the disk: where
// Postgres is cut off within the second, a browser is as it was before, and its person signs in
// again at worst. That somebody left, and that a session is over, is waited for.
type quickSessions struct {
	*pgxstore.PostgresStore
	pool *pgxpool.Pool
}

func (s quickSessions) Commit(token string, data []byte, expiry time.Time) error {
	const q = `INSERT INTO sessions (token, data, expiry)
		SELECT $1, $2, $3 FROM (SELECT set_config('synchronous_commit', 'off', true)) quick
		ON CONFLICT (token) DO UPDATE SET data = EXCLUDED.data, expiry = EXCLUDED.expiry`
	_, err := s.pool.Exec(context.Background(), q, token, data, expiry)
	return err
}

// newSessions keeps sessions in the database, their tokens as hashes. Those
// past their time are cleared away at sign-in, so no goroutine has to live on.
func newSessions(pool *pgxpool.Pool, secure bool, failed func(http.ResponseWriter, *http.Request, error)) *scs.SessionManager {
	gob.Register(flash{}) // in sessions of before
	gob.Register(half{})
	m := scs.New()
	m.Codec = sessionCodec{}
	m.Store = quickSessions{pgxstore.NewWithCleanupInterval(pool, 0), pool}
	m.HashTokenInStore = true
	m.Lifetime = sessionLife + sessionAfter
	m.ErrorFunc = failed
	m.Cookie.Name = "boltward"
	if secure {
		// The prefix makes browsers refuse the cookie from anybody but this host.
		m.Cookie.Name = "__Host-boltward"
	}
	m.Cookie.HttpOnly = true
	m.Cookie.SameSite = http.SameSiteLaxMode
	m.Cookie.Secure = secure
	m.Cookie.Path = "/"
	return m
}

// enter lets somebody in whose password was right: at once, or where they have a
// second step by the page that asks for it.
func (s *Site) enter(c *gin.Context, p account.Person, next string) error {
	step, err := s.db.SecondStep(c.Request.Context(), p.ID)
	if err != nil {
		return err
	}
	if step.On {
		return s.beginHalf(c, p, next)
	}
	if err := s.begin(c, p, false); err != nil {
		return err
	}
	return s.seeOther(c, nextOrHome(next))
}

// begin signs somebody in: under a new token, so that one planted before is worth nothing.
// second says that they have passed their second step.
func (s *Site) begin(c *gin.Context, p account.Person, second bool) error {
	number, err := s.db.BeginSignIn(c.Request.Context(), p, s.device(c, p.ID), second, s.mails)
	if err != nil {
		return err
	}
	s.log.InfoContext(c.Request.Context(), "signed in", "account", p.ID, "sign-in", number, "second", second, "request", traceOf(c).number)
	return s.hold(c, number)
}

// hold gives the browser a new session, of this number; the one it had is over.
func (s *Site) hold(c *gin.Context, number int64) error {
	ctx := c.Request.Context()
	if old := s.sessions.GetInt64(ctx, sessionSignIn); old != 0 && old != number { // the same where a form is sent twice
		if err := s.db.LeaveSignIn(ctx, old); err != nil {
			return err
		}
	}
	if err := s.renew(ctx); err != nil {
		return err
	}
	s.sessions.Put(ctx, sessionSignIn, number)
	s.sessions.Put(ctx, sessionUntil, s.sessions.Deadline(ctx).Add(-sessionAfter))
	return nil
}

// livedOut says whether somebody was signed in by this session for as long as anybody may be. It is
// judged by the clock by which sessions go.
func (s *Site) livedOut(ctx context.Context) bool {
	until := s.sessions.GetTime(ctx, sessionUntil)
	return !until.IsZero() && time.Until(until) <= 0
}

// renew changes the token and forgets who had it, with what was to be said to them.
func (s *Site) renew(ctx context.Context) error {
	if err := s.sessions.RenewToken(ctx); err != nil {
		return fmt.Errorf("renew the session: %w", err)
	}
	s.sessions.Remove(ctx, sessionSignIn)
	s.sessions.Remove(ctx, sessionHalf)
	s.sessions.Remove(ctx, sessionOver)
	s.sessions.Remove(ctx, sessionUntil)
	if f, ok := s.sessions.Get(ctx, sessionFlash).(flash); ok && f.Of != 0 {
		s.sessions.Remove(ctx, sessionFlash)
	}
	return nil
}

// flash says on the next page what was done.
func (s *Site) flash(c *gin.Context, format string, args ...any) {
	s.flashUndo(c, "", format, args...)
}

// flashUndo says what was done and offers to undo it by a POST to this address.
func (s *Site) flashUndo(c *gin.Context, undo, format string, args ...any) {
	ctx, of := c.Request.Context(), visitorOf(c).signIn
	if s.sessions.GetInt64(ctx, sessionSignIn) != of { // a page for everybody, or they have just left
		of = 0
	}
	s.sessions.Put(ctx, sessionFlash, flash{Text: fmt.Sprintf(format, args...), Undo: undo, Of: of})
}

// takeFlash gives what is to be said, once; a part of a page that is fetched
// for another leaves it for the next whole one, and what is said to somebody
// waits for a page that they were let into.
func (s *Site) takeFlash(c *gin.Context) *flash {
	ctx := c.Request.Context()
	if c.GetHeader("HX-Request") != "" || sessionless(c.Request.URL.Path) || !s.sessions.Exists(ctx, sessionFlash) {
		return nil
	}
	f, _ := s.sessions.Get(ctx, sessionFlash).(flash)
	if f.Of != 0 && f.Of != visitorOf(c).signIn {
		return nil
	}
	s.sessions.Remove(ctx, sessionFlash)
	return &f
}
