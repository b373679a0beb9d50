package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sync"
	"syscall"
	"time"

	"boltward/internal/localpg"
)

// driveID is the drive that boltward demo loads.
const driveID = "lantern-row"

// crew is the people who work at the same time.
type crew struct{ helpers, volunteers []*person }

// hall is everything that runs: the database, the programs, the people.
type hall struct {
	crew
	cfg      config
	folder   string
	database *localpg.Server
	env      []string
	running  []*process
	web      []*process
	bareAt   string
	metrics  []string
}

// process is one program that runs until it is told to stop.
type process struct {
	cmd  *exec.Cmd
	mu   sync.Mutex
	said bytes.Buffer // on both outputs
	ends chan struct{}
	at   string
}

func (p *process) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.said.Write(b)
}

func (p *process) text() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.said.String()
}

var (
	anAddress = regexp.MustCompile(`is at (http://\S+)`)
	aFirst    = regexp.MustCompile(`http://\S+(/sign-in/link/\S+)`)
	aMetrics  = regexp.MustCompile(`"msg":"metrics","at":"([^"]+)"`)
)

// openHall starts a private Postgres with the demo drive in it, two web processes, a
// worker and the bare handler.
func openHall(ctx context.Context, cfg config) (h *hall, err error) {
	h = &hall{cfg: cfg}
	defer func() {
		if err != nil {
			err = errors.Join(err, h.close())
		}
	}()
	if h.folder, err = newFolder(); err != nil {
		return h, err
	}
	if h.database, err = localpg.Start(ctx, localpg.Config{Data: h.folder}); err != nil {
		return h, err
	}
	key := make([]byte, 32)
	if _, err := rand.Read(key); err != nil {
		return h, err
	}
	own := []string{
		"PATH=" + os.Getenv("PATH"), "HOME=" + os.TempDir(), "TMPDIR=" + os.TempDir(), "PORT=0", "METRICS_ADDR=127.0.0.1:0",
		"BOLTWARD_DATA=" + h.folder, "BOLTWARD_KEY=" + hex.EncodeToString(key),
	}
	h.env = append(own, "DATABASE_URL="+h.database.OwnerURL())
	if said, err := h.boltward(ctx, "migrate"); err != nil {
		return h, fmt.Errorf("%w: %s", err, said)
	}
	if err := asOwner(ctx, h.database.OwnerURL(), scratch); err != nil {
		return h, err
	}
	h.env = append(own, "DATABASE_URL="+h.database.ServerURL())
	if said, err := h.boltward(ctx, "demo"); err != nil {
		return h, fmt.Errorf("%w: %s", err, said)
	}
	for range 2 {
		p, err := h.start(anAddress, h.cfg.boltward, "serve", "--jobs=false")
		if err != nil {
			return h, err
		}
		h.web, h.metrics = append(h.web, p), append(h.metrics, found(aMetrics, p.text()))
	}
	if _, err := h.start(regexp.MustCompile(`(Working)`), h.cfg.boltward, "work"); err != nil {
		return h, err
	}
	self, err := os.Executable()
	if err != nil {
		return h, err
	}
	bare, err := h.start(anAddress, self, "bare", h.database.ServerURL())
	if err != nil {
		return h, err
	}
	h.bareAt = bare.at
	return h, nil
}

// boltward runs a command to its end and gives what it said.
func (h *hall) boltward(ctx context.Context, args ...string) (string, error) {
	cmd := exec.CommandContext(ctx, h.cfg.boltward, args...)
	cmd.Env = h.env
	said, err := cmd.CombinedOutput()
	if err != nil {
		return string(said), fmt.Errorf("boltward %s: %w: %s", args[0], err, lastLine(string(said)))
	}
	return string(said), nil
}

// start starts a program and waits until it says what shows that it is ready.
func (h *hall) start(ready *regexp.Regexp, name string, args ...string) (*process, error) {
	p := &process{cmd: exec.Command(name, args...), ends: make(chan struct{})}
	p.cmd.Env, p.cmd.Stdout, p.cmd.Stderr = h.env, p, p
	if err := p.cmd.Start(); err != nil {
		return nil, err
	}
	h.running = append(h.running, p)
	go func() {
		// How it ended is in its state.
		_ = p.cmd.Wait()
		close(p.ends)
	}()
	for range 1200 {
		if p.at = found(ready, p.text()); p.at != "" {
			return p, nil
		}
		select {
		case <-p.ends:
			return nil, fmt.Errorf("%s ended: %s", filepath.Base(name), lastLine(p.text()))
		case <-time.After(100 * time.Millisecond):
		}
	}
	return nil, fmt.Errorf("%s does not start: %s", filepath.Base(name), lastLine(p.text()))
}

// close stops everything and leaves nothing.
func (h *hall) close() (err error) {
	for _, p := range h.running {
		// One that has ended by itself needs no signal.
		_ = p.cmd.Process.Signal(syscall.SIGINT)
	}
	for _, p := range h.running {
		select {
		case <-p.ends:
		case <-time.After(30 * time.Second):
			err = errors.Join(err, fmt.Errorf("%s did not stop", p.cmd.Path), p.cmd.Process.Kill())
		}
	}
	if h.database != nil {
		err = errors.Join(err, h.database.Close())
	}
	if h.folder != "" {
		err = errors.Join(err, os.RemoveAll(filepath.Dir(h.folder)))
	}
	return err
}

// fill brings in the people: by the pages' own forms, but for the list of volunteers,
// which comes as a spreadsheet does.
func (h *hall) fill(ctx context.Context) error {
	list := "Name,Kind\n"
	for n := range h.cfg.volunteers {
		list += fmt.Sprintf("Sewer %04d,volunteer\n", n)
	}
	file := filepath.Join(filepath.Dir(h.folder), "people.csv")
	if err := os.WriteFile(file, []byte(list), 0o600); err != nil {
		return err
	}
	if _, err := h.boltward(ctx, "import", "people", file, "--drive", driveID); err != nil {
		return err
	}
	desk, err := h.newPerson(0)
	if err != nil {
		return err
	}
	link := found(aFirst, h.web[0].text())
	const name, password = "rosa@example.org", "heron lamp seventeen"
	if _, err := h.form(ctx, desk, link, link, url.Values{"name": {"Rosa Lind"}, "email": {name}, "password": {password}}); err != nil {
		return err
	}
	if err := h.bringVolunteers(ctx, desk); err != nil {
		return err
	}
	for n := range h.cfg.helpers {
		p, err := h.newPerson(n)
		if err != nil {
			return err
		}
		if _, err := h.form(ctx, p, "/sign-in", "/sign-in", url.Values{"email": {name}, "password": {password}}); err != nil {
			return err
		}
		p.n = 10 * n // each begins with a page, for the key of its form
		h.helpers = append(h.helpers, p)
	}
	return nil
}

var (
	aSewer = regexp.MustCompile(`<option value="(\d+)"[^>]*>Sewer (\d+)`)
	aKit   = regexp.MustCompile(`kits?=(\d+)`)
	aLink  = regexp.MustCompile(`(/v/[A-Za-z0-9._-]+)`)
)

// bringVolunteers gives each a kit of their own cloth and a link.
func (h *hall) bringVolunteers(ctx context.Context, desk *person) error {
	const own = atDrive + "/kits/own"
	_, page, err := desk.ask(ctx, http.MethodGet, desk.at+own, nil)
	if err != nil {
		return err
	}
	for _, m := range aSewer.FindAllStringSubmatch(page, -1) {
		kits, err := h.form(ctx, desk, own, own, url.Values{
			"size": {"1"}, "cases": {"6"}, "kits": {"1"}, "person": {m[1]}, "due": {time.Now().AddDate(0, 0, 28).Format(time.DateOnly)},
		})
		if err != nil {
			return err
		}
		at := atDrive + "/people/" + m[1]
		if _, err := h.form(ctx, desk, at, at+"/link", url.Values{}); err != nil {
			return err
		}
		_, page, err := desk.ask(ctx, http.MethodGet, desk.at+at, nil)
		if err != nil {
			return err
		}
		p, err := h.newPerson(len(h.volunteers))
		if err != nil {
			return err
		}
		p.link, p.kit, p.n = found(aLink, page), found(aKit, kits), 3*len(h.volunteers)
		if p.link == "" || p.kit == "" {
			return fmt.Errorf("no link or no kit for sewer %s: %q", m[2], kits)
		}
		h.volunteers = append(h.volunteers, p)
	}
	if len(h.volunteers) != h.cfg.volunteers {
		return fmt.Errorf("%d of %d volunteers can be chosen for a kit", len(h.volunteers), h.cfg.volunteers)
	}
	return nil
}

func (h *hall) newPerson(n int) (*person, error) {
	jar, err := cookiejar.New(nil)
	return &person{at: h.web[n%len(h.web)].at, client: &http.Client{
		Jar: jar, Timeout: time.Minute, Transport: &http.Transport{MaxIdleConnsPerHost: 2},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}, err
}

// form fills the form of a page, sends it, and gives where the answer led.
func (h *hall) form(ctx context.Context, p *person, page, to string, values url.Values) (string, error) {
	_, text, err := p.ask(ctx, http.MethodGet, p.at+page, nil)
	if err != nil {
		return "", err
	}
	values.Set("once", found(aKey, text))
	var led string
	client := *p.client
	client.CheckRedirect = func(r *http.Request, _ []*http.Request) error {
		led = r.URL.RequestURI()
		return http.ErrUseLastResponse
	}
	status, text, err := (&person{client: &client}).ask(ctx, http.MethodPost, p.at+to, values)
	if err == nil && status != http.StatusSeeOther {
		err = fmt.Errorf("the form at %s: status %d: %.500s", page, status, text)
	}
	return led, err
}
