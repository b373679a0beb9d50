package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"
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

// BackupSettings are what the processes that make backups by themselves were told.
type BackupSettings struct {
	Folder       string    `db:"folder"`
	Recipients   []string  `db:"recipients"` // public keys
	EverySeconds int64     `db:"every_seconds"`
	KeepDays     int       `db:"keep_days"`
	KeepWeeks    int       `db:"keep_weeks"`
	KeepMonths   int       `db:"keep_months"`
	Since        time.Time `db:"since"`
}

// Every is the time between two backups.
func (b BackupSettings) Every() time.Duration { return time.Duration(b.EverySeconds) * time.Second }

// SaveBackupSettings keeps what a process was told; Since is when it was told otherwise
// than before.
func (s *Store) SaveBackupSettings(ctx context.Context, b BackupSettings) error {
	const q = `INSERT INTO backup_settings AS b (folder, recipients, every_seconds, keep_days, keep_weeks, keep_months, since)
		VALUES ($1, $2, $3, $4, $5, $6, $7)
		ON CONFLICT ON CONSTRAINT backup_settings_pkey DO UPDATE SET folder = $1, recipients = $2, every_seconds = $3,
			keep_days = $4, keep_weeks = $5, keep_months = $6, since = $7
		WHERE (b.folder, b.recipients, b.every_seconds, b.keep_days, b.keep_weeks, b.keep_months) IS DISTINCT FROM ($1, $2, $3, $4, $5, $6)`
	_, err := s.pool.Exec(ctx, q, b.Folder, b.Recipients, b.EverySeconds, b.KeepDays, b.KeepWeeks, b.KeepMonths, s.now())
	if err != nil {
		return fmt.Errorf("save backup settings: %w", err)
	}
	return nil
}

// EndBackupSettings keeps that none are to be made by themselves any more.
func (s *Store) EndBackupSettings(ctx context.Context) error {
	if _, err := s.pool.Exec(ctx, `DELETE FROM backup_settings`); err != nil {
		return fmt.Errorf("end backup settings: %w", err)
	}
	return nil
}

// BackupsMade is what can be said of backups.
type BackupsMade struct {
	Settings *BackupSettings // nil where none are made by themselves
	Good     *Backup         // the last good one
	Lately   []Backup        // the last ones, newest first
}

// backupsShown is how many of the last backups are shown.
const backupsShown = 10

// BackupsMade gives it.
func (s *Store) BackupsMade(ctx context.Context) (BackupsMade, error) {
	var made BackupsMade
	const settings = `SELECT folder, recipients, every_seconds, keep_days, keep_weeks, keep_months, since FROM backup_settings`
	set, err := rowsOrNone[BackupSettings](ctx, s.pool, settings)
	if err != nil {
		return made, err
	}
	const good = `SELECT ` + backupColumns + ` FROM backups WHERE state = 'good' ORDER BY id DESC LIMIT 1` // whatever a clock said
	last, err := rowsOrNone[Backup](ctx, s.pool, good)
	if err != nil {
		return made, err
	}
	if len(set) > 0 {
		made.Settings = &set[0]
	}
	if len(last) > 0 {
		made.Good = &last[0]
	}
	const lately = `SELECT ` + backupColumns + ` FROM backups ORDER BY id DESC LIMIT $1`
	made.Lately, err = rowsOrNone[Backup](ctx, s.pool, lately, backupsShown)
	return made, err
}

func rowsOrNone[T any](ctx context.Context, db querier, q string, args ...any) ([]T, error) {
	rows, err := db.Query(ctx, q, args...)
	if err != nil {
		return nil, fmt.Errorf("backups: %w", err)
	}
	return collect(rows, "backups", pgx.RowToStructByName[T])
}

// backupRetry is how long after a failed one the next is tried.
const backupRetry = 15 * time.Minute

// BackupTurn is the right to make backups, which one process has at a time, however it ends.
type BackupTurn struct {
	store *Store
	conn  *pgxpool.Conn
}

// BackupTurn gives the turn, or nil where another process has it. What a process died over
// before is stopped from then on. End gives the turn back.
func (s *Store) BackupTurn(ctx context.Context) (*BackupTurn, error) {
	conn, err := s.root.Acquire(ctx)
	if err != nil {
		return nil, fmt.Errorf("turn to make backups: %w", err)
	}
	const q = `SELECT pg_try_advisory_lock(hashtext('boltward backups'))`
	var mine bool
	if err := conn.QueryRow(ctx, q).Scan(&mine); err != nil || !mine {
		conn.Release()
		return nil, turnError(err)
	}
	const died = `UPDATE backups SET state = 'stopped', ended_at = $1, trouble = 'the program was stopped while it made it' WHERE state = 'running' AND by_itself`
	if _, err := conn.Exec(ctx, died, s.now()); err != nil {
		return nil, errors.Join(fmt.Errorf("turn to make backups: %w", err), (&BackupTurn{s, conn}).End())
	}
	return &BackupTurn{s, conn}, nil
}

func turnError(err error) error {
	if err != nil {
		return fmt.Errorf("turn to make backups: %w", err)
	}
	return nil
}

// End gives the turn back: with the connection where it cannot be said otherwise.
func (b *BackupTurn) End() error {
	ctx, cancel := context.WithTimeout(context.Background(), turnEnds)
	defer cancel()
	_, err := b.conn.Exec(ctx, `SELECT pg_advisory_unlock(hashtext('boltward backups'))`)
	if err != nil {
		err = errors.Join(turnError(err), b.conn.Conn().Close(ctx))
	}
	b.conn.Release()
	return err
}

// turnEnds is how long giving a turn back may take.
const turnEnds = 5 * time.Second

// Begin notes that a backup is being made, and gives its number; 0 where none is due yet:
// the last good one by itself is younger than every, or the last one failed just now.
func (b *BackupTurn) Begin(ctx context.Context, every time.Duration, folder, file string) (int64, error) {
	const q = `INSERT INTO backups (by_itself, began_at, folder, file) SELECT true, $1, $4, $5 WHERE ` + backupDue + ` RETURNING id`
	now := b.store.now()
	var id int64
	err := b.conn.QueryRow(ctx, q, now, now.Add(-every), now.Add(-backupRetry), folder, file).Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("begin backup: %w", err)
	}
	return id, nil
}

// backupDue asks whether one is due at $1, after good ones since $2 and failed ones since $3.
// A time that lies ahead, since a clock was wrong, holds nothing up.
const backupDue = `NOT EXISTS (SELECT FROM backups WHERE by_itself AND (state = 'good' AND began_at > $2 OR state = 'failed' AND ended_at > $3) AND began_at <= $1)`

// EndBackup keeps what became of it.
func (s *Store) EndBackup(ctx context.Context, b Backup) error {
	const q = `UPDATE backups SET state = $2, ended_at = $3, bytes = $4, sha256 = $5, counts = $6, trouble = $7 WHERE id = $1 AND state = 'running'`
	counts := b.Counts
	if counts == nil {
		counts = map[string]int64{}
	}
	if _, err := s.pool.Exec(ctx, q, b.ID, b.State, s.now(), b.Bytes, b.SHA256, counts, b.Trouble); err != nil {
		return fmt.Errorf("end backup: %w", err)
	}
	return nil
}

// KeptBackups gives the good ones that were made by themselves into a folder and lie there
// still, or have one of the names of what lies there, oldest first.
func (s *Store) KeptBackups(ctx context.Context, folder string, names []string) ([]Backup, error) {
	const q = `SELECT ` + backupColumns + ` FROM backups
		WHERE by_itself AND state = 'good' AND folder = $1 AND (gone_at IS NULL OR file = ANY ($2)) ORDER BY began_at, id`
	return rowsOrNone[Backup](ctx, s.pool, q, folder, names)
}

// FindBackup notes that a file lies in its folder again.
func (s *Store) FindBackup(ctx context.Context, id int64) error {
	if _, err := s.pool.Exec(ctx, `UPDATE backups SET gone_at = NULL WHERE id = $1`, id); err != nil {
		return fmt.Errorf("find backup: %w", err)
	}
	return nil
}

// LoseBackup notes that a file lies in its folder no more.
func (s *Store) LoseBackup(ctx context.Context, id int64) error {
	const q = `UPDATE backups SET gone_at = $2 WHERE id = $1 AND gone_at IS NULL`
	if _, err := s.pool.Exec(ctx, q, id, s.now()); err != nil {
		return fmt.Errorf("lose backup: %w", err)
	}
	return nil
}

// WantBackup puts a backup into the queue where one is due and none waits there.
func (s *Store) WantBackup(ctx context.Context, every time.Duration) error {
	return pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		const one = `SELECT pg_advisory_xact_lock(hashtext('boltward backups wanted'))`
		if _, err := tx.Exec(ctx, one); err != nil {
			return fmt.Errorf("want a backup: %w", err)
		}
		const q = `SELECT ` + backupDue + ` AND NOT EXISTS (SELECT FROM river.river_job WHERE kind = $4 AND state IN ('available', 'scheduled', 'retryable', 'pending'))`
		now := s.now()
		var due bool
		if err := tx.QueryRow(ctx, q, now, now.Add(-every), now.Add(-backupRetry), task.Backup{}.Kind()).Scan(&due); err != nil || !due {
			return turnError(err)
		}
		if _, err := s.work.InsertTx(ctx, tx, task.Backup{}, &river.InsertOpts{Queue: task.QueueBackups, MaxAttempts: 1}); err != nil {
			return fmt.Errorf("want a backup: %w", err)
		}
		return nil
	})
}
