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

// ImportUndone says how much of an import was taken back and how much stays.
type ImportUndone struct {
	Undone, Left int
}

// UndoImport takes back what a spreadsheet made and nobody has touched since: cloth by
// counter-entries, what was only written down as it stands. The rest stays; cloth that a plan had can
// be taken back later, once the plan has given it up. Where nothing can be, it is a conflict.
func (s *Store) UndoImport(ctx context.Context, act drive.Act, number int64) (ImportUndone, error) {
	return once(ctx, s, act, "undo import", number, func(tx pgx.Tx) (ImportUndone, error) {
		// A plan speaks of lines by their numbers, so none is asked for meanwhile; and whoever names
		// a new donor waits.
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return ImportUndone{}, err
		}
		if _, err := nextN(ctx, tx, act.Drive, "donor", 0); err != nil {
			return ImportUndone{}, err
		}
		const lock = `SELECT kind FROM imports WHERE drive_id = $1 AND number = $2`
		var kind string
		switch err := tx.QueryRow(ctx, lock, act.Drive, number).Scan(&kind); {
		case errors.Is(err, pgx.ErrNoRows):
			return ImportUndone{}, noImport()
		case err != nil:
			return ImportUndone{}, fmt.Errorf("import: %w", err)
		}
		if err := lockMade(ctx, tx, act.Drive, number); err != nil {
			return ImportUndone{}, err
		}
		found, err := importStands(ctx, tx, act.Drive, number, act.At)
		if err != nil {
			return ImportUndone{}, err
		}
		var undone ImportUndone
		for _, b := range found.all {
			if b.Why == "" {
				undone.Undone++
			} else {
				undone.Left++
			}
		}
		switch {
		case len(found.all) == 0:
			return undone, apperr.Conflict("All of it is taken back already.")
		case undone.Undone == 0:
			return undone, apperr.Conflict("What is left of it was used or changed since, so it stays.")
		}
		if err := found.takeBack(ctx, tx, act, number); err != nil {
			return undone, err
		}
		c := changes{"undone": {To: undone.Undone}, "stays": {To: undone.Left}}
		return undone, audit(ctx, tx, act, "import undone", "import", kind, c)
	})
}

// lockMade holds what an import made: lots and their pieces as whoever uses cloth does, and rows
// that may go so that nothing new can hang on them.
func lockMade(ctx context.Context, tx pgx.Tx, driveID string, number int64) error {
	for _, q := range []string{
		`SELECT FROM lots l WHERE l.drive_id = $1 AND l.number IN (` + madeOf("lot', 'lot size") + `) ORDER BY l.number FOR NO KEY UPDATE`,
		`SELECT FROM pieces p WHERE p.drive_id = $1 AND p.lot IN (` + madeOf("lot', 'lot size") + `) ORDER BY p.lot, p.piece FOR NO KEY UPDATE`,
		`SELECT FROM asked a WHERE a.drive_id = $1 AND a.number IN (` + madeOf("asked") + `) ORDER BY a.number FOR UPDATE`,
		`SELECT FROM recipients r WHERE r.drive_id = $1 AND r.number IN (` + madeOf("recipient") + `) ORDER BY r.number FOR UPDATE`,
		`SELECT FROM people p WHERE p.drive_id = $1 AND p.number IN (` + madeOf("person") + `) ORDER BY p.number FOR UPDATE`,
		`SELECT FROM donors d WHERE d.drive_id = $1 AND d.number IN (` + madeOf("donor") + `) ORDER BY d.number FOR UPDATE`,
	} {
		if _, err := tx.Exec(ctx, q, driveID, number); err != nil {
			return fmt.Errorf("hold what an import made: %w", err)
		}
	}
	return nil
}

// madeOf asks for the numbers of what import $2 made of these kinds and is not taken back.
func madeOf(kinds string) string {
	return `SELECT m.number FROM import_rows m WHERE m.drive_id = $1 AND m.import = $2 AND m.undone_at IS NULL AND m.kind IN ('` + kinds + `')`
}

// takeBack writes what importStands found: what has no reason to stay goes.
func (found importFound) takeBack(ctx context.Context, tx pgx.Tx, act drive.Act, number int64) error {
	for _, l := range found.lots {
		if err := writeFabric(ctx, tx, act, l.undo); err != nil {
			return err
		}
		what := "lot taken back"
		if l.after.UntaggedAt == nil {
			what = "measuring undone"
		}
		if err := updateLot(ctx, tx, act, l.before, l.after, what); err != nil {
			return err
		}
	}
	going := found.going()
	for _, of := range []struct {
		kind drive.BroughtKind
		q    []string
	}{
		{drive.BroughtAsked, []string{
			`DELETE FROM asked_sizes WHERE drive_id = $1 AND asked = ANY($2)`,
			`DELETE FROM asked WHERE drive_id = $1 AND number = ANY($2)`,
		}},
		{drive.BroughtRecipient, []string{`DELETE FROM recipients WHERE drive_id = $1 AND number = ANY($2)`}},
		{drive.BroughtPerson, []string{`DELETE FROM people WHERE drive_id = $1 AND number = ANY($2)`}},
		{drive.BroughtDonor, []string{`DELETE FROM donors WHERE drive_id = $1 AND number = ANY($2)`}},
	} {
		for _, q := range of.q {
			if _, err := tx.Exec(ctx, q, act.Drive, going[of.kind]); err != nil {
				return fmt.Errorf("take back what an import made: %w", err)
			}
		}
		for _, n := range going[of.kind] {
			if err := audit(ctx, tx, act, "taken back", string(of.kind), n, nil); err != nil {
				return err
			}
		}
	}
	for kind, numbers := range going {
		const q = `UPDATE import_rows SET undone_at = $5 WHERE drive_id = $1 AND import = $2 AND kind = $3 AND number = ANY($4)`
		if _, err := tx.Exec(ctx, q, act.Drive, number, string(kind), numbers, act.At); err != nil {
			return fmt.Errorf("note what is taken back: %w", err)
		}
	}
	return nil
}

// importFound is what an import made and is not taken back, as it stands.
type importFound struct {
	all  []drive.Brought
	lots []lotUndone // of those that nobody has touched
}

// lotUndone is a lot as it stands and as it stands once it is taken back.
type lotUndone struct {
	before, after drive.Lot
	undo          []drive.FabricEntry
}

func (found importFound) going() map[drive.BroughtKind][]int64 {
	going := map[drive.BroughtKind][]int64{}
	for _, b := range found.all {
		if b.Why == "" {
			going[b.Kind] = append(going[b.Kind], b.Number)
		}
	}
	return going
}

// nobodys gives the lots of which nobody is the donor once they are taken back.
func (found importFound) nobodys() []int64 {
	var lots []int64
	for _, l := range found.lots {
		if l.after.Donor == nil {
			lots = append(lots, l.after.Number)
		}
	}
	return lots
}

// importStands says of everything that an import made whether somebody has touched it since.
// Lots come before who gave them, and lines before who asks: what goes itself keeps nobody.
func importStands(ctx context.Context, db querier, driveID string, number int64, at time.Time) (importFound, error) {
	found, err := lotsMade(ctx, db, driveID, number, at)
	if err != nil {
		return found, err
	}
	for _, of := range []struct {
		q     string
		going func() []int64 // what does not keep it where it goes itself
	}{
		{donorsMade, found.nobodys},
		{peopleMade, nil},
		{askedMade, nil},
		{recipientsMade, func() []int64 { return found.going()[drive.BroughtAsked] }},
	} {
		args := []any{driveID, number}
		if of.going != nil {
			args = append(args, append([]int64{}, of.going()...)) // NULL would keep nothing
		}
		rows, err := db.Query(ctx, of.q, args...)
		if err != nil {
			return found, fmt.Errorf("what an import made: %w", err)
		}
		more, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Brought])
		if err != nil {
			return found, fmt.Errorf("what an import made: %w", err)
		}
		found.all = append(found.all, more...)
	}
	return found, nil
}

const (
	madeColumns = `SELECT m.kind, m.number, m.version, `
	madeWhere   = ` WHERE m.drive_id = $1 AND m.import = $2 AND m.undone_at IS NULL AND `

	donorsMade = madeColumns + `d.name, CASE
			WHEN d.version <> m.version THEN 'Changed since.'
			WHEN EXISTS (SELECT FROM thanks x WHERE x.drive_id = d.drive_id AND x.donor = d.number) THEN 'Thanked since.'
			WHEN EXISTS (SELECT FROM lots l WHERE l.drive_id = d.drive_id AND l.donor = d.number AND l.number <> ALL($3)) THEN 'Gave a lot that stays.'
			ELSE '' END AS why
		FROM import_rows m JOIN donors d ON d.drive_id = m.drive_id AND d.number = m.number` + madeWhere + `m.kind = 'donor' ORDER BY m.number`

	peopleMade = madeColumns + `p.name, CASE
			WHEN p.version <> m.version THEN 'Changed since.'
			WHEN EXISTS (SELECT FROM links x WHERE x.drive_id = p.drive_id AND x.person = p.number) THEN 'Has a page of their own.'
			WHEN EXISTS (SELECT FROM kit_entries x WHERE x.drive_id = p.drive_id AND x.holder = p.number)
				OR EXISTS (SELECT FROM kits x WHERE x.drive_id = p.drive_id AND x.holder = p.number)
				OR EXISTS (SELECT FROM kit_reports x WHERE x.drive_id = p.drive_id AND x.person = p.number) THEN 'Has had a kit.'
			WHEN EXISTS (SELECT FROM case_entries x WHERE x.drive_id = p.drive_id AND x.person = p.number) THEN 'Has sewn or mended.'
			WHEN EXISTS (SELECT FROM hours x WHERE x.drive_id = p.drive_id AND x.person = p.number) THEN 'Has given hours.'
			WHEN EXISTS (SELECT FROM reminders x WHERE x.drive_id = p.drive_id AND x.person = p.number)
				OR EXISTS (SELECT FROM reminder_stops x WHERE x.drive_id = p.drive_id AND x.person = p.number) THEN 'Reminders were spoken of.'
			ELSE '' END AS why
		FROM import_rows m JOIN people p ON p.drive_id = m.drive_id AND p.number = m.number` + madeWhere + `m.kind = 'person' ORDER BY m.number`

	askedMade = madeColumns + `r.name, CASE
			WHEN a.version <> m.version THEN 'Changed since.'
			WHEN EXISTS (SELECT FROM kits x WHERE x.drive_id = a.drive_id AND x.asked = a.number)
				OR EXISTS (SELECT FROM case_entries x WHERE x.drive_id = a.drive_id AND a.number IN (x.asked, x.to_asked)) THEN 'Kits or pillowcases are for it.'
			WHEN EXISTS (SELECT FROM plans x WHERE x.drive_id = a.drive_id AND x.created_at >= i.at) THEN 'A plan was asked for since. Close the line instead.'
			ELSE '' END AS why
		FROM import_rows m JOIN imports i ON i.drive_id = m.drive_id AND i.number = m.import
		JOIN asked a ON a.drive_id = m.drive_id AND a.number = m.number
		JOIN recipients r ON r.drive_id = a.drive_id AND r.number = a.recipient` + madeWhere + `m.kind = 'asked' ORDER BY m.number`

	recipientsMade = madeColumns + `c.name, CASE
			WHEN c.version <> m.version THEN 'Changed since.'
			WHEN EXISTS (SELECT FROM links x WHERE x.drive_id = c.drive_id AND x.recipient = c.number) THEN 'Has a page of its own.'
			WHEN EXISTS (SELECT FROM boxes x WHERE x.drive_id = c.drive_id AND x.recipient = c.number)
				OR EXISTS (SELECT FROM deliveries x WHERE x.drive_id = c.drive_id AND x.recipient = c.number) THEN 'Boxes were packed for it.'
			WHEN EXISTS (SELECT FROM lot_rules x WHERE x.drive_id = c.drive_id AND x.recipient = c.number) THEN 'Cloth was kept for it.'
			WHEN EXISTS (SELECT FROM standing_asks x WHERE x.drive_id = c.drive_id AND x.recipient = c.number)
				OR EXISTS (SELECT FROM asked a WHERE a.drive_id = c.drive_id AND a.recipient = c.number AND a.number <> ALL($3)) THEN 'Asks for something that stays.'
			ELSE '' END AS why
		FROM import_rows m JOIN recipients c ON c.drive_id = m.drive_id AND c.number = m.number` + madeWhere + `m.kind = 'recipient' ORDER BY m.number`
)
