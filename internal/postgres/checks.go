package postgres

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/jackc/pgx/v5"
)

// CheckList gives what a drive's checking table looks at, as it was set or as a
// drive begins.
func (s *Store) CheckList(ctx context.Context, driveID string) (drive.CheckList, error) {
	return checkList(ctx, s.pool, driveID)
}

func checkList(ctx context.Context, db querier, driveID string) (list drive.CheckList, err error) {
	const q = `SELECT d.unit, l.tolerance, l.launders, l.points, l.version
		FROM drives d LEFT JOIN check_lists l ON l.drive_id = d.id WHERE d.id = $1`
	var unit length.Unit
	var tolerance *length.Length
	var launders *bool
	var points []drive.CheckPoint
	var version *int
	if err := db.QueryRow(ctx, q, driveID).Scan(&unit, &tolerance, &launders, &points, &version); err != nil {
		return list, fmt.Errorf("checking list: %w", err)
	}
	if version == nil {
		return drive.UsualCheckList(unit), nil
	}
	return drive.CheckList{Tolerance: *tolerance, Launders: *launders, Points: points, Version: *version}, nil
}

// UpdateCheckList changes what the checking table looks at, from the version that
// was looked at; a later one is a conflict. What was found before stays as it was.
func (s *Store) UpdateCheckList(ctx context.Context, act drive.Act, l drive.CheckList) (int, error) {
	l = l.Tidy()
	if err := l.Check(); err != nil {
		return 0, err
	}
	l = l.Said()
	return once(ctx, s, act, "update checking list", l, func(tx pgx.Tx) (int, error) {
		// The drive's row stands in for a list that is not there yet.
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		old, err := checkList(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		if old.Version != l.Version {
			return 0, stale("The checking list")
		}
		const write = `INSERT INTO check_lists (drive_id, tolerance, launders, points, version) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT ON CONSTRAINT check_lists_pkey DO UPDATE SET tolerance = $2, launders = $3, points = $4, version = $5`
		if _, err := tx.Exec(ctx, write, act.Drive, l.Tolerance, l.Launders, l.Points, l.Version+1); err != nil {
			return 0, fmt.Errorf("update checking list: %w", err)
		}
		c := changes{}
		c.set("tolerance", old.Tolerance, l.Tolerance)
		c.set("launders", old.Launders, l.Launders)
		c.personal("points", fmt.Sprint(old.Points), fmt.Sprint(l.Points))
		return l.Version + 1, audit(ctx, tx, act, "checking list changed", "drive", act.Drive, c)
	})
}

// CheckCases books the finding on pillowcases of one stack that waits to be
// checked. at names the stack; how many stand there is read here.
func (s *Store) CheckCases(ctx context.Context, act drive.Act, at drive.Stack, c drive.Checked) (int64, error) {
	at.State, at.N = drive.CaseSewn, 0
	body := struct {
		At drive.Stack
		C  drive.Checked
	}{at, c}
	return once(ctx, s, act, "check", body, func(tx pgx.Tx) (int64, error) {
		if err := holdSigner(ctx, tx, act); err != nil {
			return 0, err
		}
		stack, err := stackNow(ctx, tx, act.Drive, at)
		if err != nil {
			return 0, err
		}
		list, err := checkList(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return 0, err
		}
		const spec = `SELECT spec FROM sizes WHERE drive_id = $1 AND number = $2`
		var how sizing.Spec
		if err := tx.QueryRow(ctx, spec, act.Drive, stack.Size).Scan(&how); err != nil {
			return 0, fmt.Errorf("the size to check against: %w", err)
		}
		entries, err := stack.Check(c, list, list.Expect(how, d.Washing), d.Unit)
		if err != nil {
			return 0, err
		}
		number, err := next(ctx, tx, act.Drive, "check")
		if err != nil {
			return 0, err
		}
		day := drive.Day(act.At, d.Location())
		ids, err := writeCaseEntries(ctx, tx, act, day, entries)
		if err != nil {
			return 0, err
		}
		if err := keepCheck(ctx, tx, act, number, day, stack, c, ids); err != nil {
			return 0, err
		}
		return number, audit(ctx, tx, act, "checked", "kit", stackName(stack), changes{
			"good": {To: c.Good}, "to mend": {To: c.Count(drive.CaseToMend)}, "not usable": {To: c.Count(drive.CaseNotUsable)},
		})
	})
}

// keepCheck writes what was looked at and found beside the entries it became.
func keepCheck(ctx context.Context, tx pgx.Tx, act drive.Act, number int64, day time.Time, at drive.Stack, c drive.Checked, entries []int64) error {
	looked := c.Looked
	if looked == nil {
		looked = []string{}
	}
	var width, long *length.Length
	if c.Measured != nil {
		width, long = &c.Measured.Width, &c.Measured.Length
	}
	initials := strings.TrimSpace(c.Initials)
	if initials == "" {
		initials = act.Initials
	}
	const insert = `INSERT INTO checks (drive_id, number, asked, size, kit, part, looked, width, length, washed, initials, note, day, at, who)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)`
	if _, err := tx.Exec(ctx, insert, act.Drive, number, at.Asked, at.Size, at.Kit, at.Part, looked, width, long, !c.Unwashed,
		initials, strings.TrimSpace(c.Note), day, act.At, act.Who); err != nil {
		return fmt.Errorf("keep the check: %w", err)
	}
	const line = `INSERT INTO check_lines (drive_id, "check", line, n, outcome, reasons, entry) VALUES ($1, $2, $3, $4, $5, $6, $7)`
	var batch pgx.Batch
	for i, l := range c.Lines() {
		reasons := l.Reasons
		if reasons == nil {
			reasons = []string{}
		}
		batch.Queue(line, act.Drive, number, i+1, l.N, l.To, reasons, entries[i])
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("keep the check: %w", err)
	}
	return nil
}

// FaultsToMend gives what the checking table found in a stack that is to be mended, the newest
// first, for as many as the stack holds: those before them were mended since.
func (s *Store) FaultsToMend(ctx context.Context, driveID string, at drive.Stack) ([]drive.ToMend, error) {
	const q = `SELECT l.n, l.reasons, c.note, c.day FROM checks c JOIN check_lines l ON l.drive_id = c.drive_id AND l."check" = c.number ` + linesThatStand + `
		AND l.outcome = 'to mend' AND c.size = $3 AND c.kit = $4 AND c.part = $5 AND (c.asked = $2 OR c.kit > 0)
		ORDER BY c.number DESC, l.line LIMIT 200`
	rows, err := s.pool.Query(ctx, q, driveID, at.Asked, at.Size, at.Kit, at.Part)
	if err != nil {
		return nil, fmt.Errorf("what is to be mended: %w", err)
	}
	found, err := collect(rows, "what is to be mended", pgx.RowToStructByName[drive.ToMend])
	if err != nil {
		return nil, err
	}
	return drive.StillToMend(found, at.N), nil
}

// linesThatStand keeps the lines l of checks whose entries were not undone: $1 the drive.
const linesThatStand = `WHERE l.drive_id = $1 AND NOT EXISTS (SELECT FROM case_entries u WHERE u.drive_id = l.drive_id AND u.undoes = l.entry)`

// Findings adds up what the checking table found since a day and since the drive began. Faults found
// as often lately stand by name, here and on cards, which do not ask how often each was ever found.
func (s *Store) Findings(ctx context.Context, driveID string, since time.Time) (drive.Findings, error) {
	var f drive.Findings
	var ever []drive.FaultFound
	err := s.Together(ctx,
		func(ctx context.Context) (err error) { f, err = s.foundSince(ctx, driveID, since); return err },
		func(ctx context.Context) (err error) { ever, err = s.foundEver(ctx, driveID); return err })
	if err != nil {
		return f, err
	}
	for _, all := range ever {
		lately := slices.IndexFunc(f.Faults, func(l drive.FaultFound) bool { return l.Fault == all.Fault })
		switch {
		case all.Fault == "":
			f.OfEver = all.Ever
		case lately < 0:
			f.Faults = append(f.Faults, all)
		default:
			f.Faults[lately].Ever = all.Ever
		}
	}
	return f, nil
}

// foundEver adds up what was found since the drive began: how many with each fault, most first,
// and under no fault how many were looked at.
func (s *Store) foundEver(ctx context.Context, driveID string) ([]drive.FaultFound, error) {
	const q = `WITH stands AS MATERIALIZED (SELECT l.reasons, sum(l.n) AS n FROM check_lines l ` + linesThatStand + ` GROUP BY l.reasons)
		SELECT '' AS fault, coalesce(sum(n), 0)::bigint AS ever FROM stands
		UNION ALL SELECT r.fault, sum(l.n)::bigint FROM stands l CROSS JOIN LATERAL unnest(l.reasons) AS r (fault) GROUP BY r.fault
		ORDER BY ever DESC, fault`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("what was ever checked: %w", err)
	}
	return collect(rows, "what was ever checked", pgx.RowToStructByNameLax[drive.FaultFound])
}

// foundSince adds up what the checking table found since a day; what came before is not looked at,
// by the index whose condition stands there.
//
// Hands: who is known to have sewn what a line is about, else its kit, else all that
// came without a kit, those that went out to be mended since among them. e.to_kit > 0 lets Postgres find a kit's entries by their index.
func (s *Store) foundSince(ctx context.Context, driveID string, since time.Time) (drive.Findings, error) {
	f := drive.Findings{Since: since}
	q := `WITH lately AS MATERIALIZED (SELECT l.n, l.reasons, c.kit, c.part
			FROM checks c JOIN check_lines l ON l.drive_id = c.drive_id AND l."check" = c.number ` + linesThatStand + ` AND c.drive_id = $1 AND c.day >= $2 AND c.day > '-infinity')
		SELECT '' AS fault, coalesce(sum(n), 0) AS n, 0 AS makers FROM lately
		UNION ALL
		SELECT r.fault, sum(l.n), count(DISTINCT coalesce('person ' || ` + sewerOf("l.kit", "l.part") + `,
			'kit ' || CASE WHEN EXISTS (SELECT FROM case_entries e WHERE e.drive_id = $1 AND e.to_kit = l.kit AND e.to_kit > 0 AND e.kit = 0 AND e.from_state = 'to mend') THEN 0 ELSE l.kit END))
		FROM lately l CROSS JOIN LATERAL unnest(l.reasons) AS r (fault) GROUP BY r.fault
		ORDER BY n DESC, fault`
	rows, err := s.pool.Query(ctx, q, driveID, since)
	if err != nil {
		return f, fmt.Errorf("what was checked: %w", err)
	}
	found, err := collect(rows, "what was checked", pgx.RowToStructByNameLax[drive.FaultFound])
	if err != nil {
		return f, err
	}
	for _, one := range found {
		if one.Fault == "" {
			f.Of = one.N
			continue
		}
		f.Faults = append(f.Faults, one)
	}
	return f, nil
}

// Lessons gives what those who sew are told now: of what was found in the last
// weeks, the little that came up often enough to matter.
func (s *Store) Lessons(ctx context.Context, d drive.Drive) ([]drive.Lesson, error) {
	var list drive.CheckList
	var found drive.Findings
	err := s.Together(ctx,
		func(ctx context.Context) (err error) { list, err = s.CheckList(ctx, d.ID); return err },
		func(ctx context.Context) (err error) { found, err = s.foundSince(ctx, d.ID, s.lately(d)); return err })
	if err != nil {
		return nil, err
	}
	return found.Lessons(list), nil
}

// lately is the day since when what was found is told.
func (s *Store) lately(d drive.Drive) time.Time {
	return drive.Day(s.now(), d.Location()).AddDate(0, 0, -drive.LessonDays)
}

// FindingsAndLessons gives what was found in the last weeks, and what those who sew are told of it.
func (s *Store) FindingsAndLessons(ctx context.Context, d drive.Drive) (found drive.Findings, lessons []drive.Lesson, err error) {
	var list drive.CheckList
	err = s.Together(ctx,
		func(ctx context.Context) (err error) { list, err = s.CheckList(ctx, d.ID); return err },
		func(ctx context.Context) (err error) {
			found, err = s.Findings(ctx, d.ID, s.lately(d))
			return err
		})
	return found, found.Lessons(list), err
}

// keepNote keeps what somebody wrote beside an entry.
func keepNote(ctx context.Context, tx pgx.Tx, driveID string, entry int64, note string) error {
	note = strings.TrimSpace(note)
	if note == "" {
		return nil
	}
	const q = `INSERT INTO case_notes (drive_id, entry, note) VALUES ($1, $2, $3)`
	if _, err := tx.Exec(ctx, q, driveID, entry, note); err != nil {
		return fmt.Errorf("keep the note: %w", err)
	}
	return nil
}
