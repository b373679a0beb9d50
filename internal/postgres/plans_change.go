package postgres

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"

	"github.com/jackc/pgx/v5"
)

// RequestChange keeps what an accepted plan is to be changed from, as everything stands now,
// and enqueues the work in the same transaction. It gives the number of the plan that would
// take its place. With whole no kit is given up that can stay as it is, also where more would
// be made. While another plan is being worked out, where the plan does not stand and where
// nothing of it can change it is a conflict.
func (s *Store) RequestChange(ctx context.Context, act drive.Act, of int64, whole bool) (int64, error) {
	body := struct {
		Of    int64
		Whole bool
	}{of, whole}
	return once(ctx, s, act, "request change", body, func(tx pgx.Tx) (int64, error) {
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		if err := refuseSecondPlan(ctx, tx, act.Drive); err != nil {
			return 0, err
		}
		return s.requestChange(ctx, tx, act, of, whole)
	})
}

// ChangeAnew is a change that was asked for anew, and the one that is put away for it.
type ChangeAnew struct {
	Plan    int64
	Instead int64 `json:",omitempty"` // 0: none
}

// RequestChangeAnew is RequestChange after something was found at the table. A change of the
// plan that is still being worked out knows nothing of that and could not be accepted: it is
// put away, and the new one knows of both. What else is being worked out goes on: whoever
// stands at the table does not wait for it.
func (s *Store) RequestChangeAnew(ctx context.Context, act drive.Act, of int64) (ChangeAnew, error) {
	return once(ctx, s, act, "request change anew", of, func(tx pgx.Tx) (ChangeAnew, error) {
		var anew ChangeAnew
		if err := lockDrive(ctx, tx, act.Drive); err != nil {
			return anew, err
		}
		const q = `SELECT number FROM plans WHERE drive_id = $1 AND changes = $2 AND state IN ('waiting', 'running') ORDER BY number FOR NO KEY UPDATE`
		rows, err := tx.Query(ctx, q, act.Drive, of)
		if err != nil {
			return anew, fmt.Errorf("changes being worked out: %w", err)
		}
		busy, err := collect(rows, "changes being worked out", pgx.RowTo[int64])
		if err != nil {
			return anew, err
		}
		for _, number := range busy {
			p, err := lockPlan(ctx, tx, act.Drive, number)
			if err != nil {
				return anew, err
			}
			if _, err := dropPlan(ctx, tx, act, p); err != nil {
				return anew, err
			}
			anew.Instead = number
		}
		anew.Plan, err = s.requestChange(ctx, tx, act, of, false)
		return anew, err
	})
}

func (s *Store) requestChange(ctx context.Context, tx pgx.Tx, act drive.Act, of int64, whole bool) (int64, error) {
	problem, stands, err := changeOf(ctx, tx, act.Drive, of)
	if err != nil {
		return 0, err
	}
	stands.Settled.Whole = whole
	number, err := next(ctx, tx, act.Drive, "plan")
	if err != nil {
		return 0, err
	}
	if err := insertChange(ctx, tx, act, number, of, problem, stands); err != nil {
		return 0, err
	}
	if err := s.enqueuePlan(ctx, tx, act.Drive, number); err != nil {
		return 0, err
	}
	told := changes{"changes": {To: of}, "wanted": {To: problem.Wanted()}}
	if whole {
		told["whole kits stay"] = change{To: true}
	}
	return number, audit(ctx, tx, act, "change of plan requested", "plan", number, told)
}

func insertChange(ctx context.Context, tx pgx.Tx, act drive.Act, number, of int64, problem *planning.Problem, stands drive.PlanStands) error {
	for id, w := range stands.Lines {
		w.Name = "" // names are read where they are shown
		stands.Lines[id] = w
	}
	text, err := json.Marshal(problem)
	if err != nil {
		return fmt.Errorf("keep the problem: %w", err)
	}
	standing, err := json.Marshal(stands)
	if err != nil {
		return fmt.Errorf("keep what stands: %w", err)
	}
	const q = `INSERT INTO plans (drive_id, number, changes, state, problem, standing, who, created_at) VALUES ($1, $2, $3, 'waiting', $4, $5, $6, $7)`
	if _, err := tx.Exec(ctx, q, act.Drive, number, of, text, standing, act.Who, act.At); err != nil {
		return fmt.Errorf("request change: %w", err)
	}
	return nil
}

// ChangeOf gives the problem of a change of an accepted plan as everything stands now, and
// what stands of the plan. It keeps nothing.
func (s *Store) ChangeOf(ctx context.Context, driveID string, of int64) (*planning.Problem, drive.PlanStands, error) {
	var problem *planning.Problem
	var stands drive.PlanStands
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err := pgx.BeginTxFunc(ctx, s.root, options, func(tx pgx.Tx) (err error) {
		problem, stands, err = changeOf(ctx, tx, driveID, of)
		return err
	})
	return problem, stands, err
}

func changeOf(ctx context.Context, tx pgx.Tx, driveID string, of int64) (*planning.Problem, drive.PlanStands, error) {
	const q = `SELECT ` + planColumns + ` FROM plans WHERE drive_id = $1 AND number = $2`
	p, err := onePlan(ctx, tx, q, driveID, of)
	if err != nil {
		return nil, drive.PlanStands{}, err
	}
	if p.State != drive.PlanAccepted {
		return nil, drive.PlanStands{}, apperr.Conflict("Plan %d does not stand, so there is nothing to change. Make a plan instead.", of)
	}
	c, err := changing(ctx, tx, driveID, of)
	if err != nil {
		return nil, drive.PlanStands{}, err
	}
	problem, stands := c.Problem()
	if len(problem.Quotas) == 0 {
		return nil, drive.PlanStands{}, apperr.Conflict("There is nothing of plan %d left to change.", of)
	}
	return problem, stands, nil
}

// changing gives a plan as it stands, and all that a change of it is made from.
func changing(ctx context.Context, tx pgx.Tx, driveID string, of int64) (drive.Changing, error) {
	c := drive.Changing{Plan: of}
	d, err := driveIn(ctx, tx, driveID)
	if err != nil {
		return c, err
	}
	if c.Sheets, err = standingSheets(ctx, tx, driveID, of); err != nil {
		return c, err
	}
	if c.Kits, err = kitsOfPlan(ctx, tx, driveID, of); err != nil {
		return c, err
	}
	if c.Shelf, err = shelvedWith(ctx, tx, driveID, nil, of); err != nil {
		return c, err
	}
	open := c.Open()
	here := map[int64]bool{} // lines that kits of the plan are for
	sizes := map[int64]bool{}
	for _, k := range c.Kits {
		here[orZero(k.Asked)], sizes[k.Size] = true, true
	}
	in, asked, err := planWants(ctx, tx, d, func(line drive.AskedLine) (int, bool) {
		n := line.StillToChange(line.Counts, open[line.Number], d.SpareShare)
		return n, n > 0 || here[line.Number]
	})
	if err != nil {
		return c, err
	}
	for n := range asked {
		sizes[n] = true
	}
	c.Now = in
	c.Now.Sizes, err = planSizes(ctx, tx, driveID, sizes)
	return c, err
}

// standingSheets gives the sheets of a plan in the order of their numbers, each whole.
func standingSheets(ctx context.Context, tx pgx.Tx, driveID string, plan int64) ([]drive.StandingSheet, error) {
	const q = `SELECT ` + sheetColumns + sheetFrom + ` WHERE s.drive_id = $1 AND s.plan = $2 ORDER BY s.number`
	rows, err := tx.Query(ctx, q, driveID, plan)
	if err != nil {
		return nil, fmt.Errorf("sheets of the plan: %w", err)
	}
	sheets, err := collect(rows, "sheets of the plan", pgx.RowToStructByName[drive.Sheet])
	if err != nil {
		return nil, err
	}
	const lie = `SELECT n.sheet, n.panel, n.role, n.size, n.x, n.y, n.w, n.h, n.kit, n.part, n.pillowcase, n.gone FROM panels n
		JOIN sheets s ON s.drive_id = n.drive_id AND s.number = n.sheet WHERE n.drive_id = $1 AND s.plan = $2 ORDER BY n.sheet, n.panel`
	if rows, err = tx.Query(ctx, lie, driveID, plan); err != nil {
		return nil, fmt.Errorf("panels of the plan: %w", err)
	}
	panels := map[int64][]drive.Panel{}
	_, err = collect(rows, "panels of the plan", func(row pgx.CollectableRow) (struct{}, error) {
		var sheet int64
		var p drive.Panel
		err := row.Scan(&sheet, &p.Panel, &p.Role, &p.Size, &p.X, &p.Y, &p.W, &p.H, &p.Kit.Number, &p.Kit.Part, &p.Pillowcase, &p.Gone)
		panels[sheet] = append(panels[sheet], p)
		return struct{}{}, err
	})
	if err != nil {
		return nil, err
	}
	numbers := make([]int64, len(sheets))
	for i, s := range sheets {
		numbers[i] = s.Number
	}
	remnants, err := sheetRemnants(ctx, tx, driveID, numbers)
	if err != nil {
		return nil, err
	}
	list := make([]drive.StandingSheet, len(sheets))
	for i, s := range sheets {
		list[i] = drive.StandingSheet{Sheet: s, Panels: panels[s.Number], Remnants: s.Left(remnants[s.Number])}
	}
	return list, nil
}

// kitsOfPlan gives every part of the kits of a plan, in order.
func kitsOfPlan(ctx context.Context, tx pgx.Tx, driveID string, plan int64) ([]drive.Kit, error) {
	const q = `SELECT number, part FROM kits WHERE drive_id = $1 AND plan = $2`
	refs, err := kitsOf(ctx, tx, q, driveID, plan)
	if err != nil {
		return nil, err
	}
	refs = drive.SortedKits(refs)
	numbers := make([]int64, len(refs))
	for i, r := range refs {
		numbers[i] = r.Number
	}
	all, err := loadKits(ctx, tx, driveID, numbers)
	if err != nil {
		return nil, err
	}
	kits := make([]drive.Kit, len(refs))
	for i, r := range refs {
		kits[i] = all[r]
	}
	return kits, nil
}

// PlanStands gives what a change was made from; nil for a plan that changes none.
func (s *Store) PlanStands(ctx context.Context, driveID string, number int64) (*drive.PlanStands, error) {
	return planStands(ctx, s.pool, driveID, number)
}

func planStands(ctx context.Context, db querier, driveID string, number int64) (*drive.PlanStands, error) {
	const q = `SELECT standing FROM plans WHERE drive_id = $1 AND number = $2`
	var text []byte
	err := db.QueryRow(ctx, q, driveID, number).Scan(&text)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, apperr.NotFound("There is no plan %d here.", number)
	}
	if err != nil || text == nil {
		return nil, wrapped("what the plan changes", err)
	}
	var raw struct {
		drive.PlanStands
		Plan json.RawMessage `json:"plan"`
	}
	if err := json.Unmarshal(text, &raw); err != nil {
		return nil, fmt.Errorf("what plan %d changes: %w", number, err)
	}
	stands := raw.PlanStands
	if stands.Plan, err = planning.ReadPlan(bytes.NewReader(raw.Plan)); err != nil {
		return nil, fmt.Errorf("what plan %d changes: %w", number, err)
	}
	return &stands, nil
}

func wrapped(what string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", what, err)
}
