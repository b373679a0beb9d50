package site

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"
)

// quietAfter is how long a plan's row may stand still before people read that
// nobody is at work on it: its seconds move several times a second otherwise.
const quietAfter = 4 * time.Second

// planProgress is a plan that is being worked out, as its pages and their stream
// tell of it: each of its texts is a part of the page that moves by itself.
type planProgress struct {
	drive.Plan
	Wanted int
	Quiet  bool   // nobody seems to be at work on it
	Then   string // where the page goes on once the plan is done
}

// progressOf gives a plan as one that is being worked out.
func (s *Site) progressOf(c *gin.Context, p drive.Plan, then string) (*planProgress, error) {
	wanted, err := s.db.PlanWanted(c.Request.Context(), s.driveID(c), p.Number)
	return &planProgress{Plan: p, Wanted: wanted, Then: then}, err
}

// whileBusy is after how many seconds a page opens again where no scripts run.
func whileBusy(p *planProgress) int {
	if p == nil {
		return 0
	}
	return 3
}

// Made is how many pillowcases the best plan so far makes.
func (p planProgress) Made() string { return thousands(int64(p.Cases)) }

// Kind is what Made counts.
func (p planProgress) Kind() string {
	if p.Cases == 1 {
		return "pillowcase so far"
	}
	return "pillowcases so far"
}

// Most says what is proven so far, and nothing before anything is.
func (p planProgress) Most() string {
	const rules = "Proven so far: under these rules (three stages of cuts, these sizes, these matches) no cutting of this fabric makes more"
	switch {
	case p.CasesBound == 0:
		return ""
	case p.Cases == p.CasesBound:
		return rules + "."
	}
	return fmt.Sprintf("%s than %s.", rules, thousands(int64(p.CasesBound)))
}

// Worth says what the plan is worth by what matters most, where that is more
// than the number of pillowcases tells.
func (p planProgress) Worth() string {
	if p.CasesBound == 0 || math.Abs(p.Plan.Made*float64(p.CasesBound)-p.Bound*float64(p.Cases)) < 1e-6 {
		return ""
	}
	return fmt.Sprintf("By what matters most it is worth %s so far, and never more than %s.", weightWords(p.Plan.Made), weightWords(p.Bound))
}

func weightWords(w float64) string {
	if w == math.Trunc(w) {
		return thousands(int64(w))
	}
	return fmt.Sprintf("%.1f", w)
}

// Doing says what is being done.
func (p planProgress) Doing() string {
	switch {
	case p.Stopping && p.State == drive.PlanWaiting:
		return "It waits for its turn, and stops at the first good plan."
	case p.Stopping && p.Cases == 0:
		return "It stops at the first good plan."
	case p.Stopping:
		return "It stops, and keeps the best so far."
	case p.State == drive.PlanWaiting:
		return "It waits for its turn."
	case p.Quiet:
		return "Nobody is at work on it just now. It is taken up again by itself, within half a minute."
	}
	doing := "It is " + planning.Doing(p.Phase) + "."
	if p.Closed() {
		return "Closed: nothing better is possible. " + doing
	}
	return doing
}

// Closed says whether the best so far is worth what no plan is worth more than.
func (p planProgress) Closed() bool {
	return p.State == drive.PlanRunning && p.Bound > 0 && p.Plan.Made >= p.Bound
}

// Took says how long working it out has taken, while more may come of it.
func (p planProgress) Took() string {
	if p.State == drive.PlanWaiting || p.Closed() {
		return ""
	}
	return fmt.Sprintf("%.1f seconds so far.", p.Seconds)
}

// Tape is how far it has come, drawn.
func (p planProgress) Tape() planTape {
	return planTape{Wanted: p.Wanted, Cases: p.Cases, Bound: p.CasesBound, Now: true}
}

// figures are what moves on the page: texts by the names of their places, and
// the attributes of what is drawn.
type figures struct {
	Texts map[string]string            `json:"texts"`
	Drawn map[string]map[string]string `json:"drawn"`
}

func (p planProgress) figures() (string, error) {
	tape := p.Tape()
	text, err := json.Marshal(figures{
		Texts: map[string]string{
			"made": p.Made(), "kind": p.Kind(), "most": p.Most(), "worth": p.Worth(), "doing": p.Doing(), "took": p.Took(),
			"key-made": tape.KeyMade(), "key-open": tape.KeyOpen(), "key-beyond": tape.KeyBeyond(),
		},
		Drawn: map[string]map[string]string{
			"tape": {"aria-label": tape.Words()},
			"made": {"width": tape.MadeWidth()},
			"open": {"x": tape.OpenX(), "width": tape.OpenWidth()},
			"dots": {"d": tape.OpenDots()},
		},
	})
	if err != nil {
		return "", fmt.Errorf("figures of plan %d: %w", p.Number, err)
	}
	return string(text), nil
}

// planProgress handles GET /drives/:drive/plan/:plan/progress: what moves on the
// page of a plan that is being worked out, as server-sent events. The plan's row
// is looked at four times a second: whoever works on it writes there five times,
// so that hearing of each change would bring nothing sooner, and looking needs no
// connection of its own to the database, nor anything to be made up for after one
// was lost. The event "over" tells the page to open again: the plan is done, or
// is not this reader's to see any more.
func (s *Site) planProgress(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	plan, err := s.db.Plan(ctx, s.driveID(c), number)
	if err != nil {
		return err
	}
	p, err := s.progressOf(c, plan, "")
	if err != nil {
		return err
	}
	leave, err := s.streams.enter(s.person(c).ID)
	if err != nil {
		return err
	}
	defer leave()
	out, err := beginStream(c)
	if err == nil {
		err = s.follow(ctx, c, out, *p)
	}
	if err != nil {
		// The head is sent: there is nobody left who could be told.
		traceOf(c).gone = true
	}
	return nil
}

// follow sends what moves until the plan is done, the reader leaves or may not
// watch any more, the process ends, or the stream has lived long enough. It gives
// an error where the reader is gone.
func (s *Site) follow(ctx context.Context, c *gin.Context, out *stream, p planProgress) error {
	life, looks := time.NewTimer(s.streams.life), time.NewTicker(streamLooks)
	defer life.Stop()
	defer looks.Stop()
	var said string
	sent, asked, moved := time.Now(), time.Now(), time.Now()
	for failing := false; ; {
		if !p.Busy() {
			return out.send("over", "{}")
		}
		p.Quiet = p.State == drive.PlanRunning && time.Since(moved) > quietAfter
		now, err := p.figures()
		switch {
		case err == nil && now != said:
			said, sent, err = now, time.Now(), out.send("figures", now)
		case err == nil && time.Since(sent) > s.streams.breath:
			sent, err = time.Now(), out.breathe()
		}
		if err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-s.ending:
			return nil
		case <-life.C:
			return nil
		case <-looks.C:
		}
		next, err := s.look(ctx, c, p.Number, &asked)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case apperr.As(err) != nil:
			return out.send("over", "{}")
		case err != nil && !failing:
			// The database may come back while the page stays open.
			s.logFailure(c, err)
			failing = true
			continue
		case err != nil:
			continue
		}
		failing = false
		if next.Seconds != p.Seconds || next.State != p.State {
			moved = time.Now()
		}
		p.Plan = next
	}
}

// look reads the plan's row, and once in a while whether its reader still may.
func (s *Site) look(ctx context.Context, c *gin.Context, number int64, asked *time.Time) (drive.Plan, error) {
	if time.Since(*asked) >= streamAsks {
		*asked = time.Now()
		may, err := s.stillMay(c, account.Plan)
		if err != nil {
			return drive.Plan{}, err
		}
		if !may {
			return drive.Plan{}, noSuchPage()
		}
	}
	return s.db.Plan(ctx, s.driveID(c), number)
}
