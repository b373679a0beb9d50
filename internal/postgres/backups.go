package postgres

import (
	"context"
	"fmt"
	"time"
)

// Backup is one that was made, or is being made.
type Backup struct {
	ID       int64            `db:"id"`
	ByItself bool             `db:"by_itself"` // by the settings, else by hand
	State    BackupState      `db:"state"`
	BeganAt  time.Time        `db:"began_at"`
	EndedAt  *time.Time       `db:"ended_at"`
	Folder   string           `db:"folder"`
	File     string           `db:"file"`
	Bytes    int64            `db:"bytes"`
	SHA256   string           `db:"sha256"`
	Counts   map[string]int64 `db:"counts"` // rows by table
	Trouble  string           `db:"trouble"`
	GoneAt   *time.Time       `db:"gone_at"` // since when the file lies in its folder no more
}

// BackupState is how a backup ended, if it has.
type BackupState string

// The states of a backup. One is stopped where the process that made it ended.
const (
	BackupRunning BackupState = "running"
	BackupGood    BackupState = "good"
	BackupFailed  BackupState = "failed"
	BackupStopped BackupState = "stopped"
)

const backupColumns = `id, by_itself, state, began_at, ended_at, folder, file, bytes, sha256, counts, trouble, gone_at`

// NoteBackup keeps that a good backup was made by hand.
func (s *Store) NoteBackup(ctx context.Context, b Backup) error {
	const q = `INSERT INTO backups (by_itself, state, began_at, ended_at, folder, file, bytes, sha256, counts)
		VALUES (false, 'good', $1, $2, $3, $4, $5, $6, $7)`
	if _, err := s.pool.Exec(ctx, q, b.BeganAt, s.now(), b.Folder, b.File, b.Bytes, b.SHA256, b.Counts); err != nil {
		return fmt.Errorf("note backup: %w", err)
	}
	return nil
}
