package postgres

import (
	"context"
	"fmt"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// WashableLine is a stack that can be laundered with what people read beside it.
type WashableLine struct {
	drive.Washable
	SizeName  string `db:"size_name"`
	ForWhom   string `db:"for_whom"`
	Recipient *int64 `db:"recipient"`
}

// washables adds up, by stack, what lies here and how far it is in the laundry: $1 the drive.
const washables = `SELECT b.asked, b.size, b.kit, b.part,
		sum(b.n) AS here,
		coalesce(sum(b.n) FILTER (WHERE b.state = 'good'), 0) AS good,
		coalesce((SELECT sum(l.n - l.gone) FROM laundry_lines l JOIN laundry y ON y.drive_id = l.drive_id AND y.number = l.batch
			WHERE l.drive_id = b.drive_id AND l.asked = b.asked AND l.size = b.size AND l.kit = b.kit AND l.part = b.part
				AND y.undone_at IS NULL AND y.done_on IS NOT NULL), 0) AS washed,
		coalesce((SELECT sum(l.n) FROM laundry_lines l JOIN laundry y ON y.drive_id = l.drive_id AND y.number = l.batch
			WHERE l.drive_id = b.drive_id AND l.asked = b.asked AND l.size = b.size AND l.kit = b.kit AND l.part = b.part
				AND y.undone_at IS NULL AND y.done_on IS NULL), 0) AS in_wash
	FROM case_balances b
	WHERE b.drive_id = $1 AND b.n > 0 AND b.state IN ('sewn', 'good')
	GROUP BY b.drive_id, b.asked, b.size, b.kit, b.part`

// Washables gives the pillowcases that lie here, sewn or good, and how many of them
// are laundered: by recipient, line and kit.
func (s *Store) Washables(ctx context.Context, driveID string) ([]WashableLine, error) {
	const q = `SELECT w.asked, w.size, w.kit, w.part, w.here, w.good, w.washed, w.in_wash, z.name AS size_name,
			coalesce(r.name, '') AS for_whom, a.recipient
		FROM (` + washables + `) w
		JOIN sizes z ON z.drive_id = $1 AND z.number = w.size
		LEFT JOIN asked a ON a.drive_id = $1 AND a.number = w.asked
		LEFT JOIN recipients r ON r.drive_id = $1 AND r.number = a.recipient
		ORDER BY a.due NULLS LAST, a.recipient NULLS LAST, w.asked, w.kit, w.part, w.size`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("what can be laundered: %w", err)
	}
	return collect(rows, "what can be laundered", pgx.RowToStructByName[WashableLine])
}

func washablesIn(ctx context.Context, tx pgx.Tx, driveID string) ([]drive.Washable, error) {
	rows, err := tx.Query(ctx, washables, driveID)
	if err != nil {
		return nil, fmt.Errorf("what can be laundered: %w", err)
	}
	return collect(rows, "what can be laundered", pgx.RowToStructByName[drive.Washable])
}

// Batches gives the batches that stand, the newest first, up to a number of them.
func (s *Store) Batches(ctx context.Context, driveID string, limit int) ([]drive.Batch, error) {
	const q = `SELECT ` + batchColumns + ` FROM laundry WHERE drive_id = $1 AND undone_at IS NULL
		ORDER BY done_on DESC NULLS FIRST, number DESC LIMIT $2`
	return loadBatches(ctx, s.pool, driveID, q, driveID, limit)
}

const batchColumns = `number, started_on, started_by, done_on, done_by, note, undone_at`

func loadBatches(ctx context.Context, db querier, driveID, q string, args ...any) ([]drive.Batch, error) {
	rows, err := db.Query(ctx, q, args...)
	if err != nil {
		return nil, fmt.Errorf("batches of laundry: %w", err)
	}
	list, err := collect(rows, "batches of laundry", pgx.RowToStructByName[drive.Batch])
	if err != nil {
		return nil, err
	}
	at := make(map[int64]int, len(list))
	numbers := make([]int64, len(list))
	for i, b := range list {
		at[b.Number], numbers[i] = i, b.Number
	}
	const lines = `SELECT batch, line, asked, size, kit, part, n FROM laundry_lines WHERE drive_id = $1 AND batch = ANY($2) AND n > 0 ORDER BY batch, line`
	rows, err = db.Query(ctx, lines, driveID, numbers)
	if err != nil {
		return nil, fmt.Errorf("lines of laundry: %w", err)
	}
	type row struct {
		Batch int64 `db:"batch"`
		drive.LaundryLine
	}
	in, err := collect(rows, "lines of laundry", pgx.RowToStructByName[row])
	for _, l := range in {
		b := &list[at[l.Batch]]
		b.Lines = append(b.Lines, l.LaundryLine)
	}
	return list, err
}

// Washing is what somebody puts into the wash; day zero is today.
type Washing struct {
	By    string
	Note  string
	Day   time.Time
	Lines []drive.LaundryLine
}

// StartBatch puts pillowcases that lie here into a new batch of laundry and gives
// its number. Two who put the same in go one after the other, as do they and those who
// move what lies here: the drive's row and its laundry are locked.
func (s *Store) StartBatch(ctx context.Context, act drive.Act, w Washing) (int64, error) {
	return once(ctx, s, act, "start laundry", w, func(tx pgx.Tx) (int64, error) {
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		if err := holdSigner(ctx, tx, act); err != nil {
			return 0, err
		}
		if err := laundryStill(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		day, today, err := dayOf(ctx, tx, act, w.Day)
		if err != nil {
			return 0, err
		}
		if err := drive.CheckDay(day, today); err != nil {
			return 0, err
		}
		here, err := washablesIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		lines, err := drive.StartBatch(w.By, w.Note, w.Lines, here)
		if err != nil {
			return 0, err
		}
		number, err := next(ctx, tx, act.Drive, "laundry")
		if err != nil {
			return 0, err
		}
		const insert = `INSERT INTO laundry (drive_id, number, started_on, started_by, note, at, who) VALUES ($1, $2, $3, $4, $5, $6, $7)`
		if _, err := tx.Exec(ctx, insert, act.Drive, number, day, strings.TrimSpace(w.By), strings.TrimSpace(w.Note), act.At, act.Who); err != nil {
			return 0, fmt.Errorf("start laundry: %w", err)
		}
		var batch pgx.Batch
		for _, l := range lines {
			batch.Queue(insertLaundryLine, act.Drive, number, l.Line, l.Asked, l.Size, l.Kit, l.Part, l.N)
		}
		if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
			return 0, fmt.Errorf("lines of laundry: %w", err)
		}
		return number, audit(ctx, tx, act, "laundry started", "laundry", number, changes{"pillowcases": {To: drive.Batch{Lines: lines}.Cases()}})
	})
}

const insertLaundryLine = `INSERT INTO laundry_lines (drive_id, batch, line, asked, size, kit, part, n) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`

// FinishBatch says that a batch is clean and dry; day zero is today.
func (s *Store) FinishBatch(ctx context.Context, act drive.Act, number int64, by string, on time.Time) (int, error) {
	type body struct {
		Number int64
		By     string
		On     time.Time
	}
	return once(ctx, s, act, "finish laundry", body{number, by, on}, func(tx pgx.Tx) (int, error) {
		b, err := lockBatch(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		if err := holdSigner(ctx, tx, act); err != nil {
			return 0, err
		}
		day, today, err := dayOf(ctx, tx, act, on)
		if err != nil {
			return 0, err
		}
		if err := b.Finish(by, day, today); err != nil {
			return 0, err
		}
		const update = `UPDATE laundry SET done_on = $3, done_by = $4 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, number, day, strings.TrimSpace(by)); err != nil {
			return 0, fmt.Errorf("finish laundry: %w", err)
		}
		return b.Cases(), audit(ctx, tx, act, "laundry done", "laundry", number, changes{"pillowcases": {To: b.Cases()}})
	})
}

// UndoBatch takes a batch back one step: done by mistake, it is in the wash again;
// started by mistake, it never was. Where some of it was packed as laundered, or left
// in another way, it stays done.
func (s *Store) UndoBatch(ctx context.Context, act drive.Act, number int64) (bool, error) {
	return once(ctx, s, act, "undo laundry", number, func(tx pgx.Tx) (bool, error) {
		b, err := lockBatch(ctx, tx, act.Drive, number)
		if err != nil {
			return false, err
		}
		switch {
		case b.UndoneAt != nil:
			return false, apperr.Conflict("Batch %d was undone already.", number)
		case b.DoneOn != nil:
			if _, err = tx.Exec(ctx, `UPDATE laundry SET done_on = NULL, done_by = '' WHERE drive_id = $1 AND number = $2`, act.Drive, number); err == nil {
				err = noneLeft(ctx, tx, act.Drive, number)
			}
		default:
			_, err = tx.Exec(ctx, `UPDATE laundry SET undone_at = $3 WHERE drive_id = $1 AND number = $2`, act.Drive, number, act.At)
		}
		if apperr.As(err) != nil {
			return false, err
		}
		if err != nil {
			return false, fmt.Errorf("undo laundry: %w", err)
		}
		return b.DoneOn != nil, audit(ctx, tx, act, "laundry undone", "laundry", number, changes{"done": {From: b.DoneOn != nil, To: false}})
	})
}

// noneLeft refuses where laundered pillowcases of a batch have left.
func noneLeft(ctx context.Context, tx pgx.Tx, driveID string, number int64) error {
	const q = `SELECT coalesce(sum(gone), 0) FROM laundry_lines WHERE drive_id = $1 AND batch = $2`
	var gone int
	if err := tx.QueryRow(ctx, q, driveID, number).Scan(&gone); err != nil {
		return fmt.Errorf("what left of the laundry: %w", err)
	}
	return drive.StaysDone(number, gone)
}

// lockBatch locks the drive's row, under which batches are started, and its laundry, and
// reads one batch as it is when everybody who takes something out of it is through.
func lockBatch(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Batch, error) {
	if err := lockDrive(ctx, tx, driveID); err != nil {
		return drive.Batch{}, err
	}
	if err := laundryStill(ctx, tx, driveID); err != nil {
		return drive.Batch{}, err
	}
	const q = `SELECT ` + batchColumns + ` FROM laundry WHERE drive_id = $1 AND number = $2`
	list, err := loadBatches(ctx, tx, driveID, q, driveID, number)
	if err == nil && len(list) == 0 {
		err = apperr.NotFound("There is no batch %d here.", number)
	}
	if err != nil {
		return drive.Batch{}, err
	}
	return list[0], nil
}
