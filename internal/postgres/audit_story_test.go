package postgres

import (
	"slices"
	"testing"
	"time"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

// told is one act, and what it needs of those before it.
type told struct {
	method string
	do     func(act drive.Act) error
}

// story tells every act of the store once, in an order in which each is possible.
func story(t *testing.T, s *testStore) []told {
	ctx := t.Context()
	var size, other drive.Size
	var ward drive.Recipient
	var asked drive.Asked
	var person PersonSaved
	var slivers SliversBooked
	var upload, deed, take, supply, hours int64
	contacts := &drive.Contacts{Contact: zephyr, Email: zephyrMail, Phone: zephyrPhone, Address: zephyrHome}
	row := func(name string) []drive.Incoming[drive.PersonIn] {
		in := drive.PersonIn{Person: drive.Person{Kind: drive.PersonVolunteer, Name: name, Heads: 1, Note: zephyr}, Contacts: *contacts}
		bad := in
		bad.Person.Name = name + " too"
		return []drive.Incoming[drive.PersonIn]{{Line: 2, Value: in}, {Line: 3, Value: bad, Faults: []drive.Fault{{Column: "pace", Why: zephyrPhone + " is no number."}}}}
	}
	before := []told{
		{"CreateDrive", func(act drive.Act) error {
			act.Drive, act.Who = "", 0
			_, err := s.CreateDrive(ctx, act, drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In))
			return err
		}},
		{"UpdateDrive", func(act drive.Act) error {
			d, err := s.Drive(ctx, "spring")
			require.NoError(t, err)
			d.KitCases, d.Ask = 5, zephyr+" "+zephyrPhone
			_, err = s.UpdateDrive(ctx, act, d)
			return err
		}},
		{"CloseDrive", func(act drive.Act) error { _, err := s.CloseDrive(ctx, act); return err }},
		{"OpenDriveAgain", func(act drive.Act) error { _, err := s.OpenDriveAgain(ctx, act); return err }},
		{"AddAccount", func(act drive.Act) error { _, err := s.AddAccount(ctx, act, zephyr, zephyrMail, false); return err }},
		{"SetRole", func(act drive.Act) error { return s.SetRole(ctx, act, zephyrMail, account.Desk) }},
		{"AccountLink", func(act drive.Act) error { _, err := s.AccountLink(ctx, act, zephyrMail); return err }},
		{"ChangeRole", func(act drive.Act) error { return s.ChangeRole(ctx, act, 1, 1, account.Packer) }},
		{"EndSessions", func(act drive.Act) error { return s.EndSessions(ctx, act, 1) }},
		{"MakeInvite", func(act drive.Act) error {
			_, err := s.MakeInvite(ctx, byCommand(act), account.Desk, zephyr, "aaaa")
			return err
		}},
		{"EndInvite", func(act drive.Act) error { return s.EndInvite(ctx, act, 1) }},
		{"MakePass", func(act drive.Act) error {
			_, err := s.MakePass(ctx, byCommand(act), PassWish{Role: account.Desk, Place: "by " + zephyr}, "bbbb", []byte("code"))
			return err
		}},
		{"EndPass", func(act drive.Act) error { return s.EndPass(ctx, act, 1) }},
		{"ChangePassword", func(act drive.Act) error { return s.ChangePassword(ctx, act, "hash of "+zephyr, 0) }},
		{"EndSignIn", func(act drive.Act) error {
			p, err := s.Account(ctx, 1)
			require.NoError(t, err)
			number, err := s.BeginSignIn(ctx, p, Device{Words: "Firefox"}, false, false)
			require.NoError(t, err)
			return s.EndSignIn(ctx, act, number)
		}},
		{"EndOtherSignIns", func(act drive.Act) error { return s.EndOtherSignIns(ctx, act, 0) }},
		{"NotMe", func(act drive.Act) error { return s.NotMe(ctx, act, 0) }},
		{"WasMe", func(act drive.Act) error {
			p, err := s.Account(ctx, 1)
			require.NoError(t, err)
			half, err := s.BeginHalf(ctx, p.ID, p.Epoch, browser("Firefox", 1))
			require.NoError(t, err)
			for range wrongEnough {
				require.NoError(t, s.WrongCode(ctx, half))
			}
			_, err = s.TellHalves(ctx, false)
			require.NoError(t, err)
			return s.WasMe(ctx, act, half)
		}},
		{"BeginSecondStep", func(act drive.Act) error { return s.BeginSecondStep(ctx, act, []byte("sealed")) }},
		{"ConfirmSecondStep", func(act drive.Act) error {
			return s.ConfirmSecondStep(ctx, act, SecondCode{[]byte("sealed"), 1, [][]byte{[]byte("one")}, 0})
		}},
		{"RenewRecovery", func(act drive.Act) error { return s.RenewRecovery(ctx, act, [][]byte{[]byte("two")}) }},
		{"EndSecondStep", func(act drive.Act) error { return s.EndSecondStep(ctx, act) }},
		{"ResetSecondStep", func(act drive.Act) error { return s.ResetSecondStep(ctx, act, zephyrMail) }},
		{"CreateSize", func(act drive.Act) (err error) {
			size, err = s.CreateSize(ctx, act, builtIn(t, "standard"))
			return err
		}},
		{"UpdateSize", func(act drive.Act) (err error) {
			size.Name = "standard 2"
			size, err = s.UpdateSize(ctx, act, size)
			return err
		}},
		{"RetireSize", func(act drive.Act) (err error) {
			if other, err = s.CreateSize(ctx, s.fresh(), builtIn(t, "queen")); err != nil {
				return err
			}
			_, err = s.RetireSize(ctx, act, other.Number)
			return err
		}},
		{"RestoreSize", func(act drive.Act) error { _, err := s.RestoreSize(ctx, act, other.Number); return err }},
		{"CreateRecipient", func(act drive.Act) (err error) {
			ward, err = s.CreateRecipient(ctx, act, drive.Recipient{
				Kind: drive.RecipientWard, Name: "Ward 4", Contact: zephyr, Email: zephyrMail, Phone: zephyrPhone, Address: zephyrHome, Note: zephyr,
			})
			return err
		}},
		{"UpdateRecipient", func(act drive.Act) error {
			ward.Phone, ward.Note = zephyrPhone+"7", zephyr+" again"
			_, err := s.UpdateRecipient(ctx, act, ward)
			return err
		}},
		{"CreateAsked", func(act drive.Act) (err error) {
			asked, err = s.CreateAsked(ctx, act, drive.Asked{Recipient: ward.Number, Sizes: []int64{size.Number}, Wanted: 30, Matter: drive.MatterShould, Note: zephyr})
			return err
		}},
		{"UpdateAsked", func(act drive.Act) (err error) {
			asked.Wanted, asked.Note = 31, zephyr+" again"
			asked, err = s.UpdateAsked(ctx, act, asked)
			return err
		}},
		{"CreateStanding", func(act drive.Act) error {
			due := drive.Day(act.At, time.UTC).AddDate(0, 3, 0)
			_, err := s.CreateStanding(ctx, act, drive.StandingAsk{LeadDays: 10, Line: drive.Asked{
				Recipient: ward.Number, Sizes: []int64{size.Number}, Wanted: 40, Matter: drive.MatterShould, Due: &due, Note: zephyr,
			}})
			return err
		}},
		{"ChangeStanding", func(act drive.Act) error { _, err := s.ChangeStanding(ctx, act, 1, 1, 50, nil); return err }},
		{"EndStanding", func(act drive.Act) error { _, err := s.EndStanding(ctx, act, 1); return err }},
		{"CloseAsked", func(act drive.Act) error { _, err := s.CloseAsked(ctx, act, asked.Number); return err }},
		{"ReopenAsked", func(act drive.Act) error { _, err := s.ReopenAsked(ctx, act, asked.Number); return err }},
		{"CreatePerson", func(act drive.Act) (err error) {
			person, err = s.CreatePerson(ctx, act, drive.Person{Kind: drive.PersonVolunteer, Name: zephyr, Heads: 1, Pickup: zephyrHome, Note: zephyr}, contacts)
			return err
		}},
		{"UpdatePerson", func(act drive.Act) error {
			p := drive.Person{Number: person.Number, Version: 1, Kind: drive.PersonVolunteer, Name: zephyr + " 2", Heads: 1, Active: true, Smoke: drive.DeclaredNo, Pets: drive.DeclaredYes, Language: "English"}
			_, err := s.UpdatePerson(ctx, act, p, &drive.Contacts{Phone: zephyrPhone + "8"})
			return err
		}},
		{"GiveHours", func(act drive.Act) (err error) {
			hours, err = s.GiveHours(ctx, act, drive.Hours{Person: person.Number, Doing: "sewing", Heads: 1, Minutes: 90})
			return err
		}},
		{"UndoHours", func(act drive.Act) error { _, err := s.UndoHours(ctx, act, hours); return err }},
		{"UpdateKeeping", func(act drive.Act) error {
			months := 24
			_, err := s.UpdateKeeping(ctx, act, drive.Keeping{People: &months})
			return err
		}},
		{"CreateDonor", func(act drive.Act) error {
			_, err := s.CreateDonor(ctx, act, drive.Donor{Name: zephyr, Note: zephyr}, &drive.DonorContacts{Email: zephyrMail, Phone: zephyrPhone, Address: zephyrHome})
			return err
		}},
		{"TagLots", func(act drive.Act) error {
			_, err := s.TagLots(ctx, act, []drive.Tagging{{Donor: zephyr + " of the mill", Pieces: 1, ReceivedOn: dayIn(0), Note: zephyr}})
			return err
		}},
		{"ChangeLot", func(act drive.Act) error {
			_, err := s.ChangeLot(ctx, act, 1, 1, drive.LotChange{Donor: zephyr, Shelf: "B2", Turn: drive.TurnEither, Note: zephyr + " again"})
			return err
		}},
		{"SetLotPhoto", func(act drive.Act) error {
			hash, err := s.KeepPhoto(ctx, "spring", Photo{Full: []byte(zephyr), Small: []byte("small"), Width: 4, Height: 3})
			require.NoError(t, err)
			_, err = s.SetLotPhoto(ctx, act, 1, hash)
			return err
		}},
		{"SetAside", func(act drive.Act) error { _, err := s.SetAside(ctx, act, 1, "mildew"); return err }},
		{"TakeBackAside", func(act drive.Act) error { _, err := s.TakeBackAside(ctx, act, 1); return err }},
		{"MeasureLot", func(act drive.Act) error { _, err := s.MeasureLot(ctx, act, 1, 4, cotton(1, 170*inch)); return err }},
		{"MeasureInstead", func(act drive.Act) error { _, err := s.MeasureInstead(ctx, act, 1, 5, cotton(1, 171*inch)); return err }},
		{"UndoMeasure", func(act drive.Act) error { _, err := s.UndoMeasure(ctx, act, 1); return err }},
		{"UpdateDonor", func(act drive.Act) error {
			d := drive.Donor{Number: 1, Version: 1, Name: zephyr + " the elder", Note: zephyr + " again", Letter: true}
			_, err := s.UpdateDonor(ctx, act, d, &drive.DonorContacts{Email: zephyrMail, Address: zephyrHome})
			return err
		}},
		{"UpdateLetterRules", func(act drive.Act) error {
			rules := drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In).LetterRules()
			rules.Sender, rules.SignedBy = zephyr+"\n"+zephyrHome, zephyr
			_, err := s.UpdateLetterRules(ctx, act, rules)
			return err
		}},
		{"NoteThanks", func(act drive.Act) error {
			if _, err := s.TagLots(ctx, s.fresh(), []drive.Tagging{{Donor: zephyr + " the elder", Pieces: 1, ReceivedOn: dayIn(0)}}); err != nil {
				return err
			}
			_, err := s.NoteThanks(ctx, act, []drive.GiftOf{{Donor: 1, On: dayIn(0)}}, drive.ThankedByLetter, dayIn(1))
			return err
		}},
		{"UndoThanks", func(act drive.Act) error { _, err := s.UndoThanks(ctx, act, 1); return err }},
		{"EraseDonor", func(act drive.Act) error { _, err := s.EraseDonor(ctx, act, 1); return err }},
		{"CreateLabelPaper", func(act drive.Act) error {
			_, err := s.CreateLabelPaper(ctx, act, aLabelPaper(0), length.CM)
			return err
		}},
		{"UpdateLabelPaper", func(act drive.Act) error {
			p := aLabelPaper(1)
			p.Columns = 2
			_, err := s.UpdateLabelPaper(ctx, act, p, length.CM)
			return err
		}},
		{"RetireLabelPaper", func(act drive.Act) error { _, err := s.RetireLabelPaper(ctx, act, 1); return err }},
		{"RestoreLabelPaper", func(act drive.Act) error { _, err := s.RestoreLabelPaper(ctx, act, 1); return err }},
		{"PrintLabels", func(act drive.Act) error {
			_, err := s.PrintLabels(ctx, act, drive.LabelWish{Which: drive.LabelsMissing, Start: 1, Paper: aLabelPaper(1)})
			return err
		}},
		{"UndoLabelPrint", func(act drive.Act) error { _, err := s.UndoLabelPrint(ctx, act, 1); return err }},
		{"HandleCloth", func(act drive.Act) error {
			if _, err := s.TagLots(ctx, s.fresh(), []drive.Tagging{{Pieces: 1, ReceivedOn: dayIn(0)}}); err != nil {
				return err
			}
			if _, err := s.MeasureLot(ctx, s.fresh(), 2, 1, cotton(1, 170*inch)); err != nil {
				return err
			}
			done, err := s.HandleCloth(ctx, act, 2, 0, drive.Handling{Kind: drive.DeedDiscarded, Piece: 1, All: true, Reason: "mildew"})
			deed = done.Deed
			return err
		}},
		{"UndoCloth", func(act drive.Act) error {
			if _, err := s.UndoCloth(ctx, act, 2, deed); err != nil {
				return err
			}
			_, err := s.SetAside(ctx, s.fresh(), 2, "mildew")
			return err
		}},
		{"BeginStocktake", func(act drive.Act) error {
			dropped, err := s.BeginStocktake(ctx, s.fresh(), "B2")
			require.NoError(t, err)
			_, err = s.DropStocktake(ctx, s.fresh(), dropped)
			require.NoError(t, err)
			take, err = s.BeginStocktake(ctx, act, "")
			return err
		}},
		{"CountLot", func(act drive.Act) error {
			_, err := s.CountLot(ctx, act, take, 2, 0, map[int]length.Length{1: 160 * inch}, false)
			return err
		}},
		{"ForgetCount", func(act drive.Act) error {
			_, err := s.ForgetCount(ctx, act, take, 2)
			require.NoError(t, err)
			_, err = s.CountLot(ctx, s.fresh(), take, 2, 0, map[int]length.Length{1: 160 * inch}, false)
			return err
		}},
		{"PostStocktake", func(act drive.Act) error { _, err := s.PostStocktake(ctx, act, take, "counted"); return err }},
		{"DropStocktake", func(act drive.Act) error {
			dropped, err := s.BeginStocktake(ctx, s.fresh(), "")
			require.NoError(t, err)
			_, err = s.DropStocktake(ctx, act, dropped)
			return err
		}},
		{"SaveSupply", func(act drive.Act) (err error) {
			supply, err = s.SaveSupply(ctx, act, drive.Supply{Name: "white thread", Unit: "spools", Have: 10, Used: 1, PerKits: 4, Note: zephyr})
			return err
		}},
		{"MoveSupply", func(act drive.Act) error { _, err := s.MoveSupply(ctx, act, supply, -3); return err }},
		{"RetireSupply", func(act drive.Act) error { _, err := s.RetireSupply(ctx, act, supply); return err }},
		{"ImportFabric", func(act drive.Act) error {
			trim := cut(3, "X2", zephyr, 170*inch)
			trim.Value.Measured.Print = drive.PrintSolid
			_, err := s.ImportFabric(ctx, act, []drive.Incoming[drive.LotIn]{cut(2, "X1", zephyr, 170*inch), trim}, false)
			return err
		}},
		{"TakeTally", func(act drive.Act) error {
			_, err := s.TakeTally(ctx, act, []drive.Incoming[drive.LotIn]{cut(1, "Y1", zephyr, 170*inch), cut(2, "", zephyr+" 6", 170*inch)})
			return err
		}},
		{"ImportPeople", func(act drive.Act) error { _, err := s.ImportPeople(ctx, act, row(zephyr+" 3"), true); return err }},
		{"Import", func(act drive.Act) error {
			_, err := s.Import(ctx, act, drive.Bringing{Kind: drive.BringPeople, People: row(zephyr + " 4")}, true)
			return err
		}},
		{"ImportTold", func(act drive.Act) error {
			_, err := s.ImportTold(ctx, act, drive.Bringing{Kind: drive.BringPeople, People: row(zephyr + " 6")}, true, nil)
			return err
		}},
		{"ImportDonors", func(act drive.Act) error {
			in := drive.DonorIn{Donor: drive.Donor{Name: zephyr + " 5"}, Contacts: drive.DonorContacts{Email: zephyrMail}}
			_, err := s.ImportDonors(ctx, act, []drive.Incoming[drive.DonorIn]{{Line: 2, Value: in}}, false)
			return err
		}},
		{"UndoImport", func(act drive.Act) error {
			list, err := s.Imports(ctx, "spring")
			require.NoError(t, err)
			_, err = s.UndoImport(ctx, act, list[0].Number)
			return err
		}},
		{"ImportAsked", func(act drive.Act) error {
			in := drive.AskedIn{
				Recipient: drive.Recipient{Kind: drive.RecipientWard, Name: "Ward 5", Contact: zephyr, Phone: zephyrPhone},
				SizeNames: []string{size.Name}, Line: drive.Asked{Wanted: 2, Matter: drive.MatterShould},
			}
			_, err := s.ImportAsked(ctx, act, []drive.Incoming[drive.AskedIn]{{Line: 2, Value: in}}, false)
			return err
		}},
		{"KeepUpload", func(act drive.Act) (err error) {
			upload, err = s.KeepUpload(ctx, act, drive.BringPeople, zephyr+".csv", []byte(zephyr))
			return err
		}},
		{"ReadUploadAs", func(act drive.Act) error {
			return s.ReadUploadAs(ctx, act, upload, UploadReading{Sheet: zephyr, Means: map[string]string{"who": "name"}, Forget: []string{"whom"}})
		}},
		{"RequestTake", func(act drive.Act) error { return s.RequestTake(ctx, act, upload, true) }},
		{"StopTake", func(act drive.Act) error { _, err := s.StopTake(ctx, act, upload); return err }},
		{"ImportUpload", func(act drive.Act) error {
			require.NoError(t, s.RequestTake(ctx, s.fresh(), upload, true))
			job, err := s.BeginTake(ctx, "spring", upload)
			if err != nil {
				return err
			}
			act.Key = job.Act.Key
			_, err = s.ImportUpload(ctx, act, upload, drive.Bringing{Kind: drive.BringPeople, People: row(zephyr + " 7")}, true, nil)
			return err
		}},
		{"DropUpload", func(act drive.Act) error { return s.DropUpload(ctx, act, upload) }},
	}
	return slices.Concat(before, storyOfPlans(t, s, &ward), storyOfKits(t, s, &size, &ward, &asked, &person), []told{
		{"ErasePerson", func(act drive.Act) error {
			gone, err := s.CreatePerson(ctx, s.fresh(), drive.Person{Kind: drive.PersonVolunteer, Name: zephyr + " the third", Heads: 1}, contacts)
			require.NoError(t, err)
			_, err = s.ErasePerson(ctx, act, gone.Number)
			return err
		}},
		{"BookSlivers", func(act drive.Act) (err error) {
			short, err := s.TagLots(ctx, s.fresh(), []drive.Tagging{{Pieces: 1, ReceivedOn: dayIn(0)}})
			require.NoError(t, err)
			_, err = s.MeasureLot(ctx, s.fresh(), short.Numbers[0], 1, cotton(1, 3*inch))
			require.NoError(t, err)
			slivers, err = s.BookSlivers(ctx, act)
			return err
		}},
		{"UndoSlivers", func(act drive.Act) error { _, err := s.UndoSlivers(ctx, act, slivers); return err }},
		{"UntagLot", func(act drive.Act) error {
			slip, err := s.TagLots(ctx, s.fresh(), []drive.Tagging{{Donor: zephyr, Note: zephyr, Pieces: 1, ReceivedOn: dayIn(0)}})
			require.NoError(t, err)
			_, err = s.UntagLot(ctx, act, slip.Numbers[0])
			return err
		}},
	})
}
