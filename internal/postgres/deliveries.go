package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const deliveryColumns = `number, recipient, sent_on, carried_by, confirmed_on, confirmed_by, confirmed_how, note, created_at, version`

// Sending is boxes that go to one recipient together.
type Sending struct {
	Recipient int64
	Boxes     []int64
	SentOn    time.Time
	CarriedBy string
	Note      string
}

// MakeDelivery sends packed boxes to their recipient and gives the delivery's
// number. It refuses by field what drive.CheckSent refuses and a day before a box
// was packed, and is a conflict where a box is somebody else's, empty or sent already.
func (s *Store) MakeDelivery(ctx context.Context, act drive.Act, m Sending) (int64, error) {
	return once(ctx, s, act, "make delivery", m, func(tx pgx.Tx) (int64, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		today := drive.Day(act.At, d.Location())
		if err := drive.CheckSent(m.SentOn, today, len(m.Boxes), m.CarriedBy, m.Note); err != nil {
			return 0, err
		}
		if err := lockRecipient(ctx, tx, act.Drive, m.Recipient); err != nil {
			return 0, err
		}
		boxes, err := lockBoxes(ctx, tx, act.Drive, m.Boxes)
		if err != nil {
			return 0, err
		}
		number, err := next(ctx, tx, act.Drive, "delivery")
		if err != nil {
			return 0, err
		}
		const insert = `INSERT INTO deliveries (drive_id, number, recipient, sent_on, carried_by, note, created_at) VALUES ($1, $2, $3, $4, $5, $6, $7)`
		if _, err := tx.Exec(ctx, insert, act.Drive, number, m.Recipient, m.SentOn, m.CarriedBy, m.Note, act.At); err != nil {
			return 0, fmt.Errorf("make delivery: %w", err)
		}
		cases := 0
		for _, b := range boxes {
			entries, err := b.Send(number, m.Recipient, m.SentOn, d.Location())
			if err != nil {
				return 0, err
			}
			if err := writeCases(ctx, tx, act, m.SentOn, entries); err != nil {
				return 0, err
			}
			cases += b.Cases()
		}
		const send = `UPDATE boxes SET delivery = $3, version = version + 1 WHERE drive_id = $1 AND number = ANY($2)`
		if _, err := tx.Exec(ctx, send, act.Drive, m.Boxes, number); err != nil {
			return 0, fmt.Errorf("send boxes: %w", err)
		}
		return number, audit(ctx, tx, act, "sent", "delivery", number, changes{"recipient": {To: m.Recipient}, "pillowcases": {To: cases}})
	})
}

// Settled is how a delivery stands after a confirmation. It holds nothing personal,
// since answers are kept for repeats.
type Settled struct {
	Cases     int // pillowcases of the delivery
	Confirmed int
	Open      int
}

// ConfirmDelivery books what the recipient says arrived and who said so. What
// differs stays open and is shown until somebody settles it. Who said so is
// personal: it stands with the delivery alone.
func (s *Store) ConfirmDelivery(ctx context.Context, act drive.Act, number int64, c drive.Confirmation) (Settled, error) {
	body := struct {
		Number int64
		C      drive.Confirmation
	}{number, c}
	return once(ctx, s, act, "confirm delivery", body, func(tx pgx.Tx) (Settled, error) {
		one, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return Settled{}, err
		}
		d, err := lockDelivery(ctx, tx, act.Drive, number)
		if err != nil {
			return Settled{}, err
		}
		lines, entries, err := d.Confirm(c, drive.Day(act.At, one.Location()))
		if err != nil {
			return Settled{}, err
		}
		const update = `UPDATE deliveries SET confirmed_on = $3, confirmed_by = $4, confirmed_how = $5, version = version + 1
			WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, number, c.On, c.By, c.How); err != nil {
			return Settled{}, fmt.Errorf("confirm delivery: %w", err)
		}
		if err := settleLines(ctx, tx, act, c.On, lines, entries); err != nil {
			return Settled{}, err
		}
		if d, err = deliveryIn(ctx, tx, act.Drive, number); err != nil {
			return Settled{}, err
		}
		settled := Settled{Cases: d.Cases(), Confirmed: d.Confirmed(), Open: d.Open()}
		return settled, audit(ctx, tx, act, "delivery confirmed", "delivery", number,
			changes{"confirmed": {To: settled.Confirmed}, "open": {To: settled.Open}, "by": {To: "changed"}})
	})
}

// NotReceived settles what is open of a confirmed delivery: it did not arrive.
func (s *Store) NotReceived(ctx context.Context, act drive.Act, number int64, reason string) (int, error) {
	body := struct {
		Number int64
		Reason string
	}{number, reason}
	return once(ctx, s, act, "not received", body, func(tx pgx.Tx) (int, error) {
		one, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		d, err := lockDelivery(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		lines, entries, err := d.NotReceived(reason)
		if err != nil {
			return 0, err
		}
		if err := settleLines(ctx, tx, act, drive.Day(act.At, one.Location()), lines, entries); err != nil {
			return 0, err
		}
		return d.Open(), audit(ctx, tx, act, "not received", "delivery", number, changes{"pillowcases": {To: d.Open()}})
	})
}

func settleLines(ctx context.Context, tx pgx.Tx, act drive.Act, day time.Time, lines map[int64][]drive.BoxLine, entries []drive.CaseEntry) error {
	const q = `UPDATE box_lines SET confirmed = $4, missing = $5 WHERE drive_id = $1 AND box = $2 AND line = $3`
	var batch pgx.Batch
	for box, list := range lines {
		for _, l := range list {
			batch.Queue(q, act.Drive, box, l.Line, l.Confirmed, l.Missing)
		}
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("settle lines: %w", err)
	}
	return writeCases(ctx, tx, act, day, entries)
}

// Deliveries gives every delivery with its boxes, newest first.
func (s *Store) Deliveries(ctx context.Context, driveID string) ([]drive.Delivery, error) {
	const q = `SELECT ` + deliveryColumns + ` FROM deliveries WHERE drive_id = $1 ORDER BY number DESC`
	return loadDeliveries(ctx, s.pool, driveID, q, driveID)
}

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
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Delivery])
	if err != nil {
		return nil, fmt.Errorf("deliveries: %w", err)
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
	return list, nil
}
