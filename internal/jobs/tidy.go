package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"boltward/internal/task"

	"github.com/riverqueue/river"
)

// tidyEvery is how often what is past its time is removed.
const tidyEvery = time.Minute

func newTidy() (river.JobArgs, *river.InsertOpts) {
	return task.Tidy{}, &river.InsertOpts{MaxAttempts: 1}
}

// tidyWorker removes what is past its time.
type tidyWorker struct {
	river.WorkerDefaults[task.Tidy]
	cfg Config
}

// tidying is one thing that is done, and what the log calls what came of it.
type tidying struct {
	what string
	do   func(context.Context) (int64, error)
}

// Work forgets old wishes, sessions, sign-ins, tries, spreadsheets, photos and who had which lot
// on the table, and ends plans,
// spreadsheets and asks that no worker will take up any more. Who gave a password and no code is told of.
// What fails holds nothing else up; the error names all that did.
func (w *tidyWorker) Work(ctx context.Context, _ *river.Job[task.Tidy]) error {
	var failed []error
	var told []any
	for _, one := range w.tidyings() {
		n, err := one.do(ctx)
		if err != nil {
			failed = append(failed, fmt.Errorf("%s: %w", one.what, err))
		}
		if n > 0 {
			told = append(told, one.what, n)
		}
	}
	if len(told) > 0 {
		w.cfg.Log.Info("tidied", told...)
	}
	return errors.Join(failed...)
}

func (w *tidyWorker) tidyings() []tidying {
	store := w.cfg.Store
	return []tidying{
		{"wishes", store.ForgetOnce},
		{"visits", store.ForgetVisits},
		{"uploads", store.ForgetUploads},
		{"photos", store.ForgetPhotos},
		{"lots in hand", store.ForgetHands},
		{"stranded plans", func(ctx context.Context) (int64, error) { return store.FailStrandedPlans(ctx, gaveUp) }},
		{"stranded files", w.strandedFiles},
		{"stranded asks", func(ctx context.Context) (int64, error) { return store.FailStrandedAsks(ctx, gaveUpAsks) }},
		{"lost reminders", store.LoseReminders},
		{"sign-ins", func(ctx context.Context) (int64, error) { return store.ForgetSignIns(ctx, w.cfg.SignInsKept) }},
		{"passwords without a code", func(ctx context.Context) (int64, error) { return store.TellHalves(ctx, w.cfg.Mail.Set()) }},
		{"lost mails about sign-ins", store.LoseTelling},
		// What to ask for follows the shelf by itself.
		{"asks begun", store.RefreshAsks},
	}
}

// strandedFiles ends those that are given up, and has the others taken up again: what is given up is
// not begun once more.
func (w *tidyWorker) strandedFiles(ctx context.Context) (int64, error) {
	ended, err := w.cfg.Store.FailStrandedTakes(ctx, gaveUpFile)
	if err != nil {
		return 0, err
	}
	resumed, err := w.cfg.Store.ResumeTakes(ctx)
	return ended + int64(resumed), err
}

// quieter keeps River to what somebody should look at: its own news are for
// River's makers, and failed jobs are logged by lastTry.
func quieter(log *slog.Logger) *slog.Logger { return slog.New(atLeast{log.Handler(), slog.LevelWarn}) }

type atLeast struct {
	slog.Handler
	level slog.Level
}

func (h atLeast) Enabled(ctx context.Context, level slog.Level) bool {
	return level >= h.level && h.Handler.Enabled(ctx, level)
}

func (h atLeast) WithAttrs(attrs []slog.Attr) slog.Handler {
	return atLeast{h.Handler.WithAttrs(attrs), h.level}
}

func (h atLeast) WithGroup(name string) slog.Handler {
	return atLeast{h.Handler.WithGroup(name), h.level}
}
