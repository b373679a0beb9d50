package postgres

import (
	"context"
	"fmt"
	"strings"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// PreviewPeople says what ImportPeople would do, and changes nothing.
func (s *Store) PreviewPeople(ctx context.Context, driveID string, rows []drive.Incoming[drive.PersonIn], takeGood bool) (drive.ImportReport, error) {
	d, err := s.Drive(ctx, driveID)
	if err != nil {
		return drive.ImportReport{}, err
	}
	here, err := peopleHere(ctx, s.pool, driveID)
	if err != nil {
		return drive.ImportReport{}, err
	}
	fates, _ := drive.JudgePeople(drive.Day(s.now(), d.Location()), rows, here)
	return drive.Report(fates, takeGood), nil
}

// ImportPeople takes those who sew from a spreadsheet as one act. Somebody whose
// name is here already stays as they are.
func (s *Store) ImportPeople(ctx context.Context, act drive.Act, rows []drive.Incoming[drive.PersonIn], takeGood bool) (drive.ImportReport, error) {
	return s.importPeople(ctx, act, rows, taking{good: takeGood})
}

func (s *Store) importPeople(ctx context.Context, act drive.Act, rows []drive.Incoming[drive.PersonIn], how taking) (drive.ImportReport, error) {
	return bring(ctx, s, act, "people", rows, how, func(tx pgx.Tx, d drive.Drive) ([]drive.RowFate, func(*made) error, error) {
		// Two files at once wait for each other here, before they look at who is here.
		if _, err := nextN(ctx, tx, act.Drive, "person", 0); err != nil {
			return nil, nil, err
		}
		here, err := peopleHere(ctx, tx, act.Drive)
		if err != nil {
			return nil, nil, err
		}
		fates, take := drive.JudgePeople(drive.Day(act.At, d.Location()), rows, here)
		return fates, func(m *made) error { return takePeople(ctx, tx, act, take, how, m) }, nil
	})
}

func peopleHere(ctx context.Context, db querier, driveID string) (map[string]drive.PersonHere, error) {
	const q = `SELECT ` + sewerColumns + `, ` + contactColumns + ` FROM people WHERE drive_id = $1`
	rows, err := db.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("people who are here: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.PersonHere])
	if err != nil {
		return nil, fmt.Errorf("people who are here: %w", err)
	}
	here := make(map[string]drive.PersonHere, len(list))
	for _, p := range list {
		here[strings.ToLower(p.Name)] = p
	}
	return here, nil
}

func takePeople(ctx context.Context, tx pgx.Tx, act drive.Act, take []drive.PersonIn, how taking, m *made) error {
	number, err := nextN(ctx, tx, act.Drive, "person", len(take))
	if err != nil {
		return err
	}
	columns := []string{
		"drive_id", "number", "kind", "name", "contact", "email", "phone", "address", "agreed_on", "pickup", "heads",
		"french_seam", "overlocker", "beginner", "pace", "language", "smoke", "pets", "note", "active", "created_at",
	}
	_, err = tx.CopyFrom(ctx, pgx.Identifier{"people"}, columns, pgx.CopyFromSlice(len(take), func(i int) ([]any, error) {
		how.tell(i+1, len(take))
		m.add(drive.BroughtPerson, number+int64(i), 1)
		p, c := take[i].Person, take[i].Contacts
		return []any{
			act.Drive, number + int64(i), string(p.Kind), p.Name, c.Contact, c.Email, c.Phone, c.Address, c.AgreedOn,
			p.Pickup, p.Heads, p.FrenchSeam, p.Overlocker, p.Beginner, p.Pace, p.Language, string(p.Smoke), string(p.Pets), p.Note, true, act.At,
		}, nil
	}))
	if err != nil {
		return fmt.Errorf("bring in people: %w", err)
	}
	return nil
}

// PreviewDonors says what ImportDonors would do, and changes nothing.
func (s *Store) PreviewDonors(ctx context.Context, driveID string, rows []drive.Incoming[drive.DonorIn], takeGood bool) (drive.ImportReport, error) {
	here, err := donorsHere(ctx, s.pool, driveID)
	if err != nil {
		return drive.ImportReport{}, err
	}
	fates, _ := drive.JudgeDonors(rows, here)
	return drive.Report(fates, takeGood), nil
}

// ImportDonors takes donors from a spreadsheet as one act. A donor whose name is
// here already stays as they are.
func (s *Store) ImportDonors(ctx context.Context, act drive.Act, rows []drive.Incoming[drive.DonorIn], takeGood bool) (drive.ImportReport, error) {
	return s.importDonors(ctx, act, rows, taking{good: takeGood})
}

func (s *Store) importDonors(ctx context.Context, act drive.Act, rows []drive.Incoming[drive.DonorIn], how taking) (drive.ImportReport, error) {
	return bring(ctx, s, act, "donors", rows, how, func(tx pgx.Tx, d drive.Drive) ([]drive.RowFate, func(*made) error, error) {
		if _, err := nextN(ctx, tx, act.Drive, "donor", 0); err != nil {
			return nil, nil, err
		}
		here, err := donorsHere(ctx, tx, act.Drive)
		if err != nil {
			return nil, nil, err
		}
		fates, take := drive.JudgeDonors(rows, here)
		return fates, func(m *made) error { return takeDonors(ctx, tx, act, take, how, m) }, nil
	})
}

func donorsHere(ctx context.Context, db querier, driveID string) (map[string]drive.DonorHere, error) {
	const q = `SELECT number, name, letter, note, no_letters, created_at, erased_at, version, email, phone, address FROM donors WHERE drive_id = $1`
	rows, err := db.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("donors who are here: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.DonorHere])
	if err != nil {
		return nil, fmt.Errorf("donors who are here: %w", err)
	}
	here := make(map[string]drive.DonorHere, len(list))
	for _, d := range list {
		here[strings.ToLower(d.Name)] = d
	}
	return here, nil
}

func takeDonors(ctx context.Context, tx pgx.Tx, act drive.Act, take []drive.DonorIn, how taking, m *made) error {
	number, err := nextN(ctx, tx, act.Drive, "donor", len(take))
	if err != nil {
		return err
	}
	columns := []string{"drive_id", "number", "name", "email", "phone", "address", "letter", "note", "created_at"}
	_, err = tx.CopyFrom(ctx, pgx.Identifier{"donors"}, columns, pgx.CopyFromSlice(len(take), func(i int) ([]any, error) {
		how.tell(i+1, len(take))
		m.add(drive.BroughtDonor, number+int64(i), 1)
		d, c := take[i].Donor, take[i].Contacts
		return []any{act.Drive, number + int64(i), d.Name, c.Email, c.Phone, c.Address, d.Letter, d.Note, act.At}, nil
	}))
	if err != nil {
		return fmt.Errorf("bring in donors: %w", err)
	}
	return nil
}
