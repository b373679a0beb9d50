package postgres

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// LetterRules gives how a drive thanks by letter; what it begins with where nobody
// set it.
func (s *Store) LetterRules(ctx context.Context, d drive.Drive) (drive.LetterRules, error) {
	return letterRules(ctx, s.pool, d)
}

func letterRules(ctx context.Context, db querier, d drive.Drive) (drive.LetterRules, error) {
	const q = `SELECT wording, paper, sender, signed_by, in_return, registered, window_left, window_top, version FROM letter_rules WHERE drive_id = $1`
	rows, err := db.Query(ctx, q, d.ID)
	if err != nil {
		return drive.LetterRules{}, fmt.Errorf("rules of letters: %w", err)
	}
	rules, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.LetterRules])
	if errors.Is(err, pgx.ErrNoRows) {
		return d.LetterRules(), nil
	}
	if err != nil {
		return rules, fmt.Errorf("rules of letters: %w", err)
	}
	return rules, nil
}

// UpdateLetterRules changes how a drive thanks, from the version that was looked
// at; a later one is a conflict.
func (s *Store) UpdateLetterRules(ctx context.Context, act drive.Act, r drive.LetterRules) (int, error) {
	r = r.Tidy()
	if err := r.Check(); err != nil {
		return 0, err
	}
	return once(ctx, s, act, "update letter rules", r, func(tx pgx.Tx) (int, error) {
		// The drive's row stands in for rules that are not there yet.
		const lock = `SELECT ` + driveColumns + ` FROM drives WHERE id = $1 FOR NO KEY UPDATE`
		d, err := oneDrive(ctx, tx, lock, act.Drive)
		if err != nil {
			return 0, err
		}
		old, err := letterRules(ctx, tx, d)
		if err != nil {
			return 0, err
		}
		if old.Version != r.Version {
			return 0, stale("How you thank")
		}
		const write = `INSERT INTO letter_rules (drive_id, wording, paper, sender, signed_by, in_return, registered, window_left, window_top, version)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
			ON CONFLICT ON CONSTRAINT letter_rules_pkey DO UPDATE SET wording = $2, paper = $3, sender = $4, signed_by = $5, in_return = $6,
				registered = $7, window_left = $8, window_top = $9, version = $10`
		_, err = tx.Exec(ctx, write, act.Drive, r.Wording, r.Paper, r.Sender, r.SignedBy, r.InReturn, r.Registered, r.WindowLeft, r.WindowTop, r.Version+1)
		if err != nil {
			return 0, fmt.Errorf("update letter rules: %w", err)
		}
		c := changes{}
		c.set("wording", old.Wording, r.Wording)
		c.set("paper", old.Paper, r.Paper)
		c.set("window left", old.WindowLeft, r.WindowLeft)
		c.set("window top", old.WindowTop, r.WindowTop)
		c.personal("sender", old.Sender, r.Sender)
		c.personal("signed by", old.SignedBy, r.SignedBy)
		c.personal("in return", old.InReturn, r.InReturn)
		c.personal("registered", old.Registered, r.Registered)
		return r.Version + 1, audit(ctx, tx, act, "letters changed", "drive", act.Drive, c)
	})
}

// Gift is what one donor brought on one day, and whether they were thanked for it.
type Gift struct {
	drive.GiftOf
	Name      string      `db:"name"`
	Asked     bool        `db:"asked"` // for a letter
	NoLetters bool        `db:"no_letters"`
	Erased    bool        `db:"erased"`
	Email     string      `db:"email"`
	Address   string      `db:"address"`
	Thanks    int64       `db:"thanks"` // number of the thanks; 0: not yet
	Way       string      `db:"way"`
	ThankedOn *time.Time  `db:"thanked_on"`
	Lots      []drive.Lot `db:"-"`
}

// Gifts gives the gifts that came in from one day to another, both counted, by
// name; of one donor where donor is not 0. It holds contacts: it is for those who
// may read them.
func (s *Store) Gifts(ctx context.Context, driveID string, donor int64, from, to time.Time) ([]Gift, error) {
	const q = `SELECT d.number AS donor, l.received_on AS gift_on, d.name, d.letter AS asked, d.no_letters, d.erased_at IS NOT NULL AS erased, d.email, d.address,
			coalesce(t.number, 0) AS thanks, coalesce(t.way, '') AS way, t.thanked_on
		FROM (SELECT DISTINCT donor, received_on FROM lots WHERE drive_id = $1 AND donor IS NOT NULL AND ($2::bigint = 0 OR donor = $2) AND received_on BETWEEN $3 AND $4) l
		JOIN donors d ON d.drive_id = $1 AND d.number = l.donor
		LEFT JOIN thanks t ON t.drive_id = $1 AND t.donor = l.donor AND t.gift_on = l.received_on AND t.undone_at IS NULL
		ORDER BY lower(d.name), d.number, l.received_on`
	rows, err := s.pool.Query(ctx, q, driveID, donor, from, to)
	if err != nil {
		return nil, fmt.Errorf("gifts: %w", err)
	}
	gifts, err := pgx.CollectRows(rows, pgx.RowToStructByName[Gift])
	if err != nil {
		return nil, fmt.Errorf("gifts: %w", err)
	}
	const lots = `SELECT ` + lotColumns + ` FROM lots l WHERE l.drive_id = $1 AND l.donor IS NOT NULL AND ($2::bigint = 0 OR l.donor = $2)
		AND l.received_on BETWEEN $3 AND $4 ORDER BY l.number`
	rows, err = s.pool.Query(ctx, lots, driveID, donor, from, to)
	if err != nil {
		return nil, fmt.Errorf("lots of gifts: %w", err)
	}
	given, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Lot])
	if err != nil {
		return nil, fmt.Errorf("lots of gifts: %w", err)
	}
	of := map[string][]drive.Lot{}
	for _, l := range given {
		gift := drive.GiftOf{Donor: *l.Donor, On: l.ReceivedOn}.String()
		of[gift] = append(of[gift], l)
	}
	for i := range gifts {
		gifts[i].Lots = of[gifts[i].String()]
	}
	return gifts, nil
}

// ThanksWeek is a week with gifts that nobody was thanked for yet.
type ThanksWeek struct {
	Monday time.Time `db:"monday"`
	Due    int       `db:"due"`
	Asked  int       `db:"asked"` // of them by donors who asked for a letter
}

// ThanksDue gives the weeks with thanks that are due, oldest first. Donors who
// asked to be forgotten are thanked by nobody.
func (s *Store) ThanksDue(ctx context.Context, driveID string) ([]ThanksWeek, error) {
	const q = `SELECT date_trunc('week', l.received_on)::date AS monday, count(*) AS due, count(*) FILTER (WHERE d.letter) AS asked
		FROM (SELECT DISTINCT donor, received_on FROM lots WHERE drive_id = $1 AND donor IS NOT NULL) l
		JOIN donors d ON d.drive_id = $1 AND d.number = l.donor AND d.erased_at IS NULL
		WHERE NOT EXISTS (SELECT FROM thanks t WHERE t.drive_id = $1 AND t.donor = l.donor AND t.gift_on = l.received_on AND t.undone_at IS NULL)
		GROUP BY 1 ORDER BY 1`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("thanks that are due: %w", err)
	}
	weeks, err := pgx.CollectRows(rows, pgx.RowToStructByName[ThanksWeek])
	if err != nil {
		return nil, fmt.Errorf("thanks that are due: %w", err)
	}
	return weeks, nil
}

// NoteThanks notes that donors were thanked for gifts, and gives the number under
// which all of it is undone. A gift that was thanked for is a conflict, and so is
// one that is not there.
func (s *Store) NoteThanks(ctx context.Context, act drive.Act, gifts []drive.GiftOf, way string, on time.Time) (int64, error) {
	if err := drive.CheckThanks(gifts, way); err != nil {
		return 0, err
	}
	// One order for everybody, and each gift once, however often a form names it.
	gifts = slices.Clone(gifts)
	slices.SortFunc(gifts, func(a, b drive.GiftOf) int { return cmp.Or(cmp.Compare(a.Donor, b.Donor), a.On.Compare(b.On)) })
	gifts = slices.CompactFunc(gifts, func(a, b drive.GiftOf) bool { return a.Donor == b.Donor && a.On.Equal(b.On) })
	body := struct {
		Gifts []drive.GiftOf
		Way   string
		On    time.Time
	}{gifts, way, on}
	return once(ctx, s, act, "note thanks", body, func(tx pgx.Tx) (int64, error) {
		number, err := next(ctx, tx, act.Drive, "thanks")
		if err != nil {
			return 0, err
		}
		const insert = `INSERT INTO thanks (drive_id, number, donor, gift_on, way, thanked_on, at, who)
			SELECT $1, $2, $3, $4, $5, $6, $7, $8 WHERE EXISTS (SELECT FROM lots WHERE drive_id = $1 AND donor = $3 AND received_on = $4)`
		for _, g := range gifts {
			tag, err := tx.Exec(ctx, insert, act.Drive, number, g.Donor, g.On, way, on, act.At, act.Who)
			if err != nil {
				return 0, fmt.Errorf("note thanks: %w", err)
			}
			if tag.RowsAffected() == 0 {
				return 0, apperr.Conflict("Donor %d gave nothing on %s any more. Open the page again.", g.Donor, g.On.Format("2 Jan 2006"))
			}
			if err := audit(ctx, tx, act, "donor thanked", "donor", g.Donor, changes{"way": {To: way}, "gift of": {To: g.On.Format(time.DateOnly)}}); err != nil {
				return 0, err
			}
		}
		return number, nil
	})
}

// UndoThanks takes back that donors were thanked, all that were noted together.
func (s *Store) UndoThanks(ctx context.Context, act drive.Act, number int64) (int64, error) {
	return once(ctx, s, act, "undo thanks", number, func(tx pgx.Tx) (int64, error) {
		const update = `UPDATE thanks SET undone_at = $3 WHERE drive_id = $1 AND number = $2 AND undone_at IS NULL`
		tag, err := tx.Exec(ctx, update, act.Drive, number, act.At)
		if err != nil {
			return 0, fmt.Errorf("undo thanks: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return 0, apperr.Conflict("These thanks are undone already.")
		}
		return number, audit(ctx, tx, act, "thanks undone", "thanks", number, changes{"gifts": {To: tag.RowsAffected()}})
	})
}
