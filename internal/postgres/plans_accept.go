package postgres

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"

	"github.com/jackc/pgx/v5"
)

// Accepted says what an accepted plan became.
type Accepted struct {
	Plan       int64
	FirstSheet int64
	Sheets     int
	FirstKit   int64
	Kits       int
	Cases      int
	// What accepting a changed plan did beside that; Changed is the plan whose place it took.
	Changed   int64 `json:",omitempty"`
	KitsStay  int   `json:",omitempty"`
	KitsGone  int   `json:",omitempty"`
	Revised   int   `json:",omitempty"` // sheets laid out anew
	Withdrawn int   `json:",omitempty"` // sheets not cut any more
}

// AcceptPlan makes a ready plan true: its cloth is promised, its sheets, panels,
// kits and pillowcases come into being; whole or not at all. Where somebody was
// first with some of its cloth it is a conflict that names the lots.
func (s *Store) AcceptPlan(ctx context.Context, act drive.Act, number int64) (Accepted, error) {
	return once(ctx, s, act, "accept plan", number, func(tx pgx.Tx) (Accepted, error) {
		d, err := heldDrive(ctx, tx, act.Drive)
		if err != nil {
			return Accepted{}, err
		}
		p, err := lockPlan(ctx, tx, act.Drive, number)
		if err != nil {
			return Accepted{}, err
		}
		if err := mayAccept(p); err != nil {
			return Accepted{}, err
		}
		if p.Changes != nil {
			return acceptChange(ctx, tx, act, p)
		}
		if err := d.PlansMore(); err != nil {
			return Accepted{}, err
		}
		accepting, err := lockForPlan(ctx, tx, act, number)
		if err != nil {
			return Accepted{}, err
		}
		if accepting.Now, err = planInput(ctx, tx, d); err != nil {
			return Accepted{}, err
		}
		out := Accepted{Plan: number, Sheets: len(accepting.Plan.Layouts), Kits: len(accepting.Plan.Kits), Cases: accepting.Plan.Cases()}
		if out.FirstSheet, err = nextN(ctx, tx, act.Drive, "sheet", out.Sheets); err != nil {
			return out, err
		}
		if out.FirstKit, err = nextN(ctx, tx, act.Drive, "kit", out.Kits); err != nil {
			return out, err
		}
		accepting.FirstNew = drive.PlanNumbers{Sheet: out.FirstSheet, Kit: out.FirstKit}
		acceptance, err := accepting.Accept()
		if err != nil {
			return out, err
		}
		if err := keepAcceptance(ctx, tx, act, d, number, acceptance); err != nil {
			return out, err
		}
		const q = `UPDATE plans SET state = 'accepted', accepted_at = $3, version = version + 1 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, q, act.Drive, number, act.At); err != nil {
			return out, fmt.Errorf("accept plan: %w", err)
		}
		return out, audit(ctx, tx, act, "plan accepted", "plan", number, changes{
			"sheets": {To: out.Sheets}, "kits": {To: out.Kits}, "pillowcases": {To: out.Cases},
		})
	})
}

func mayAccept(p drive.Plan) error {
	switch p.State {
	case drive.PlanReady:
	case drive.PlanAccepted:
		return apperr.Conflict("Plan %d was accepted already.", p.Number)
	case drive.PlanDropped:
		return apperr.Conflict("Plan %d was put away. Plan again.", p.Number)
	default:
		return apperr.Conflict("Plan %d is not ready.", p.Number)
	}
	if p.Cases == 0 {
		return apperr.Conflict("Plan %d makes nothing, so there is nothing to accept.", p.Number)
	}
	return nil
}

// lockForPlan reads a plan and locks the lots, pieces, lines and sizes that it draws
// on, in key order; what it gives was read after the locks were held.
func lockForPlan(ctx context.Context, tx pgx.Tx, act drive.Act, number int64) (drive.Accepting, error) {
	a := drive.Accepting{Number: number}
	var err error
	if a.Problem, a.Plan, err = planFiles(ctx, tx, act.Drive, number); err != nil {
		return a, err
	}
	var lots []int64
	var pieces []int
	cut := map[string]bool{}
	for _, l := range a.Plan.Layouts {
		cut[l.Fabric] = true
		lot, piece, err := drive.ParseClothID(l.Fabric)
		if err != nil {
			return a, err
		}
		lots, pieces = append(lots, lot), append(pieces, piece)
	}
	const lockLots = `SELECT number FROM lots WHERE drive_id = $1 AND number = ANY($2) ORDER BY number FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, lockLots, act.Drive, lots); err != nil {
		return a, fmt.Errorf("lock lots: %w", err)
	}
	const lockPieces = `SELECT p.lot FROM pieces p JOIN unnest($2::bigint[], $3::int[]) AS cut (lot, piece) ON cut.lot = p.lot AND cut.piece = p.piece
		WHERE p.drive_id = $1 ORDER BY p.lot, p.piece FOR NO KEY UPDATE OF p`
	if _, err := tx.Exec(ctx, lockPieces, act.Drive, lots, pieces); err != nil {
		return a, fmt.Errorf("lock pieces: %w", err)
	}
	if err := lockLines(ctx, tx, act.Drive, a.Plan); err != nil {
		return a, err
	}
	var sizes []int64
	for _, k := range a.Plan.Kits {
		size, err := strconv.ParseInt(k.Case, 10, 64)
		if err != nil {
			return a, fmt.Errorf("size %q of the plan: %w", k.Case, err)
		}
		sizes = append(sizes, size)
	}
	if err := keepSizes(ctx, tx, act.Drive, sizes...); err != nil {
		return a, err
	}
	all, err := shelved(ctx, tx, act.Drive, lots)
	if err != nil {
		return a, err
	}
	for _, s := range all {
		if cut[s.ID] {
			a.Shelf = append(a.Shelf, s)
		}
	}
	return a, nil
}

func lockLines(ctx context.Context, tx pgx.Tx, driveID string, plan *planning.Plan) error {
	var numbers []int64
	for _, q := range plan.Quotas {
		if q.Made == 0 {
			continue
		}
		number, err := strconv.ParseInt(q.ID, 10, 64)
		if err != nil {
			return fmt.Errorf("line %q of the plan: %w", q.ID, err)
		}
		numbers = append(numbers, number)
	}
	const q = `SELECT number FROM asked WHERE drive_id = $1 AND number = ANY($2) ORDER BY number FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, q, driveID, numbers); err != nil {
		return fmt.Errorf("lock lines asked for: %w", err)
	}
	return nil
}

func keepAcceptance(ctx context.Context, tx pgx.Tx, act drive.Act, d drive.Drive, plan int64, a drive.Acceptance) error {
	day := drive.Day(act.At, d.Location())
	if err := moveKits(ctx, tx, act, day, day, a.Kits); err != nil {
		return err
	}
	return keepSheets(ctx, tx, act, plan, a.Sheets, a.Fabric)
}

// keepSheets writes new sheets with all that lies on them, then what that moves of their cloth.
func keepSheets(ctx context.Context, tx pgx.Tx, act drive.Act, plan int64, sheets []drive.NewSheet, fabric []drive.FabricEntry) error {
	const q = `INSERT INTO sheets (drive_id, number, plan, lot, piece, used, created_at) VALUES ($1, $2, $3, $4, $5, $6, $7)`
	var batch pgx.Batch
	for _, s := range sheets {
		batch.Queue(q, act.Drive, s.Number, plan, s.Lot, s.Piece, s.Used, act.At)
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("new sheets: %w", err)
	}
	if err := insertRemnants(ctx, tx, act.Drive, sheets...); err != nil {
		return err
	}
	if err := insertPanels(ctx, tx, act.Drive, sheets...); err != nil {
		return err
	}
	return writeFabric(ctx, tx, act, fabric)
}

func insertRemnants(ctx context.Context, tx pgx.Tx, driveID string, sheets ...drive.NewSheet) error {
	// The lots are locked, so that no number is given twice.
	const q = `INSERT INTO sheet_remnants (drive_id, sheet, remnant, x, y, w, h, label)
		SELECT $1, $3, $4, $5, $6, $7, $8, ` + nextPieceOf + ` WHERE drive_id = $1 AND lot = $2`
	var batch pgx.Batch
	for _, s := range sheets {
		for _, r := range s.Remnants {
			batch.Queue(q, driveID, s.Lot, s.Number, r.Remnant, r.X, r.Y, r.W, r.H)
		}
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("new remnants: %w", err)
	}
	return nil
}

func insertPanels(ctx context.Context, tx pgx.Tx, driveID string, sheets ...drive.NewSheet) error {
	var panels [][]any
	for _, s := range sheets {
		for _, p := range s.Panels {
			panels = append(panels, []any{driveID, s.Number, p.Panel, p.Role, p.Size, p.X, p.Y, p.W, p.H, p.Kit.Number, p.Kit.Part, p.Pillowcase, p.Gone})
		}
	}
	columns := []string{"drive_id", "sheet", "panel", "role", "size", "x", "y", "w", "h", "kit", "part", "pillowcase", "gone"}
	if _, err := tx.CopyFrom(ctx, pgx.Identifier{"panels"}, columns, pgx.CopyFromRows(panels)); err != nil {
		return fmt.Errorf("new panels: %w", err)
	}
	return nil
}

// WithdrawPlan gives up an accepted plan of which nothing is on the table or cut:
// its cloth is free again, its kits are taken apart, its pillowcases withdrawn.
func (s *Store) WithdrawPlan(ctx context.Context, act drive.Act, number int64) (drive.Plan, error) {
	return once(ctx, s, act, "withdraw plan", number, func(tx pgx.Tx) (drive.Plan, error) {
		p, err := lockPlan(ctx, tx, act.Drive, number)
		if err != nil {
			return p, err
		}
		if p.State != drive.PlanAccepted {
			return p, apperr.Conflict("Plan %d does not stand, so there is nothing to withdraw.", number)
		}
		m, given, err := withdrawal(ctx, tx, act, number)
		if err != nil {
			return p, err
		}
		day, _, err := dayOf(ctx, tx, act, time.Time{})
		if err != nil {
			return p, err
		}
		if err := writeFabric(ctx, tx, act, m.Fabric); err != nil {
			return p, err
		}
		if err := moveKits(ctx, tx, act, day, day, drive.KitMoves{Kits: m.Kits, Cases: m.Cases}); err != nil {
			return p, err
		}
		const sheets = `UPDATE sheets SET state = 'withdrawn', version = version + 1 WHERE drive_id = $1 AND plan = $2`
		if _, err := tx.Exec(ctx, sheets, act.Drive, number); err != nil {
			return p, fmt.Errorf("withdraw sheets: %w", err)
		}
		const q = `UPDATE plans SET state = 'dropped', version = version + 1 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, q, act.Drive, number); err != nil {
			return p, fmt.Errorf("withdraw plan: %w", err)
		}
		if err := bookNarrowAgain(ctx, tx, act, given); err != nil {
			return p, err
		}
		p.State = drive.PlanDropped
		return p, audit(ctx, tx, act, "plan withdrawn", "plan", number, changes{"state": {From: drive.PlanAccepted, To: p.State}})
	})
}

// withdrawal locks the plan's sheets, their lots and pieces, and its kits in key order and decides.
// It gives the sheets too.
func withdrawal(ctx context.Context, tx pgx.Tx, act drive.Act, number int64) (drive.SheetMoves, []drive.Sheet, error) {
	const q = `SELECT ` + sheetColumns + sheetFrom + ` WHERE s.drive_id = $1 AND s.plan = $2 ORDER BY s.number FOR NO KEY UPDATE OF s`
	rows, err := tx.Query(ctx, q, act.Drive, number)
	if err != nil {
		return drive.SheetMoves{}, nil, fmt.Errorf("sheets of the plan: %w", err)
	}
	sheets, err := collect(rows, "sheets of the plan", pgx.RowToStructByName[drive.Sheet])
	if err != nil {
		return drive.SheetMoves{}, nil, err
	}
	const lots = `SELECT number FROM lots l WHERE drive_id = $1 AND EXISTS
			(SELECT FROM sheets s WHERE s.drive_id = l.drive_id AND s.plan = $2 AND s.lot = l.number)
		ORDER BY number FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, lots, act.Drive, number); err != nil {
		return drive.SheetMoves{}, nil, fmt.Errorf("lock lots: %w", err)
	}
	const pieces = `SELECT lot FROM pieces p WHERE drive_id = $1 AND EXISTS
			(SELECT FROM sheets s WHERE s.drive_id = p.drive_id AND s.plan = $2 AND s.lot = p.lot AND s.piece = p.piece)
		ORDER BY lot, piece FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, pieces, act.Drive, number); err != nil {
		return drive.SheetMoves{}, nil, fmt.Errorf("lock pieces: %w", err)
	}
	refs, err := kitsOf(ctx, tx, `SELECT number, part FROM kits WHERE drive_id = $1 AND plan = $2`, act.Drive, number)
	if err != nil {
		return drive.SheetMoves{}, nil, err
	}
	kits, err := lockKits(ctx, tx, act.Drive, refs...)
	if err != nil {
		return drive.SheetMoves{}, nil, err
	}
	m, err := drive.Withdraw(number, sheets, kits)
	return m, sheets, err
}

func kitsOf(ctx context.Context, db querier, q string, args ...any) ([]drive.KitRef, error) {
	rows, err := db.Query(ctx, q, args...)
	if err != nil {
		return nil, fmt.Errorf("kits of the plan: %w", err)
	}
	return collect(rows, "kits of the plan", pgx.RowToStructByName[drive.KitRef])
}
