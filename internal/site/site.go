// Package site is the pages and the JSON of Boltward over HTTP. routes.go lists
// every address with the right it needs; a handler reads a form, asks the store,
// and gives a page or an error; two adapters alone turn errors into answers.
// Nothing is kept in the process that another one needs.
package site

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"sync"
	"sync/atomic"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/postgres"
	"boltward/internal/words"
	"boltward/templates"
)

// Config is what a Site is made of.
type Config struct {
	Store  *postgres.Store
	Key    account.Key
	Hasher *account.Hasher
	Log    *slog.Logger
	Now    func() time.Time
	// URL is the address people open, as in links and QR codes. Cookies are for
	// TLS alone where it is https.
	URL *url.URL
	// Proxies are the addresses that may name the visitor's own; none by default.
	Proxies []string
	// Mails says that the program can send e-mail.
	Mails bool
	// SignInsKept is how long it stays known where people signed in.
	SignInsKept time.Duration
	// Idle is after how long without use the session of an account is over; 0: never.
	Idle time.Duration
	// Ready says whether the program can serve: the database answers and its
	// schema is the one this program knows.
	Ready func(context.Context) error
	// SignInTakes is the least time an answer to signing in takes.
	SignInTakes time.Duration
	// Answered is told of each request by its method, its route and its status, and how
	// long it took; nil for nobody.
	Answered func(method, route string, status int, took time.Duration)
	// Ending is closed when the process is to end: answers that go on end then.
	Ending <-chan struct{}
}

// Site answers requests. It is an http.Handler, safe for many at once.
type Site struct {
	db       *postgres.Store
	key      account.Key
	hasher   *account.Hasher
	log      *slog.Logger
	now      func() time.Time
	url      *url.URL
	mails    bool
	kept     time.Duration  // sign-ins
	idle     time.Duration  // after which a session is over; 0: never
	guests   words.Language // of whoever comes by a personal link
	ready    func(context.Context) error
	answered func(method, route string, status int, took time.Duration)
	takes    time.Duration
	ending   <-chan struct{}
	streams  *streams
	hashing  turns
	reading  turns
	sessions *scs.SessionManager
	pages    map[string]templates.Page
	bytes    map[string]*atomic.Int64 // of the last page of each template, in bytes
	files    *fileSet
	routes   []route
	listed   []listed
	handler  http.Handler
	drawn    sync.Map // of drawnStep: its drawing, as template.HTML

	shrinking turns // photos, one at a time
	trying    turns // rules by eye, one at a time
	telling   turns // forecasts, one at a time: anybody with a link may load their page again and again
	played    drivesPlayed
}

// What is built into the program is read once, for every Site of a process, and a page parsed once.
var (
	everyFile = sync.OnceValues(loadFiles)
	everyPage = sync.OnceValues(func() (map[string]templates.Page, error) {
		files, err := everyFile()
		if err != nil {
			return nil, err
		}
		return templates.Parse(functions(), files.path)
	})
)

// New gives the Site. It fails when the layout does not parse or a route is
// listed without the right it needs.
func New(cfg Config) (*Site, error) {
	s := &Site{
		guests: words.In("en"),
		db:     cfg.Store, key: cfg.Key, hasher: cfg.Hasher, log: cfg.Log, now: cfg.Now,
		url: cfg.URL, ready: cfg.Ready, answered: cfg.Answered, mails: cfg.Mails, kept: cfg.SignInsKept, idle: cfg.Idle, takes: cfg.SignInTakes, ending: cfg.Ending, streams: newStreams(),
		hashing: newTurns(hashesAtOnce), reading: newTurns(readAtOnce), shrinking: newTurns(1), trying: newTurns(1), telling: newTurns(1), played: drivesPlayed{},
	}
	var err error
	if s.files, err = everyFile(); err != nil {
		return nil, err
	}
	if s.pages, err = everyPage(); err != nil {
		return nil, err
	}
	s.bytes = make(map[string]*atomic.Int64, len(s.pages))
	for name := range s.pages {
		s.bytes[name] = &atomic.Int64{}
	}
	s.sessions = newSessions(cfg.Store.Pool(), cfg.URL.Scheme == "https", s.sessionFailed)
	s.list()
	s.navigate()
	engine, err := s.engine(cfg.Proxies)
	if err != nil {
		return nil, err
	}
	s.handler, err = s.wrap(engine)
	return s, err
}

func (s *Site) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	s.handler.ServeHTTP(w, r)
}

// engine puts every route of routes.go on the router.
func (s *Site) engine(proxies []string) (*gin.Engine, error) {
	gin.SetMode(gin.ReleaseMode)
	engine := gin.New()
	engine.ContextWithFallback = true
	engine.HandleMethodNotAllowed = true
	engine.RedirectTrailingSlash = false
	if err := engine.SetTrustedProxies(proxies); err != nil {
		return nil, fmt.Errorf("trusted proxies: %w", err)
	}
	for _, r := range s.routes {
		if err := r.check(); err != nil {
			return nil, err
		}
		engine.Handle(r.method, r.path, s.mount(r))
	}
	engine.NoRoute(s.asPage(s.noSuchPage))
	engine.NoMethod(s.asPage(s.noSuchMethod))
	return engine, nil
}
