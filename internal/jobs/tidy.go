package jobs

import (
	"context"
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

// Work forgets old wishes, sessions, sign-ins, tries, spreadsheets, photos and who had which lot
// on the table, and ends plans,
// spreadsheets and asks that no worker will take up any more. Who gave a password and no code is told of.
func (w *tidyWorker) Work(ctx context.Context, _ *river.Job[task.Tidy]) error {
	wishes, err := w.cfg.Store.ForgetOnce(ctx)
	if err != nil {
		return err
	}
	visits, err := w.cfg.Store.ForgetVisits(ctx)
	if err != nil {
		return err
	}
	uploads, err := w.cfg.Store.ForgetUploads(ctx)
	if err != nil {
		return err
	}
	photos, err := w.cfg.Store.ForgetPhotos(ctx)
	if err != nil {
		return err
	}
	hands, err := w.cfg.Store.ForgetHands(ctx)
	if err != nil {
		return err
	}
	stranded, err := w.cfg.Store.FailStrandedPlans(ctx, gaveUp)
	if err != nil {
		return err
	}
	// What is given up is not begun once more.
	files, err := w.cfg.Store.FailStrandedTakes(ctx, gaveUpFile)
	if err != nil {
		return err
	}
	resumed, err := w.cfg.Store.ResumeTakes(ctx)
	if err != nil {
		return err
	}
	asks, err := w.cfg.Store.FailStrandedAsks(ctx, gaveUpAsks)
	if err != nil {
		return err
	}
	reminders, err := w.cfg.Store.LoseReminders(ctx)
	if err != nil {
		return err
	}
	signIns, err := w.cfg.Store.ForgetSignIns(ctx, w.cfg.SignInsKept)
	if err != nil {
		return err
	}
	halves, err := w.cfg.Store.TellHalves(ctx, w.cfg.Mail.Set())
	if err != nil {
		return err
	}
	told, err := w.cfg.Store.LoseTelling(ctx)
	if err != nil {
		return err
	}
	// What to ask for follows the shelf by itself.
	if _, err := w.cfg.Store.RefreshAsks(ctx); err != nil {
		return err
	}
	if wishes+visits+uploads+photos+hands+stranded+files+asks+reminders+signIns+halves+told > 0 {
		w.cfg.Log.Info("tidied", "wishes", wishes, "visits", visits, "uploads", uploads, "photos", photos, "lots in hand", hands, "stranded plans", stranded,
			"stranded files", files, "resumed files", resumed, "stranded asks", asks, "lost reminders", reminders, "sign-ins", signIns, "passwords without a code", halves, "lost mails about sign-ins", told)
	}
	return nil
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
