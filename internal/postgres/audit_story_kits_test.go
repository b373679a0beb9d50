package postgres

import (
	"testing"
	"time"

	"boltward/internal/account"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// storyOfKits is the part of the story from the first kit to what a ward confirms,
// told of what was made before it.
func storyOfKits(t *testing.T, s *testStore, size *drive.Size, ward *drive.Recipient, asked *drive.Asked, person *PersonSaved) []told {
	ctx := t.Context()
	var batch, box, delivery, report int64
	first := []drive.KitRef{{Number: 1, Part: 1}}
	var splits []drive.KitRef
	mend := func() drive.Stack { return drive.Stack{Asked: asked.Number, Size: size.Number} }
	return []told{
		{"MakeOwnFabricKits", func(act drive.Act) error {
			made, err := s.MakeOwnFabricKits(ctx, act, drive.OwnFabric{Kits: 3, Cases: 4, Size: size.Number, Asked: &asked.Number, Note: zephyr})
			first, splits = made.Kits[:1], made.Kits[2:]
			return err
		}},
		{"HandOut", func(act drive.Act) error {
			_, err := s.HandOut(ctx, act, drive.HandOut{Kits: first, Person: person.Number})
			return err
		}},
		{"UndoHandOut", func(act drive.Act) error { _, err := s.UndoHandOut(ctx, act, first); return err }},
		{"SignOutKits", func(act drive.Act) error {
			if _, err := s.SignOutKits(ctx, act, []drive.SignedOut{{Row: 1, Kit: splits[0], Person: person.Number}}, time.Time{}); err != nil {
				return err
			}
			_, err := s.UndoHandOut(ctx, s.fresh(), splits)
			return err
		}},
		{"SplitKit", func(act drive.Act) error {
			_, err := s.SplitKit(ctx, act, splits[0], 1, 0, nil)
			return err
		}},
		{"UndoSplitKit", func(act drive.Act) error {
			split, err := s.SplitKit(ctx, s.fresh(), splits[0], 2, 0, nil)
			if err != nil {
				return err
			}
			_, err = s.UndoSplitKit(ctx, act, split.Part)
			return err
		}},
		{"PlaceKits", func(act drive.Act) error { _, err := s.PlaceKits(ctx, act, splits, zephyr); return err }},
		{"KitLost", func(act drive.Act) error {
			_, err := s.KitLost(ctx, act, first[0], "on the bus", time.Time{})
			return err
		}},
		{"KitFound", func(act drive.Act) error { _, err := s.KitFound(ctx, act, first[0], 0, 0, time.Time{}); return err }},
		{"MarkKitReady", func(act drive.Act) error { _, err := s.MarkKitReady(ctx, act, first); return err }},
		{"UndoKitReady", func(act drive.Act) error {
			if _, err := s.UndoKitReady(ctx, act, first); err != nil {
				return err
			}
			_, err := s.MarkKitReady(ctx, s.fresh(), first)
			return err
		}},
		{"TakeKitApart", func(act drive.Act) error {
			second := drive.KitRef{Number: first[0].Number + 1, Part: 1}
			_, err := s.TakeKitApart(ctx, act, second, "faded", true)
			return err
		}},
		{"LoosePanelsGone", func(act drive.Act) error {
			second := first[0].Number + 1
			_, err := s.pool.Exec(ctx, `UPDATE kits SET loose = true WHERE number = $1`, second)
			require.NoError(t, err)
			_, err = s.LoosePanelsGone(ctx, act, second)
			return err
		}},
		{"LoosePanelsBack", func(act drive.Act) error {
			second := first[0].Number + 1
			loosePanelsOf(t, s, second, size.Number)
			_, err := s.LoosePanelsBack(ctx, act, second)
			return err
		}},
		{"LoosePanelsLie", func(act drive.Act) error {
			_, err := s.LoosePanelsLie(ctx, act, first[0].Number+1, 9001, "body", 1)
			return err
		}},
		{"MakeLooseKit", func(act drive.Act) error {
			_, err := s.MakeLooseKit(ctx, act, drive.LooseKit{Size: size.Number, Cases: 1, Lots: map[string]int64{"body": 1, "cuff": 1, "accent": 1}})
			require.NoError(t, err)
			_, err = s.db.Owner().Exec(ctx, `DELETE FROM panels WHERE sheet = 9001`)
			require.NoError(t, err)
			_, err = s.db.Owner().Exec(ctx, `DELETE FROM sheets WHERE number = 9001`)
			return err
		}},
		{"GiveAgain", func(act drive.Act) error {
			if _, err := s.HandOut(ctx, s.fresh(), drive.HandOut{Kits: first, Person: person.Number}); err != nil {
				return err
			}
			_, err := s.GiveAgain(ctx, act, first[0], drive.HandOut{Person: person.Number + 1})
			return err
		}},
		{"ReportKit", func(act drive.Act) (err error) {
			report, err = s.ReportKit(ctx, act, drive.KitReport{KitRef: first[0], Person: person.Number + 1, Kind: drive.ReportCannot, Note: zephyr})
			return err
		}},
		{"EndReport", func(act drive.Act) error { _, err := s.EndReport(ctx, act, report, 0); return err }},
		{"UpdateReminderRules", func(act drive.Act) error {
			rules := drive.UsualReminderRules()
			rules.On, rules.Quiet, rules.LateDays, rules.SoonDays, rules.FromName, rules.ReplyTo = true, nil, 0, 60, zephyr, zephyrMail
			_, err := s.UpdateReminderRules(ctx, act, rules)
			return err
		}},
		{"MakeReminders", func(act drive.Act) error {
			due := dayIn(5)
			if _, err := s.ExtendDue(ctx, s.fresh(), first, &due); err != nil {
				return err
			}
			made, err := s.MakeReminders(ctx, act, true)
			require.Equal(t, 1, made)
			return err
		}},
		{"DropReminder", func(act drive.Act) error { _, err := s.DropReminder(ctx, act, 1); return err }},
		{"NoteReminder", func(act drive.Act) error {
			_, err := s.NoteReminder(ctx, act, aReminder(t, s, person.Number, first...), drive.RemindedByPhone)
			return err
		}},
		{"QueueReminders", func(act drive.Act) error {
			_, err := s.db.Pool.Exec(ctx, `UPDATE people SET email = $1 WHERE number = $2`, zephyrMail, person.Number)
			require.NoError(t, err)
			sent, err := s.QueueReminders(ctx, act, []int64{aReminder(t, s, person.Number, first...)})
			require.Equal(t, 1, sent)
			return err
		}},
		{"SetReminded", func(act drive.Act) error { _, err := s.SetReminded(ctx, act, person.Number, false); return err }},
		{"PersonLink", func(act drive.Act) error { _, err := s.PersonLink(ctx, act, person.Number, false); return err }},
		{"EndPersonLink", func(act drive.Act) error { _, err := s.EndPersonLink(ctx, act, person.Number); return err }},
		{"ExtendDue", func(act drive.Act) error { due := dayIn(9); _, err := s.ExtendDue(ctx, act, first, &due); return err }},
		{"TakeBack", func(act drive.Act) error {
			_, err := s.TakeBack(ctx, act, first[0], drive.KitReturn{Sewn: 4}, time.Time{})
			return err
		}},
		{"UndoTakeBack", func(act drive.Act) error { _, err := s.UndoTakeBack(ctx, act, first[0]); return err }},
		{"TakeIn", func(act drive.Act) error {
			taken, err := s.TakeIn(ctx, act, first[0], drive.KitCounted{Sewn: 4}, time.Time{})
			if err != nil {
				return err
			}
			act.Key += "-undone"
			_, err = s.UndoTakeBack(ctx, act, *taken.Back)
			return err
		}},
		{"BringIn", func(act drive.Act) error {
			_, err := s.BringIn(ctx, act, drive.BroughtIn{Size: size.Number, N: 5, Maker: &person.Number, Note: zephyr})
			return err
		}},
		{"Promise", func(act drive.Act) error {
			_, err := s.Promise(ctx, act, drive.Stack{Size: size.Number, State: drive.CaseSewn}, 5, asked.Number)
			return err
		}},
		{"GiveToLine", func(act drive.Act) error {
			loose := drive.Stack{Size: size.Number, State: drive.CaseSewn}
			if _, err := s.BringIn(ctx, s.fresh(), drive.BroughtIn{Size: size.Number, N: 1}); err != nil {
				return err
			}
			if _, err := s.CheckCases(ctx, s.fresh(), loose, drive.Checked{Good: 1, Pins: true}); err != nil {
				return err
			}
			_, err := s.GiveToLine(ctx, act, loose, 1, asked.Number)
			return err
		}},
		{"UpdateCheckList", func(act drive.Act) error {
			list := drive.UsualCheckList("in")
			list.Points[0].Tell = "Ask " + zephyr
			_, err := s.UpdateCheckList(ctx, act, list)
			return err
		}},
		{"CheckCases", func(act drive.Act) error {
			_, err := s.CheckCases(ctx, act, mend(), drive.Checked{Good: 3, Failed: []drive.Failed{{N: 2, To: drive.CaseToMend, Reasons: []string{"seam open"}}}, Initials: "ZQ", Note: zephyr, Pins: true})
			return err
		}},
		{"MendedHere", func(act drive.Act) error { _, err := s.MendedHere(ctx, act, mend(), 1); return err }},
		{"SendToMend", func(act drive.Act) error {
			_, err := s.SendToMend(ctx, act, Mending{At: mend(), N: 1, Person: person.Number})
			return err
		}},
		{"UndoCases", func(act drive.Act) error {
			steps, err := s.CasesLately(ctx, "spring", 20)
			require.NoError(t, err)
			for _, step := range steps {
				if step.MayUndo() && step.To == drive.CaseSewn && step.From == drive.CaseToMend {
					_, err = s.UndoCases(ctx, act, 0, step.ID)
				}
			}
			return err
		}},
		{"StartBatch", func(act drive.Act) (err error) {
			batch, err = s.StartBatch(ctx, act, Washing{By: "ZQ", Note: zephyr, Lines: []drive.LaundryLine{{Asked: asked.Number, Size: size.Number, N: 2}}})
			return err
		}},
		{"ForgetStepNote", func(act drive.Act) error {
			steps, err := s.CasesLately(ctx, "spring", 40)
			require.NoError(t, err)
			for _, step := range steps {
				if step.Note != "" && step.From == drive.CaseBorn {
					_, err = s.ForgetStepNote(ctx, act, step.ID)
				}
			}
			return err
		}},
		{"ForgetBatchNote", func(act drive.Act) error { _, err := s.ForgetBatchNote(ctx, act, batch); return err }},
		{"ForgetNotes", func(act drive.Act) error { _, err := s.ForgetNotes(ctx, act, dayIn(0)); return err }},
		{"FinishBatch", func(act drive.Act) error { _, err := s.FinishBatch(ctx, act, batch, "ZQ", time.Time{}); return err }},
		{"ForgetInitials", func(act drive.Act) error { _, err := s.ForgetInitials(ctx, act, dayIn(0)); return err }},
		{"UndoBatch", func(act drive.Act) error { _, err := s.UndoBatch(ctx, act, batch); return err }},
		{"PackBox", func(act drive.Act) (err error) {
			pack := PackedBox{Recipient: ward.Number, PackedBy: "ZQ", CheckedBy: "AB", Cases: []drive.Pack{{Asked: asked.Number, Size: size.Number, N: 2}}}
			box, err = s.PackBox(ctx, act, pack)
			return err
		}},
		{"UnpackBox", func(act drive.Act) (err error) {
			if _, err = s.UnpackBox(ctx, act, box); err != nil {
				return err
			}
			pack := PackedBox{Recipient: ward.Number, PackedBy: "ZQ", CheckedBy: "AB", Cases: []drive.Pack{{Asked: asked.Number, Size: size.Number, N: 2}}}
			box, err = s.PackBox(ctx, s.fresh(), pack)
			return err
		}},
		{"MakeDelivery", func(act drive.Act) (err error) {
			today := dayIn(0)
			sent := Sending{Recipient: ward.Number, Boxes: []int64{box}, SentOn: &today, CarriedBy: zephyr, Note: zephyr}
			delivery, err = s.MakeDelivery(ctx, act, sent)
			return err
		}},
		{"UndoDelivery", func(act drive.Act) error {
			if _, err := s.UndoDelivery(ctx, act, delivery); err != nil {
				return err
			}
			var err error
			delivery, err = s.MakeDelivery(ctx, s.fresh(), Sending{Recipient: ward.Number, Boxes: []int64{box}, CarriedBy: zephyr})
			return err
		}},
		{"SendDelivery", func(act drive.Act) error { _, err := s.SendDelivery(ctx, act, delivery, dayIn(0), zephyr); return err }},
		{"ConfirmDelivery", func(act drive.Act) error {
			said := drive.Confirmation{By: zephyr, How: drive.OwnPage, On: dayIn(0), Note: zephyr, Arrived: []drive.Arrived{{Box: box, Size: size.Number, N: 1}}}
			_, err := s.ConfirmDelivery(ctx, act, delivery, said)
			return err
		}},
		{"RecipientLink", func(act drive.Act) error { _, err := s.RecipientLink(ctx, act, ward.Number, false); return err }},
		{"EndRecipientLink", func(act drive.Act) error { _, err := s.EndRecipientLink(ctx, act, ward.Number); return err }},
		{"ReadDelivery", func(act drive.Act) error { _, err := s.ReadDelivery(ctx, act, delivery); return err }},
		{"SettleDelivery", func(act drive.Act) error {
			_, err := s.SettleDelivery(ctx, act, delivery, drive.Settlement{Box: box, Size: size.Number, Way: drive.SettleMissing, N: 1, Reason: zephyr})
			return err
		}},
		{"EraseAccount", func(act drive.Act) error {
			gone, err := s.AddAccount(ctx, s.fresh(), zephyr+" 2", "2"+zephyrMail, false)
			require.NoError(t, err)
			require.NoError(t, s.SetRole(ctx, s.fresh(), gone.Email, account.Desk))
			return s.EraseAccount(ctx, byCommand(act), gone.ID)
		}},
		{"EraseAgain", func(act drive.Act) error {
			gone, err := s.CreateDonor(ctx, s.fresh(), drive.Donor{Name: zephyr + " the fourth"}, &drive.DonorContacts{Email: zephyrMail})
			require.NoError(t, err)
			done, err := s.EraseAgain(ctx, act, Erased{Kind: ErasedDonor, Drive: act.Drive, Number: gone.Number, At: act.At})
			require.True(t, done.Done)
			return err
		}},
		{"ForgetThings", func(act drive.Act) error {
			_, err := s.SetAside(ctx, s.fresh(), tagged(t, s, zephyr, 1), "mildew")
			require.NoError(t, err)
			_, err = s.db.Owner().Exec(ctx, `UPDATE lots SET note = 'zephyr' WHERE set_aside <> ''`)
			require.NoError(t, err)
			_, err = s.ForgetThings(ctx, act, dayIn(0))
			return err
		}},
		{"ForgetWritten", func(act drive.Act) error { _, err := s.ForgetWritten(ctx, act, delivery); return err }},
	}
}

// loosePanelsOf lays a sheet that is cut under a kit that was taken apart: panels for two pillowcases.
func loosePanelsOf(t *testing.T, s *testStore, kit, size int64) {
	t.Helper()
	const sheet = `INSERT INTO sheets (drive_id, number, plan, lot, piece, state, used, created_at)
		SELECT drive_id, 9001, plan, 1, 1, 'cut', 1, created_at FROM sheets ORDER BY number LIMIT 1`
	_, err := s.db.Owner().Exec(t.Context(), sheet)
	require.NoError(t, err)
	const panels = `INSERT INTO panels (drive_id, sheet, panel, role, size, x, y, w, h, kit, pillowcase)
		SELECT 'spring', 9001, row_number() OVER (), role, $2, 0, 0, 1, 1, $1, c FROM unnest(ARRAY['body', 'cuff', 'accent']) AS role, generate_series(1, 2) AS c`
	_, err = s.db.Owner().Exec(t.Context(), panels, kit, size)
	require.NoError(t, err)
}
