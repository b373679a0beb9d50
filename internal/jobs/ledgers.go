package jobs

import (
	"context"
	"time"

	"boltward/internal/task"

	"github.com/riverqueue/river"
)

// ledgersEvery is how often it is looked whether the ledgers are to be checked,
// ledgersTime how long that may take: everything ever booked is added up.
const (
	ledgersEvery = time.Hour
	ledgersTime  = 15 * time.Minute
)

func newLedgers() (river.JobArgs, *river.InsertOpts) {
	return task.Ledgers{}, &river.InsertOpts{MaxAttempts: 1}
}

// ledgersWorker holds all balances against their ledgers once a day.
type ledgersWorker struct {
	river.WorkerDefaults[task.Ledgers]
	cfg Config
}

// Timeout leaves large drives their time.
func (w *ledgersWorker) Timeout(*river.Job[task.Ledgers]) time.Duration { return ledgersTime }

// Work does so where it is due, and says aloud where anything differs.
func (w *ledgersWorker) Work(ctx context.Context, _ *river.Job[task.Ledgers]) error {
	check, err := w.cfg.Store.CheckLedgersDue(ctx)
	if err != nil || check == nil {
		return err
	}
	if n := check.Differ(); n > 0 {
		w.cfg.Log.Error("balances do not agree with their ledgers: change nothing more and keep a backup", "differences", n, "first", check.Differences[0].What)
		return nil
	}
	w.cfg.Log.Info("every balance agrees with its ledger", "seconds", check.Seconds)
	return nil
}
