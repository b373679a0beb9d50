package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const deliveryColumns = `number, recipient, sent_on, carried_by, confirmed_on, confirmed_by, confirmed_how, note, created_at, undone_at, version`

// Sending is boxes that go to one recipient together.
type Sending struct {
	Recipient int64
	Boxes     []int64
	SentOn    *time.Time // none: it is made, and leaves later
	CarriedBy string
	Note      string
}

// MakeDelivery puts packed boxes together for their recipient and gives the delivery's
// number; with a day it leaves at once. It refuses by field what drive.CheckDelivery
// refuses and a day before a box was packed, and is a conflict where a box is somebody
// else's, empty or goes elsewhere already.
func (s *Store) MakeDelivery(ctx context.Context, act drive.Act, m Sending) (int64, error) {
	return once(ctx, s, act, "make delivery", m, func(tx pgx.Tx) (int64, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		if err := drive.CheckDelivery(m.SentOn, drive.Day(act.At, d.Location()), len(m.Boxes), m.CarriedBy, m.Note); err != nil {
			return 0, err
		}
		if err := lockRecipient(ctx, tx, act.Drive, m.Recipient); err != nil {
			return 0, err
		}
		boxes, err := lockBoxes(ctx, tx, act.Drive, m.Boxes)
		if err != nil {
			return 0, err
		}
		cases := 0
		for _, b := range boxes {
			if err := b.Takes(m.Recipient); err != nil {
				return 0, err
			}
			cases += b.Cases()
		}
		number, err := next(ctx, tx, act.Drive, "delivery")
		if err != nil {
			return 0, err
		}
		const insert = `INSERT INTO deliveries (drive_id, number, recipient, carried_by, note, created_at) VALUES ($1, $2, $3, $4, $5, $6)`
		if _, err := tx.Exec(ctx, insert, act.Drive, number, m.Recipient, m.CarriedBy, m.Note, act.At); err != nil {
			return 0, fmt.Errorf("make delivery: %w", err)
		}
		const take = `UPDATE boxes SET delivery = $3, version = version + 1 WHERE drive_id = $1 AND number = ANY($2)`
		if _, err := tx.Exec(ctx, take, act.Drive, m.Boxes, number); err != nil {
			return 0, fmt.Errorf("boxes of the delivery: %w", err)
		}
		if m.SentOn != nil {
			if err := sendDelivery(ctx, tx, act, d, number, *m.SentOn); err != nil {
				return 0, err
			}
		}
		return number, audit(ctx, tx, act, madeOrSent(m.SentOn), "delivery", number, changes{"recipient": {To: m.Recipient}, "pillowcases": {To: cases}})
	})
}

func madeOrSent(on *time.Time) string {
	if on == nil {
		return "delivery made"
	}
	return "sent"
}

// SendDelivery notes that a delivery that was made has left: on that day, carried by
// somebody. It refuses by field a day to come and one before a box was packed.
func (s *Store) SendDelivery(ctx context.Context, act drive.Act, number int64, on time.Time, carriedBy string) (int, error) {
	body := struct {
		Number    int64
		On        time.Time
		CarriedBy string
	}{number, on, carriedBy}
	return once(ctx, s, act, "send delivery", body, func(tx pgx.Tx) (int, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		made, err := lockDelivery(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		// One that was undone meanwhile has no boxes: that it was undone is said before that.
		if err := sendDelivery(ctx, tx, act, d, number, on); err != nil {
			return 0, err
		}
		if err := drive.CheckDelivery(&on, drive.Day(act.At, d.Location()), len(made.Boxes), carriedBy, ""); err != nil {
			return 0, err
		}
		const carry = `UPDATE deliveries SET carried_by = $3 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, carry, act.Drive, number, carriedBy); err != nil {
			return 0, fmt.Errorf("who carries the delivery: %w", err)
		}
		return made.Cases(), audit(ctx, tx, act, "sent", "delivery", number, changes{"pillowcases": {To: made.Cases()}})
	})
}

// sendDelivery takes the boxes of a delivery on their way; its recipient and boxes are locked.
func sendDelivery(ctx context.Context, tx pgx.Tx, act drive.Act, of drive.Drive, number int64, on time.Time) error {
	d, err := deliveryIn(ctx, tx, act.Drive, number)
	if err != nil {
		return err
	}
	booked, err := boxesBookedOn(ctx, tx, act.Drive, number)
	if err != nil {
		return err
	}
	entries, err := d.Send(on, drive.Day(act.At, of.Location()), booked)
	if err != nil {
		return err
	}
	if err := writeCases(ctx, tx, act, on, entries); err != nil {
		return err
	}
	const q = `UPDATE deliveries SET sent_on = $3, version = version + 1 WHERE drive_id = $1 AND number = $2`
	if _, err := tx.Exec(ctx, q, act.Drive, number, on); err != nil {
		return fmt.Errorf("send delivery: %w", err)
	}
	return nil
}

// boxesBookedOn gives the last day on which something was booked of each box of a delivery.
func boxesBookedOn(ctx context.Context, tx pgx.Tx, driveID string, number int64) (map[int64]time.Time, error) {
	const q = `SELECT e.box, max(e.day) FROM boxes b JOIN case_entries e ON e.drive_id = b.drive_id AND e.box = b.number
		WHERE b.drive_id = $1 AND b.delivery = $2 GROUP BY e.box`
	rows, err := tx.Query(ctx, q, driveID, number)
	if err != nil {
		return nil, fmt.Errorf("what was booked of boxes: %w", err)
	}
	booked := map[int64]time.Time{}
	var box int64
	var day time.Time
	if _, err = pgx.ForEachRow(rows, []any{&box, &day}, func() error { booked[box] = day; return nil }); err != nil {
		return nil, fmt.Errorf("what was booked of boxes: %w", err)
	}
	return booked, nil
}

// UndoDelivery takes a delivery back of which nobody has said yet what arrived: its boxes
// wait again. It gives how many boxes those are.
func (s *Store) UndoDelivery(ctx context.Context, act drive.Act, number int64) (int, error) {
	return once(ctx, s, act, "undo delivery", number, func(tx pgx.Tx) (int, error) {
		d, err := lockDelivery(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		entries, err := d.Undo()
		if err != nil {
			return 0, err
		}
		if err := bookCases(ctx, tx, act, entries); err != nil {
			return 0, err
		}
		const free = `UPDATE boxes SET delivery = NULL, version = version + 1 WHERE drive_id = $1 AND delivery = $2`
		if _, err := tx.Exec(ctx, free, act.Drive, number); err != nil {
			return 0, fmt.Errorf("undo delivery: %w", err)
		}
		const undo = `UPDATE deliveries SET sent_on = NULL, undone_at = $3, version = version + 1 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, undo, act.Drive, number, act.At); err != nil {
			return 0, fmt.Errorf("undo delivery: %w", err)
		}
		return len(d.Boxes), audit(ctx, tx, act, "delivery undone", "delivery", number, changes{"boxes": {To: len(d.Boxes)}, "pillowcases": {To: d.Cases()}})
	})
}

// DeliveriesQuery is which deliveries are wanted. What is zero asks for nothing.
type DeliveriesQuery struct {
	Recipient int64
	State     drive.DeliveryState
	Sent      bool  // those that have left
	Before    int64 // those with smaller numbers
	Limit     int
}

// Deliveries gives deliveries with their boxes, newest first. Undone ones are left out
// unless they are asked for.
func (s *Store) Deliveries(ctx context.Context, driveID string, q DeliveriesQuery) ([]drive.Delivery, error) {
	const list = `SELECT ` + deliveryColumns + ` FROM deliveries d
		WHERE drive_id = $1 AND ($2 = 0 OR recipient = $2) AND ($4 = 0 OR number < $4) AND (NOT $6 OR sent_on IS NOT NULL) AND ($3 = CASE
			WHEN undone_at IS NOT NULL THEN 'undone' WHEN sent_on IS NULL THEN 'made' WHEN confirmed_on IS NULL THEN 'on its way'
			WHEN $3 IN ('counts differ', 'arrived') THEN CASE WHEN ` + deliveryDiffers + ` THEN 'counts differ' ELSE 'arrived' END
			ELSE '' END OR $3 = '' AND undone_at IS NULL)
		ORDER BY number DESC LIMIT nullif($5, 0)`
	return loadDeliveries(ctx, s.pool, driveID, list, driveID, q.Recipient, q.State, q.Before, q.Limit, q.Sent)
}

// deliveryDiffers says of a delivery d of which somebody said what arrived whether counts are open.
const deliveryDiffers = `(EXISTS (SELECT FROM boxes b JOIN box_lines l ON l.drive_id = b.drive_id AND l.box = b.number
		WHERE b.drive_id = d.drive_id AND b.delivery = d.number AND l.n > l.confirmed + l.missing + l.returned)
	OR EXISTS (SELECT FROM delivery_counts c WHERE c.drive_id = d.drive_id AND c.delivery = d.number AND c.more > 0))`

// Delivery gives one delivery with its boxes; not found where the drive has none of that number.
func (s *Store) Delivery(ctx context.Context, driveID string, number int64) (drive.Delivery, error) {
	return deliveryIn(ctx, s.pool, driveID, number)
}

func deliveryIn(ctx context.Context, db querier, driveID string, number int64) (drive.Delivery, error) {
	const q = `SELECT ` + deliveryColumns + ` FROM deliveries WHERE drive_id = $1 AND number = $2`
	return oneDelivery(loadDeliveries(ctx, db, driveID, q, driveID, number))
}

// lockDelivery locks the recipient first, as where boxes are packed and sent.
func lockDelivery(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Delivery, error) {
	const first = `SELECT r.number FROM recipients r JOIN deliveries d ON d.drive_id = r.drive_id AND d.recipient = r.number
		WHERE d.drive_id = $1 AND d.number = $2 FOR NO KEY UPDATE OF r`
	if _, err := tx.Exec(ctx, first, driveID, number); err != nil {
		return drive.Delivery{}, fmt.Errorf("lock recipient: %w", err)
	}
	const q = `SELECT ` + deliveryColumns + ` FROM deliveries WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	return oneDelivery(loadDeliveries(ctx, tx, driveID, q, driveID, number))
}

func oneDelivery(list []drive.Delivery, err error) (drive.Delivery, error) {
	if err != nil {
		return drive.Delivery{}, err
	}
	if len(list) == 0 {
		return drive.Delivery{}, apperr.NotFound("There is no such delivery here.")
	}
	return list[0], nil
}

func loadDeliveries(ctx context.Context, db querier, driveID, q string, args ...any) ([]drive.Delivery, error) {
	rows, err := db.Query(ctx, q, args...)
	if err != nil {
		return nil, fmt.Errorf("deliveries: %w", err)
	}
	list, err := collect(rows, "deliveries", pgx.RowToStructByName[drive.Delivery])
	if err != nil || len(list) == 0 {
		return nil, err
	}
	at := make(map[int64]int, len(list))
	numbers := make([]int64, len(list))
	for i, d := range list {
		at[d.Number], numbers[i] = i, d.Number
	}
	const boxes = `SELECT ` + boxColumns + ` FROM boxes WHERE drive_id = $1 AND delivery = ANY($2) ORDER BY number`
	all, err := loadBoxes(ctx, db, driveID, boxes, driveID, numbers)
	if err != nil {
		return nil, err
	}
	for _, b := range all {
		d := &list[at[*b.Delivery]]
		d.Boxes = append(d.Boxes, b)
	}
	return list, loadSaid(ctx, db, driveID, list, at, numbers)
}
