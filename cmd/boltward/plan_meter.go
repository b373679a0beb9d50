package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"sync"
	"time"

	"boltward/internal/planning"
)

// How often the line on a terminal is drawn, and how long a mere change of what
// is being done waits before a program or a log hears of it: phases take turns
// many times a second.
const (
	meterEvery = 100 * time.Millisecond
	phaseEvery = 250 * time.Millisecond
)

// planMeter shows how far planning has come: a line that updates on a terminal,
// a line for each new figure elsewhere, or an object a line for programs.
type planMeter struct {
	ctx  context.Context // that a person ends to keep the best so far
	out  io.Writer
	json bool
	line bool
	now  func() time.Time

	mu     sync.Mutex
	begun  time.Time
	last   planning.Progress
	told   time.Time // when last was
	drawn  bool
	finish func()
}

// newPlanMeter begins to measure; end ends it.
func newPlanMeter(ctx context.Context, env Env, asJSON bool) *planMeter {
	m := &planMeter{ctx: ctx, out: env.Stderr, json: asJSON, line: !asJSON && isTerminal(env.Stderr), now: env.Now, begun: env.Now(), finish: func() {}}
	if !m.line {
		return m
	}
	// The seconds move while no figure does, and Ctrl-C is seen at once.
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		ticks := time.NewTicker(meterEvery)
		defer ticks.Stop()
		ended := ctx.Done()
		for {
			select {
			case <-stop:
				return
			case <-ended:
				ended = nil
			case <-ticks.C:
			}
			m.draw()
		}
	}()
	m.finish = func() {
		close(stop)
		<-stopped
	}
	return m
}

// progressFlag is the flag of commands that plan before they answer.
func progressFlag(fs flagSet) *bool {
	return fs.Bool("json-progress", false, "progress of planning as JSON, an object a line")
}

// progressFor is what tells a program how far planning has come; nil where none asked.
func progressFor(ctx context.Context, env Env, asked bool) func(planning.Progress) {
	if !asked {
		return nil
	}
	return newPlanMeter(ctx, env, true).show
}

// show takes what the planner tells.
func (m *planMeter) show(p planning.Progress) {
	m.mu.Lock()
	defer m.mu.Unlock()
	figures, before := p, m.last
	figures.Phase, before.Phase = "", ""
	figures.Seconds, before.Seconds = 0, 0
	same := figures == before && !m.told.IsZero()
	switch {
	case m.line:
		m.last = p // drawn when it is time
		m.told = m.now()
		return
	case same && (!m.json || p.Phase == m.last.Phase || m.now().Sub(m.told) < phaseEvery):
		return
	}
	m.last, m.told = p, m.now()
	if m.json {
		// Nobody may be reading any more; the plan is still worth finishing.
		_ = json.NewEncoder(m.out).Encode(p)
		return
	}
	fmt.Fprintln(m.out, m.words())
}

// draw writes the line anew. The terminal cuts off what does not fit instead of
// beginning another line, which could not be taken back.
func (m *planMeter) draw() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.drawn = true
	fmt.Fprintf(m.out, "\r\x1b[?7l%s\x1b[K\x1b[?7h", m.words())
}

// words is what has been made, the most that could be, and what is being done.
func (m *planMeter) words() string {
	p := m.last
	if m.told.IsZero() {
		return "looking at the problem"
	}
	seconds := p.Seconds
	doing := planning.Doing(p.Phase)
	if p.Closed() {
		doing = "closed, nothing better is possible: " + doing
	}
	if m.line {
		seconds = m.now().Sub(m.begun).Seconds()
		if m.ctx.Err() != nil {
			doing = "stopping, keeping the best so far"
		}
	}
	text := fmt.Sprintf("%d of at most %d pillowcases", p.Cases, p.CasesBound)
	// A weight tells more only where pillowcases are not all worth the same.
	if p.WeightsDiffer() {
		text += fmt.Sprintf(", worth %s of at most %s", p.Made, p.Bound)
	}
	return fmt.Sprintf("%s, %.1f s: %s", text, seconds, doing)
}

// end draws the last figures and leaves the line.
func (m *planMeter) end() {
	m.finish()
	if m.drawn {
		m.draw()
		fmt.Fprintln(m.out)
	}
}
