package jobs

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/outlook"
	"boltward/internal/task"

	"github.com/riverqueue/river"
)

// forecastsEvery is how often it is looked for drives in which something has happened since
// their outlook was worked out, forecastTime how long one may take: some seconds of a processor,
// which where pages go first are minutes.
const (
	forecastsEvery = 10 * time.Second
	forecastTime   = 10 * time.Minute
)

func newForecasts() (river.JobArgs, *river.InsertOpts) {
	return task.Forecasts{}, &river.InsertOpts{MaxAttempts: 1}
}

// forecastsWorker finds the drives whose outlook is to be worked out.
type forecastsWorker struct {
	river.WorkerDefaults[task.Forecasts]
	cfg Config
}

// Work puts each into the queue, once.
func (w *forecastsWorker) Work(ctx context.Context, _ *river.Job[task.Forecasts]) error {
	_, err := w.cfg.Store.RefreshForecasts(ctx, outlook.Form)
	return err
}

// forecastWorker works out the outlook of one drive.
type forecastWorker struct {
	river.WorkerDefaults[task.Forecast]
	cfg Config
}

// Timeout leaves it its time: taken for dead, it would be done by a second worker beside the first.
func (w *forecastWorker) Timeout(*river.Job[task.Forecast]) time.Duration { return forecastTime }

// Work plays the rest of the drive, and keeps what came of it where that takes too long for a page.
// Done again it gives the same.
func (w *forecastWorker) Work(ctx context.Context, job *river.Job[task.Forecast]) error {
	store, id := w.cfg.Store, job.Args.Drive
	kept, err := w.find(ctx, id)
	if err != nil {
		return fmt.Errorf("forecast of %s: %w", id, err)
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
	defer cancel()
	if err := store.KeepForecast(ctx, id, kept); err != nil {
		return err
	}
	w.cfg.Log.Info("a forecast is worked out", "drive", id, "kept", kept.Found != nil, "seconds", kept.Seconds)
	return nil
}

func (w *forecastWorker) find(ctx context.Context, id string) (kept drive.KeptForecast, err error) {
	d, err := w.cfg.Store.Drive(ctx, id)
	if err != nil {
		return kept, err
	}
	at, begun := w.cfg.Store.Now(), time.Now()
	kept = drive.KeptForecast{MadeAt: at, Form: outlook.Form}
	// Before anything else: what comes meanwhile is seen at the next look.
	if kept.Trail, err = w.cfg.Store.NewestInTrail(ctx, id); err != nil {
		return kept, err
	}
	facts, err := w.cfg.Store.OutlookFacts(ctx, id, drive.Day(at, d.Location()))
	if err != nil {
		return kept, err
	}
	if facts.Lines, err = w.cfg.Store.AskedLines(ctx, id); err != nil {
		return kept, err
	}
	kept.Today = facts.Today
	kept.Found, err = outlook.Found(facts)
	kept.Seconds = time.Since(begun).Seconds()
	return kept, err
}
