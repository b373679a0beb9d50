package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const askedColumns = `a.number, a.recipient, a.wanted, a.due, a.matter, a.weight, a.themes_wanted, a.themes_avoid, a.kit_cases, a.note,
	a.closed, a.created_at, a.version,
	ARRAY(SELECT z.size FROM asked_sizes z WHERE z.drive_id = a.drive_id AND z.asked = a.number ORDER BY z.size) AS sizes`

// AskedLines gives every line asked for with how its pillowcases stand and how
// many are still to plan: open ones first, then by recipient, by when they are due, by number.
func (s *Store) AskedLines(ctx context.Context, driveID string) ([]drive.AskedLine, error) {
	return askedLines(ctx, s.pool, driveID)
}

// askedLines gives the lines as the caller's transaction sees them.
func askedLines(ctx context.Context, db querier, driveID string) ([]drive.AskedLine, error) {
	const q = `SELECT ` + askedColumns + `, r.name AS recipient_name, d.spare_share,
			ARRAY(SELECT n.name FROM asked_sizes z JOIN sizes n ON n.drive_id = z.drive_id AND n.number = z.size
				WHERE z.drive_id = a.drive_id AND z.asked = a.number ORDER BY z.size) AS size_names,
			coalesce(c.counts, '{}') AS counts
		FROM asked a
		JOIN recipients r ON r.drive_id = a.drive_id AND r.number = a.recipient
		JOIN drives d ON d.id = a.drive_id
		LEFT JOIN (
			SELECT b.asked, jsonb_object_agg(b.state, b.n) AS counts
			FROM (SELECT asked, state, sum(n) AS n FROM case_balances WHERE drive_id = $1 AND asked > 0 AND n > 0 GROUP BY asked, state) b
			GROUP BY b.asked) c ON c.asked = a.number
		WHERE a.drive_id = $1
		ORDER BY a.closed, lower(r.name), a.recipient, a.due NULLS LAST, a.number`
	rows, err := db.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("lines asked for: %w", err)
	}
	type row struct {
		drive.AskedLine
		SpareShare int `db:"spare_share"`
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[row])
	if err != nil {
		return nil, fmt.Errorf("lines asked for: %w", err)
	}
	lines := make([]drive.AskedLine, len(list))
	for i, r := range list {
		lines[i] = r.AskedLine
		lines[i].ToPlan = r.StillToPlan(r.Counts, r.SpareShare)
	}
	return lines, nil
}

// Asked gives one line; not found where the drive has none of that number.
func (s *Store) Asked(ctx context.Context, driveID string, number int64) (drive.Asked, error) {
	const q = `SELECT ` + askedColumns + ` FROM asked a WHERE a.drive_id = $1 AND a.number = $2`
	return oneAsked(ctx, s.pool, q, driveID, number)
}

// Themes gives the themes that are in use in a drive, on cloth and in what is asked for, in order.
func (s *Store) Themes(ctx context.Context, driveID string) ([]string, error) {
	const q = `SELECT DISTINCT theme FROM (
			SELECT unnest(themes) AS theme FROM lots WHERE drive_id = $1
			UNION ALL SELECT unnest(themes_wanted || themes_avoid) FROM asked WHERE drive_id = $1) t ORDER BY theme`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("themes: %w", err)
	}
	themes, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return nil, fmt.Errorf("themes: %w", err)
	}
	return themes, nil
}

// CreateAsked adds a line to what a recipient asks for and gives it its number.
// It refuses by field what drive.Asked.Check refuses, and a recipient or a size that the drive does not have.
func (s *Store) CreateAsked(ctx context.Context, act drive.Act, a drive.Asked) (drive.Asked, error) {
	a = a.Tidy()
	return once(ctx, s, act, "create asked", a, func(tx pgx.Tx) (drive.Asked, error) {
		a := a
		if err := takesMore(ctx, tx, act.Drive); err != nil {
			return a, err
		}
		if err := checkAsked(ctx, tx, act, a, nil); err != nil {
			return a, err
		}
		err := insertAsked(ctx, tx, act, &a)
		return noted(a), err
	})
}

// noted is what is kept of a line for repeats: all but its note, which may speak of somebody.
func noted(a drive.Asked) drive.Asked {
	a.Note = ""
	return a
}

// insertAsked adds a line that was checked, to a drive that takes more, and gives it its number.
func insertAsked(ctx context.Context, tx pgx.Tx, act drive.Act, a *drive.Asked) error {
	number, err := next(ctx, tx, act.Drive, "asked")
	if err != nil {
		return err
	}
	a.Number, a.Closed, a.CreatedAt, a.Version = number, false, act.At, 1
	const insert = `INSERT INTO asked (drive_id, number, recipient, wanted, due, matter, weight, themes_wanted, themes_avoid, kit_cases, note, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`
	_, err = tx.Exec(ctx, insert, act.Drive, a.Number, a.Recipient, a.Wanted, a.Due, a.Matter, a.Weight, a.ThemesWanted, a.ThemesAvoid, a.KitCases, a.Note, act.At)
	if err != nil {
		return fmt.Errorf("create asked: %w", err)
	}
	if err := setAskedSizes(ctx, tx, act.Drive, *a); err != nil {
		return err
	}
	return audit(ctx, tx, act, "asked for", "asked", a.Number, askedChanges(drive.Asked{}, *a))
}

// UpdateAsked changes a line that is still at a.Version; a later one is a
// conflict. Whether it is closed stays as it is. A line keeps its recipient once pillowcases stand
// for it: what was planned for one ward must not become another's unseen. It cannot ask for less than was
// delivered; where it asks for less than is good, a.Beyond says what becomes of the rest.
func (s *Store) UpdateAsked(ctx context.Context, act drive.Act, a drive.Asked) (drive.Asked, error) {
	a = a.Tidy()
	return once(ctx, s, act, "update asked", a, func(tx pgx.Tx) (drive.Asked, error) {
		a := a
		old, err := lockAsked(ctx, tx, act.Drive, a.Number)
		if err != nil {
			return a, err
		}
		if old.Version != a.Version {
			return a, stale("This line")
		}
		if err := checkAsked(ctx, tx, act, a, &old); err != nil {
			return a, err
		}
		if old.Recipient != a.Recipient {
			if err := refuseMovedLine(ctx, tx, act.Drive, a.Number); err != nil {
				return a, err
			}
		}
		if a.Wanted > old.Wanted {
			if err := takesMore(ctx, tx, act.Drive); err != nil {
				return a, err
			}
		}
		if a.Wanted < old.Wanted {
			if err := lowerAsked(ctx, tx, act, a); err != nil {
				return a, err
			}
		}
		a.Closed, a.CreatedAt, a.Version = old.Closed, old.CreatedAt, old.Version+1
		const update = `UPDATE asked SET recipient = $3, wanted = $4, due = $5, matter = $6, weight = $7, themes_wanted = $8, themes_avoid = $9,
				kit_cases = $10, note = $11, version = $12
			WHERE drive_id = $1 AND number = $2`
		_, err = tx.Exec(ctx, update, act.Drive, a.Number, a.Recipient, a.Wanted, a.Due, a.Matter, a.Weight, a.ThemesWanted, a.ThemesAvoid, a.KitCases, a.Note, a.Version)
		if err != nil {
			return a, fmt.Errorf("update asked: %w", err)
		}
		if err := setAskedSizes(ctx, tx, act.Drive, a); err != nil {
			return a, err
		}
		return noted(a), audit(ctx, tx, act, "asked for changed", "asked", a.Number, askedChanges(old, a))
	})
}

// CloseAsked ends planning for a line; what is on its way stays on its way.
func (s *Store) CloseAsked(ctx context.Context, act drive.Act, number int64) (drive.Asked, error) {
	return s.setAskedClosed(ctx, act, "close asked", number, true)
}

// ReopenAsked undoes CloseAsked.
func (s *Store) ReopenAsked(ctx context.Context, act drive.Act, number int64) (drive.Asked, error) {
	return s.setAskedClosed(ctx, act, "reopen asked", number, false)
}

func (s *Store) setAskedClosed(ctx context.Context, act drive.Act, what string, number int64, closed bool) (drive.Asked, error) {
	return once(ctx, s, act, what, number, func(tx pgx.Tx) (drive.Asked, error) {
		a, err := lockAsked(ctx, tx, act.Drive, number)
		if err != nil || a.Closed == closed {
			return noted(a), err
		}
		if !closed {
			if err := takesMore(ctx, tx, act.Drive); err != nil {
				return a, err
			}
		}
		a.Closed, a.Version = closed, a.Version+1
		const update = `UPDATE asked SET closed = $3, version = $4 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, number, a.Closed, a.Version); err != nil {
			return a, fmt.Errorf("%s: %w", what, err)
		}
		return noted(a), audit(ctx, tx, act, what, "asked", number, changes{"closed": {From: !closed, To: closed}})
	})
}

// lockAsked reads in a statement of its own after the lock, so that it sees the
// sizes that whoever was first has given the line.
func lockAsked(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Asked, error) {
	const lock = `SELECT number FROM asked WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, lock, driveID, number); err != nil {
		return drive.Asked{}, fmt.Errorf("lock asked: %w", err)
	}
	const q = `SELECT ` + askedColumns + ` FROM asked a WHERE a.drive_id = $1 AND a.number = $2`
	return oneAsked(ctx, tx, q, driveID, number)
}

func oneAsked(ctx context.Context, db querier, q, driveID string, number int64) (drive.Asked, error) {
	rows, err := db.Query(ctx, q, driveID, number)
	if err != nil {
		return drive.Asked{}, fmt.Errorf("asked: %w", err)
	}
	a, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Asked])
	if errors.Is(err, pgx.ErrNoRows) {
		return drive.Asked{}, apperr.NotFound("There is no such line among what is asked for here.")
	}
	if err != nil {
		return drive.Asked{}, fmt.Errorf("asked: %w", err)
	}
	return a, nil
}

// checkAsked refuses a line by field, with today in the drive's zone.
func checkAsked(ctx context.Context, tx pgx.Tx, act drive.Act, a drive.Asked, before *drive.Asked) error {
	d, err := driveIn(ctx, tx, act.Drive)
	if err != nil {
		return err
	}
	return a.Check(drive.Day(act.At, d.Location()), before)
}

func refuseMovedLine(ctx context.Context, tx pgx.Tx, driveID string, number int64) error {
	const q = `SELECT EXISTS (SELECT FROM case_balances WHERE drive_id = $1 AND asked = $2)
		OR EXISTS (SELECT FROM kits WHERE drive_id = $1 AND asked = $2)`
	var stands bool
	if err := tx.QueryRow(ctx, q, driveID, number).Scan(&stands); err != nil {
		return fmt.Errorf("what stands for the line: %w", err)
	}
	if stands {
		return apperr.Invalid("recipient", "Pillowcases stand for this line already, so it stays with its recipient. Add a line for the other one.")
	}
	return nil
}

// setAskedSizes makes a.Sizes the sizes that fill the line.
func setAskedSizes(ctx context.Context, tx pgx.Tx, driveID string, a drive.Asked) error {
	const remove = `DELETE FROM asked_sizes WHERE drive_id = $1 AND asked = $2 AND NOT size = ANY($3)`
	if _, err := tx.Exec(ctx, remove, driveID, a.Number, a.Sizes); err != nil {
		return fmt.Errorf("sizes of what is asked: %w", err)
	}
	const add = `INSERT INTO asked_sizes (drive_id, asked, size) SELECT $1, $2, size FROM unnest($3::bigint[]) AS size
		ON CONFLICT ON CONSTRAINT asked_sizes_pkey DO NOTHING`
	if _, err := tx.Exec(ctx, add, driveID, a.Number, a.Sizes); err != nil {
		return fmt.Errorf("sizes of what is asked: %w", err)
	}
	return nil
}

func askedChanges(old, a drive.Asked) changes {
	c := changes{}
	c.set("recipient", old.Recipient, a.Recipient)
	c.set("sizes", old.Sizes, a.Sizes)
	c.set("wanted", old.Wanted, a.Wanted)
	c.set("due", dayText(old.Due), dayText(a.Due))
	c.set("matter", old.Matter, a.Matter)
	c.set("weight", old.Weight, a.Weight)
	c.set("themes wanted", old.ThemesWanted, a.ThemesWanted)
	c.set("themes avoid", old.ThemesAvoid, a.ThemesAvoid)
	c.set("kit cases", orZero(old.KitCases), orZero(a.KitCases))
	c.personal("note", old.Note, a.Note)
	return c
}

func dayText(day *time.Time) string {
	if day == nil {
		return ""
	}
	return day.Format(time.DateOnly)
}

func orZero[T any](p *T) T {
	var zero T
	if p == nil {
		return zero
	}
	return *p
}
