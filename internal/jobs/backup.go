package jobs

import (
	"context"
	"sync"
	"time"

	"boltward/internal/backup"
	"boltward/internal/task"

	"github.com/riverqueue/river"
)

// backupsEvery is how often it is looked whether a backup is due, and backupTimeout how
// long one may take.
const (
	backupsEvery  = time.Minute
	backupTimeout = 12 * time.Hour
)

// backupWorker makes the backups that were set up. One is made at a time, however many
// processes were told to: whoever is not the one has nothing to do.
type backupWorker struct {
	river.WorkerDefaults[task.Backup]
	cfg Config
}

func (w *backupWorker) Timeout(*river.Job[task.Backup]) time.Duration { return backupTimeout }

// Work makes one. What fails stands in its row, from where organisers read it, and is tried
// again by the next job.
func (w *backupWorker) Work(ctx context.Context, _ *river.Job[task.Backup]) error {
	made, err := backup.Run(ctx, w.cfg.Store, w.cfg.Backups)
	if made != nil {
		said := []any{"state", string(made.State), "file", made.File, "bytes", made.Bytes, "trouble", made.Trouble}
		if made.Why != nil {
			w.cfg.Log.Error("backup", append(said, "error", made.Why.Error())...)
		} else {
			w.cfg.Log.Info("backup", said...)
		}
	}
	if err != nil && ctx.Err() != nil {
		return nil // the process ends; the next one sees that none was made
	}
	return err
}

// wantBackups puts a job into the queue whenever a backup is due, until ctx ends. River's
// own periodic jobs would come from whichever process leads, which may know of no backups.
func wantBackups(ctx context.Context, cfg Config) {
	ticks := time.NewTicker(backupsEvery)
	defer ticks.Stop()
	var due, noted lasting
	for {
		err := cfg.Store.SaveBackupSettings(ctx, cfg.Backups.Row())
		if err == nil {
			err = cfg.Store.WantBackup(ctx, cfg.Backups.Every)
		}
		if ctx.Err() == nil && due.isNew(err) {
			cfg.Log.Error("it could not be looked whether a backup is due", "error", err.Error())
		}
		// Between two backups somebody may be erased whom the last one brings back.
		if err := backup.NoteErased(ctx, cfg.Store, cfg.Backups.Folder); ctx.Err() == nil && noted.isNew(err) {
			cfg.Log.Error("it could not be noted beside the backups who was erased", "error", err.Error())
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
	}
}

// lasting is a trouble that is told when it comes and when it changes, not each time it is met.
type lasting struct{ text string }

func (l *lasting) isNew(err error) bool {
	was := l.text
	if l.text = ""; err != nil {
		l.text = err.Error()
	}
	return err != nil && l.text != was
}

// startBackups gives how to stop looking whether one is due.
func startBackups(ctx context.Context, cfg Config) (stop func()) {
	if cfg.Backups.None {
		if err := cfg.Store.EndBackupSettings(ctx); err != nil {
			cfg.Log.Error("it could not be kept that no backups are wanted", "error", err.Error())
		}
	}
	if !cfg.Backups.Set() {
		return func() {}
	}
	ctx, end := context.WithCancel(context.WithoutCancel(ctx))
	var looking sync.WaitGroup
	looking.Go(func() { wantBackups(ctx, cfg) })
	return func() {
		end()
		looking.Wait()
	}
}
