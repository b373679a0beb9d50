package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
)

// takeSilence is how long nobody has said that it is at work on a list before another
// takes it up, and takePause before whoever stops it need not wait for an answer.
const (
	takeSilence = 30 * time.Second
	takePause   = 10 * time.Second
)

// takeAttempts is how often taking a list in is begun before it counts as failed.
const takeAttempts = 4

// Take is how far the taking in of a spreadsheet has come.
type Take struct {
	State     drive.TakeState `db:"state"`
	Good      bool            `db:"good"` // the good rows although others are refused
	Done      int             `db:"done"` // rows
	Total     int             `db:"total"`
	Stopping  bool            `db:"stopping"`
	Trouble   string          `db:"trouble"`
	Taken     int             `db:"taken"`
	Unchanged int             `db:"unchanged"`
	Refused   int             `db:"refused"`
}

const takeColumns = `state, good, done, total, stopping, trouble, taken, unchanged, refused`

// TakeJob is a spreadsheet to be taken in, as whoever works on it needs it.
type TakeJob struct {
	Upload Upload
	Act    drive.Act // of the rows
}

// RequestTake asks for a spreadsheet that waits to be taken in as background work.
// While it is being taken in already it is a conflict.
func (s *Store) RequestTake(ctx context.Context, act drive.Act, number int64, takeGood bool) error {
	_, err := once(ctx, s, act, "take upload", struct {
		Number int64
		Good   bool
	}{number, takeGood}, func(tx pgx.Tx) (bool, error) {
		if _, err := lockUpload(ctx, tx, act, number); err != nil {
			return false, err
		}
		// The rows are a wish of their own, which a worker may begin several times.
		key := sha256.Sum256([]byte("rows of " + act.Key))
		const q = `UPDATE uploads SET state = 'asked', good = $3, take_key = $4, take_who = $5, take_at = $6, request = $7,
				done = 0, total = 0, stopping = false, trouble = '', taken = 0, unchanged = 0, refused = 0
			WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, q, act.Drive, number, takeGood, hex.EncodeToString(key[:]), act.Who, act.At, act.Request); err != nil {
			return false, fmt.Errorf("take upload: %w", err)
		}
		if err := s.enqueueTake(ctx, tx, act.Drive, number); err != nil {
			return false, err
		}
		return true, audit(ctx, tx, act, "file to be taken in", "upload", number, changes{"good rows only": {To: takeGood}})
	})
	return err
}

func (s *Store) enqueueTake(ctx context.Context, tx pgx.Tx, driveID string, number int64) error {
	if _, err := s.work.InsertTx(ctx, tx, task.Bring{Drive: driveID, Number: number}, &river.InsertOpts{MaxAttempts: takeAttempts}); err != nil {
		return fmt.Errorf("enqueue taking in: %w", err)
	}
	return nil
}

// StopTake wishes that taking a spreadsheet in ends with nothing taken. It says
// false where it had ended already.
func (s *Store) StopTake(ctx context.Context, act drive.Act, number int64) (bool, error) {
	return once(ctx, s, act, "stop taking", number, func(tx pgx.Tx) (bool, error) {
		// Where nobody is at it, it has stopped at once.
		const q = `UPDATE uploads SET stopping = state = 'running' AND beat >= $3,
				state = CASE WHEN state = 'running' AND beat >= $3 THEN state ELSE 'stopped' END
			WHERE drive_id = $1 AND number = $2 AND state IN ('asked', 'running')`
		tag, err := tx.Exec(ctx, q, act.Drive, number, act.At.Add(-takePause))
		if err != nil {
			return false, fmt.Errorf("stop taking: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return false, nil
		}
		return true, audit(ctx, tx, act, "taking in stopped", "upload", number, nil)
	})
}

// TakeOf gives how far the taking in of a spreadsheet has come; not found where the
// file is gone.
func (s *Store) TakeOf(ctx context.Context, driveID string, number int64) (Take, error) {
	const q = `SELECT ` + takeColumns + ` FROM uploads WHERE drive_id = $1 AND number = $2`
	return one[Take](ctx, s.pool, "how far taking in is", uploadGone(), q, driveID, number)
}

// The methods below are called by whoever has taken the work from the queue, more
// than once where one of them died. Each changes a file only while it is being
// taken in, so that a late one changes nothing.

// BeginTake takes a spreadsheet to work on; nil where it needs no work any more.
func (s *Store) BeginTake(ctx context.Context, driveID string, number int64) (*TakeJob, error) {
	const q = `UPDATE uploads SET state = 'running', done = 0, total = 0, beat = $3 WHERE drive_id = $1 AND number = $2 AND state IN ('asked', 'running')
		RETURNING take_key, take_who, take_at, request`
	job := TakeJob{Act: drive.Act{Drive: driveID}}
	err := s.pool.QueryRow(ctx, q, driveID, number, s.now()).Scan(&job.Act.Key, &job.Act.Who, &job.Act.At, &job.Act.Request)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("begin taking in: %w", err)
	}
	job.Upload, err = s.upload(ctx, driveID, number, time.Time{})
	return &job, err
}

// TakeProgress keeps how many rows of how many are written and says whether to go
// on at all: nobody wants it to stop, and nobody has finished it.
func (s *Store) TakeProgress(ctx context.Context, driveID string, number int64, done, total int) (goOn bool, err error) {
	const q = `UPDATE uploads SET done = $3, total = $4, beat = $5 WHERE drive_id = $1 AND number = $2 AND state = 'running' RETURNING NOT stopping`
	err = s.pool.QueryRow(ctx, q, driveID, number, done, total, s.now()).Scan(&goOn)
	if errors.Is(err, pgx.ErrNoRows) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("progress of taking in: %w", err)
	}
	return goOn, nil
}

// keepTaken keeps that a spreadsheet is taken, in the transaction of its rows. They are
// those of the wish that stands: one that was stopped stays so although the file was
// read otherwise and asked for anew since.
func keepTaken(ctx context.Context, tx pgx.Tx, act drive.Act, number int64, r drive.ImportReport) error {
	const q = `UPDATE uploads SET state = 'taken', taken = $3, unchanged = $4, refused = $5
		WHERE drive_id = $1 AND number = $2 AND state = 'running' AND NOT stopping AND take_key = $6`
	tag, err := tx.Exec(ctx, q, act.Drive, number, r.Taken, r.Unchanged, len(r.Refused), act.Key)
	if err != nil {
		return fmt.Errorf("keep what is taken: %w", err)
	}
	if tag.RowsAffected() == 0 {
		return apperr.Conflict("It was stopped, and nothing of it was taken.")
	}
	return nil
}

// EndTake keeps how taking a spreadsheet in ended.
func (s *Store) EndTake(ctx context.Context, driveID string, number int64, end Take) error {
	const q = `UPDATE uploads SET state = $3, trouble = $4, taken = $5, unchanged = $6, refused = $7, stopping = false
		WHERE drive_id = $1 AND number = $2 AND state IN ('asked', 'running')`
	if _, err := s.pool.Exec(ctx, q, driveID, number, string(end.State), end.Trouble, end.Taken, end.Unchanged, end.Refused); err != nil {
		return fmt.Errorf("end taking in: %w", err)
	}
	return nil
}

// ResumeTakes enqueues anew the files that somebody began to take in and has said
// nothing of since. Should the one still be at it, both do the same act, and the rows
// are taken once. It says how many.
func (s *Store) ResumeTakes(ctx context.Context) (int, error) {
	resumed := 0
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		const q = `UPDATE uploads SET beat = $2 WHERE state = 'running' AND beat < $1 RETURNING drive_id, number`
		now := s.now()
		rows, err := tx.Query(ctx, q, now.Add(-takeSilence), now)
		if err != nil {
			return fmt.Errorf("silent files: %w", err)
		}
		silent, err := pgx.CollectRows(rows, pgx.RowToStructByPos[task.Bring])
		if err != nil {
			return fmt.Errorf("silent files: %w", err)
		}
		for _, b := range silent {
			if err := s.enqueueTake(ctx, tx, b.Drive, b.Number); err != nil {
				return err
			}
		}
		resumed = len(silent)
		return nil
	})
	return resumed, err
}

// FailStrandedTakes ends the taking in of files for which no work is left in the
// queue, and of silent ones that were begun as often as they may be: ResumeTakes gives
// each worker that died a successor with tries of its own. It says how many.
func (s *Store) FailStrandedTakes(ctx context.Context, trouble string) (int64, error) {
	const q = `UPDATE uploads u SET state = 'failed', trouble = $1, stopping = false
		FROM (SELECT w.drive_id, w.number, count(j.id) AS jobs, sum(j.attempt) AS begun
			FROM uploads w LEFT JOIN river.river_job j ON j.kind = $2 AND j.args ->> 'drive' = w.drive_id AND (j.args ->> 'number')::bigint = w.number
				AND j.state IN ('available', 'pending', 'retryable', 'running', 'scheduled')
			WHERE w.state IN ('asked', 'running') GROUP BY 1, 2) AS work
		WHERE u.drive_id = work.drive_id AND u.number = work.number AND u.state IN ('asked', 'running')
			AND (work.jobs = 0 OR u.beat < $3 AND work.begun >= $4)`
	tag, err := s.pool.Exec(ctx, q, trouble, task.Bring{}.Kind(), s.now().Add(-takeSilence), takeAttempts)
	if err != nil {
		return 0, fmt.Errorf("stranded files: %w", err)
	}
	return tag.RowsAffected(), nil
}

// lockUpload locks a spreadsheet that waits; a conflict while it is being taken in.
func lockUpload(ctx context.Context, tx pgx.Tx, act drive.Act, number int64) (Upload, error) {
	const q = `SELECT number, kind, name, sheet, heading, state FROM uploads WHERE drive_id = $1 AND number = $2 AND at >= $3 FOR NO KEY UPDATE`
	var u Upload
	var state drive.TakeState
	err := tx.QueryRow(ctx, q, act.Drive, number, act.At.Add(-UploadKept)).Scan(&u.Number, &u.Kind, &u.Name, &u.Sheet, &u.Heading, &state)
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		return u, uploadGone()
	case err != nil:
		return u, fmt.Errorf("lock upload: %w", err)
	case state.Busy():
		return u, apperr.Conflict("This file is being taken in just now. Wait until it is, or stop it first.")
	}
	return u, nil
}
