package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// notKept stands where the database asks for some words and those that were typed are forgotten.
const notKept = "not kept any more"

// ForgetWritten empties what people typed of a delivery: who said what arrived, who carried
// it, notes, why counts were settled and why a box went against a rule. What was counted,
// when and in which way stays. It gives how many texts those were.
func (s *Store) ForgetWritten(ctx context.Context, act drive.Act, number int64) (int, error) {
	return once(ctx, s, act, "forget what was written", number, func(tx pgx.Tx) (int, error) {
		if _, err := lockDelivery(ctx, tx, act.Drive, number); err != nil {
			return 0, err
		}
		n := int64(0)
		for _, q := range []string{
			`UPDATE delivery_answers SET said_by = '', note = '' WHERE drive_id = $1 AND delivery = $2 AND $3 <> '' AND (said_by <> '' OR note <> '')`,
			`UPDATE delivery_settled SET reason = '' WHERE drive_id = $1 AND delivery = $2 AND $3 <> '' AND reason <> ''`,
			`UPDATE box_rules r SET why = $3 FROM boxes b WHERE r.drive_id = $1 AND b.drive_id = r.drive_id AND b.number = r.box
				AND b.delivery = $2 AND NOT r.kept AND r.why <> $3`,
			`UPDATE deliveries SET confirmed_by = CASE WHEN confirmed_by = '' THEN '' ELSE $3 END, carried_by = '', note = '', version = version + 1
				WHERE drive_id = $1 AND number = $2 AND (confirmed_by NOT IN ('', $3) OR carried_by <> '' OR note <> '')`,
		} {
			tag, err := tx.Exec(ctx, q, act.Drive, number, notKept)
			if err != nil {
				return 0, fmt.Errorf("forget what was written: %w", err)
			}
			n += tag.RowsAffected()
		}
		if n == 0 {
			return 0, apperr.Conflict("Nothing that people wrote of this delivery is kept.")
		}
		return int(n), audit(ctx, tx, act, "writing forgotten", "delivery", number, changes{"texts": {From: n, To: 0}})
	})
}
