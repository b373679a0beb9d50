package site

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// takenAtOnce is how many rows are taken while somebody waits for the page; more
// become background work.
const takenAtOnce = 1_000

// takeForm says how much is taken: all, or "good" for the rows that are not refused.
type takeForm struct {
	What string `form:"what"`
}

// takeBrought handles POST /drives/:drive/books/in/:upload/take.
func (s *Site) takeBrought(c *gin.Context) error {
	var form takeForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	upload, err := s.uploadOf(c)
	if err != nil {
		return err
	}
	list, err := s.readList(c, upload)
	if err != nil {
		return err
	}
	back := s.path(c, "books", "in", upload.Number)
	if len(list.Lines) > takenAtOnce {
		if err := s.db.RequestTake(c.Request.Context(), s.act(c), upload.Number, form.What == "good"); err != nil {
			return err
		}
		return s.seeOther(c, back)
	}
	report, err := s.db.Import(c.Request.Context(), s.act(c), list.Bringing, form.What == "good")
	if err != nil {
		return err
	}
	if report.Taken == 0 && len(report.Refused) > 0 {
		s.flash(c, "Nothing was taken: %s refused now. Look at them, or take the good ones.", counted(len(report.Refused), "row is", "rows are"))
		return s.seeOther(c, back)
	}
	s.flash(c, "%s taken, %d here already, %d refused. The wrong file? It is taken back under The books, where a spreadsheet is brought in.", counted(report.Taken, "row", "rows"), report.Unchanged, len(report.Refused))
	if len(report.Refused) > 0 {
		return s.seeOther(c, back+"?rows=refused")
	}
	return s.seeOther(c, s.path(c, broughtTo(upload.Kind)))
}

// broughtTo is the page where what was taken is seen.
func broughtTo(kind drive.BringKind) string {
	if kind == drive.BringPeople || kind == drive.BringAsked {
		return string(kind)
	}
	return "fabric"
}

// takingPage shows how far taking a long list in has come.
type takingPage struct {
	Number int64
	Name   string
	Take   taking
}

func (takingPage) template() string { return "taking.html" }
func (p takingPage) title() string  { return "Taking in " + p.Name }
func (takingPage) refresh() int     { return 2 }

func newTakingPage(u postgres.Upload) takingPage {
	return takingPage{u.Number, u.Name, taking{u.Take}}
}

// taking is a list being taken in, in words.
type taking struct{ postgres.Take }

// Rows is how many rows are written so far.
func (t taking) Rows() string { return thousands(int64(t.Done)) }

// Of says of how many.
func (t taking) Of() string {
	if t.Total == 0 {
		return "rows so far"
	}
	return fmt.Sprintf("of %s written", counted(t.Total, "row", "rows"))
}

// Doing says what is being done.
func (t taking) Doing() string {
	switch {
	case t.Stopping:
		return "It stops, and nothing is taken."
	case t.State == drive.TakeAsked:
		return "It waits for its turn."
	case t.Total == 0:
		return "The file is read."
	case t.Done == 0:
		return "Every row is looked at once more."
	case t.Done == t.Total:
		return "All rows are written and are being kept."
	}
	return "The rows are written. They count once all of them are."
}

// Tape is how far it has come, drawn.
func (t taking) Tape() string {
	return fmt.Sprintf("%.1f", 718*float64(t.Done)/float64(max(t.Total, 1)))
}

// Words say what the drawing shows.
func (t taking) Words() string { return t.Rows() + " " + t.Of() }

func (t taking) figures() (string, error) {
	text, err := json.Marshal(figures{
		Texts: map[string]string{"rows": t.Rows(), "of": t.Of(), "doing": t.Doing()},
		Drawn: map[string]map[string]string{"tape": {"aria-label": t.Words()}, "done": {"width": t.Tape()}},
	})
	if err != nil {
		return "", fmt.Errorf("figures of a file: %w", err)
	}
	return string(text), nil
}

// takeEnded says how taking a list in ended; empty where it never began.
func takeEnded(t postgres.Take) (words string, trouble bool) {
	switch t.State {
	case drive.TakeStopped:
		return "It was stopped, and nothing of it was taken.", false
	case drive.TakeFailed:
		return t.Trouble, true
	case drive.TakeTaken:
		if t.Taken == 0 && t.Refused > 0 {
			return fmt.Sprintf("Nothing was taken: %s refused.", counted(t.Refused, "row was", "rows were")), true
		}
		return fmt.Sprintf("%s taken, %d here already, %d refused.", counted(t.Taken, "row was", "rows were"), t.Unchanged, t.Refused), false
	}
	return "", false
}

// stopTaking handles POST /drives/:drive/books/in/:upload/stop.
func (s *Site) stopTaking(c *gin.Context) error {
	number, err := s.number(c, "upload")
	if err != nil {
		return err
	}
	stopped, err := s.db.StopTake(c.Request.Context(), s.act(c), number)
	if err != nil {
		return err
	}
	if !stopped {
		s.flash(c, "It had come to its end already.")
	}
	return s.seeOther(c, s.path(c, "books", "in", number))
}

// takingProgress handles GET /drives/:drive/books/in/:upload/progress: what moves on
// the page of a list that is being taken in, as server-sent events.
func (s *Site) takingProgress(c *gin.Context) error {
	number, err := s.number(c, "upload")
	if err != nil {
		return err
	}
	if _, err := s.db.TakeOf(c.Request.Context(), s.driveID(c), number); err != nil {
		return err
	}
	leave, err := s.streams.enter(s.person(c).ID)
	if err != nil {
		return err
	}
	defer leave()
	out, err := beginStream(c)
	if err == nil {
		err = s.pour(c, out, account.Import, func(ctx context.Context) (string, bool, error) {
			take, err := s.db.TakeOf(ctx, s.driveID(c), number)
			if err != nil || !take.State.Busy() {
				return "", false, err
			}
			now, err := taking{take}.figures()
			return now, true, err
		})
	}
	if err != nil {
		// The head is sent: there is nobody left who could be told.
		traceOf(c).gone = true
	}
	return nil
}
