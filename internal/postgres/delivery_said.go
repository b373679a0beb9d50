package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// Settled is how a delivery stands after a confirmation or a settlement. It holds
// nothing personal, since answers are kept for repeats.
type Settled struct {
	Cases     int // pillowcases of the delivery
	Confirmed int
	Open      int // sent, and neither confirmed nor settled
	More      int // said above what was sent, and not settled
}

// ConfirmDelivery keeps what the recipient says arrived and books it. What differs
// stays open and is shown until somebody settles it. Who said so and their note are
// personal: they stand with the delivery alone.
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
		if err := seldomEnough(ctx, tx, act, number, c.How); err != nil {
			return Settled{}, err
		}
		heard, err := d.Confirm(c, drive.Day(act.At, one.Location()))
		if err != nil {
			return Settled{}, err
		}
		if err := keepAnswer(ctx, tx, act, number, c, heard.Counts); err != nil {
			return Settled{}, err
		}
		const update = `UPDATE deliveries SET confirmed_on = $3, confirmed_by = $4, confirmed_how = $5, version = version + 1
			WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, number, c.On, c.By, c.How); err != nil {
			return Settled{}, fmt.Errorf("confirm delivery: %w", err)
		}
		settled, err := hearDelivery(ctx, tx, act, number, c.On, heard)
		if err != nil {
			return Settled{}, err
		}
		return settled, audit(ctx, tx, act, "delivery confirmed", "delivery", number,
			changes{"confirmed": {To: settled.Confirmed}, "open": {To: settled.Open}, "more": {To: settled.More}, "how": {To: c.How}, "by": {To: "changed"}})
	})
}

// answersAnHour is how often a delivery may be answered by the recipient's own page
// within an hour: more is a machine, or a finger that is stuck.
const answersAnHour = 12

// seldomEnough refuses, as denied, an answer by the own page where there were too many.
func seldomEnough(ctx context.Context, tx pgx.Tx, act drive.Act, number int64, how string) error {
	if how != drive.OwnPage {
		return nil
	}
	const q = `SELECT count(*) FROM delivery_answers WHERE drive_id = $1 AND delivery = $2 AND how = 'own page' AND at > $3`
	var n int
	if err := tx.QueryRow(ctx, q, act.Drive, number, act.At.Add(-time.Hour)).Scan(&n); err != nil {
		return fmt.Errorf("answers of the last hour: %w", err)
	}
	if n >= answersAnHour {
		return apperr.Denied("What arrived was said too often within an hour. Wait an hour, or say it by phone.")
	}
	return nil
}

// keepAnswer keeps what was said beside what was sent. What was said of the same
// before is not open any more.
func keepAnswer(ctx context.Context, tx pgx.Tx, act drive.Act, number int64, c drive.Confirmation, counts []drive.SaidCount) error {
	const insert = `INSERT INTO delivery_answers (drive_id, delivery, answer, how, said_by, said_on, note, at, who, request)
		SELECT $1, $2, 1 + count(*), $3, $4, $5, $6, $7, $8, $9 FROM delivery_answers WHERE drive_id = $1 AND delivery = $2 RETURNING answer`
	var answer int
	if err := tx.QueryRow(ctx, insert, act.Drive, number, c.How, c.By, c.On, c.Note, act.At, act.Who, act.Request).Scan(&answer); err != nil {
		return fmt.Errorf("what was said of the delivery: %w", err)
	}
	var batch pgx.Batch
	for _, said := range counts {
		batch.Queue(`UPDATE delivery_counts SET more = 0 WHERE drive_id = $1 AND delivery = $2 AND box = $3 AND size = $4 AND more > 0`,
			act.Drive, number, said.Box, said.Size)
		batch.Queue(`INSERT INTO delivery_counts (drive_id, delivery, answer, box, size, sent, arrived, more) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
			act.Drive, number, answer, said.Box, said.Size, said.Sent, said.Arrived, said.More)
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("what was said of the delivery: %w", err)
	}
	return nil
}

// SettleDelivery books how a count that differs is settled, and keeps why. What was
// said of it stays as it was said.
func (s *Store) SettleDelivery(ctx context.Context, act drive.Act, number int64, how drive.Settlement) (Settled, error) {
	body := struct {
		Number int64
		How    drive.Settlement
	}{number, how}
	return once(ctx, s, act, "settle delivery", body, func(tx pgx.Tx) (Settled, error) {
		one, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return Settled{}, err
		}
		d, err := lockDelivery(ctx, tx, act.Drive, number)
		if err != nil {
			return Settled{}, err
		}
		heard, err := d.Settle(how)
		if err != nil {
			return Settled{}, err
		}
		for _, said := range heard.Counts {
			const more = `UPDATE delivery_counts SET more = $6 WHERE drive_id = $1 AND delivery = $2 AND answer = $3 AND box = $4 AND size = $5`
			if _, err := tx.Exec(ctx, more, act.Drive, number, said.Answer, said.Box, said.Size, said.More); err != nil {
				return Settled{}, fmt.Errorf("settle delivery: %w", err)
			}
		}
		today := drive.Day(act.At, one.Location())
		const keep = `INSERT INTO delivery_settled (drive_id, delivery, settled, box, size, way, n, reason, day, at, who, request)
			SELECT $1, $2, 1 + count(*), $3, $4, $5, $6, $7, $8, $9, $10, $11 FROM delivery_settled WHERE drive_id = $1 AND delivery = $2`
		if _, err := tx.Exec(ctx, keep, act.Drive, number, how.Box, how.Size, how.Way, how.N, how.Reason, today, act.At, act.Who, act.Request); err != nil {
			return Settled{}, fmt.Errorf("settle delivery: %w", err)
		}
		settled, err := hearDelivery(ctx, tx, act, number, today, heard)
		if err != nil {
			return Settled{}, err
		}
		return settled, audit(ctx, tx, act, "count settled", "delivery", number,
			changes{"box": {To: how.Box}, "way": {To: how.Way}, "pillowcases": {To: how.N}, "open": {To: settled.Open}, "more": {To: settled.More}})
	})
}

// hearDelivery writes how the lines of the boxes stand, with the entries that brought
// them there, and gives how the delivery then stands.
func hearDelivery(ctx context.Context, tx pgx.Tx, act drive.Act, number int64, day time.Time, heard drive.Heard) (Settled, error) {
	const update = `UPDATE box_lines SET confirmed = $4, missing = $5, returned = $6 WHERE drive_id = $1 AND box = $2 AND line = $3`
	const insert = `INSERT INTO box_lines (drive_id, box, line, asked, size, kit, part, n, confirmed, added)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, true) ON CONFLICT ON CONSTRAINT box_lines_pkey DO NOTHING`
	var batch pgx.Batch
	for box, list := range heard.Lines {
		for _, l := range list {
			if l.Added {
				batch.Queue(insert, act.Drive, box, l.Line, l.Asked, l.Size, l.Kit, l.Part, l.N, l.Confirmed)
			}
			batch.Queue(update, act.Drive, box, l.Line, l.Confirmed, l.Missing, l.Returned)
		}
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return Settled{}, fmt.Errorf("lines of the boxes: %w", err)
	}
	if err := writeCases(ctx, tx, act, day, heard.Entries); err != nil {
		return Settled{}, err
	}
	d, err := deliveryIn(ctx, tx, act.Drive, number)
	return Settled{Cases: d.Cases(), Confirmed: d.Confirmed(), Open: d.Open(), More: d.More()}, err
}

// ReadDelivery notes that somebody has read what a recipient wrote of a delivery on
// its own page. It gives how many notes those were.
func (s *Store) ReadDelivery(ctx context.Context, act drive.Act, number int64) (int, error) {
	return once(ctx, s, act, "read delivery", number, func(tx pgx.Tx) (int, error) {
		if _, err := lockDelivery(ctx, tx, act.Drive, number); err != nil {
			return 0, err
		}
		const q = `UPDATE delivery_answers SET read_at = $3 WHERE drive_id = $1 AND delivery = $2 AND how = 'own page' AND note <> '' AND read_at IS NULL`
		tag, err := tx.Exec(ctx, q, act.Drive, number, act.At)
		if err != nil {
			return 0, fmt.Errorf("read what was said: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return 0, apperr.Conflict("Everything that was said of this delivery was read already.")
		}
		return int(tag.RowsAffected()), audit(ctx, tx, act, "note read", "delivery", number, nil)
	})
}

// loadSaid fills what was said last of the deliveries and when something was booked of them.
func loadSaid(ctx context.Context, db querier, driveID string, list []drive.Delivery, at map[int64]int, numbers []int64) error {
	const said = `SELECT DISTINCT ON (delivery, box, size) delivery, answer, box, size, sent, arrived, more FROM delivery_counts
		WHERE drive_id = $1 AND delivery = ANY($2) ORDER BY delivery, box, size, answer DESC`
	rows, err := db.Query(ctx, said, driveID, numbers)
	if err != nil {
		return fmt.Errorf("what was said: %w", err)
	}
	type row struct {
		Delivery int64 `db:"delivery"`
		drive.SaidCount
	}
	counts, err := collect(rows, "what was said", pgx.RowToStructByName[row])
	if err != nil {
		return err
	}
	for _, c := range counts {
		d := &list[at[c.Delivery]]
		d.Said = append(d.Said, c.SaidCount)
	}
	const booked = `SELECT delivery, max(day) FROM case_entries WHERE drive_id = $1 AND delivery = ANY($2) GROUP BY delivery`
	rows, err = db.Query(ctx, booked, driveID, numbers)
	if err != nil {
		return fmt.Errorf("what was booked: %w", err)
	}
	var delivery int64
	var day time.Time
	_, err = pgx.ForEachRow(rows, []any{&delivery, &day}, func() error {
		on := day
		list[at[delivery]].BookedOn = &on
		return nil
	})
	if err != nil {
		return fmt.Errorf("what was booked: %w", err)
	}
	return nil
}

// DeliveryAnswer is what somebody said of a delivery at one time.
type DeliveryAnswer struct {
	Answer int               `db:"answer"`
	How    string            `db:"how"`
	By     string            `db:"said_by"`
	On     time.Time         `db:"said_on"`
	Note   string            `db:"note"`
	ReadAt *time.Time        `db:"read_at"`
	Counts []drive.SaidCount `db:"-"`
}

// Unread says whether it is a note by the recipient's own page that nobody has read.
func (a DeliveryAnswer) Unread() bool {
	return a.How == drive.OwnPage && a.Note != "" && a.ReadAt == nil
}

// DeliverySettled is how one count was settled.
type DeliverySettled struct {
	Box    int64           `db:"box"`
	Size   int64           `db:"size"`
	Way    drive.SettleWay `db:"way"`
	N      int             `db:"n"`
	Reason string          `db:"reason"`
	Day    time.Time       `db:"day"`
	Who    string          `db:"who_name"`
}

// DeliveryHistory gives what was said of a delivery, in order, and how counts that
// differed were settled.
func (s *Store) DeliveryHistory(ctx context.Context, driveID string, number int64) (said []DeliveryAnswer, ways []DeliverySettled, err error) {
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err = pgx.BeginTxFunc(ctx, s.root, options, func(tx pgx.Tx) error {
		const answers = `SELECT answer, how, said_by, said_on, note, read_at FROM delivery_answers WHERE drive_id = $1 AND delivery = $2 ORDER BY answer`
		rows, err := tx.Query(ctx, answers, driveID, number)
		if err != nil {
			return fmt.Errorf("what was said: %w", err)
		}
		if said, err = collect(rows, "what was said", pgx.RowToStructByName[DeliveryAnswer]); err != nil {
			return err
		}
		const counts = `SELECT answer, box, size, sent, arrived, more FROM delivery_counts WHERE drive_id = $1 AND delivery = $2 ORDER BY answer, box, size`
		if rows, err = tx.Query(ctx, counts, driveID, number); err != nil {
			return fmt.Errorf("what was said: %w", err)
		}
		list, err := collect(rows, "what was said", pgx.RowToStructByName[drive.SaidCount])
		if err != nil {
			return err
		}
		for _, c := range list {
			said[c.Answer-1].Counts = append(said[c.Answer-1].Counts, c)
		}
		const settled = `SELECT t.box, t.size, t.way, t.n, t.reason, t.day, coalesce(a.name, '') AS who_name
			FROM delivery_settled t LEFT JOIN signers a ON a.id = t.who WHERE t.drive_id = $1 AND t.delivery = $2 ORDER BY t.settled`
		if rows, err = tx.Query(ctx, settled, driveID, number); err != nil {
			return fmt.Errorf("how counts were settled: %w", err)
		}
		ways, err = collect(rows, "how counts were settled", pgx.RowToStructByName[DeliverySettled])
		return err
	})
	return said, ways, err
}
