package jobs

import (
	"cmp"
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/mail"
	"boltward/internal/postgres"
	"boltward/internal/task"
	"boltward/internal/words"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"
)

// remindersEvery is how often the rules of reminding are looked at.
const remindersEvery = 20 * time.Minute

func newReminders() (river.JobArgs, *river.InsertOpts) {
	return task.Reminders{}, &river.InsertOpts{MaxAttempts: 1}
}

// remindersWorker makes the reminders that are due in every drive.
type remindersWorker struct {
	river.WorkerDefaults[task.Reminders]
	cfg Config
}

// Work makes them; however many workers do, one stands for a person at a time.
func (w *remindersWorker) Work(ctx context.Context, _ *river.Job[task.Reminders]) error {
	made, err := w.cfg.Store.RemindersDue(ctx, w.cfg.Mail.Set())
	if err != nil {
		return err
	}
	if made > 0 {
		w.cfg.Log.Info("reminders made", "reminders", made)
	}
	return nil
}

// mailWorker is what all have in common that send one mail.
type mailWorker[T river.JobArgs] struct {
	river.WorkerDefaults[T]
	cfg Config
}

// Timeout leaves a slow mail server its time.
func (w *mailWorker[T]) Timeout(*river.Job[T]) time.Duration { return 5 * w.cfg.Mail.Patience }

// NextRetry waits longer each time: the server asked for patience, or was away.
func (w *mailWorker[T]) NextRetry(job *river.Job[T]) time.Time {
	return time.Now().Add(time.Minute << min(job.Attempt, 8))
}

// remindWorker sends one reminder by e-mail.
type remindWorker struct{ mailWorker[task.Remind] }

// mailStates are the states that a mail of one kind can come to.
type mailStates[S any] struct{ sent, queued, failed, perhaps S }

// after gives the state that an attempt brings: what was not sent waits for the next one, and
// failed where there is none.
func (m mailStates[S]) after(outcome mail.Outcome, job *rivertype.JobRow) S {
	switch {
	case outcome == mail.Sent:
		return m.sent
	case outcome == mail.Perhaps:
		return m.perhaps
	case outcome == mail.NotSent && job.Attempt < job.MaxAttempts:
		return m.queued
	default:
		return m.failed
	}
}

// Work sends it unless it was sent, or perhaps was, before: that it is being sent
// is kept before the first word goes out.
func (w *remindWorker) Work(ctx context.Context, job *river.Job[task.Remind]) error {
	store, args := w.cfg.Store, job.Args
	out, err := store.BeginReminder(ctx, args.Drive, args.Number)
	if err != nil || out == nil {
		return err
	}
	outcome, why := w.cfg.Mail.Send(ctx, w.message(out))
	state := mailStates[drive.ReminderState]{drive.ReminderSent, drive.ReminderQueued, drive.ReminderFailed, drive.ReminderPerhaps}.after(outcome, job.JobRow)
	// What became of it is kept even where the process is ending.
	keep, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
	defer cancel()
	if err := store.EndReminder(keep, args.Drive, args.Number, state, why); err != nil {
		return err
	}
	if state == drive.ReminderQueued {
		return fmt.Errorf("reminder %d of %s was not sent: %s", args.Number, args.Drive, why)
	}
	if state != drive.ReminderSent {
		w.cfg.Log.Warn("a reminder went wrong", "drive", args.Drive, "reminder", args.Number, "state", state, "why", why)
	}
	return nil
}

// message writes the reminder as it stands now.
func (w *remindWorker) message(out *postgres.Outgoing) mail.Message {
	address := w.cfg.Address(out.Link)
	text := mail.Reminder(out.Reminder, out.Drive, out.Rules, drive.Day(w.cfg.Store.Now(), out.Drive.Location()), address, words.In("en"))
	return mail.Message{
		To: out.Email, FromName: cmp.Or(out.Rules.FromName, out.Drive.Name), ReplyTo: out.Rules.ReplyTo,
		Subject: text.Subject, Text: text.Text, Stop: mail.StopAddress(address),
	}
}
