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

const standingColumns = `number, recipient, sizes, wanted, due, lead_days, until, matter, weight, themes_wanted, themes_avoid, kit_cases, note, ended_at IS NOT NULL AS ended, version`

func scanStanding(row pgx.CollectableRow) (drive.StandingAsk, error) {
	var s drive.StandingAsk
	l := &s.Line
	err := row.Scan(&s.Number, &l.Recipient, &l.Sizes, &l.Wanted, &l.Due, &s.LeadDays, &s.Until, &l.Matter, &l.Weight, &l.ThemesWanted, &l.ThemesAvoid, &l.KitCases, &l.Note, &s.Ended, &s.Version)
	return s, err
}

// StandingAsks gives what is asked for every month and has not ended, by number.
func (s *Store) StandingAsks(ctx context.Context, driveID string) ([]drive.StandingAsk, error) {
	const q = `SELECT ` + standingColumns + ` FROM standing_asks WHERE drive_id = $1 AND ended_at IS NULL ORDER BY number`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("standing requests: %w", err)
	}
	return collect(rows, "standing requests", scanStanding)
}

// StandingAsk gives one of them, ended or not.
func (s *Store) StandingAsk(ctx context.Context, driveID string, number int64) (drive.StandingAsk, error) {
	const q = `SELECT ` + standingColumns + ` FROM standing_asks WHERE drive_id = $1 AND number = $2`
	return oneStanding(ctx, s.pool, q, driveID, number)
}

func oneStanding(ctx context.Context, db querier, q, driveID string, number int64) (drive.StandingAsk, error) {
	rows, err := db.Query(ctx, q, driveID, number)
	if err != nil {
		return drive.StandingAsk{}, fmt.Errorf("standing request: %w", err)
	}
	found, err := pgx.CollectExactlyOneRow(rows, scanStanding)
	if errors.Is(err, pgx.ErrNoRows) {
		return found, apperr.NotFound("There is no such standing request here.")
	}
	if err != nil {
		return found, fmt.Errorf("standing request: %w", err)
	}
	return found, nil
}

// StandingSaved is what is kept for repeats of a change to a standing request: nothing personal.
type StandingSaved struct {
	Number, Recipient int64
	Version           int
}

func standingSaved(a drive.StandingAsk) StandingSaved {
	return StandingSaved{a.Number, a.Line.Recipient, a.Version}
}

// CreateStanding keeps what a recipient asks for every month, and makes the lines that should be
// there already. It refuses by field what drive.StandingAsk.Check refuses.
func (s *Store) CreateStanding(ctx context.Context, act drive.Act, a drive.StandingAsk) (StandingSaved, error) {
	a.Line = a.Line.Tidy()
	return once(ctx, s, act, "create standing", a, func(tx pgx.Tx) (StandingSaved, error) {
		a := a
		if err := takesMore(ctx, tx, act.Drive); err != nil {
			return StandingSaved{}, err
		}
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return StandingSaved{}, err
		}
		if err := a.Check(drive.Day(act.At, d.Location())); err != nil {
			return StandingSaved{}, err
		}
		if err := sizesThere(ctx, tx, act.Drive, a.Line.Sizes); err != nil {
			return StandingSaved{}, err
		}
		if a.Number, err = next(ctx, tx, act.Drive, "standing"); err != nil {
			return StandingSaved{}, err
		}
		a.Version = 1
		l := a.Line
		const insert = `INSERT INTO standing_asks (drive_id, number, recipient, sizes, wanted, due, lead_days, until, matter, weight, themes_wanted, themes_avoid, kit_cases, note, created_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)`
		_, err = tx.Exec(ctx, insert, act.Drive, a.Number, l.Recipient, l.Sizes, l.Wanted, l.Due, a.LeadDays, a.Until, l.Matter, l.Weight, l.ThemesWanted, l.ThemesAvoid, l.KitCases, l.Note, act.At)
		if err != nil {
			return StandingSaved{}, fmt.Errorf("create standing request: %w", err)
		}
		c := askedChanges(drive.Asked{}, l)
		c.set("days before", 0, a.LeadDays)
		c.set("until", "", dayText(a.Until))
		if err := audit(ctx, tx, act, "asked for every month", "standing", a.Number, c); err != nil {
			return StandingSaved{}, err
		}
		_, err = standingLines(ctx, tx, act, d, a)
		return standingSaved(a), err
	})
}

func sizesThere(ctx context.Context, tx pgx.Tx, driveID string, sizes []int64) error {
	const q = `SELECT count(*) FROM sizes WHERE drive_id = $1 AND number = ANY($2)`
	var n int
	if err := tx.QueryRow(ctx, q, driveID, sizes).Scan(&n); err != nil {
		return fmt.Errorf("sizes of what is asked: %w", err)
	}
	if n != len(sizes) {
		return apperr.Invalid("sizes", "Choose sizes from the list.")
	}
	return nil
}

// ChangeStanding changes how many are asked for every month and until when, from the version that was looked at.
// Lines that have come stay as they are.
func (s *Store) ChangeStanding(ctx context.Context, act drive.Act, number int64, version, wanted int, until *time.Time) (StandingSaved, error) {
	body := struct {
		Number          int64
		Version, Wanted int
		Until           *time.Time
	}{number, version, wanted, until}
	return once(ctx, s, act, "change standing", body, func(tx pgx.Tx) (StandingSaved, error) {
		old, err := lockStanding(ctx, tx, act.Drive, number)
		if err != nil {
			return standingSaved(old), err
		}
		if old.Version != version {
			return standingSaved(old), stale("This standing request")
		}
		changed, err := old.Change(wanted, until)
		if err != nil {
			return standingSaved(old), err
		}
		changed.Version++
		const update = `UPDATE standing_asks SET wanted = $3, until = $4, version = $5 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, number, wanted, until, changed.Version); err != nil {
			return standingSaved(old), fmt.Errorf("change standing request: %w", err)
		}
		c := changes{}
		c.set("wanted", old.Line.Wanted, wanted)
		c.set("until", dayText(old.Until), dayText(until))
		return standingSaved(changed), audit(ctx, tx, act, "standing request changed", "standing", number, c)
	})
}

// EndStanding ends a standing request: no more lines come of it. Those that have come stay.
func (s *Store) EndStanding(ctx context.Context, act drive.Act, number int64) (StandingSaved, error) {
	return once(ctx, s, act, "end standing", number, func(tx pgx.Tx) (StandingSaved, error) {
		a, err := lockStanding(ctx, tx, act.Drive, number)
		if err != nil || a.Ended {
			return standingSaved(a), err
		}
		const update = `UPDATE standing_asks SET ended_at = $3, version = version + 1 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, number, act.At); err != nil {
			return standingSaved(a), fmt.Errorf("end standing request: %w", err)
		}
		return standingSaved(a), audit(ctx, tx, act, "standing request ended", "standing", number, nil)
	})
}

func lockStanding(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.StandingAsk, error) {
	const q = `SELECT ` + standingColumns + ` FROM standing_asks WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	return oneStanding(ctx, tx, q, driveID, number)
}

// StandingDue makes the months' lines that should be there today, in every drive, and says how many.
// Any number of workers may do it at once: each month's line comes once. A request that fails keeps
// no other from its line; the error names each that did.
func (s *Store) StandingDue(ctx context.Context) (int, error) {
	const q = `SELECT drive_id, number FROM standing_asks WHERE ended_at IS NULL ORDER BY drive_id, number`
	rows, err := s.pool.Query(ctx, q)
	if err != nil {
		return 0, fmt.Errorf("standing requests: %w", err)
	}
	type one struct {
		Drive  string `db:"drive_id"`
		Number int64  `db:"number"`
	}
	list, err := collect(rows, "standing requests", pgx.RowToStructByName[one])
	if err != nil {
		return 0, err
	}
	made := 0
	var failed []error
	for _, o := range list {
		n, err := inOne(ctx, s, func(tx pgx.Tx) (int, error) {
			a, err := lockStanding(ctx, tx, o.Drive, o.Number)
			if err != nil {
				return 0, err
			}
			d, err := driveIn(ctx, tx, o.Drive)
			if err != nil || d.ClosedAt != nil {
				return 0, err
			}
			if err := takesMore(ctx, tx, o.Drive); err != nil { // closed just now
				return 0, err
			}
			return standingLines(ctx, tx, drive.Act{Drive: o.Drive, At: s.now(), Request: "standing request"}, d, a)
		})
		made += n
		if err != nil {
			failed = append(failed, fmt.Errorf("standing request %d of %s: %w", o.Number, o.Drive, err))
		}
	}
	return made, errors.Join(failed...)
}

// standingLines makes the lines of a locked standing request that are not there yet, in a drive that takes more.
func standingLines(ctx context.Context, tx pgx.Tx, act drive.Act, d drive.Drive, a drive.StandingAsk) (int, error) {
	made := 0
	for _, due := range a.Due(drive.Day(act.At, d.Location())) {
		const there = `SELECT EXISTS (SELECT FROM asked WHERE drive_id = $1 AND standing = $2 AND month = $3)`
		var is bool
		if err := tx.QueryRow(ctx, there, act.Drive, a.Number, drive.MonthOf(due)).Scan(&is); err != nil {
			return made, fmt.Errorf("lines of a standing request: %w", err)
		}
		if is {
			continue
		}
		line := a.Line
		line.Due = &due
		if err := insertAsked(ctx, tx, act, &line); err != nil {
			return made, err
		}
		const of = `UPDATE asked SET standing = $3, month = $4 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, of, act.Drive, line.Number, a.Number, drive.MonthOf(due)); err != nil {
			return made, fmt.Errorf("line of a standing request: %w", err)
		}
		made++
	}
	return made, nil
}
