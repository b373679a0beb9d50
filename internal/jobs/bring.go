package jobs

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/task"
	"boltward/internal/workbook"

	"github.com/riverqueue/river"
)

// bringTimeout is how long taking a list in may take: 50,000 lots take half a
// minute on a small machine, and nothing is kept of what does not come to its end.
const bringTimeout = 10 * time.Minute

// gaveUpFile is what people read of a file that every try ended badly over.
const gaveUpFile = "The file could not be taken in: the program failed over it, and nothing of it was taken. Try once more; if it happens again, tell whoever looks after the program."

// bringWorker takes one spreadsheet in.
type bringWorker struct {
	river.WorkerDefaults[task.Bring]
	cfg Config
}

func (w *bringWorker) Timeout(*river.Job[task.Bring]) time.Duration { return bringTimeout }

// NextRetry comes soon: somebody is waiting.
func (w *bringWorker) NextRetry(job *river.Job[task.Bring]) time.Time {
	return time.Now().Add(time.Duration(job.Attempt) * time.Second)
}

// Work takes all good rows as one act or none. A worker that takes up what another
// died over does the same act: what was taken already is not taken twice.
func (w *bringWorker) Work(ctx context.Context, job *river.Job[task.Bring]) error {
	store, args := w.cfg.Store, job.Args
	take, err := store.BeginTake(ctx, args.Drive, args.Number)
	if err != nil || take == nil {
		return err
	}
	taking, end := context.WithCancelCause(ctx)
	defer end(nil)
	var rows rowsTold
	var watching sync.WaitGroup
	watching.Go(func() { w.watch(taking, end, &rows, args) })
	report, err := w.take(taking, take, &rows)
	cause := context.Cause(taking)
	end(nil)
	watching.Wait()
	switch {
	case err == nil:
		return w.finish(ctx, args, postgres.Take{State: drive.TakeTaken, Taken: report.Taken, Unchanged: report.Unchanged, Refused: len(report.Refused)})
	case errors.Is(cause, errPerson):
		return w.finish(ctx, args, postgres.Take{State: drive.TakeStopped})
	case errors.Is(ctx.Err(), context.Canceled):
		// The process ends: the next one begins at once, and this was no failure.
		return river.JobSnooze(0)
	case apperr.As(err) != nil && w.stopped(ctx, args):
		return w.finish(ctx, args, postgres.Take{State: drive.TakeStopped})
	case apperr.As(err) != nil:
		return w.finish(ctx, args, postgres.Take{State: drive.TakeFailed, Trouble: apperr.As(err).Error()})
	}
	return fmt.Errorf("file %d of %s: %w", args.Number, args.Drive, err)
}

func (w *bringWorker) take(ctx context.Context, t *postgres.TakeJob, rows *rowsTold) (drive.ImportReport, error) {
	u := t.Upload
	terms, err := w.cfg.Store.ListTerms(ctx, t.Act.Drive, u.Kind)
	if err != nil {
		return drive.ImportReport{}, err
	}
	list, err := workbook.Read(u.Kind, u.Content, workbook.Terms{
		Drive: terms.Drive, Today: drive.Day(t.Act.At, terms.Drive.Location()), BorderDepth: terms.BorderDepth,
		Choice: workbook.Choice{Sheet: u.Sheet, Heading: u.Heading, Means: terms.Means},
	})
	if err != nil {
		return drive.ImportReport{}, err
	}
	rows.set(0, len(list.Lines))
	return w.cfg.Store.ImportUpload(ctx, t.Act, u.Number, list.Bringing, u.Good, rows.set)
}

// stopped says whether somebody stopped it just before it was done.
func (w *bringWorker) stopped(ctx context.Context, args task.Bring) bool {
	take, err := w.cfg.Store.TakeOf(ctx, args.Drive, args.Number)
	return err == nil && take.Stopping
}

// finish keeps how it ended, although time may have run out meanwhile.
func (w *bringWorker) finish(ctx context.Context, args task.Bring, end postgres.Take) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
	defer cancel()
	if err := w.cfg.Store.EndTake(ctx, args.Drive, args.Number, end); err != nil {
		return err
	}
	w.cfg.Log.Info("list brought in", "drive", args.Drive, "file", args.Number, "state", string(end.State), "taken", end.Taken, "refused", end.Refused)
	return nil
}

// watch keeps how many rows are written, and ends the work when somebody wants it
// to stop.
func (w *bringWorker) watch(ctx context.Context, end context.CancelCauseFunc, rows *rowsTold, args task.Bring) {
	ticks := time.NewTicker(progressEvery)
	defer ticks.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
		done, total := rows.get()
		goOn, err := w.cfg.Store.TakeProgress(ctx, args.Drive, args.Number, done, total)
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			// The figures can wait; the rows themselves are taken or tried again.
			w.cfg.Log.Warn("progress of a file was not kept", "drive", args.Drive, "file", args.Number, "error", err.Error())
		case !goOn:
			end(errPerson)
		}
	}
}

// rowsTold is how many rows are written of how many.
type rowsTold struct{ done, total atomic.Int64 }

func (r *rowsTold) set(done, total int) {
	r.done.Store(int64(done))
	r.total.Store(int64(total))
}

func (r *rowsTold) get() (done, total int) { return int(r.done.Load()), int(r.total.Load()) }
