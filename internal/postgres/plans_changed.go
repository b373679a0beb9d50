package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"

	"github.com/jackc/pgx/v5"
)

// PlanChanged is what a changed plan does to the one it changes, and who has to do with it.
type PlanChanged struct {
	Told   drive.ChangeTold
	Kits   map[int64]drive.Kit   // the first part of every kit that is told of, as it is now
	Sheets map[int64]drive.Sheet // every sheet that is told of, as it is now
	Short  []int64               // sheets that came up short since it was asked for: it cannot be accepted
	// GivenUp is how many kits change or fall away that could stay as they are, for more is made so; of a swap
	// by hand, beside the kit that was swapped, for the rest is planned around that.
	GivenUp int
	Swapped string // that kit; empty where it is no swap
	Whole   bool   // it was to give none up
}

// PlanChanged says what accepting a changed plan does, or did. It is nil for one that changes
// none or is not worked out.
func (s *Store) PlanChanged(ctx context.Context, driveID string, number int64) (*PlanChanged, error) {
	stands, err := s.PlanStands(ctx, driveID, number)
	if err != nil || stands == nil {
		return nil, err
	}
	problem, plan, err := s.PlanFiles(ctx, driveID, number)
	if err != nil || plan == nil {
		return nil, err
	}
	out := &PlanChanged{
		Told: drive.TellChange(problem, plan, *stands), Whole: stands.Settled.Whole, Swapped: stands.Swapped,
		Kits: map[int64]drive.Kit{}, Sheets: map[int64]drive.Sheet{},
	}
	if out.GivenUp, err = s.givenUp(ctx, driveID, number, *stands, out.Told); err != nil {
		return nil, err
	}
	var kits, sheets []int64
	for _, k := range stands.Plan.Kits {
		ref, err := drive.ParseKitName(k.ID)
		if err != nil {
			return nil, fmt.Errorf("kit %q of plan %d: %w", k.ID, number, err)
		}
		kits = append(kits, ref.Number)
	}
	for n := range stands.Sheets {
		sheets = append(sheets, n)
	}
	all, err := loadKits(ctx, s.pool, driveID, kits)
	if err != nil {
		return nil, err
	}
	for ref, k := range all {
		if ref.Part == 1 {
			out.Kits[ref.Number] = k
		}
	}
	const q = `SELECT ` + sheetColumns + sheetFrom + ` WHERE s.drive_id = $1 AND s.number = ANY($2)`
	rows, err := s.pool.Query(ctx, q, driveID, sheets)
	if err != nil {
		return nil, fmt.Errorf("sheets of the change: %w", err)
	}
	found, err := collect(rows, "sheets of the change", pgx.RowToStructByName[drive.Sheet])
	for _, sheet := range found {
		out.Sheets[sheet.Number] = sheet
		if sheet.State == drive.SheetShort && stands.Sheets[sheet.Number].State != drive.SheetShort {
			out.Short = append(out.Short, sheet.Number)
		}
	}
	slices.Sort(out.Short)
	return out, err
}

// givenUp counts the kits that a change does not leave as they are although they could stay.
func (s *Store) givenUp(ctx context.Context, driveID string, number int64, stands drive.PlanStands, told drive.ChangeTold) (int, error) {
	if len(told.Change)+len(told.Gone) == 0 {
		return 0, nil
	}
	const q = `SELECT problem FROM plans WHERE drive_id = $1 AND number = $2` // as it was asked for
	var text []byte
	if err := s.pool.QueryRow(ctx, q, driveID, number).Scan(&text); err != nil {
		return 0, fmt.Errorf("problem of the change: %w", err)
	}
	var asked planning.Problem
	if err := json.Unmarshal(text, &asked); err != nil {
		return 0, fmt.Errorf("problem of the change: %w", err)
	}
	n := 0
	whole := planning.StillWhole(&asked, stands.Plan, stands.Settled)
	for _, k := range slices.Concat(told.Change, told.Gone) {
		if id := drive.NumberID(k.Number); whole[id] && id != stands.Swapped {
			n++
		}
	}
	return n, nil
}

// StandsNow gives the plan that stands in the place of another: itself, or what changed it
// last; 0 where none stands.
func (s *Store) StandsNow(ctx context.Context, driveID string, number int64) (int64, error) {
	const q = `WITH RECURSIVE line AS (
			SELECT number, state FROM plans WHERE drive_id = $1 AND number = $2
			UNION
			SELECT p.number, p.state FROM plans p JOIN line l ON p.drive_id = $1 AND p.changes = l.number AND p.state IN ('accepted', 'replaced'))
		SELECT coalesce(max(number) FILTER (WHERE state = 'accepted'), 0) FROM line`
	var now int64
	if err := s.pool.QueryRow(ctx, q, driveID, number).Scan(&now); err != nil {
		return 0, fmt.Errorf("plan that stands: %w", err)
	}
	return now, nil
}

// PlanToCut gives the accepted plan whose sheets are cut: this one, or the newest where
// it is 0. What was changed, withdrawn or never accepted is a conflict that says so.
func (s *Store) PlanToCut(ctx context.Context, driveID string, number int64) (int64, error) {
	const newest = `SELECT coalesce(max(number), 0) FROM plans WHERE drive_id = $1 AND state = 'accepted'`
	if number == 0 {
		if err := s.pool.QueryRow(ctx, newest, driveID).Scan(&number); err != nil {
			return 0, fmt.Errorf("newest accepted plan: %w", err)
		}
		if number == 0 {
			return 0, apperr.Conflict("No plan of this drive is accepted, so there are no sheets.")
		}
		return number, nil
	}
	p, err := s.Plan(ctx, driveID, number)
	if err != nil {
		return 0, err
	}
	if p.State == drive.PlanAccepted {
		return number, nil
	}
	now, err := s.StandsNow(ctx, driveID, number)
	if err != nil {
		return 0, err
	}
	if now != 0 {
		return 0, apperr.Conflict("Plan %d was changed: plan %d stands in its place, and its sheets are that plan's.", number, now)
	}
	return 0, apperr.Conflict("Plan %d is not accepted, so it has no sheets.", number)
}

// Since says what has happened to an accepted plan since it was made, as far as it asks for a
// change.
type Since struct {
	Short  []int64           // sheets that came up short
	Broken []int64           // kits not begun that cannot be cut as planned any more
	Lines  []drive.LineSince // lines that ask for more or less, or of which some count no more
	Lots   []int64           // with cloth that the plan did not know
}

// Any says whether anything has.
func (w Since) Any() bool { return len(w.Short)+len(w.Broken)+len(w.Lines)+len(w.Lots) > 0 }

// PlanSince says what has happened to an accepted plan since.
func (s *Store) PlanSince(ctx context.Context, driveID string, number int64) (Since, error) {
	var out Since
	problem, stands, err := s.ChangeOf(ctx, driveID, number)
	if apperr.Is(err, apperr.KindConflict) {
		return out, nil
	}
	if err != nil {
		return out, err
	}
	made, plan, err := s.PlanFiles(ctx, driveID, number)
	if err != nil || plan == nil {
		return out, err
	}
	for n, at := range stands.Sheets {
		if at.State == drive.SheetShort {
			out.Short = append(out.Short, n)
		}
	}
	slices.Sort(out.Short)
	whole := planning.StillWhole(problem, stands.Plan, stands.Settled)
	for _, k := range stands.Plan.Kits {
		if whole[k.ID] || slices.Contains(stands.Settled.Kits, k.ID) {
			continue
		}
		ref, err := drive.ParseKitName(k.ID)
		if err != nil {
			return out, fmt.Errorf("kit %q of plan %d: %w", k.ID, number, err)
		}
		out.Broken = append(out.Broken, ref.Number)
	}
	out.Lines = drive.LinesSince(made, plan, problem, stands)
	out.Lots = drive.LotsSince(made, problem)
	return out, nil
}
