package jobs

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/mail"
	"boltward/internal/postgres"
	"boltward/internal/task"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"
)

// tellSignInWorker tells somebody by e-mail that they signed in at a browser which is not
// known.
type tellSignInWorker struct{ mailWorker[task.TellSignIn] }

// Work sends it unless it was sent, or perhaps was, before.
func (w *tellSignInWorker) Work(ctx context.Context, job *river.Job[task.TellSignIn]) error {
	store, id := w.cfg.Store, job.Args.SignIn
	news, err := store.BeginTelling(ctx, id)
	if err != nil || news == nil {
		return err
	}
	subject, text := mail.SignIn(news.Name, news.Device, news.Began, zoneOf(*news), w.cfg.Account)
	return w.cfg.tell(ctx, job.JobRow, mail.Message{To: news.Email, Subject: subject, Text: text}, func(ctx context.Context, told postgres.Told) error {
		return store.EndTelling(ctx, id, told)
	})
}

// tellHalfWorker tells somebody by e-mail that their password was given without the code of their
// second step.
type tellHalfWorker struct{ mailWorker[task.TellHalf] }

// Work sends it unless it was sent, or perhaps was, before.
func (w *tellHalfWorker) Work(ctx context.Context, job *river.Job[task.TellHalf]) error {
	store, id := w.cfg.Store, job.Args.Half
	news, err := store.BeginTellingHalf(ctx, id)
	if err != nil || news == nil {
		return err
	}
	subject, text := mail.HalfSignIn(news.Name, news.Device, news.Wrong, news.Began, zoneOf(news.NewSignIn), w.cfg.Account)
	return w.cfg.tell(ctx, job.JobRow, mail.Message{To: news.Email, Subject: subject, Text: text}, func(ctx context.Context, told postgres.Told) error {
		return store.EndTellingHalf(ctx, id, told)
	})
}

// tell sends a mail about signing in, of which it is kept already that it is being sent, and keeps
// what became of it by end, also where the process is ending.
func (c Config) tell(ctx context.Context, job *rivertype.JobRow, m mail.Message, end func(context.Context, postgres.Told) error) error {
	m.FromName = "Boltward"
	outcome, why := c.Mail.Send(ctx, m)
	told := mailStates[postgres.Told]{postgres.ToldSent, postgres.ToldQueued, postgres.ToldFailed, postgres.ToldPerhaps}.after(outcome, job)
	keep, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
	defer cancel()
	if err := end(keep, told); err != nil {
		return err
	}
	switch told {
	case postgres.ToldQueued:
		return fmt.Errorf("a mail about signing in was not sent: %s", why)
	case postgres.ToldFailed, postgres.ToldPerhaps:
		c.Log.Warn("a mail about signing in went wrong", "job", job.ID, "kind", job.Kind, "state", told, "why", why)
	}
	return nil
}

// zoneOf is where the times of a mail are told.
func zoneOf(news postgres.NewSignIn) *time.Location {
	if news.Zone == "" {
		return time.UTC
	}
	return drive.Drive{Zone: news.Zone}.Location()
}
