package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// acceptChange lets a changed plan, which is locked, take the place of the one it changes.
func acceptChange(ctx context.Context, tx pgx.Tx, act drive.Act, p drive.Plan) (Accepted, error) {
	out := Accepted{Plan: p.Number, Cases: p.Cases, Changed: *p.Changes}
	of, err := lockPlan(ctx, tx, act.Drive, *p.Changes)
	if err != nil {
		return out, err
	}
	if of.State != drive.PlanAccepted {
		return out, apperr.Conflict("Plan %d does not stand any more, so it cannot be changed. Put this plan away.", of.Number)
	}
	c := drive.PlanChange{Number: p.Number}
	if err := lockForChange(ctx, tx, act, &c, of.Number); err != nil {
		return out, err
	}
	if c.Now, err = changing(ctx, tx, act.Drive, of.Number); err != nil {
		return out, err
	}
	out.Sheets, out.Kits = c.Numbers()
	if out.FirstSheet, err = nextSome(ctx, tx, act.Drive, "sheet", out.Sheets); err != nil {
		return out, err
	}
	if out.FirstKit, err = nextSome(ctx, tx, act.Drive, "kit", out.Kits); err != nil {
		return out, err
	}
	c.FirstNew = drive.PlanNumbers{Sheet: out.FirstSheet, Kit: out.FirstKit}
	a, err := c.Accept()
	if err != nil {
		return out, err
	}
	out.KitsStay, out.KitsGone = len(a.KitsStay), len(a.Kits.Kits)-len(a.Kits.Born)
	for _, e := range a.Kits.Kits {
		if e.From == drive.KitPlanned && e.To != drive.KitTakenApart {
			out.KitsGone-- // a new kit that goes on at once
		}
	}
	out.Withdrawn = len(a.Withdrawn)
	for _, r := range a.Revised {
		if !r.Begun() {
			out.Revised++
		}
	}
	if err := keepChange(ctx, tx, act, p.Number, of.Number, a); err != nil {
		return out, err
	}
	const replaced = `UPDATE plans SET state = 'replaced', version = version + 1 WHERE drive_id = $1 AND number = $2`
	if _, err := tx.Exec(ctx, replaced, act.Drive, of.Number); err != nil {
		return out, fmt.Errorf("replace plan: %w", err)
	}
	const q = `UPDATE plans SET state = 'accepted', accepted_at = $3, version = version + 1 WHERE drive_id = $1 AND number = $2`
	if _, err := tx.Exec(ctx, q, act.Drive, p.Number, act.At); err != nil {
		return out, fmt.Errorf("accept plan: %w", err)
	}
	if err := audit(ctx, tx, act, "plan replaced", "plan", of.Number, changes{"by": {To: p.Number}}); err != nil {
		return out, err
	}
	return out, audit(ctx, tx, act, "changed plan accepted", "plan", p.Number, changes{
		"changes": {To: of.Number}, "kits kept": {To: out.KitsStay}, "kits given up": {To: out.KitsGone}, "kits": {To: out.Kits},
		"sheets laid out anew": {To: out.Revised}, "sheets withdrawn": {To: out.Withdrawn}, "sheets": {To: out.Sheets},
	})
}

// nextSome takes n numbers; none where none are needed.
func nextSome(ctx context.Context, tx pgx.Tx, driveID, kind string, n int) (int64, error) {
	if n == 0 {
		return 0, nil
	}
	return nextN(ctx, tx, driveID, kind, n)
}

// lockForChange reads a changed plan and locks what it may move, in key order: the sheets of
// the plan it changes, the lots and pieces of both, lines, sizes, and the kits.
func lockForChange(ctx context.Context, tx pgx.Tx, act drive.Act, c *drive.PlanChange, of int64) error {
	stands, err := planStands(ctx, tx, act.Drive, c.Number)
	if err != nil {
		return err
	}
	if stands == nil {
		return fmt.Errorf("plan %d changes nothing", c.Number)
	}
	c.Was = *stands
	if c.Problem, c.Plan, err = planFiles(ctx, tx, act.Drive, c.Number); err != nil {
		return err
	}
	const sheets = `SELECT number FROM sheets WHERE drive_id = $1 AND plan = $2 ORDER BY number FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, sheets, act.Drive, of); err != nil {
		return fmt.Errorf("lock sheets: %w", err)
	}
	var lots []int64
	var pieces []int
	for _, l := range slices.Concat(c.Plan.Layouts, c.Was.Plan.Layouts) {
		lot, piece, err := drive.ParseClothID(l.Fabric)
		if err != nil {
			return err
		}
		lots, pieces = append(lots, lot), append(pieces, piece)
	}
	// Those of every sheet: of one that is not laid out any more the cloth goes back to its lot too.
	const lockLots = `SELECT number FROM lots l WHERE drive_id = $1 AND (number = ANY($2) OR EXISTS
			(SELECT FROM sheets s WHERE s.drive_id = l.drive_id AND s.plan = $3 AND s.lot = l.number))
		ORDER BY number FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, lockLots, act.Drive, lots, of); err != nil {
		return fmt.Errorf("lock lots: %w", err)
	}
	const lockPieces = `SELECT p.lot FROM pieces p WHERE p.drive_id = $1
			AND EXISTS (SELECT FROM unnest($2::bigint[], $3::int[]) AS cut (lot, piece) WHERE cut.lot = p.lot AND cut.piece = p.piece)
		ORDER BY p.lot, p.piece FOR NO KEY UPDATE OF p`
	if _, err := tx.Exec(ctx, lockPieces, act.Drive, lots, pieces); err != nil {
		return fmt.Errorf("lock pieces: %w", err)
	}
	if err := lockLines(ctx, tx, act.Drive, c.Plan); err != nil {
		return err
	}
	var sizes []int64
	for _, k := range c.Plan.Kits {
		size, err := strconv.ParseInt(k.Case, 10, 64)
		if err != nil {
			return fmt.Errorf("size %q of the plan: %w", k.Case, err)
		}
		sizes = append(sizes, size)
	}
	if err := keepSizes(ctx, tx, act.Drive, sizes...); err != nil {
		return err
	}
	const kits = `SELECT number FROM kits WHERE drive_id = $1 AND plan = $2 ORDER BY number, part FOR NO KEY UPDATE`
	if _, err := tx.Exec(ctx, kits, act.Drive, of); err != nil {
		return fmt.Errorf("lock kits: %w", err)
	}
	return nil
}

// keepChange writes what was decided: what stays goes on under the changed plan, sheets that
// are laid out anew keep what they were as a revision.
func keepChange(ctx context.Context, tx pgx.Tx, act drive.Act, number, of int64, a drive.ChangeAcceptance) error {
	day, _, err := dayOf(ctx, tx, act, time.Time{})
	if err != nil {
		return err
	}
	if err := moveKits(ctx, tx, act, day, day, a.Kits); err != nil {
		return err
	}
	const kits = `UPDATE kits SET plan = $3 WHERE drive_id = $1 AND plan = $2 AND number = ANY($4)`
	if _, err := tx.Exec(ctx, kits, act.Drive, of, number, a.KitsStay); err != nil {
		return fmt.Errorf("kits that stay: %w", err)
	}
	const stay = `UPDATE sheets SET plan = $3 WHERE drive_id = $1 AND plan = $2 AND number = ANY($4)`
	if _, err := tx.Exec(ctx, stay, act.Drive, of, number, a.Stay); err != nil {
		return fmt.Errorf("sheets that stay: %w", err)
	}
	gone := make([]int64, len(a.Withdrawn))
	for i, s := range a.Withdrawn {
		gone[i] = s.Number
	}
	const withdraw = `UPDATE sheets SET state = 'withdrawn', version = version + 1 WHERE drive_id = $1 AND number = ANY($2)`
	if _, err := tx.Exec(ctx, withdraw, act.Drive, gone); err != nil {
		return fmt.Errorf("withdraw sheets: %w", err)
	}
	for _, r := range a.Revised {
		if err := reviseSheet(ctx, tx, act, number, r); err != nil {
			return err
		}
	}
	if err := keepLoose(ctx, tx, act, of, number); err != nil {
		return err
	}
	if err := keepSheets(ctx, tx, act, number, a.New, a.Fabric); err != nil {
		return err
	}
	given := slices.Clone(a.Withdrawn)
	for _, r := range a.Revised {
		if !r.Begun() {
			given = append(given, r.Was.Sheet)
		}
	}
	return bookNarrowAgain(ctx, tx, act, given)
}

// reviseSheet keeps what a sheet was and writes what it is now.
func reviseSheet(ctx context.Context, tx pgx.Tx, act drive.Act, plan int64, r drive.SheetChange) error {
	panels, err := json.Marshal(r.Was.Panels)
	if err != nil {
		return fmt.Errorf("keep revision: %w", err)
	}
	remnants, err := json.Marshal(r.Was.Remnants)
	if err != nil {
		return fmt.Errorf("keep revision: %w", err)
	}
	const keep = `INSERT INTO sheet_revisions (drive_id, sheet, revision, plan, used, panels, remnants, replaced_by, replaced_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
	was := r.Was.Sheet
	if _, err := tx.Exec(ctx, keep, act.Drive, was.Number, was.Revision, was.Plan, was.Used, panels, remnants, plan, act.At); err != nil {
		return fmt.Errorf("keep revision: %w", err)
	}
	const clear = `DELETE FROM panels WHERE drive_id = $1 AND sheet = $2`
	if _, err := tx.Exec(ctx, clear, act.Drive, was.Number); err != nil {
		return fmt.Errorf("revise sheet: %w", err)
	}
	if !r.Begun() {
		const clear = `DELETE FROM sheet_remnants WHERE drive_id = $1 AND sheet = $2`
		if _, err := tx.Exec(ctx, clear, act.Drive, was.Number); err != nil {
			return fmt.Errorf("revise sheet: %w", err)
		}
	}
	const q = `UPDATE sheets SET plan = $3, revision = revision + 1, used = $4, version = version + 1,
			state = CASE WHEN state = 'came up short' THEN 'waiting' ELSE state END,
			helper = CASE WHEN state = 'came up short' THEN '' ELSE helper END,
			out_at = CASE WHEN state = 'came up short' THEN NULL ELSE out_at END, short_at = NULL, short_length = NULL, short_why = ''
		WHERE drive_id = $1 AND number = $2`
	if _, err := tx.Exec(ctx, q, act.Drive, was.Number, plan, r.New.Used); err != nil {
		return fmt.Errorf("revise sheet: %w", err)
	}
	if !r.Begun() {
		if err := insertRemnants(ctx, tx, act.Drive, r.New); err != nil {
			return err
		}
	}
	return insertPanels(ctx, tx, act.Drive, r.New)
}
