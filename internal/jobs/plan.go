package jobs

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"
	"boltward/internal/postgres"
	"boltward/internal/task"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"
)

// Solver makes a plan of a problem; planning.Solve is one.
type Solver func(context.Context, *planning.Problem, planning.Options) (*planning.Plan, error)

const (
	usualWithin = 10 * time.Second
	// progressEvery is how often the figures of a plan are kept, and how soon a
	// wish to stop is heard: people watch, and a plan may take a second or two.
	progressEvery = 200 * time.Millisecond
	// keepTime is how long keeping a finished plan may take after its time is up.
	keepTime = 4 * time.Second
)

// gaveUp is what people read of a plan that every try ended badly over.
const gaveUp = "The plan could not be worked out: the program failed over it. Try once more; if it happens again, tell whoever looks after the program."

func (c Config) usual() Config {
	if c.Solver == nil {
		c.Solver = planning.Solve
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.Worked == nil {
		c.Worked = func(string, string, time.Duration) {}
	}
	if c.Planned == nil {
		c.Planned = func(_, _, _ float64) {}
	}
	c.SignInsKept = cmp.Or(c.SignInsKept, postgres.SignInsKept)
	c.Within = cmp.Or(c.Within, usualWithin)
	c.Timeout = cmp.Or(c.Timeout, Timeout)
	c.RescueAfter = cmp.Or(c.RescueAfter, RescueAfter)
	return c
}

// planWorker works out one plan.
type planWorker struct {
	river.WorkerDefaults[task.Plan]
	cfg Config
}

// NextRetry comes soon: somebody is waiting for the plan.
func (w *planWorker) NextRetry(job *river.Job[task.Plan]) time.Time {
	return time.Now().Add(time.Duration(job.Attempt) * time.Second)
}

// errPerson ends planning because somebody wants the best so far, errDropped
// because nobody wants it any more.
var (
	errPerson  = errors.New("somebody asked to stop")
	errDropped = errors.New("the plan was dropped")
)

// Work makes the plan and keeps it. It is done again from the beginning when a
// worker died over it; planning the same problem gives the same plan.
func (w *planWorker) Work(ctx context.Context, job *river.Job[task.Plan]) error {
	store, id, number := w.cfg.Store, job.Args.Drive, job.Args.Number
	problem, err := store.BeginPlan(ctx, id, number)
	if err != nil || problem == nil {
		return err
	}
	solving, end := context.WithCancelCause(ctx)
	defer end(nil)
	told := &progress{begun: time.Now()}
	var watching sync.WaitGroup
	watching.Go(func() { w.watch(solving, end, told, job.Args) })
	of, plan, err := w.solve(solving, job.Args, problem, planning.Options{Within: w.cfg.Within, Progress: told.set})
	cause := context.Cause(solving)
	end(nil)
	watching.Wait()
	switch {
	case errors.Is(cause, errDropped):
		return nil
	case errors.Is(ctx.Err(), context.Canceled):
		// The process ends: the next one begins at once, and this was no failure.
		return river.JobSnooze(0)
	case apperr.As(err) != nil:
		return w.fail(ctx, job.Args, apperr.As(err).Error())
	case err != nil:
		return fmt.Errorf("plan %d of %s: %w", number, id, err)
	}
	return w.finish(ctx, job.Args, of, plan)
}

// finish keeps a plan that the check by itself finds valid. Time that ran out
// meanwhile does not lose it.
func (w *planWorker) finish(ctx context.Context, args task.Plan, s solved, plan *planning.Plan) error {
	if faults := planning.Check(s.problem, plan); len(faults) > 0 {
		return fmt.Errorf("plan %d of %s breaks its own rules: %s", args.Number, args.Drive, faults[0])
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
	defer cancel()
	kept, err := s.keep(ctx, w.cfg.Store, args, plan)
	if err != nil {
		return err
	}
	if !kept {
		w.cfg.Log.Info("plan not kept: it was put away while it was worked out, or another worker was first", "drive", args.Drive, "plan", args.Number)
		return nil
	}
	sum := plan.Summary
	w.cfg.Planned(sum.WeightMade.Float(), sum.WeightBound.Float(), sum.Seconds)
	w.cfg.Log.Info("plan ready", "drive", args.Drive, "plan", args.Number, "cases", plan.Cases(),
		"bound", plan.Summary.CasesBound, "stopped", string(plan.Summary.Stopped), "seconds", plan.Summary.Seconds)
	return nil
}

func (w *planWorker) fail(ctx context.Context, args task.Plan, trouble string) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
	defer cancel()
	return w.cfg.Store.FailPlan(ctx, args.Drive, args.Number, trouble)
}

// watch keeps the figures while the plan is made, and ends it when somebody
// wants it to end.
func (w *planWorker) watch(ctx context.Context, end context.CancelCauseFunc, told *progress, args task.Plan) {
	ticks := time.NewTicker(progressEvery)
	defer ticks.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
		step := told.get()
		goOn, stop, err := w.cfg.Store.PlanProgress(ctx, args.Drive, args.Number, step)
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			// The figures can wait; the plan itself is kept or tried again.
			w.cfg.Log.Warn("progress of a plan was not kept", "drive", args.Drive, "plan", args.Number, "error", err.Error())
		case !goOn:
			end(errDropped)
		case stop && step.Cases > 0:
			// Whoever wants the best so far wants one: who wants none drops the plan.
			end(errPerson)
		}
	}
}

// progress is the latest that the planner told, and since when it is at it: the
// seconds move while nothing else does.
type progress struct {
	begun time.Time
	mu    sync.Mutex
	last  postgres.PlanStep
}

func (p *progress) set(told planning.Progress) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.last = postgres.PlanStep{Phase: told.Phase, Made: told.Made, Bound: told.Bound, Cases: told.Cases, CasesBound: told.CasesBound}
}

func (p *progress) get() postgres.PlanStep {
	p.mu.Lock()
	defer p.mu.Unlock()
	step := p.last
	step.Seconds = time.Since(p.begun).Seconds()
	return step
}

// lastTry logs what went wrong with a job and, when it will not be tried again,
// tells whoever asked for it.
type lastTry struct{ cfg Config }

func (l *lastTry) HandleError(ctx context.Context, job *rivertype.JobRow, err error) *river.ErrorHandlerResult {
	l.cfg.Log.Error("a job failed", "kind", job.Kind, "job", job.ID, "attempt", job.Attempt, "error", err.Error())
	l.tell(ctx, job)
	return nil
}

func (l *lastTry) HandlePanic(ctx context.Context, job *rivertype.JobRow, value any, trace string) *river.ErrorHandlerResult {
	l.cfg.Log.Error("a job panicked", "kind", job.Kind, "job", job.ID, "attempt", job.Attempt, "panic", fmt.Sprint(value), "trace", trace)
	l.tell(ctx, job)
	return nil
}

func (l *lastTry) tell(ctx context.Context, job *rivertype.JobRow) {
	if job.Attempt < job.MaxAttempts {
		return
	}
	// Plans and files are named alike.
	var args struct {
		Drive  string `json:"drive"`
		Number int64  `json:"number"`
	}
	if err := json.Unmarshal(job.EncodedArgs, &args); err != nil {
		l.cfg.Log.Error("a job's arguments cannot be read", "job", job.ID, "error", err.Error())
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
	defer cancel()
	var err error
	switch job.Kind {
	case task.Plan{}.Kind():
		err = l.cfg.Store.FailPlan(ctx, args.Drive, args.Number, gaveUp)
	case task.Ask{}.Kind():
		err = l.cfg.Store.FailAsks(ctx, args.Drive, gaveUpAsks)
	case task.Bring{}.Kind():
		err = l.cfg.Store.EndTake(ctx, args.Drive, args.Number, postgres.Take{State: drive.TakeFailed, Trouble: gaveUpFile})
	}
	if err != nil {
		l.cfg.Log.Error("what failed stays as it was", "kind", job.Kind, "drive", args.Drive, "number", args.Number, "error", err.Error())
	}
}
