package jobs

import (
	"context"
	"time"

	"boltward/internal/task"

	"github.com/riverqueue/river"
)

// keepingEvery is how often it is looked for what is kept longer than drives want.
const keepingEvery = 6 * time.Hour

func newKeeping() (river.JobArgs, *river.InsertOpts) {
	return task.Keeping{}, &river.InsertOpts{MaxAttempts: 1}
}

// keepingWorker forgets what is past its time.
type keepingWorker struct {
	river.WorkerDefaults[task.Keeping]
	cfg Config
}

// Work forgets it; done twice, or by two at once, each goes once.
func (w *keepingWorker) Work(ctx context.Context, _ *river.Job[task.Keeping]) error {
	gone, err := w.cfg.Store.ForgetPast(ctx)
	if gone > 0 {
		w.cfg.Log.Info("what was past its time is forgotten", "things", gone)
	}
	return err
}
