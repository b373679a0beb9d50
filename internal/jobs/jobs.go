// Package jobs works what the store enqueues, on River over the same Postgres:
// any number of processes may run it at once. A job that a process dies over is
// taken up by another soon after orphanedFor (lookout.go), or where its death cannot
// be seen, after RescueAfter. What a job has found out so far stands
// in rows that pages read; nothing is kept here that another process needs.
//
// Times are real ones: River judges by the machine's clock. Errors of a job go to
// the log and the job is tried again; people read of it where the work was asked for.
package jobs

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"boltward/internal/backup"
	"boltward/internal/mail"
	"boltward/internal/postgres"
	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivertype"
)

// How long a job may take, and when one that is still running then counts as
// orphaned: just after, so that a person waits as little as can be.
const (
	Timeout     = 20 * time.Second
	RescueAfter = 25 * time.Second
)

// Config says what to work with. Zero times take the usual ones.
type Config struct {
	Store *postgres.Store
	Log   *slog.Logger
	// Solver plans; it is planning.Solve but in tests of what surrounds it.
	Solver Solver
	// Mail is where reminders and mails about signing in are handed over; the zero value sends none.
	Mail mail.Server
	// Address gives the address that the personal link of an id opens.
	Address func(link string) string
	// Account is the address of the page of one's own account, for mails about signing in.
	Account string
	// SignInsKept is how long it stays known where people signed in.
	SignInsKept time.Duration
	// Worked is told of each job: its kind, done, failed or panicked, and how long it
	// took; Planned of each plan, by weight. Nil for nobody.
	Worked  func(kind, outcome string, took time.Duration)
	Planned func(made, bound, seconds float64)
	// Backups are those that are made by themselves; the zero value makes none.
	Backups backup.Settings
	// Within is the ceiling on the time of one plan.
	Within time.Duration
	// Timeout and RescueAfter stand in for the constants of the same name.
	Timeout, RescueAfter time.Duration
}

// Start works jobs until stop is called. stop lets go of the work under way, so
// that the next process takes it up at once; it returns when nothing runs any
// more, or with an error when its ctx ends first.
func Start(ctx context.Context, cfg Config) (stop func(context.Context) error, err error) {
	cfg = cfg.usual()
	workers := river.NewWorkers()
	if err := river.AddWorkerSafely(workers, &planWorker{cfg: cfg}); err != nil {
		return nil, fmt.Errorf("worker of plans: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &tidyWorker{cfg: cfg}); err != nil {
		return nil, fmt.Errorf("worker of tidying: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &bringWorker{cfg: cfg}); err != nil {
		return nil, fmt.Errorf("worker of lists: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &askWorker{cfg: cfg}); err != nil {
		return nil, fmt.Errorf("worker of what to ask for: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &remindersWorker{cfg: cfg}); err != nil {
		return nil, fmt.Errorf("worker of reminding: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &remindWorker{mailWorker[task.Remind]{cfg: cfg}}); err != nil {
		return nil, fmt.Errorf("worker of reminders: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &tellSignInWorker{mailWorker[task.TellSignIn]{cfg: cfg}}); err != nil {
		return nil, fmt.Errorf("worker of mails about sign-ins: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &tellHalfWorker{mailWorker[task.TellHalf]{cfg: cfg}}); err != nil {
		return nil, fmt.Errorf("worker of mails about passwords: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &standingWorker{cfg: cfg}); err != nil {
		return nil, fmt.Errorf("worker of standing requests: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &keepingWorker{cfg: cfg}); err != nil {
		return nil, fmt.Errorf("worker of forgetting: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &forecastsWorker{cfg: cfg}); err != nil {
		return nil, fmt.Errorf("worker of forecasts: %w", err)
	}
	if err := river.AddWorkerSafely(workers, &forecastWorker{cfg: cfg}); err != nil {
		return nil, fmt.Errorf("worker of a forecast: %w", err)
	}
	name := task.Worker + rand.Text()
	if err := river.AddWorkerSafely(workers, &ledgersWorker{cfg: cfg}); err != nil {
		return nil, fmt.Errorf("worker of the ledgers: %w", err)
	}
	queues := map[string]river.QueueConfig{
		// Planning takes all the processor it gets: one plan a process.
		task.QueuePlans:    {MaxWorkers: 1},
		river.QueueDefault: {MaxWorkers: 2},
	}
	if cfg.Backups.Set() {
		queues[task.QueueBackups] = river.QueueConfig{MaxWorkers: 1}
		if err := river.AddWorkerSafely(workers, &backupWorker{cfg: cfg}); err != nil {
			return nil, fmt.Errorf("worker of backups: %w", err)
		}
	}
	client, err := river.NewClient(riverpgxv5.New(cfg.Store.Pool()), &river.Config{
		ID:                   name,
		Schema:               task.Schema,
		Queues:               queues,
		Workers:              workers,
		JobTimeout:           cfg.Timeout,
		RescueStuckJobsAfter: cfg.RescueAfter,
		ReindexerSchedule:    river.NeverSchedule(), // the server's role may not
		ErrorHandler:         &lastTry{cfg: cfg},
		Logger:               quieter(cfg.Log),
		Middleware:           []rivertype.Middleware{river.WorkerMiddlewareFunc(cfg.timed)},
		PeriodicJobs: []*river.PeriodicJob{
			river.NewPeriodicJob(river.PeriodicInterval(tidyEvery), newTidy, &river.PeriodicJobOpts{RunOnStart: true}),
			river.NewPeriodicJob(river.PeriodicInterval(remindersEvery), newReminders, &river.PeriodicJobOpts{RunOnStart: true}),
			river.NewPeriodicJob(river.PeriodicInterval(standingEvery), newStanding, &river.PeriodicJobOpts{RunOnStart: true}),
			river.NewPeriodicJob(river.PeriodicInterval(forecastsEvery), newForecasts, &river.PeriodicJobOpts{RunOnStart: true}),
			river.NewPeriodicJob(river.PeriodicInterval(ledgersEvery), newLedgers, &river.PeriodicJobOpts{RunOnStart: true}),
			river.NewPeriodicJob(river.PeriodicInterval(keepingEvery), newKeeping, &river.PeriodicJobOpts{RunOnStart: true}),
		},
	})
	if err != nil {
		return nil, fmt.Errorf("set up background work: %w", err)
	}
	// It ends by stop alone: a ctx that ends would leave the order to chance.
	ctx = context.WithoutCancel(ctx)
	// Nothing is taken up before others can see that this worker lives.
	rest, err := cfg.lookout(ctx, name)
	if err != nil {
		return nil, err
	}
	if err := client.Start(ctx); err != nil {
		rest()
		return nil, fmt.Errorf("start background work: %w", err)
	}
	endBackups := startBackups(ctx, cfg)
	return func(ctx context.Context) error {
		defer rest()
		endBackups()
		return halt(ctx, client)
	}, nil
}

// timed tells how a job went and how long it took.
func (c Config) timed(ctx context.Context, job *rivertype.JobRow, work func(context.Context) error) (err error) {
	begun, outcome := time.Now(), "panicked"
	defer func() { c.Worked(job.Kind, outcome, time.Since(begun)) }()
	err = work(ctx)
	outcome = "done"
	// Work that is put off is not done, and did not fail.
	if _, put := errors.AsType[*rivertype.JobSnoozeError](err); put {
		outcome = "put off"
	} else if err != nil {
		outcome = "failed"
	}
	return err
}

func halt(ctx context.Context, client *river.Client[pgx.Tx]) error {
	if err := client.StopAndCancel(ctx); err != nil {
		return fmt.Errorf("stop background work: %w", err)
	}
	return nil
}
