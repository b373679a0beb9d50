package site

import (
	"context"
	"fmt"
	"net/http"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

// How many streams one process keeps open, in all and for one account, for how
// long, and what they do meanwhile: look at the row, see whether whoever watches
// still may, and say something so that what lies between keeps the line open. A
// browser whose stream ends opens the next by itself, perhaps at another process.
const (
	streamsAtOnce   = 100
	streamsEach     = 10
	streamLife      = 2 * time.Minute
	streamLooks     = 250 * time.Millisecond
	streamAsks      = time.Second
	streamBreathes  = 15 * time.Second
	streamWriteTime = 10 * time.Second
)

// streams counts those that are open in this process.
type streams struct {
	all, each    int
	life, breath time.Duration

	mu   sync.Mutex
	open map[int64]int // by account
	sum  int
}

func newStreams() *streams {
	return &streams{all: streamsAtOnce, each: streamsEach, life: streamLife, breath: streamBreathes, open: map[int64]int{}}
}

// enter counts one more; it is a conflict where there are enough, and the page
// then opens again by itself now and then instead.
func (s *streams) enter(who int64) (leave func(), err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.sum >= s.all || s.open[who] >= s.each {
		return nil, apperr.Conflict("Too many pages watch already.")
	}
	s.sum++
	s.open[who]++
	return func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.sum--
		if s.open[who]--; s.open[who] == 0 {
			delete(s.open, who)
		}
	}, nil
}

// stream is an answer that goes on: server-sent events, as the HTML standard has them.
type stream struct {
	c       *gin.Context
	control *http.ResponseController
}

// beginStream sends the head of a stream. Errors after it can only end it.
func beginStream(c *gin.Context) (*stream, error) {
	c.Header("Content-Type", "text/event-stream")
	c.Header("Cache-Control", "no-store")
	// A proxy that gathers answers before it passes them on would show nothing.
	c.Header("X-Accel-Buffering", "no")
	c.Writer.WriteHeaderNow()
	// gin's own writer takes every writer below it for one that can flush.
	var below http.ResponseWriter = c.Writer
	if w, ok := below.(interface{ Unwrap() http.ResponseWriter }); ok {
		below = w.Unwrap()
	}
	out := &stream{c, http.NewResponseController(below)}
	return out, out.write("retry: 1000\n\n")
}

// send sends one event; data is one line.
func (s *stream) send(event, data string) error {
	return s.write("event: " + event + "\ndata: " + data + "\n\n")
}

// breathe sends what no reader sees.
func (s *stream) breathe() error { return s.write(":\n\n") }

// write does not wait for a reader who has stopped reading.
func (s *stream) write(text string) error {
	// A writer without deadlines, as in tests, has none to set.
	_ = s.control.SetWriteDeadline(time.Now().Add(streamWriteTime))
	if _, err := s.c.Writer.WriteString(text); err != nil {
		return err
	}
	if err := s.control.Flush(); err != nil {
		return err
	}
	_ = s.control.SetWriteDeadline(time.Time{})
	return nil
}

// pour sends figures as they change until there are no more, the reader leaves or
// may not watch any more, the process ends, or the stream has lived long enough.
// look gives them, and whether there is more to come; an error for people ends the
// stream, others may pass. It gives an error where the reader is gone.
func (s *Site) pour(c *gin.Context, out *stream, area account.Area, look func(context.Context) (now string, more bool, err error)) error {
	ctx := c.Request.Context()
	life, looks := time.NewTimer(s.streams.life), time.NewTicker(streamLooks)
	defer life.Stop()
	defer looks.Stop()
	var said string
	sent, asked := time.Now(), time.Now()
	for failing := false; ; {
		now, more, err := look(ctx)
		if err == nil && time.Since(asked) >= streamAsks {
			asked = time.Now()
			var may bool
			if may, err = s.stillMay(c, area); err == nil && !may {
				err = noSuchPage()
			}
		}
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case apperr.As(err) != nil, err == nil && !more:
			return out.send("over", "{}")
		case err != nil && !failing:
			// The database may come back while the page stays open.
			s.logFailure(c, err)
			failing = true
		case err != nil:
		case now != said:
			failing, said, sent, err = false, now, time.Now(), out.send("figures", now)
			if err != nil {
				return err
			}
		case time.Since(sent) > s.streams.breath:
			failing, sent = false, time.Now()
			if err := out.breathe(); err != nil {
				return err
			}
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
	}
}

// stillMay says whether who opened a stream is signed in by the same session, has
// the right still, and the second step where the drive asks it by now. What was known when the request came is not asked.
func (s *Site) stillMay(c *gin.Context, area account.Area) (bool, error) {
	cookie, err := c.Request.Cookie(s.sessions.Cookie.Name)
	if err != nil {
		return false, nil
	}
	// The request's own context holds the session as it was.
	ctx, cancel := context.WithTimeout(context.Background(), usualTime)
	defer cancel()
	defer context.AfterFunc(c.Request.Context(), cancel)()
	fresh, err := s.sessions.Load(ctx, cookie.Value)
	if err != nil {
		return false, fmt.Errorf("session of a stream: %w", err)
	}
	number := s.sessions.GetInt64(fresh, sessionSignIn)
	if number == 0 || s.livedOut(fresh) {
		return false, nil
	}
	v, err := s.db.Visit(ctx, number, s.driveID(c), postgres.Looking{Idle: s.idle})
	if apperr.Is(err, apperr.KindNotFound) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	if v.Role.Allows(area) < account.Read || v.Pass != nil && v.Pass.Over {
		return false, nil
	}
	d, err := s.db.Drive(ctx, s.driveID(c))
	return err == nil && !lacksSecond(v.Role, d, v.Second), err
}
