package jobs

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/planning"
	"boltward/internal/task"

	"github.com/riverqueue/river"
)

// gaveUpAsks is what people read where every try to find what to ask for ended badly.
const gaveUpAsks = "What to ask for could not be worked out: the program failed over it. Try once more; if it happens again, tell whoever looks after the program."

// askWorker works out what to ask donors for in one drive.
type askWorker struct {
	river.WorkerDefaults[task.Ask]
	cfg Config
}

// NextRetry comes soon: somebody may be waiting.
func (w *askWorker) NextRetry(job *river.Job[task.Ask]) time.Time {
	return time.Now().Add(time.Duration(job.Attempt) * time.Second)
}

// Work plans what lies on the shelf, or takes the plan that waits for a decision, and tries
// what more cloth would bring. Done again after a worker died it gives the same.
func (w *askWorker) Work(ctx context.Context, job *river.Job[task.Ask]) error {
	store, id := w.cfg.Store, job.Args.Drive
	work, err := store.BeginAsks(ctx, id)
	if err != nil || work == nil {
		return err
	}
	d, err := store.Drive(ctx, id)
	if err != nil {
		return err
	}
	begun := time.Now()
	found, err := work.Input.FindAsks(ctx, work.Plan, d.Unit, planning.Options{Within: w.cfg.Within})
	switch {
	case errors.Is(ctx.Err(), context.Canceled):
		// The process ends: the next one begins at once, and this was no failure.
		return river.JobSnooze(0)
	case apperr.As(err) != nil:
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
		defer cancel()
		return store.FailAsks(ctx, id, apperr.As(err).Error())
	case err != nil:
		return fmt.Errorf("what to ask for in %s: %w", id, err)
	}
	found.Seconds = time.Since(begun).Seconds()
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
	defer cancel()
	if err := store.FinishAsks(ctx, id, work.At, found); err != nil {
		return err
	}
	w.cfg.Log.Info("what to ask for is worked out", "drive", id, "kinds", len(found.Wishes), "seconds", found.Seconds)
	return nil
}
