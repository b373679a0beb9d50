package postgres

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// DonorLine is one donor with what they gave.
type DonorLine struct {
	drive.Donor
	Lots   int `db:"lots"`
	Pieces int `db:"pieces"`
	Due    int `db:"due"` // gifts they were not thanked for yet
}

// Donors gives everybody who gave fabric, by name; q searches in their names.
func (s *Store) Donors(ctx context.Context, driveID, q string) ([]DonorLine, error) {
	const find = `SELECT d.number, d.name, d.letter, d.note, d.no_letters, d.created_at, d.erased_at, d.version,
			count(l.number) AS lots, coalesce(sum(` + piecesCounted + `), 0) AS pieces,
			CASE WHEN d.erased_at IS NULL THEN count(DISTINCT l.received_on) FILTER (WHERE NOT EXISTS (SELECT FROM thanks t
				WHERE t.drive_id = l.drive_id AND t.donor = l.donor AND t.gift_on = l.received_on AND t.undone_at IS NULL)) ELSE 0 END AS due
		FROM donors d LEFT JOIN lots l ON l.drive_id = d.drive_id AND l.donor = d.number
		WHERE d.drive_id = $1 AND ($2 = '' OR holds(d.name, $2))
		GROUP BY d.drive_id, d.number
		ORDER BY lower(d.name), d.number`
	rows, err := s.pool.Query(ctx, find, driveID, q)
	if err != nil {
		return nil, fmt.Errorf("donors: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[DonorLine])
	if err != nil {
		return nil, fmt.Errorf("donors: %w", err)
	}
	return list, nil
}

// KnownDonor is a donor whom a form may offer.
type KnownDonor struct {
	Name string `db:"name"`
	Lots int    `db:"lots"`
}

// DonorsToChoose gives at most this many donors by name, for a filter.
func (s *Store) DonorsToChoose(ctx context.Context, driveID string, most int) ([]drive.Donor, error) {
	const q = `SELECT number, name FROM donors WHERE drive_id = $1 ORDER BY lower(name), number LIMIT (SELECT $2::int)`
	rows, err := s.pool.Query(ctx, q, driveID, most)
	if err != nil {
		return nil, fmt.Errorf("donors to choose from: %w", err)
	}
	return collect(rows, "donors to choose from", pgx.RowToStructByNameLax[drive.Donor])
}

// KnownDonors gives at most this many donors, 0 for all of them, those who gave most
// lots first, for a form to offer. Who asked to be forgotten is offered nowhere.
func (s *Store) KnownDonors(ctx context.Context, driveID string, most int) ([]KnownDonor, error) {
	const q = `SELECT d.name, coalesce(l.lots, 0) AS lots FROM donors d
		LEFT JOIN (SELECT donor, count(*) AS lots FROM lots WHERE drive_id = $1 AND donor IS NOT NULL GROUP BY donor) l ON l.donor = d.number
		WHERE d.drive_id = $1 AND d.erased_at IS NULL
		ORDER BY lots DESC, lower(d.name), d.number LIMIT nullif($2, 0)`
	rows, err := s.pool.Query(ctx, q, driveID, most)
	if err != nil {
		return nil, fmt.Errorf("names of donors: %w", err)
	}
	return collect(rows, "names of donors", pgx.RowToStructByName[KnownDonor])
}

// DonorContacts gives how to reach a donor; not found where the drive has none
// of that number. It is a question of its own, so that a page for people who may
// not read it never holds it.
func (s *Store) DonorContacts(ctx context.Context, driveID string, number int64) (drive.DonorContacts, error) {
	return donorContacts(ctx, s.pool, driveID, number)
}

func donorContacts(ctx context.Context, db querier, driveID string, number int64) (drive.DonorContacts, error) {
	const q = `SELECT email, phone, address FROM donors WHERE drive_id = $1 AND number = $2`
	return one[drive.DonorContacts](ctx, db, "donor's contacts", noDonor(), q, driveID, number)
}

func noDonor() error { return apperr.NotFound("There is no such donor here.") }

// DonorSaved says which donor was kept. It holds nothing personal, since answers
// are kept for repeats.
type DonorSaved struct {
	Number  int64
	Version int
}

// CreateDonor adds a donor and gives them a number; c is nil where whoever adds
// them may not write contacts. It refuses by field what drive.CheckDonor refuses,
// and a name that another donor has.
func (s *Store) CreateDonor(ctx context.Context, act drive.Act, d drive.Donor, c *drive.DonorContacts) (DonorSaved, error) {
	d = d.Tidy()
	if c == nil {
		c = &drive.DonorContacts{}
	}
	tidy := c.Tidy()
	if err := drive.CheckDonor(d, &tidy); err != nil {
		return DonorSaved{}, err
	}
	body := struct {
		Donor    drive.Donor
		Contacts drive.DonorContacts
	}{d, tidy}
	return once(ctx, s, act, "create donor", body, func(tx pgx.Tx) (DonorSaved, error) {
		number, err := next(ctx, tx, act.Drive, "donor")
		if err != nil {
			return DonorSaved{}, err
		}
		return DonorSaved{Number: number, Version: 1}, insertDonor(ctx, tx, act, number, d, tidy)
	})
}

func insertDonor(ctx context.Context, tx pgx.Tx, act drive.Act, number int64, d drive.Donor, c drive.DonorContacts) error {
	const insert = `INSERT INTO donors (drive_id, number, name, email, phone, address, letter, note, no_letters, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
	_, err := tx.Exec(ctx, insert, act.Drive, number, d.Name, c.Email, c.Phone, c.Address, d.Letter, d.Note, d.NoLetters, act.At)
	if err != nil {
		return fmt.Errorf("add donor: %w", err)
	}
	return audit(ctx, tx, act, "donor added", "donor", number, donorChanges(drive.Donor{}, d, drive.DonorContacts{}, c))
}

func donorChanges(old, d drive.Donor, before, after drive.DonorContacts) changes {
	ch := changes{}
	ch.set("letter", old.Letter, d.Letter)
	ch.set("no letters", old.NoLetters, d.NoLetters)
	ch.personal("name", old.Name, d.Name)
	ch.personal("note", old.Note, d.Note)
	ch.personal("email", before.Email, after.Email)
	ch.personal("phone", before.Phone, after.Phone)
	ch.personal("address", before.Address, after.Address)
	return ch
}

// donorsNamed gives the numbers of donors by name as typed, making those who are
// not here yet, which m is told. An empty name is nobody and has no number.
func donorsNamed(ctx context.Context, tx pgx.Tx, act drive.Act, names []string, m *made) (map[string]*int64, error) {
	numbers, err := donorsKnown(ctx, tx, act.Drive, names)
	if err != nil || !slices.ContainsFunc(names, func(name string) bool { return name != "" && numbers[name] == nil }) {
		return numbers, err
	}
	// The counter's row makes two desks that type the same new name wait for each other. Whoever
	// waited looks again, since the other has made the donor meanwhile.
	if _, err := nextN(ctx, tx, act.Drive, "donor", 0); err != nil {
		return nil, err
	}
	if numbers, err = donorsKnown(ctx, tx, act.Drive, names); err != nil {
		return nil, err
	}
	same := map[string]*int64{}
	for _, name := range names {
		key := strings.ToLower(name)
		switch {
		case name == "" || numbers[name] != nil:
			continue
		case same[key] == nil:
			number, err := next(ctx, tx, act.Drive, "donor")
			if err != nil {
				return nil, err
			}
			if err := insertDonor(ctx, tx, act, number, drive.Donor{Name: name}, drive.DonorContacts{}); err != nil {
				return nil, err
			}
			m.add(drive.BroughtDonor, number, 1)
			same[key] = &number
		}
		numbers[name] = same[key]
	}
	return numbers, nil
}

// donorsKnown gives the numbers of those donors, by name as typed, that are here.
func donorsKnown(ctx context.Context, tx pgx.Tx, driveID string, names []string) (map[string]*int64, error) {
	const find = `SELECT n AS name, d.number FROM unnest($2::text[]) AS n
		JOIN donors d ON d.drive_id = $1 AND lower(d.name) = lower(n)`
	rows, err := tx.Query(ctx, find, driveID, names)
	if err != nil {
		return nil, fmt.Errorf("donors by name: %w", err)
	}
	numbers := map[string]*int64{}
	var name string
	var number int64
	_, err = pgx.ForEachRow(rows, []any{&name, &number}, func() error {
		found := number
		numbers[name] = &found
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("donors by name: %w", err)
	}
	return numbers, nil
}
