package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const boxColumns = `number, recipient, delivery, packed_by, checked_by, emptied, created_at, version`

// PackedBox is what somebody packed for a recipient.
type PackedBox struct {
	Recipient int64
	PackedBy  string
	CheckedBy string
	Cases     []drive.Pack
	Rules     []drive.RuleKept // of the recipient, as they were gone through
}

// BoxOfForm gives the box that the act's form has packed when it was sent before; 0 where
// it was not. Another form under the same key is a conflict.
func (s *Store) BoxOfForm(ctx context.Context, act drive.Act) (int64, error) {
	return kept[int64](ctx, s, act, "pack box", nil)
}

// PackBox fills a new box for one recipient from the good pillowcases of its
// lines and gives its number. The recipient's row is locked first, so that two
// people who pack the same pillowcases go one after the other.
func (s *Store) PackBox(ctx context.Context, act drive.Act, p PackedBox) (int64, error) {
	return once(ctx, s, act, "pack box", p, func(tx pgx.Tx) (int64, error) {
		if err := holdSigner(ctx, tx, act); err != nil {
			return 0, err
		}
		if err := lockRecipient(ctx, tx, act.Drive, p.Recipient); err != nil {
			return 0, err
		}
		good, err := goodFor(ctx, tx, act.Drive, p.Recipient)
		if err != nil {
			return 0, err
		}
		number, err := next(ctx, tx, act.Drive, "box")
		if err != nil {
			return 0, err
		}
		lines, entries, err := drive.PackBox(number, p.PackedBy, p.CheckedBy, p.Cases, good)
		if err != nil {
			return 0, err
		}
		rules, err := goneThrough(ctx, tx, act.Drive, p, lines)
		if err != nil {
			return 0, err
		}
		const insert = `INSERT INTO boxes (drive_id, number, recipient, packed_by, checked_by, created_at) VALUES ($1, $2, $3, $4, $5, $6)`
		if _, err := tx.Exec(ctx, insert, act.Drive, number, p.Recipient, p.PackedBy, p.CheckedBy, act.At); err != nil {
			return 0, fmt.Errorf("pack box: %w", err)
		}
		const line = `INSERT INTO box_lines (drive_id, box, line, asked, size, kit, part, n) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`
		var batch pgx.Batch
		for _, l := range lines {
			batch.Queue(line, act.Drive, number, l.Line, l.Asked, l.Size, l.Kit, l.Part, l.N)
		}
		const rule = `INSERT INTO box_rules (drive_id, box, line, rule, kept, why) VALUES ($1, $2, $3, $4, $5, $6)`
		over := 0
		for i, r := range rules {
			batch.Queue(rule, act.Drive, number, i+1, r.Rule, r.Kept, r.Why)
			if !r.Kept {
				over++
			}
		}
		if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
			return 0, fmt.Errorf("lines of the box: %w", err)
		}
		if err := bookCases(ctx, tx, act, entries); err != nil {
			return 0, err
		}
		return number, audit(ctx, tx, act, "box packed", "box", number,
			changes{"recipient": {To: p.Recipient}, "pillowcases": {To: drive.Box{Lines: lines}.Cases()}, "rules not kept": {To: over}})
	})
}

// goneThrough holds what was said of the recipient's rules against what they are now.
func goneThrough(ctx context.Context, tx pgx.Tx, driveID string, p PackedBox, lines []drive.BoxLine) ([]drive.RuleKept, error) {
	const q = `SELECT rules FROM recipients WHERE drive_id = $1 AND number = $2`
	var rules []string
	if err := tx.QueryRow(ctx, q, driveID, p.Recipient).Scan(&rules); err != nil {
		return nil, fmt.Errorf("rules of the recipient: %w", err)
	}
	list, err := checkList(ctx, tx, driveID)
	if err != nil {
		return nil, err
	}
	unlaundered := 0
	if list.Launders {
		if err := laundryWaits(ctx, tx, driveID); err != nil {
			return nil, err
		}
		here, err := washablesIn(ctx, tx, driveID)
		if err != nil {
			return nil, err
		}
		unlaundered = drive.Unlaundered(lines, here)
	}
	return drive.GoThrough(drive.PackRules(rules, list.Launders), p.Rules, unlaundered)
}

// BoxRules gives the rules of a recipient as they were gone through when a box was closed.
func (s *Store) BoxRules(ctx context.Context, driveID string, box int64) ([]drive.RuleKept, error) {
	const q = `SELECT rule, kept, why FROM box_rules WHERE drive_id = $1 AND box = $2 ORDER BY line`
	rows, err := s.pool.Query(ctx, q, driveID, box)
	if err != nil {
		return nil, fmt.Errorf("rules of the box: %w", err)
	}
	return collect(rows, "rules of the box", pgx.RowToStructByName[drive.RuleKept])
}

// UnpackBox takes a box that was not sent apart again.
func (s *Store) UnpackBox(ctx context.Context, act drive.Act, number int64) (int, error) {
	return once(ctx, s, act, "unpack box", number, func(tx pgx.Tx) (int, error) {
		// The recipient first, as where boxes are packed and sent.
		const lock = `SELECT r.number FROM recipients r JOIN boxes b ON b.drive_id = r.drive_id AND b.recipient = r.number
			WHERE b.drive_id = $1 AND b.number = $2 FOR NO KEY UPDATE OF r`
		if _, err := tx.Exec(ctx, lock, act.Drive, number); err != nil {
			return 0, fmt.Errorf("lock recipient: %w", err)
		}
		boxes, err := lockBoxes(ctx, tx, act.Drive, []int64{number})
		if err != nil {
			return 0, err
		}
		entries, err := boxes[0].Unpack()
		if err != nil {
			return 0, err
		}
		const update = `UPDATE boxes SET emptied = true, version = version + 1 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, number); err != nil {
			return 0, fmt.Errorf("unpack box: %w", err)
		}
		if err := bookCases(ctx, tx, act, entries); err != nil {
			return 0, err
		}
		return boxes[0].Cases(), audit(ctx, tx, act, "box unpacked", "box", number, nil)
	})
}

// BoxesWaiting gives the boxes that are packed and not sent, by recipient and number.
func (s *Store) BoxesWaiting(ctx context.Context, driveID string) ([]drive.Box, error) {
	const q = `SELECT ` + boxColumns + ` FROM boxes WHERE drive_id = $1 AND delivery IS NULL AND NOT emptied ORDER BY recipient, number`
	return loadBoxes(ctx, s.pool, driveID, q, driveID)
}

// Box gives one box with its lines; not found where the drive has none of that number.
func (s *Store) Box(ctx context.Context, driveID string, number int64) (drive.Box, error) {
	const q = `SELECT ` + boxColumns + ` FROM boxes WHERE drive_id = $1 AND number = $2`
	boxes, err := loadBoxes(ctx, s.pool, driveID, q, driveID, number)
	if err != nil {
		return drive.Box{}, err
	}
	if len(boxes) == 0 {
		return drive.Box{}, apperr.NotFound("There is no box %d here.", number)
	}
	return boxes[0], nil
}

// lockBoxes locks boxes in key order and gives them as they stand then.
func lockBoxes(ctx context.Context, tx pgx.Tx, driveID string, numbers []int64) ([]drive.Box, error) {
	const q = `SELECT ` + boxColumns + ` FROM boxes WHERE drive_id = $1 AND number = ANY($2) ORDER BY number FOR NO KEY UPDATE`
	boxes, err := loadBoxes(ctx, tx, driveID, q, driveID, numbers)
	if err != nil {
		return nil, err
	}
	for _, want := range numbers {
		found := false
		for _, b := range boxes {
			found = found || b.Number == want
		}
		if !found {
			return nil, apperr.NotFound("There is no box %d here.", want)
		}
	}
	return boxes, nil
}

func loadBoxes(ctx context.Context, db querier, driveID, q string, args ...any) ([]drive.Box, error) {
	rows, err := db.Query(ctx, q, args...)
	if err != nil {
		return nil, fmt.Errorf("boxes: %w", err)
	}
	boxes, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Box])
	if err != nil {
		return nil, fmt.Errorf("boxes: %w", err)
	}
	at := make(map[int64]int, len(boxes))
	numbers := make([]int64, len(boxes))
	for i, b := range boxes {
		at[b.Number], numbers[i] = i, b.Number
	}
	const lines = `SELECT box, line, asked, size, kit, part, n, confirmed, missing, returned, added FROM box_lines
		WHERE drive_id = $1 AND box = ANY($2) ORDER BY box, line`
	rows, err = db.Query(ctx, lines, driveID, numbers)
	if err != nil {
		return nil, fmt.Errorf("lines of boxes: %w", err)
	}
	type row struct {
		Box int64 `db:"box"`
		drive.BoxLine
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[row])
	if err != nil {
		return nil, fmt.Errorf("lines of boxes: %w", err)
	}
	for _, l := range list {
		b := &boxes[at[l.Box]]
		b.Lines = append(b.Lines, l.BoxLine)
	}
	return boxes, nil
}

func lockRecipient(ctx context.Context, tx pgx.Tx, driveID string, number int64) error {
	const q = `SELECT number FROM recipients WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	err := tx.QueryRow(ctx, q, driveID, number).Scan(&number)
	if errors.Is(err, pgx.ErrNoRows) {
		return apperr.Invalid("recipient", "Choose a recipient from the list.")
	}
	if err != nil {
		return fmt.Errorf("lock recipient: %w", err)
	}
	return nil
}

// goodFor gives the good pillowcases of all lines of a recipient.
func goodFor(ctx context.Context, tx pgx.Tx, driveID string, recipient int64) ([]drive.Stack, error) {
	const q = `SELECT b.asked, b.size, b.kit, b.part, b.state, b.n FROM case_balances b
		JOIN asked a ON a.drive_id = b.drive_id AND a.number = b.asked
		WHERE b.drive_id = $1 AND a.recipient = $2 AND b.state = 'good' AND b.n > 0
		ORDER BY b.asked, b.size, b.kit, b.part`
	rows, err := tx.Query(ctx, q, driveID, recipient)
	if err != nil {
		return nil, fmt.Errorf("good pillowcases: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Stack])
	if err != nil {
		return nil, fmt.Errorf("good pillowcases: %w", err)
	}
	return list, nil
}
