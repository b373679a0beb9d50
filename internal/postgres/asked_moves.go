package postgres

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// stacksFor gives what stands for a line, by kit, part and size.
func stacksFor(ctx context.Context, tx pgx.Tx, driveID string, asked int64) ([]drive.Stack, error) {
	const q = `SELECT asked, size, kit, part, state, n FROM case_balances
		WHERE drive_id = $1 AND asked = $2 AND n > 0 ORDER BY kit, part, size`
	rows, err := tx.Query(ctx, q, driveID, asked)
	if err != nil {
		return nil, fmt.Errorf("what stands for the line: %w", err)
	}
	return collect(rows, "what stands for the line", pgx.RowToStructByName[drive.Stack])
}

// lowerAsked refuses a line that would ask for less than was delivered, and releases good pillowcases
// where the change says so.
func lowerAsked(ctx context.Context, tx pgx.Tx, act drive.Act, a drive.Asked) error {
	stacks, err := stacksFor(ctx, tx, act.Drive, a.Number)
	if err != nil {
		return err
	}
	release, err := drive.CountStacks(stacks).LowerTo(a.Wanted, a.Beyond)
	if err != nil || release == 0 {
		return err
	}
	good := slices.DeleteFunc(stacks, func(s drive.Stack) bool { return s.State != drive.CaseGood })
	return bookCases(ctx, tx, act, drive.Release(good, release))
}

// Given is what a moving of pillowcases to a line came to.
type Given struct {
	N    int
	Step int64 // of the pillowcases ledger, by which it is undone
}

// GiveToLine gives good pillowcases that lie here to a line that asks for their size: what nobody was
// promised, or what is another line's, and no more than the line lacks. Who gives them decides that; the
// trail says from which line. The line is locked, so that two who give at once do not fill it twice.
func (s *Store) GiveToLine(ctx context.Context, act drive.Act, at drive.Stack, n int, asked int64) (Given, error) {
	at.State, at.N = drive.CaseGood, 0
	body := struct {
		At    drive.Stack
		N     int
		Asked int64
	}{at, n, asked}
	return once(ctx, s, act, "give to line", body, func(tx pgx.Tx) (Given, error) {
		to, err := lockAsked(ctx, tx, act.Drive, asked)
		if err != nil {
			return Given{}, err
		}
		if err := fitsLine(ctx, tx, act.Drive, asked, at.Size); err != nil {
			return Given{}, err
		}
		stack, err := stackNow(ctx, tx, act.Drive, at)
		if err != nil {
			return Given{}, err
		}
		var e drive.CaseEntry
		if stack.Asked == 0 {
			e, err = stack.Promise(n, asked)
		} else {
			e, err = stack.Move(n, asked)
		}
		if err != nil {
			return Given{}, err
		}
		stands, err := stacksFor(ctx, tx, act.Drive, asked)
		if err != nil {
			return Given{}, err
		}
		if err := drive.CountStacks(stands).Takes(to.Wanted, n); err != nil {
			return Given{}, err
		}
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return Given{}, err
		}
		ids, err := writeCaseEntries(ctx, tx, act, drive.Day(act.At, d.Location()), []drive.CaseEntry{e})
		if err != nil {
			return Given{}, err
		}
		c := changes{"pillowcases": {To: n}, "of line": {From: stack.Asked, To: asked}}
		if stack.Asked != 0 {
			if err := audit(ctx, tx, act, "given from a line", "asked", stack.Asked, c); err != nil {
				return Given{}, err
			}
		}
		return Given{n, ids[0]}, audit(ctx, tx, act, "given to a line", "asked", asked, c)
	})
}

// Spares gives the good pillowcases that lie here unpacked, in the order in which one would miss them
// least: nobody's first, then what is due last.
func (s *Store) Spares(ctx context.Context, driveID string) ([]drive.Spare, error) {
	list, err := s.Stacks(ctx, driveID, drive.CaseGood)
	if err != nil {
		return nil, err
	}
	spares := make([]drive.Spare, 0, len(list))
	for _, l := range list {
		spares = append(spares, drive.Spare{Stack: l.Stack, SizeName: l.SizeName, ForWhom: l.ForWhom, Due: l.Due})
	}
	slices.Reverse(spares)
	return spares, nil
}

// AskedStep is one change of what is asked for, or of a recipient and its rules, as the trail has it.
type AskedStep struct {
	At      time.Time `db:"at"`
	Who     string    `db:"who_name"`
	Act     string    `db:"act"`
	Kind    string    `db:"kind"` // asked, recipient or standing
	Line    int64     `db:"-"`
	Changes []Changed `db:"-"`
}

// Changed is one field that changed; what is personal says only that it did.
type Changed struct {
	Field    string
	From, To any
}

// AskedHistory gives who changed what of some lines and of a recipient, when, the newest first; recipient 0
// leaves that out.
func (s *Store) AskedHistory(ctx context.Context, driveID string, recipient int64, lines []int64) ([]AskedStep, error) {
	subjects := make([]string, 0, len(lines))
	for _, l := range lines {
		subjects = append(subjects, strconv.FormatInt(l, 10))
	}
	const q = askedSteps + `(a.kind = 'recipient' AND a.subject = $2 OR a.kind = 'asked' AND a.subject = ANY($3)) ORDER BY a.id DESC LIMIT 200`
	return s.history(ctx, q, driveID, strconv.FormatInt(recipient, 10), subjects)
}

// StandingHistory gives who changed what of a standing request, when, the newest first.
func (s *Store) StandingHistory(ctx context.Context, driveID string, number int64) ([]AskedStep, error) {
	const q = askedSteps + `a.kind = 'standing' AND a.subject = $2 ORDER BY a.id DESC LIMIT 200`
	return s.history(ctx, q, driveID, strconv.FormatInt(number, 10))
}

const askedSteps = `SELECT a.at, coalesce(w.name, '') AS who_name, a.act, a.kind, a.subject, a.changes
	FROM audit a LEFT JOIN signers w ON w.id = a.who WHERE a.drive_id = $1 AND `

func (s *Store) history(ctx context.Context, q string, args ...any) ([]AskedStep, error) {
	rows, err := s.pool.Query(ctx, q, args...)
	if err != nil {
		return nil, fmt.Errorf("history of what is asked: %w", err)
	}
	type row struct {
		AskedStep
		Subject string `db:"subject"`
		Changes []byte `db:"changes"`
	}
	list, err := collect(rows, "history of what is asked", pgx.RowToStructByName[row])
	if err != nil {
		return nil, err
	}
	steps := make([]AskedStep, 0, len(list))
	for _, r := range list {
		step := r.AskedStep
		if r.Kind == "asked" {
			if step.Line, err = strconv.ParseInt(r.Subject, 10, 64); err != nil {
				return nil, fmt.Errorf("history of line %q: %w", r.Subject, err)
			}
		}
		var c map[string]change
		if err := json.Unmarshal(r.Changes, &c); err != nil {
			return nil, fmt.Errorf("history of what is asked: %w", err)
		}
		for field, v := range c {
			step.Changes = append(step.Changes, Changed{field, v.From, v.To})
		}
		slices.SortFunc(step.Changes, func(a, b Changed) int { return cmp.Compare(a.Field, b.Field) })
		steps = append(steps, step)
	}
	return steps, nil
}
