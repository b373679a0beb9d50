package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// lockWash is the namespace of the advisory locks by which batches of laundry are begun and
// ended while nothing that can be laundered comes or goes: a drive's whole laundry has one. The
// numbers before it are those of signing in.
const lockWash = 7204

// laundryStill lets whoever begins or ends a batch wait until everybody who moves what lies
// here is through; others then wait for the batch. It comes after the lock of the drive's row.
func laundryStill(ctx context.Context, tx pgx.Tx, driveID string) error {
	if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock($1, hashtext($2))`, lockWash, driveID); err != nil {
		return fmt.Errorf("lock the laundry: %w", err)
	}
	return nil
}

// laundryWaits lets no batch begin or end until the transaction does.
func laundryWaits(ctx context.Context, tx pgx.Tx, driveID string) error {
	if _, err := tx.Exec(ctx, shareLaundry, lockWash, driveID); err != nil {
		return fmt.Errorf("lock the laundry: %w", err)
	}
	return nil
}

const shareLaundry = `SELECT pg_advisory_xact_lock_shared($1, hashtext($2))`

// lockLaundry comes before entries are written that touch what lies here: it keeps batches
// from beginning and ending, and locks those in which the entries' stacks are, in the order
// of their numbers, so that two who take out of one batch go one after the other.
func lockLaundry(ctx context.Context, tx pgx.Tx, driveID string, entries []drive.CaseEntry) error {
	var asked, sizes, kits, parts []int64
	here := false
	for _, e := range entries {
		here = here || liesHere(e.From) || liesHere(e.To)
		if liesHere(e.From) {
			asked, sizes, kits, parts = append(asked, e.Asked), append(sizes, e.Size), append(kits, e.Kit), append(parts, int64(e.Part))
		}
	}
	if !here {
		return nil
	}
	if err := laundryWaits(ctx, tx, driveID); err != nil || len(asked) == 0 {
		return err
	}
	const q = `SELECT y.number FROM laundry y WHERE y.drive_id = $1 AND y.number IN (
			SELECT l.batch FROM unnest($2::bigint[], $3::bigint[], $4::bigint[], $5::bigint[]) AS s (asked, size, kit, part)
			JOIN laundry_lines l ON l.drive_id = $1 AND l.asked = s.asked AND l.size = s.size AND l.kit = s.kit AND l.part = s.part AND l.n > l.gone)
		ORDER BY y.number FOR NO KEY UPDATE OF y`
	if _, err := tx.Exec(ctx, q, driveID, asked, sizes, kits, parts); err != nil {
		return fmt.Errorf("lock batches of laundry: %w", err)
	}
	return nil
}

// laundryKeeps lets the laundry know of an entry that is written: laundered pillowcases
// that go to another line or part stay laundered, those that leave are laundered no more,
// and those that an undone step or an unpacked box gives back are as they were. What
// comes back from a recipient or from mending is to be laundered anew. The ledger knows
// only how many, so those that are laundered go first.
func laundryKeeps(ctx context.Context, tx pgx.Tx, driveID string, id int64, e drive.CaseEntry) error {
	was, is := liesHere(e.From), liesHere(e.To)
	same := e.Asked == e.ToAsked && e.Kit == e.ToKit && e.Part == e.ToPart
	switch {
	case was && is && !same:
		if left, err := laundryTakes(ctx, tx, driveID, 0, e, e.N, true); err != nil || left == 0 {
			return err
		} else if _, err := laundryTakes(ctx, tx, driveID, 0, e, left, false); err != nil {
			return err
		}
		return nil
	case was && !is:
		if _, err := laundryTakes(ctx, tx, driveID, id, e, e.N, true); err != nil {
			return err
		}
		over, err := laundryOver(ctx, tx, driveID, e)
		if err != nil || over <= 0 {
			return err
		}
		_, err = laundryTakes(ctx, tx, driveID, id, e, over, false)
		return err
	case is && !was && (e.Undoes != nil || e.From == drive.CasePacked && e.Box != nil):
		return laundryGivesBack(ctx, tx, driveID, e)
	}
	return nil
}

func liesHere(state drive.CaseState) bool {
	return state == drive.CaseSewn || state == drive.CaseGood
}

// laundryTakes takes up to n pillowcases of the stack an entry comes from out of the lines
// of laundry, laundered ones or those in the wash, and gives how many more it asked for.
// Without an entry's id they go to the lines of the stack the entry leads to.
func laundryTakes(ctx context.Context, tx pgx.Tx, driveID string, id int64, e drive.CaseEntry, n int, done bool) (int, error) {
	for n > 0 {
		const q = `SELECT l.batch, l.line, l.n - l.gone FROM laundry_lines l JOIN laundry y ON y.drive_id = l.drive_id AND y.number = l.batch
			WHERE l.drive_id = $1 AND l.asked = $2 AND l.size = $3 AND l.kit = $4 AND l.part = $5 AND l.n > l.gone AND y.undone_at IS NULL
				AND (y.done_on IS NOT NULL) = $6
			ORDER BY y.done_on, l.batch, l.line LIMIT 1`
		var batch int64
		var line, there int
		err := tx.QueryRow(ctx, q, driveID, e.Asked, e.Size, e.Kit, e.Part, done).Scan(&batch, &line, &there)
		if errors.Is(err, pgx.ErrNoRows) {
			return n, nil
		}
		if err != nil {
			return 0, fmt.Errorf("laundry of an entry: %w", err)
		}
		take := min(n, there)
		var queue pgx.Batch
		const less = `UPDATE laundry_lines SET n = n - $4 WHERE drive_id = $1 AND batch = $2 AND line = $3`
		switch {
		case id == 0:
			queue.Queue(less, driveID, batch, line, take)
			queue.Queue(`INSERT INTO laundry_lines (drive_id, batch, line, asked, size, kit, part, n)
				SELECT $1, $2, max(line) + 1, $3, $4, $5, $6, $7 FROM laundry_lines WHERE drive_id = $1 AND batch = $2`,
				driveID, batch, e.ToAsked, e.Size, e.ToKit, e.ToPart, take)
		case done:
			queue.Queue(`UPDATE laundry_lines SET gone = gone + $4 WHERE drive_id = $1 AND batch = $2 AND line = $3`, driveID, batch, line, take)
			queue.Queue(`INSERT INTO laundry_left (drive_id, entry, batch, line, n) VALUES ($1, $2, $3, $4, $5)`, driveID, id, batch, line, take)
		default: // taken out of the wash before it was done, they never were laundered
			queue.Queue(less, driveID, batch, line, take)
		}
		if err := tx.SendBatch(ctx, &queue).Close(); err != nil {
			return 0, fmt.Errorf("laundry of an entry: %w", err)
		}
		n -= take
	}
	return 0, nil
}

// laundryOver gives how many more of the stack an entry comes from are laundered or in
// the wash than lie here.
func laundryOver(ctx context.Context, tx pgx.Tx, driveID string, e drive.CaseEntry) (int, error) {
	const q = `SELECT coalesce((SELECT sum(l.n - l.gone) FROM laundry_lines l JOIN laundry y ON y.drive_id = l.drive_id AND y.number = l.batch
			WHERE l.drive_id = $1 AND l.asked = $2 AND l.size = $3 AND l.kit = $4 AND l.part = $5 AND y.undone_at IS NULL), 0)
		- coalesce((SELECT sum(n) FROM case_balances
			WHERE drive_id = $1 AND asked = $2 AND size = $3 AND kit = $4 AND part = $5 AND state IN ('sewn', 'good')), 0)`
	var over int
	if err := tx.QueryRow(ctx, q, driveID, e.Asked, e.Size, e.Kit, e.Part).Scan(&over); err != nil {
		return 0, fmt.Errorf("laundry of a stack: %w", err)
	}
	return over, nil
}

// laundryGivesBack lets be laundered again what the entry that is undone took away, or
// what went laundered into the box that is unpacked.
func laundryGivesBack(ctx context.Context, tx pgx.Tx, driveID string, e drive.CaseEntry) error {
	const q = `SELECT t.entry, t.batch, t.line, t.n FROM laundry_left t
		JOIN case_entries o ON o.drive_id = t.drive_id AND o.id = t.entry
		WHERE t.drive_id = $1 AND t.n > 0 AND o.asked = $2 AND o.size = $3 AND o.kit = $4 AND o.part = $5
			AND CASE WHEN $6::bigint IS NOT NULL THEN o.id = $6 ELSE o.box = $7 AND o.to_state = 'packed' END
		ORDER BY t.batch, t.line, t.entry FOR NO KEY UPDATE OF t`
	rows, err := tx.Query(ctx, q, driveID, e.ToAsked, e.Size, e.ToKit, e.ToPart, e.Undoes, e.Box)
	if err != nil {
		return fmt.Errorf("laundry that comes back: %w", err)
	}
	type left struct {
		Entry, Batch int64
		Line, N      int
	}
	list, err := collect(rows, "laundry that comes back", pgx.RowToStructByPos[left])
	if err != nil {
		return err
	}
	var queue pgx.Batch
	n := e.N
	for _, l := range list {
		back := min(n, l.N)
		n -= back
		queue.Queue(`UPDATE laundry_left SET n = n - $5 WHERE drive_id = $1 AND entry = $2 AND batch = $3 AND line = $4`, driveID, l.Entry, l.Batch, l.Line, back)
		queue.Queue(`UPDATE laundry_lines SET gone = gone - $4 WHERE drive_id = $1 AND batch = $2 AND line = $3`, driveID, l.Batch, l.Line, back)
	}
	if err := tx.SendBatch(ctx, &queue).Close(); err != nil {
		return fmt.Errorf("laundry that comes back: %w", err)
	}
	return nil
}
