package backup

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

// Settings are those of backups that are made without a person.
type Settings struct {
	Folder     string   // absolute; "" makes none
	None       bool     // and none are to be made by any process, so that nobody misses them
	Recipients []string // public keys
	Every      time.Duration
	Keep       Keep
	Key        string // the installation's
}

// Set says whether any are made.
func (s Settings) Set() bool { return s.Folder != "" }

// Row gives what is kept of them.
func (s Settings) Row() postgres.BackupSettings {
	return postgres.BackupSettings{
		Folder: s.Folder, Recipients: s.Recipients, EverySeconds: int64(s.Every / time.Second),
		KeepDays: s.Keep.Days, KeepWeeks: s.Keep.Weeks, KeepMonths: s.Keep.Months,
	}
}

// Files that are made by themselves are named by their second: boltward-20260314T031500Z.age.
const (
	runStart = "boltward-"
	runEnd   = ".age"
	runTime  = "20060102T150405Z"
)

// keepTime is how long what became of a backup may take to be kept when the process ends.
const keepTime = 5 * time.Second

// Made is a backup that Run has made, or tried to.
type Made struct {
	postgres.Backup
	// Why a failed one failed, for the log alone: its row, which every organiser reads, has a
	// sentence.
	Why error
}

// unexpected is what is told of a failure that is none of a person's.
const unexpected = "something unexpected happened; the log of the program that made it says what"

// Run makes a backup where one is due and no other process makes one, and takes away those
// that have served their time. It gives nil where there was nothing to do. A backup that fails
// is kept in its row with the reason. An error says that this could not be kept, or, of a backup
// that is given with it, that who was erased could not be noted or an old one not be taken away.
func Run(ctx context.Context, store *postgres.Store, s Settings) (made *Made, err error) {
	turn, err := store.BackupTurn(ctx)
	if err != nil || turn == nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, turn.End()) }()
	name := runStart + store.Now().UTC().Format(runTime) + runEnd
	b := Made{Backup: postgres.Backup{ByItself: true, Folder: s.Folder, File: name}}
	if b.ID, err = turn.Begin(ctx, s.Every, s.Folder, name); err != nil || b.ID == 0 {
		return nil, err
	}
	s.make(ctx, store, &b)
	noted := NoteErased(ctx, store, s.Folder)
	keep, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepTime)
	defer cancel()
	if err := store.EndBackup(keep, b.Backup); err != nil {
		return nil, err
	}
	if b.State == postgres.BackupStopped {
		return &b, noted
	}
	// Beside one that failed too: what has served its time may be what takes the room that it lacked.
	rotated := s.rotate(ctx, store)
	if b.State == postgres.BackupFailed && errors.Is(rotated, fs.ErrNotExist) {
		rotated = nil // its row says that there is no folder
	}
	return &b, errors.Join(noted, rotated)
}

// make writes the file and says in the row what became of it.
func (s Settings) make(ctx context.Context, store *postgres.Store, b *Made) {
	seal, err := PublicKeys("BOLTWARD_BACKUP_TO", s.Recipients)
	if err == nil {
		err = sweep(s.Folder)
	}
	if err == nil {
		err = store.NobodyToErase(ctx) // no backup says who: they would come back by it for good
	}
	var c Contents
	if err == nil {
		c, err = Write(ctx, store, Order{File: filepath.Join(s.Folder, b.File), Seal: seal, Key: s.Key, Row: b.ID, Now: store.Now})
	}
	switch {
	case err == nil:
		b.State, b.Bytes, b.SHA256, b.Counts = postgres.BackupGood, c.Bytes, c.SHA256, c.Counts()
	case ctx.Err() != nil:
		b.State, b.Trouble = postgres.BackupStopped, "the program was stopped while it made it"
	case apperr.As(err) != nil:
		b.State, b.Trouble, b.Why = postgres.BackupFailed, apperr.As(err).Error(), err
	default:
		b.State, b.Trouble, b.Why = postgres.BackupFailed, unexpected, err
	}
}

// rotate takes away what has served its time. A file that is there no more, or not as it
// was written, counts as none of those that stay, and one that is there again, since its disk was
// away, as one of them. What a clock that was wrong dated ahead is left until that time and counts
// for none: it would be the newest for ever, and every true one older than it.
func (s Settings) rotate(ctx context.Context, store *postgres.Store) error {
	lying, err := os.ReadDir(s.Folder)
	if err != nil {
		return err
	}
	var names []string
	for _, f := range lying {
		names = append(names, f.Name())
	}
	kept, err := store.KeptBackups(ctx, s.Folder, names)
	if err != nil {
		return err
	}
	var there []postgres.Backup
	var at []time.Time
	now := store.Now()
	for _, b := range kept {
		if b.BeganAt.After(now) {
			continue
		}
		info, err := os.Lstat(filepath.Join(s.Folder, b.File))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			if err := store.LoseBackup(ctx, b.ID); err != nil {
				return err
			}
		case err != nil:
			return err
		case info.Mode().IsRegular() && info.Size() == b.Bytes:
			if b.GoneAt != nil {
				if err := store.FindBackup(ctx, b.ID); err != nil {
					return err
				}
			}
			there, at = append(there, b), append(at, b.BeganAt)
		}
	}
	for i, stays := range s.Keep.Stay(at) {
		if stays {
			continue
		}
		if err := gone(filepath.Join(s.Folder, there[i].File)); err != nil {
			return err
		}
		if err := store.LoseBackup(ctx, there[i].ID); err != nil {
			return err
		}
	}
	return nil
}
