package postgres

import (
	"testing"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// storyOfPlans tells of what to ask for, of plans, and of sheets up to where they are cut.
func storyOfPlans(t *testing.T, s *testStore, ward *drive.Recipient) []told {
	ctx := t.Context()
	var rule, sheet int64
	return []told{
		{"RequestAsks", func(act drive.Act) error { _, err := s.RequestAsks(ctx, act); return err }},
		{"RequestPlan", func(act drive.Act) error { _, err := s.RequestPlan(ctx, act); return err }},
		{"StopPlan", func(act drive.Act) error { _, err := s.StopPlan(ctx, act, 1); return err }},
		{"DropPlan", func(act drive.Act) error { _, err := s.DropPlan(ctx, act, 1); return err }},
		{"AcceptPlan", func(act drive.Act) error { _, err := s.AcceptPlan(ctx, act, makePlan(t, s)); return err }},
		{"WithdrawPlan", func(act drive.Act) error {
			if _, err := s.WithdrawPlan(ctx, act, 2); err != nil {
				return err
			}
			made, err := s.AcceptPlan(ctx, s.fresh(), makePlan(t, s))
			sheet = made.FirstSheet
			return err
		}},
		{"RequestChange", func(act drive.Act) error { _, err := s.RequestChange(ctx, act, 3, false); return err }},
		{"RequestChangeAnew", func(act drive.Act) error {
			anew, err := s.RequestChangeAnew(ctx, act, 3)
			require.NoError(t, err)
			require.NotZero(t, anew.Instead)
			number := anew.Plan
			gone, err := s.PlanPutAway(ctx, "spring", anew.Instead)
			require.NoError(t, err)
			require.Equal(t, number, gone.Instead)
			require.NoError(t, s.workChange(ctx, number, 20))
			_, err = s.AcceptPlan(ctx, s.fresh(), number)
			return err
		}},
		{"KeepSwap", func(act drive.Act) error {
			l, err := s.LookedAt(ctx, "spring", 5)
			require.NoError(t, err)
			number, err := s.KeepSwap(ctx, act, l, drive.Swap{Kit: l.Plan.Kits[0].ID, Case: 1, Role: "cuff", Lot: 1}, drive.Swapped{Problem: l.Problem, Plan: l.Plan})
			if err != nil {
				return err
			}
			_, err = s.DropPlan(ctx, s.fresh(), number)
			return err
		}},
		{"UndoSheetShort", func(act drive.Act) error {
			if _, err := s.SheetFound(ctx, s.fresh(), sheet, goodOnly(20*inch)); err != nil {
				return err
			}
			_, err := s.UndoSheetShort(ctx, act, sheet)
			return err
		}},
		{"AddLotRule", func(act drive.Act) error {
			var err error
			rule, err = s.AddLotRule(ctx, act, drive.LotRule{Kind: drive.LotKeptFor, Lot: 1, Recipient: &ward.Number})
			return err
		}},
		{"EndLotRule", func(act drive.Act) error { _, err := s.EndLotRule(ctx, act, rule); return err }},
		{"SheetFound", func(act drive.Act) error {
			_, err := s.SheetFound(ctx, act, sheet, goodOnly(200*inch))
			return err
		}},
		{"SignOutSheet", func(act drive.Act) error { _, err := s.SignOutSheet(ctx, act, sheet, zephyr); return err }},
		{"SignOutPrint", func(act drive.Act) error {
			_, err := s.PutBackSheet(ctx, s.fresh(), sheet)
			require.NoError(t, err)
			_, err = s.SignOutPrint(ctx, act, drive.SheetRef{Number: sheet, Revision: 1}, zephyr)
			return err
		}},
		{"PutBackSheet", func(act drive.Act) error { _, err := s.PutBackSheet(ctx, act, sheet); return err }},
		{"MarkSheetCut", func(act drive.Act) error { _, err := s.MarkSheetCut(ctx, act, sheet); return err }},
		{"MarkPrintCut", func(act drive.Act) error {
			_, err := s.UndoSheetCut(ctx, s.fresh(), sheet)
			require.NoError(t, err)
			_, err = s.MarkPrintCut(ctx, act, drive.SheetRef{Number: sheet, Revision: 1})
			return err
		}},
		{"UndoSheetCut", func(act drive.Act) error { _, err := s.UndoSheetCut(ctx, act, sheet); return err }},
	}
}
