package jobs

import (
	"context"
	"time"

	"boltward/internal/task"

	"github.com/riverqueue/river"
)

// standingEvery is how often it is looked for months' lines that should have come.
const standingEvery = time.Hour

func newStanding() (river.JobArgs, *river.InsertOpts) {
	return task.Standing{}, &river.InsertOpts{MaxAttempts: 1}
}

// standingWorker makes the lines of what is asked for every month.
type standingWorker struct {
	river.WorkerDefaults[task.Standing]
	cfg Config
}

// Work makes them; done twice, or by two at once, each month's line comes once.
func (w *standingWorker) Work(ctx context.Context, _ *river.Job[task.Standing]) error {
	made, err := w.cfg.Store.StandingDue(ctx)
	if err != nil {
		return err
	}
	if made > 0 {
		w.cfg.Log.Info("lines of standing requests made", "lines", made)
	}
	return nil
}
