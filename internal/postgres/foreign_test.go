package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"

	"github.com/stretchr/testify/require"
)

// argument gives the value of a type for a question or a wish about whatever has
// the number 1, such that nothing but the number is wrong with it.
func argument(t *testing.T, of reflect.Type) reflect.Value {
	t.Helper()
	day, one, inches := dayIn(0), int64(1), 20*inch
	stack := drive.Stack{Asked: 1, Size: 1, Kit: 1, Part: 1, State: drive.CaseOut}
	for _, v := range []any{
		int64(1), 1, true, "zephyr", day, &day, drive.CaseOut, account.Desk, drive.BringPeople, []byte("zephyr"),
		[]int64{1},
		drive.KitRef{Number: 1, Part: 1},
		[]drive.KitRef{{Number: 1, Part: 1}},
		[]drive.CaseState{drive.CaseGood, drive.CaseOut, drive.CaseConfirmed},
		drive.NewDrive("autumn", "Autumn drive", "Europe/Dublin", length.In), builtIn(t, "standard"),
		drive.Recipient{Number: 1, Version: 1, Kind: drive.RecipientWard, Name: "Hospice"},
		drive.Asked{Number: 1, Version: 1, Recipient: 1, Sizes: []int64{1}, Wanted: 3, Matter: drive.MatterMust},
		drive.StandingAsk{LeadDays: 1, Line: drive.Asked{Recipient: 1, Sizes: []int64{1}, Wanted: 3, Matter: drive.MatterMust, Due: &day}},
		drive.Person{Number: 1, Version: 1, Kind: drive.PersonVolunteer, Name: "Ada", Heads: 1},
		&drive.Contacts{Phone: "5"},
		drive.Donor{Number: 1, Version: 1, Name: "Bo"},
		drive.NewDrive("autumn", "Autumn drive", "Europe/Dublin", length.In).LetterRules(),
		[]drive.GiftOf{{Donor: 1, On: dayIn(0)}},
		drive.Code{Kind: drive.CodeLot, Number: "1"},
		&drive.DonorContacts{},
		[]drive.Tagging{{Donor: "Cy", Pieces: 1, ReceivedOn: day}},
		drive.LotChange{Turn: drive.TurnEither},
		map[int]length.Length{1: inch},
		drive.Supply{Number: 1, Version: 1, Name: "thread", PerKits: 1},
		drive.Handling{Kind: drive.DeedDiscarded, Piece: 1, All: true, Reason: "mildew"},
		cotton(1, 90*inch),
		drive.SheetRef{Number: 1},
		drive.KitReport{KitRef: drive.KitRef{Number: 1, Part: 1}, Person: 1, Kind: drive.ReportCannot},
		drive.Hours{Person: 1, Doing: "sewing", Heads: 1, Minutes: 60},
		[]drive.SignedOut{{Row: 1, Kit: drive.KitRef{Number: 1, Part: 1}, Person: 1}},
		drive.HandOut{Kits: []drive.KitRef{{Number: 1, Part: 1}}, Person: 1},
		drive.KitReturn{Sewn: 1},
		drive.KitCounted{Sewn: 1},
		drive.OwnFabric{Kits: 1, Cases: 2, Size: 1, Asked: &one, Person: &one},
		drive.BroughtIn{Size: 1, N: 1, Asked: 1, Maker: &one},
		stack,
		drive.Checked{Good: 1, Pins: true},
		drive.UsualCheckList(length.In),
		Washing{By: "AB", Lines: []drive.LaundryLine{{Asked: 1, Size: 1, N: 1}}},
		Mending{At: stack, N: 1, Person: 1},
		PackedBox{Recipient: 1, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: 1, Size: 1, N: 1}}},
		Sending{Recipient: 1, Boxes: []int64{1}, SentOn: &day},
		DeliveriesQuery{},
		TrailQuery{Kind: "person"},
		drive.Keeping{},
		drive.KeptForecast{MadeAt: day, Today: day, Form: 1, Found: []byte("{}")},
		[]drive.TrailEntry{{Kind: "person", Subject: "1", Changes: []byte(`{"donor": {"to": 1}}`)}},
		drive.Settlement{Box: 1, Size: 1, Way: drive.SettleMissing, N: 1, Reason: "lost"},
		drive.Confirmation{By: "Ada", How: drive.ByPhone, On: day, Arrived: []drive.Arrived{{Box: 1, Size: 1, N: 1}}},
		drive.Bringing{Kind: drive.BringFabric, Fabric: []drive.Incoming[drive.LotIn]{cut(2, "Z1", "Cy", 70*inch)}},
		[]drive.Incoming[drive.LotIn]{cut(2, "Z2", "Cy", 70*inch)},
		[]drive.Incoming[drive.PersonIn]{{Line: 2, Value: drive.PersonIn{Person: drive.Person{Kind: drive.PersonVolunteer, Name: "Mary Ellis", Heads: 1}}}},
		[]drive.Incoming[drive.DonorIn]{{Line: 2, Value: drive.DonorIn{Donor: drive.Donor{Name: "Zephyr"}}}},
		[]drive.Incoming[drive.AskedIn]{{Line: 2, Value: drive.AskedIn{Recipient: drive.Recipient{Kind: drive.RecipientWard, Name: "Ward 4"}, SizeNames: []string{"Standard"}, Line: drive.Asked{Wanted: 1, Matter: drive.MatterMust}}}},
		LotsQuery{State: LotsAll},
		aLabelPaper(1),
		drive.LabelWish{Which: drive.LabelsNamed, Named: []drive.LabelOf{{Lot: 1}}, Start: 1, Paper: aLabelPaper(1)},
		length.CM,
		KitsQuery{Where: KitsAnywhere, Today: day},
		PeopleQuery{Who: PeopleAll, Today: day, Contacts: true},
		SheetsQuery{All: true},
		PlanStep{Phase: "zephyr"},
		drive.Code{Kind: drive.CodeLot, Number: "1"},
		Photo{Full: []byte("zephyr"), Small: []byte("zephyr"), Width: 4, Height: 3},
		UploadReading{Sheet: "zephyr", Means: map[string]string{"who": "name"}},
		Take{State: drive.TakeTaken},
		drive.AsksFound{Problem: &planning.Problem{Unit: "mm"}, Plan: &planning.Plan{}, Wishes: []drive.Wish{}},
		[]drive.Cloth{{ID: "1/1", Pieces: 1, Width: 44 * inch, Length: 90 * inch, Fibre: "cotton", Weight: "quilting", Washed: true, Print: drive.PrintSolid}},
		drive.Code{Kind: drive.CodeLot, Number: "1"},
		func(int, int) {},
		drive.RemindedByPhone, drive.ReminderFailed, drive.UsualReminderRules(),
		drive.LotRule{Kind: drive.LotKeptFor, Lot: 1, Recipient: &one},
		drive.ClothFound{Length: &inches},
		SliversBooked{},
		[]int64{1, 2},
		&planning.Plan{}, &planning.Problem{Unit: "mm"}, length.Inch,
		Looked{},
		PassWish{Role: account.Desk, Place: "door"},
		Erased{Kind: ErasedPerson, Drive: "autumn", Number: 1, At: time.Date(2126, 1, 1, 0, 0, 0, 0, time.UTC)},
		drive.LooseKit{Size: 1, Asked: &one, Cases: 1, Lots: map[string]int64{"body": 1}},
		drive.Swap{},
		drive.Swapped{Problem: &planning.Problem{Unit: "mm"}, Plan: &planning.Plan{}},
	} {
		if reflect.TypeOf(v) == of {
			return reflect.ValueOf(v)
		}
	}
	require.Failf(t, "no argument", "say here what a %s may be", of)
	return reflect.Value{}
}

// beside gives a store with the drive "autumn", in which there is nothing, and
// beside it, or not, the drive "spring", in which everything has the number 1.
func beside(t *testing.T, spring bool) *testStore {
	t.Helper()
	s := newStore(t)
	if spring {
		s, _ = lived(t)
		tagged(t, s, "Zephyr", 1)
		_, err := s.UpdateLetterRules(t.Context(), s.fresh(), drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In).LetterRules())
		require.NoError(t, err)
		_, err = s.NoteThanks(t.Context(), s.fresh(), []drive.GiftOf{{Donor: 1, On: drive.Day(s.clock.now, time.UTC)}}, drive.ThankedByWords, dayIn(0))
		require.NoError(t, err)
		_, err = s.CreateLabelPaper(t.Context(), s.fresh(), aLabelPaper(0), length.CM)
		require.NoError(t, err)
		_, err = s.PrintLabels(t.Context(), s.fresh(), drive.LabelWish{Which: drive.LabelsMissing, Start: 1, Paper: aLabelPaper(1)})
		require.NoError(t, err)
		_, err = s.KeepUpload(t.Context(), s.fresh(), drive.BringPeople, "zephyr.csv", []byte("zephyr"))
		require.NoError(t, err)
	}
	startDriveAs(t, s, "autumn")
	return s
}

// answered is what a method gives, as text.
func answered(t *testing.T, results []reflect.Value) string {
	t.Helper()
	var all []string
	for _, r := range results {
		if err, is := r.Interface().(error); is {
			require.NotNil(t, apperr.As(err), "nothing that is not for people: %v", err)
			all = append(all, err.Error())
			continue
		}
		if r.Kind() == reflect.Map { // its keys may be structs, which JSON does not take
			all = append(all, fmt.Sprintf("%+v", r.Interface()))
			continue
		}
		text, err := json.Marshal(r.Interface())
		require.NoError(t, err)
		all = append(all, string(text))
	}
	return strings.Join(all, "\n")
}

// Whatever is asked or wished in one drive about what belongs to another comes to
// the same as if the other were not there, and changes nothing of it.
func TestForeignThingsAreNotThere(t *testing.T) {
	with, without := beside(t, true), beside(t, false)
	tables := []string{
		"lots", "pieces", "fabric_entries", "fabric_deeds", "fabric_washes", "letter_rules", "thanks", "stocktakes", "stocktake_lots", "supplies", "hours", "keeping", "standing_asks", "kit_reports", "reminders", "reminder_rules", "reminder_stops", "label_papers", "label_prints", "label_printed", "kits", "kit_entries", "case_entries", "case_balances", "case_notes", "laundry", "laundry_lines", "laundry_left", "box_rules", "check_lists", "checks", "check_lines", "plans", "sheets", "panels", "sheet_remnants", "boxes",
		"box_lines", "deliveries", "delivery_answers", "delivery_counts", "delivery_settled", "donors", "people", "recipients", "sizes", "asked", "asked_sizes", "memberships", "invites", "passes", "counters", "uploads", "imports", "import_rows", "heading_choices", "asks", "forecasts",
	}
	ofSpring := func() string {
		var kept []string
		for _, table := range tables {
			var text string
			q := `SELECT coalesce(string_agg(x::text, E'\n' ORDER BY x::text), '') FROM ` + table + ` x WHERE drive_id = 'spring'`
			require.NoError(t, with.db.Owner().QueryRow(t.Context(), q).Scan(&text))
			kept = append(kept, text)
		}
		return strings.Join(kept, "\n")
	}
	before := ofSpring()
	store, tried := reflect.TypeFor[*Store](), 0
	for _, wishes := range []bool{false, true} { // questions first, while autumn is empty
		for i := range store.NumMethod() {
			m := store.Method(i)
			if m.Type.NumIn() < 3 || m.Type.In(1) != reflect.TypeFor[context.Context]() || m.Type.IsVariadic() && m.Type.NumIn() < 4 {
				continue
			}
			isWish := m.Type.In(2) == reflect.TypeFor[drive.Act]()
			isQuestion := m.Type.In(2).Kind() == reflect.String && !strings.Contains("Credentials Link Live Orphans UseFirstLink UseAccountLink InviteOf JoinByInvite TakeInvite PassOf OpenPass FailStrandedPlans KeptBackups", m.Name)
			if wishes != isWish || !wishes && !isQuestion || strings.Contains("PersonLink RecipientLink NewestInTrail", m.Name) || // by chance, or counted over all drives, as are those of accounts
				strings.Contains("CreateDrive AddAccount SetRole AccountLink UndoCases MakePass EndSignIn ChangePassword EndOtherSignIns NotMe WasMe "+
					"BeginSecondStep ConfirmSecondStep RenewRecovery EndSecondStep ResetSecondStep", m.Name) {
				continue
			}
			var came [2]string
			for j, s := range []*testStore{with, without} {
				args := []reflect.Value{reflect.ValueOf(s.Store), reflect.ValueOf(t.Context()), reflect.ValueOf("autumn")}
				if isWish {
					args[2] = reflect.ValueOf(s.actIn("autumn", fmt.Sprintf("foreign-%d", i)))
				}
				for k := 3; k < m.Type.NumIn(); k++ {
					args = append(args, argument(t, m.Type.In(k)))
				}
				if m.Type.IsVariadic() {
					came[j] = answered(t, m.Func.CallSlice(args))
				} else {
					came[j] = answered(t, m.Func.Call(args))
				}
			}
			require.Equal(t, came[1], came[0], "%s in a drive beside another comes to the same as alone", m.Name)
			require.NotContains(t, strings.ToLower(came[0]), "mary ellis", m.Name)
			tried++
		}
	}
	require.Greater(t, tried, 90)
	// The steps of all drives are numbered in one row.
	_, err := with.UndoCases(t.Context(), with.actIn("autumn", "foreign-step"), 0, 1)
	require.EqualError(t, err, "There is no such step here.")
	require.Equal(t, before, ofSpring(), "nothing of the other drive is changed")
	agrees(t, with)
}
