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

// CaseStep is one entry of the pillowcases ledger with what people read beside it.
type CaseStep struct {
	ID       int64           `db:"id"`
	Day      time.Time       `db:"day"`
	At       time.Time       `db:"at"`
	N        int             `db:"n"`
	From     drive.CaseState `db:"from_state"`
	To       drive.CaseState `db:"to_state"`
	SizeName string          `db:"size_name"`
	ForWhom  string          `db:"for_whom"`
	Kit      int64           `db:"kit"`
	Part     int             `db:"part"`
	Person   string          `db:"person"`
	Reason   string          `db:"reason"`
	Note     string          `db:"note"`
	Who      string          `db:"who_name"`
	Undone   bool            `db:"undone"`
	Nobody   bool            `db:"nobody"` // the person is forgotten
	IsUndo   bool            `db:"is_undo"`
}

// MayUndo says whether the step can be taken back from where it is shown: what
// was brought in, checked or mended at the table. The other steps are undone
// with the kit or the box they belong to, and a gift between recipients on their pages.
func (c CaseStep) MayUndo() bool {
	return !c.Undone && !c.IsUndo && c.Reason != drive.ReasonMoved && undoable(c.From, c.To, c.Reason)
}

// KitToUndo names the kit part whose taking back this step is, empty where it is none:
// that is undone with its kit.
func (c CaseStep) KitToUndo() string {
	back := c.To == drive.CaseSewn && (c.From == drive.CaseOut || c.From == drive.CaseLost || c.From == drive.CaseToMend && c.Reason != drive.ReasonMendedHere)
	if !back || c.Kit == 0 || c.Undone || c.IsUndo {
		return ""
	}
	if c.Nobody && c.Reason != drive.ReasonFound { // what turned up is lost again, what was taken back would be with them again
		return ""
	}
	return drive.KitName(c.Kit, c.Part)
}

func undoable(from, to drive.CaseState, reason string) bool {
	if from == to {
		return reason == drive.ReasonPromised || reason == drive.ReasonMoved
	}
	switch from {
	case drive.CaseBorn:
		return to == drive.CaseSewn
	case drive.CaseSewn:
		return to == drive.CaseGood || to == drive.CaseToMend || to == drive.CaseNotUsable
	case drive.CaseToMend:
		return to == drive.CaseSewn && reason == drive.ReasonMendedHere
	}
	return false
}

// CasesLately gives the newest steps at the returns table: what came in, what
// was checked and mended, newest first.
func (s *Store) CasesLately(ctx context.Context, driveID string, limit int) ([]CaseStep, error) {
	const q = `SELECT e.id, e.day, e.at, e.n, e.from_state, e.to_state, z.name AS size_name, coalesce(r.name, '') AS for_whom,
			e.to_kit AS kit, e.to_part AS part, coalesce(p.name, '') AS person, p.erased_at IS NOT NULL AS nobody, e.reason,
			coalesce((SELECT n.note FROM case_notes n WHERE n.drive_id = e.drive_id AND n.entry = e.id),
				(SELECT c.note FROM check_lines l JOIN checks c ON c.drive_id = l.drive_id AND c.number = l."check"
					WHERE l.drive_id = e.drive_id AND l.entry = e.id AND l.outcome <> 'good'), '') AS note, coalesce(w.name, '') AS who_name,
			EXISTS (SELECT FROM case_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id) AS undone, e.undoes IS NOT NULL AS is_undo
		FROM (SELECT * FROM case_entries WHERE drive_id = $1 AND box IS NULL
				AND (to_state IN ('sewn', 'good', 'to mend', 'not usable') OR from_state IN ('sewn', 'good', 'to mend', 'not usable'))
			ORDER BY id DESC LIMIT %d) e
		JOIN sizes z ON z.drive_id = e.drive_id AND z.number = e.size
		LEFT JOIN asked a ON a.drive_id = e.drive_id AND a.number = e.to_asked
		LEFT JOIN recipients r ON r.drive_id = a.drive_id AND r.number = a.recipient
		LEFT JOIN people p ON p.drive_id = e.drive_id AND p.number = e.person
		LEFT JOIN signers w ON w.id = e.who
		ORDER BY e.id DESC`
	// A limit that Postgres does not know beforehand makes it plan the query anew each time.
	rows, err := s.pool.Query(ctx, fmt.Sprintf(q, limit), driveID)
	if err != nil {
		return nil, fmt.Errorf("steps lately: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[CaseStep])
	if err != nil {
		return nil, fmt.Errorf("steps lately: %w", err)
	}
	return list, nil
}

// UndoCases takes back one step that was made at the returns table, by a
// counter-entry. It refuses a step that was undone before, one that belongs to
// a kit or a box, and one whose pillowcases have moved on since or are at
// somebody's home to be mended. Pillowcases that were given to a line are taken back on that
// line's page, by whoever may decide that: line is its number, and 0 at the table.
func (s *Store) UndoCases(ctx context.Context, act drive.Act, line, id int64) (int, error) {
	return once(ctx, s, act, "undo at the returns table", []int64{line, id}, func(tx pgx.Tx) (int, error) {
		const q = `SELECT id, size, n, asked, kit, part, from_state, to_asked, to_kit, to_part, to_state, person, reason, undoes
			FROM case_entries WHERE drive_id = $1 AND id = $2`
		w := drive.WrittenCase{}
		err := tx.QueryRow(ctx, q, act.Drive, id).Scan(&w.ID, &w.Size, &w.N, &w.Asked, &w.Kit, &w.Part, &w.From,
			&w.ToAsked, &w.ToKit, &w.ToPart, &w.To, &w.Person, &w.Reason, &w.Undoes)
		if errors.Is(err, pgx.ErrNoRows) {
			return 0, apperr.NotFound("There is no such step here.")
		}
		if err != nil {
			return 0, fmt.Errorf("the step to undo: %w", err)
		}
		if w.Undoes != nil || !undoable(w.From, w.To, w.Reason) {
			return 0, apperr.Conflict("This step is undone from the page of its kit or its box.")
		}
		if line == 0 && w.Reason == drive.ReasonMoved || line != 0 && (w.From != w.To || w.ToAsked != line) {
			return 0, apperr.Conflict("What was given to a line is taken back on that line's page.")
		}
		if err := refuseStackOut(ctx, tx, act.Drive, drive.Stack{Kit: w.ToKit, Part: w.ToPart}); err != nil {
			return 0, err
		}
		if err := bookCases(ctx, tx, act, []drive.CaseEntry{w.Counter("undone")}); err != nil {
			return 0, err
		}
		if w.Asked != w.ToAsked {
			for _, line := range []int64{w.Asked, w.ToAsked} {
				if line == 0 {
					continue
				}
				c := changes{"pillowcases": {To: w.N}, "of line": {From: w.ToAsked, To: w.Asked}}
				if err := audit(ctx, tx, act, "giving undone", "asked", line, c); err != nil {
					return 0, err
				}
			}
		}
		return w.N, audit(ctx, tx, act, "undone", "pillowcases", id, changes{"pillowcases": {From: w.N, To: 0}})
	})
}

// Words says what happened in the step, as people say it.
func (c CaseStep) Words() string {
	from := ""
	if c.Kit > 0 {
		from = " of kit " + drive.KitName(c.Kit, c.Part)
	}
	said := ""
	switch {
	case c.IsUndo:
		said = fmt.Sprintf("%d%s undone, %s again", c.N, from, c.To)
		if c.To == drive.CaseBorn {
			said = fmt.Sprintf("%d brought in by mistake, undone", c.N)
		}
	case c.From == drive.CaseBorn:
		said = fmt.Sprintf("%d brought in without a kit", c.N)
	case c.From == c.To && (c.Reason == drive.ReasonPromised || c.Reason == drive.ReasonMoved || c.Reason == drive.ReasonReleased):
		said = fmt.Sprintf("%d%s %s", c.N, from, c.Reason)
	case c.From == c.To:
		said = fmt.Sprintf("%d%s out to be mended", c.N, from)
	case c.From == drive.CaseLost && c.To == drive.CaseToMend:
		said = fmt.Sprintf("%d%s found, sewn before", c.N, from)
	case c.To == drive.CaseSewn && c.From == drive.CaseToMend && c.Reason == drive.ReasonMendedHere:
		said = fmt.Sprintf("%d%s mended here", c.N, from)
	case c.To == drive.CaseSewn && c.From == drive.CaseToMend:
		said = fmt.Sprintf("%d%s back from mending, to be checked once more", c.N, from)
	case c.To == drive.CaseSewn && c.From == drive.CaseLost:
		said = fmt.Sprintf("%d%s found, sewn", c.N, from)
	case c.To == drive.CaseSewn:
		said = fmt.Sprintf("%d%s came back sewn", c.N, from)
	default:
		said = fmt.Sprintf("%d%s %s", c.N, from, c.To)
		if c.Reason != "" {
			said += ": " + c.Reason
		}
	}
	if c.ForWhom != "" {
		said += ", for " + c.ForWhom
	}
	if c.Note != "" {
		said += ". " + c.Note
	}
	return said
}
