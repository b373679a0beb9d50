package postgres

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// StackLine is a stack with what people read beside it.
type StackLine struct {
	drive.Stack
	SizeName   string     `db:"size_name"`
	Recipient  *int64     `db:"recipient"`
	ForWhom    string     `db:"for_whom"` // the recipient; empty: not promised yet
	Due        *time.Time `db:"due"`
	KitState   string     `db:"kit_state"`   // empty without a kit
	HolderName string     `db:"holder_name"` // who has the kit now; empty where nobody has
	SewnBy     string     `db:"sewn_by"`     // who sewed them, or may have where they came without a kit; empty: nobody known
	Maker      int64      `db:"maker"`       // who sewed them and sews still; 0: nobody known, or not one alone
	MendedBy   string     `db:"mended_by"`   // whom they came back from when they were last mended; empty: nobody, or at the table
}

// Out says whether the stack is in somebody's hands.
func (l StackLine) Out() bool { return l.KitState == string(drive.KitOut) }

// Stage is the state as an address writes it.
func (l StackLine) Stage() string { return strings.ReplaceAll(string(l.State), " ", "-") }

// Stacks gives the pillowcases that stand in these states, of sewn, good and to mend, and
// are not none: earliest due first, then by line, kit and size. The three stand in the
// statement too, so that Postgres finds them by their index.
func (s *Store) Stacks(ctx context.Context, driveID string, states ...drive.CaseState) ([]StackLine, error) {
	if !slices.Contains(states, drive.CaseSewn) && !slices.Contains(states, drive.CaseToMend) {
		return s.stacks(ctx, driveID, states)
	}
	var list []StackLine
	var steps []drive.LooseStep
	var now []drive.Stack
	err := s.Together(ctx,
		func(ctx context.Context) (err error) { list, err = s.stacks(ctx, driveID, states); return err },
		func(ctx context.Context) (err error) { steps, err = s.looseSteps(ctx, driveID); return err },
		func(ctx context.Context) (err error) { now, err = s.looseNow(ctx, driveID); return err })
	if err != nil {
		return nil, err
	}
	for i, l := range list {
		if l.SewnBy == "" && l.State != drive.CaseGood {
			sewers := drive.LooseSewersOf(l.Stack, steps, now)
			list[i].SewnBy, list[i].Maker = sewers.Words(), sewers.Only
		}
	}
	return list, nil
}

// sewerOf is who sewed a part of a kit of a drive ($1), in SQL: null where nobody is known. Of what was
// mended as another part since, it is who sewed that from which it parted, which is looked for only then.
func sewerOf(kit, part string) string {
	const sewn = ` e.drive_id = $1 AND e.to_kit > 0 AND e.to_state = 'sewn' AND e.from_state <> 'to mend' AND e.person IS NOT NULL
		AND e.undoes IS NULL ORDER BY e.id DESC LIMIT 1)`
	return `coalesce((SELECT e.person FROM case_entries e WHERE e.to_kit = ` + kit + ` AND e.to_part = ` + part + ` AND` + sewn + `,
		(WITH RECURSIVE parts AS (
			SELECT ` + kit + ` AS kit, ` + part + ` AS part
			UNION
			SELECT e.kit, e.part FROM parts w
			JOIN case_entries e ON e.drive_id = $1 AND e.to_kit = w.kit AND e.to_part = w.part AND e.to_kit > 0
				AND 'to mend' IN (e.from_state, e.to_state) AND e.undoes IS NULL)
		SELECT e.person FROM parts w JOIN case_entries e ON e.to_kit = w.kit AND e.to_part = w.part WHERE` + sewn + `)`
}

// looseSteps gives the newest steps of pillowcases without a kit that were not undone, the newest first.
func (s *Store) looseSteps(ctx context.Context, driveID string) ([]drive.LooseStep, error) {
	const q = `SELECT e.size, e.n, e.asked, e.kit, e.from_state, e.to_asked, e.to_kit, e.to_state,
			coalesce(e.person, 0) AS sewer, coalesce(p.name, '') AS name, coalesce(p.active, false) AS sews
		FROM case_entries e
		LEFT JOIN people p ON p.drive_id = e.drive_id AND p.number = e.person
		WHERE e.drive_id = $1 AND (e.to_kit = 0 AND e.to_state IN ('sewn', 'to mend') OR e.kit = 0 AND e.from_state IN ('sewn', 'to mend'))
			AND e.undoes IS NULL AND NOT EXISTS (SELECT FROM case_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id)
		ORDER BY e.id DESC LIMIT 300`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("steps without a kit: %w", err)
	}
	return collect(rows, "steps without a kit", pgx.RowToStructByName[drive.LooseStep])
}

// looseNow gives what lies without a kit to be checked or mended.
func (s *Store) looseNow(ctx context.Context, driveID string) ([]drive.Stack, error) {
	// The three states stand in it as its index has them.
	const q = `SELECT asked, size, kit, part, state, n FROM case_balances
		WHERE drive_id = $1 AND kit = 0 AND n > 0 AND state IN ('sewn', 'good', 'to mend') AND state <> 'good'`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("stacks without a kit: %w", err)
	}
	return collect(rows, "stacks without a kit", pgx.RowToStructByName[drive.Stack])
}

func (s *Store) stacks(ctx context.Context, driveID string, states []drive.CaseState) ([]StackLine, error) {
	q := `SELECT b.asked, b.size, b.kit, b.part, b.state, b.n, z.name AS size_name, a.recipient, coalesce(r.name, '') AS for_whom, a.due,
			coalesce(k.state, '') AS kit_state,
			coalesce(h.name, '') AS holder_name, coalesce(m.name, '') AS sewn_by, CASE WHEN m.active THEN m.number ELSE 0 END AS maker,
			coalesce((SELECT p.name FROM case_entries e LEFT JOIN people p ON p.drive_id = e.drive_id AND p.number = e.person
				WHERE e.drive_id = b.drive_id AND e.to_kit = b.kit AND e.to_part = b.part AND e.to_kit > 0 AND e.from_state = 'to mend' AND e.to_state = 'sewn'
					AND NOT EXISTS (SELECT FROM case_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id)
				ORDER BY e.id DESC LIMIT 1), '') AS mended_by
		FROM case_balances b
		JOIN sizes z ON z.drive_id = b.drive_id AND z.number = b.size
		LEFT JOIN asked a ON a.drive_id = b.drive_id AND a.number = b.asked
		LEFT JOIN recipients r ON r.drive_id = a.drive_id AND r.number = a.recipient
		LEFT JOIN kits k ON k.drive_id = b.drive_id AND k.number = b.kit AND k.part = b.part
		LEFT JOIN people h ON h.drive_id = k.drive_id AND h.number = k.holder
		LEFT JOIN people m ON m.drive_id = b.drive_id AND m.number = ` + sewerOf("b.kit", "b.part") + `
		WHERE b.drive_id = $1 AND b.state = ANY((SELECT $2::text[])::text[]) AND b.n > 0
			AND b.state IN ('sewn', 'good', 'to mend')
		ORDER BY a.due NULLS LAST, b.asked, b.kit, b.part, b.size`
	rows, err := s.pool.Query(ctx, q, driveID, states)
	if err != nil {
		return nil, fmt.Errorf("stacks: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[StackLine])
	if err != nil {
		return nil, fmt.Errorf("stacks: %w", err)
	}
	return list, nil
}

// BringIn books pillowcases that came without a kit. A line, size or maker that
// the drive does not have is an invalid field.
func (s *Store) BringIn(ctx context.Context, act drive.Act, b drive.BroughtIn) (int, error) {
	var driveFound func() (drive.Drive, error)
	ask := func(batch *pgx.Batch) {
		driveFound = queueDrive(batch, act.Drive)
		if b.Asked != 0 {
			batch.Queue(lockLine, act.Drive, b.Asked)
		}
		batch.Queue(lockSizes, act.Drive, []int64{b.Size})
		batch.Queue(shareLaundry, lockWash, act.Drive)
	}
	return onceAsking(ctx, s, act, "bring in", b, ask, func(tx *wishTx) (int, error) {
		e, err := drive.BringIn(b)
		if err != nil {
			return 0, err
		}
		d, err := driveFound()
		if err != nil {
			return 0, err
		}
		if err := fitsLockedLine(ctx, tx, act.Drive, b.Asked, b.Size); err != nil {
			return 0, err
		}
		// The entry comes last: all who bring in of one size wait for each other at its balance.
		if err := audit(ctx, tx, act, "brought in", "size", b.Size, changes{"pillowcases": {To: b.N}, "line": {To: b.Asked}}); err != nil {
			return 0, err
		}
		day := drive.Day(act.At, d.Location())
		if b.Note == "" { // nothing hangs on its id, and no laundry on what is new here
			queueCase(&tx.last, act, day, e)
			return b.N, nil
		}
		ids, err := writeCaseEntries(ctx, tx, act, day, []drive.CaseEntry{e})
		if err != nil {
			return 0, err
		}
		return b.N, keepNote(ctx, tx, act.Drive, ids[0], b.Note)
	})
}

const lockLine = `SELECT number FROM asked WHERE drive_id = $1 AND number = $2 FOR SHARE`

// fitsLine refuses a size that does not fill the line, and a line that is closed
// or not there. Whoever would change the line waits until the transaction ends.
func fitsLine(ctx context.Context, tx pgx.Tx, driveID string, asked, size int64) error {
	if asked != 0 {
		if _, err := tx.Exec(ctx, lockLine, driveID, asked); err != nil {
			return fmt.Errorf("lock the line asked for: %w", err)
		}
	}
	return fitsLockedLine(ctx, tx, driveID, asked, size)
}

// fitsLockedLine is fitsLine of a line that the transaction has locked.
func fitsLockedLine(ctx context.Context, tx pgx.Tx, driveID string, asked, size int64) error {
	if asked == 0 {
		return nil
	}
	const q = `SELECT a.closed, EXISTS (SELECT FROM asked_sizes z WHERE z.drive_id = a.drive_id AND z.asked = a.number AND z.size = $3)
		FROM asked a WHERE a.drive_id = $1 AND a.number = $2`
	var closed, fits bool
	err := tx.QueryRow(ctx, q, driveID, asked, size).Scan(&closed, &fits)
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		return apperr.Invalid("asked", "Choose a line from what is asked for.")
	case err != nil:
		return fmt.Errorf("the line asked for: %w", err)
	case closed:
		return apperr.Invalid("asked", "That line is closed. Choose another, or leave them not promised yet.")
	case !fits:
		return apperr.Invalid("asked", "This size does not fill that line. Choose a line that asks for it, or leave them not promised yet.")
	}
	return nil
}

// MendedHere books pillowcases that were mended at the table; they wait to be checked once more.
func (s *Store) MendedHere(ctx context.Context, act drive.Act, at drive.Stack, n int) (int, error) {
	at.State, at.N = drive.CaseToMend, 0
	body := struct {
		At drive.Stack
		N  int
	}{at, n}
	return once(ctx, s, act, "mended here", body, func(tx pgx.Tx) (int, error) {
		stack, err := stackNow(ctx, tx, act.Drive, at)
		if err != nil {
			return 0, err
		}
		if err := refuseStackOut(ctx, tx, act.Drive, stack); err != nil {
			return 0, err
		}
		e, err := stack.MendedHere(n)
		if err != nil {
			return 0, err
		}
		if err := bookCases(ctx, tx, act, []drive.CaseEntry{e}); err != nil {
			return 0, err
		}
		return n, audit(ctx, tx, act, "mended here", "kit", stackName(stack), changes{"pillowcases": {To: n}})
	})
}

// refuseStackOut refuses to work at the table on what somebody has at home.
func refuseStackOut(ctx context.Context, tx pgx.Tx, driveID string, stack drive.Stack) error {
	if stack.Kit == 0 {
		return nil
	}
	const q = `SELECT state FROM kits WHERE drive_id = $1 AND number = $2 AND part = $3 FOR NO KEY UPDATE`
	var state drive.KitState
	if err := tx.QueryRow(ctx, q, driveID, stack.Kit, stack.Part).Scan(&state); err != nil {
		return fmt.Errorf("where the kit is: %w", err)
	}
	if state == drive.KitOut {
		return apperr.Conflict("Kit %s is out to be mended. Take it back first.", stack.KitRef())
	}
	return nil
}

// Promise gives pillowcases that nobody was promised yet to a line that asks for their size.
func (s *Store) Promise(ctx context.Context, act drive.Act, at drive.Stack, n int, asked int64) (int, error) {
	body := struct {
		At    drive.Stack
		N     int
		Asked int64
	}{at, n, asked}
	return once(ctx, s, act, "promise", body, func(tx pgx.Tx) (int, error) {
		stack, err := stackNow(ctx, tx, act.Drive, at)
		if err != nil {
			return 0, err
		}
		e, err := stack.Promise(n, asked)
		if err != nil {
			return 0, err
		}
		if err := fitsLine(ctx, tx, act.Drive, asked, stack.Size); err != nil {
			return 0, err
		}
		if err := bookCases(ctx, tx, act, []drive.CaseEntry{e}); err != nil {
			return 0, err
		}
		return n, audit(ctx, tx, act, "promised", "asked", asked, changes{"pillowcases": {To: n}})
	})
}

// stackNow reads how many stand in a stack; none there is a conflict, since the
// page that named it is out of date.
func stackNow(ctx context.Context, tx pgx.Tx, driveID string, at drive.Stack) (drive.Stack, error) {
	const q = `SELECT n FROM case_balances
		WHERE drive_id = $1 AND asked = $2 AND size = $3 AND kit = $4 AND part = $5 AND state = $6`
	err := tx.QueryRow(ctx, q, driveID, at.Asked, at.Size, at.Kit, at.Part, at.State).Scan(&at.N)
	if errors.Is(err, pgx.ErrNoRows) || err == nil && at.N == 0 {
		return at, apperr.Conflict("None of these pillowcases are %s any more. Somebody was first; look again.", waiting(at.State))
	}
	if err != nil {
		return at, fmt.Errorf("stack: %w", err)
	}
	return at, nil
}

func waiting(state drive.CaseState) string {
	if state == drive.CaseSewn {
		return "waiting to be checked"
	}
	return string(state)
}

// bookCases writes entries on the day of the act in the drive's zone.
func bookCases(ctx context.Context, tx pgx.Tx, act drive.Act, entries []drive.CaseEntry) error {
	d, err := driveIn(ctx, tx, act.Drive)
	if err != nil {
		return err
	}
	return writeCases(ctx, tx, act, drive.Day(act.At, d.Location()), entries)
}

// stackName names a stack for the audit trail.
func stackName(s drive.Stack) string {
	if s.Kit == 0 {
		return "without a kit"
	}
	return s.KitRef().String()
}
