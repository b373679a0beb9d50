package postgres

import (
	"context"
	"fmt"
	"strings"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// PreviewAsked says what ImportAsked would do, and changes nothing.
func (s *Store) PreviewAsked(ctx context.Context, driveID string, rows []drive.Incoming[drive.AskedIn], takeGood bool) (drive.ImportReport, error) {
	d, err := s.Drive(ctx, driveID)
	if err != nil {
		return drive.ImportReport{}, err
	}
	here, err := askedHere(ctx, s.pool, driveID)
	if err != nil {
		return drive.ImportReport{}, err
	}
	fates, _ := drive.JudgeAsked(drive.Day(s.now(), d.Location()), rows, here)
	return drive.Report(fates, takeGood), nil
}

// ImportAsked takes what is asked for from a spreadsheet as one act, with the
// recipients that are not here yet. A line that stands already is unchanged.
func (s *Store) ImportAsked(ctx context.Context, act drive.Act, rows []drive.Incoming[drive.AskedIn], takeGood bool) (drive.ImportReport, error) {
	return s.importAsked(ctx, act, rows, taking{good: takeGood})
}

func (s *Store) importAsked(ctx context.Context, act drive.Act, rows []drive.Incoming[drive.AskedIn], how taking) (drive.ImportReport, error) {
	return bring(ctx, s, act, "asked", rows, how, func(tx pgx.Tx, d drive.Drive) ([]drive.RowFate, func(*made) error, error) {
		// Two files at once wait for each other here, before they look at what stands.
		if _, err := nextN(ctx, tx, act.Drive, "asked", 0); err != nil {
			return nil, nil, err
		}
		here, err := askedHere(ctx, tx, act.Drive)
		if err != nil {
			return nil, nil, err
		}
		fates, take := drive.JudgeAsked(drive.Day(act.At, d.Location()), rows, here)
		return fates, func(m *made) error { return takeAsked(ctx, tx, act, take, how, m) }, nil
	})
}

func askedHere(ctx context.Context, db querier, driveID string) (drive.AskedHere, error) {
	here := drive.AskedHere{Sizes: map[string]int64{}}
	const recipients = `SELECT ` + recipientColumns + ` FROM recipients WHERE drive_id = $1`
	rows, err := db.Query(ctx, recipients, driveID)
	if err != nil {
		return here, fmt.Errorf("recipients who are here: %w", err)
	}
	if here.Recipients, err = pgx.CollectRows(rows, pgx.RowToStructByName[drive.Recipient]); err != nil {
		return here, fmt.Errorf("recipients who are here: %w", err)
	}
	const lines = `SELECT ` + askedColumns + ` FROM asked a WHERE a.drive_id = $1 ORDER BY a.number`
	if rows, err = db.Query(ctx, lines, driveID); err != nil {
		return here, fmt.Errorf("lines that are here: %w", err)
	}
	if here.Lines, err = pgx.CollectRows(rows, pgx.RowToStructByName[drive.Asked]); err != nil {
		return here, fmt.Errorf("lines that are here: %w", err)
	}
	const sizes = `SELECT number, name FROM sizes WHERE drive_id = $1 AND NOT retired`
	if rows, err = db.Query(ctx, sizes, driveID); err != nil {
		return here, fmt.Errorf("sizes that are here: %w", err)
	}
	var number int64
	var name string
	_, err = pgx.ForEachRow(rows, []any{&number, &name}, func() error {
		here.Sizes[strings.ToLower(name)] = number
		return nil
	})
	if err != nil {
		return here, fmt.Errorf("sizes that are here: %w", err)
	}
	return here, nil
}

func takeAsked(ctx context.Context, tx pgx.Tx, act drive.Act, take []drive.AskedDecided, how taking, m *made) error {
	if err := takesMore(ctx, tx, act.Drive); err != nil {
		return err
	}
	fresh := map[string]int64{}
	for i, t := range take {
		how.tell(i, len(take))
		recipient := t.Known
		key := strings.ToLower(t.Recipient.Name)
		if recipient == 0 {
			recipient = fresh[key]
		}
		if recipient == 0 {
			number, err := next(ctx, tx, act.Drive, "recipient")
			if err != nil {
				return err
			}
			if err := insertRecipient(ctx, tx, act, number, t.Recipient); err != nil {
				return err
			}
			recipient, fresh[key] = number, number
			m.add(drive.BroughtRecipient, number, 1)
		}
		line := t.Line
		line.Recipient = recipient
		if err := insertAsked(ctx, tx, act, &line); err != nil {
			return err
		}
		m.add(drive.BroughtAsked, line.Number, line.Version)
	}
	return nil
}
