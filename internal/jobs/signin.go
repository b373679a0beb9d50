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
)

// tellSignInWorker tells somebody by e-mail that they signed in at a browser which is not
// known.
type tellSignInWorker struct {
	river.WorkerDefaults[task.TellSignIn]
	cfg Config
}

// Timeout leaves a slow mail server its time.
func (w *tellSignInWorker) Timeout(*river.Job[task.TellSignIn]) time.Duration {
	return 5 * w.cfg.Mail.Patience
}

// NextRetry waits longer each time, as for reminders.
func (w *tellSignInWorker) NextRetry(job *river.Job[task.TellSignIn]) time.Time {
	return retryMail(job.Attempt)
}

// Work sends it unless it was sent, or perhaps was, before: that it is being sent is kept
// before the first word goes out.
func (w *tellSignInWorker) Work(ctx context.Context, job *river.Job[task.TellSignIn]) error {
	store, id := w.cfg.Store, job.Args.SignIn
	news, err := store.BeginTelling(ctx, id)
	if err != nil || news == nil {
		return err
	}
	zone := time.UTC
	if news.Zone != "" {
		zone = drive.Drive{Zone: news.Zone}.Location()
	}
	m := mail.Message{To: news.Email, FromName: "Boltward"}
	m.Subject, m.Text = mail.SignIn(news.Name, news.Device, news.Began, zone, w.cfg.Account)
	outcome, why := w.cfg.Mail.Send(ctx, m)
	told := mailStates[postgres.Told]{postgres.ToldSent, postgres.ToldQueued, postgres.ToldFailed, postgres.ToldPerhaps}.after(outcome, job.JobRow)
	// What became of it is kept even where the process is ending.
	keep, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
	defer cancel()
	if err := store.EndTelling(keep, id, told); err != nil {
		return err
	}
	switch told {
	case postgres.ToldQueued:
		return fmt.Errorf("the mail about sign-in %d was not sent: %s", id, why)
	case postgres.ToldFailed, postgres.ToldPerhaps:
		w.cfg.Log.Warn("a mail about a sign-in went wrong", "sign-in", id, "state", told, "why", why)
	}
	return nil
}
