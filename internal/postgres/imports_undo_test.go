package postgres

import (
	"strings"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// whyOf gives why each thing that an import made would stay, by kind and name.
func whyOf(t *testing.T, s *testStore, number int64) map[string]string {
	t.Helper()
	_, all, err := s.ImportMade(t.Context(), "spring", number)
	require.NoError(t, err)
	why := map[string]string{}
	for _, b := range all {
		why[string(b.Kind)+" "+b.Name] = b.Why
	}
	return why
}

// The wrong file is taken back as a whole by counter-entries, but for what somebody has touched.
func TestFabricBroughtByMistakeIsTakenBack(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	first := cut(2, "A00", "Pim", 50*inch)
	first.Value.Measured = nil
	_, err := s.ImportFabric(t.Context(), s.fresh(), []drive.Incoming[drive.LotIn]{first}, false)
	require.NoError(t, err)
	rows := []drive.Incoming[drive.LotIn]{cut(2, "A01", "Orla", 90*inch), cut(3, "A02", "Una", 60*inch), cut(4, "A03", "Orla", 50*inch), cut(5, "A00", "Pim", 50*inch)}
	rows[1].Value.Measured.Border, rows[1].Value.Measured.BorderDepth = drive.BorderOne, 27*inch
	rows[2].Value.Measured = nil
	report, err := s.ImportFabric(t.Context(), s.fresh(), rows, false)
	require.NoError(t, err)
	require.Equal(t, 4, report.Taken)
	_, err = s.SetAside(t.Context(), s.fresh(), 3, "mildew") // of A02
	require.NoError(t, err)
	want := map[string]string{"lot A01": "", "lot A02": "Lot 3 was changed since.", "lot A03": "", "lot size A00": "", "donor Orla": "", "donor Una": "Gave a lot that stays."}
	require.Equal(t, want, whyOf(t, s, 2), "a look beforehand says what would come of it")

	act := s.act("wrong file")
	undone, err := s.UndoImport(t.Context(), act, 2)
	require.NoError(t, err)
	require.Equal(t, ImportUndone{Undone: 4, Left: 2}, undone)
	again, err := s.UndoImport(t.Context(), act, 2)
	require.NoError(t, err)
	require.Equal(t, undone, again, "the same form twice")
	agrees(t, s)
	list, err := s.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	var tags []string
	for _, l := range list.Lots {
		tags = append(tags, *l.Tag)
		require.Equal(t, *l.Tag == "A02", l.Measured(), *l.Tag)
	}
	require.ElementsMatch(t, []string{"A00", "A02"}, tags)
	donors, err := s.Donors(t.Context(), "spring", "")
	require.NoError(t, err)
	require.Len(t, donors, 2, "Pim and Una")

	_, err = s.UndoImport(t.Context(), s.fresh(), 2)
	require.True(t, apperr.Is(err, apperr.KindConflict), "what is left was changed: %v", err)
	report, err = s.ImportFabric(t.Context(), s.fresh(), rows, true)
	require.NoError(t, err)
	require.Equal(t, 3, report.Taken, "the right file may bring the same codes")
	agrees(t, s)
	_, err = s.UndoImport(t.Context(), s.fresh(), 9)
	require.True(t, apperr.Is(err, apperr.KindNotFound))
}

// What a wrong file said of a lot that was here, who gave it and what cloth it is, goes with its size;
// and so does the donor whom the file named for it alone.
func TestWhatAWrongFileSaidOfAKnownLotGoes(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	const lot = 1
	for i, tag := range []string{"K1", "K2"} {
		of := drive.Tagging{Tag: tag, Kind: "bolt end", Pieces: 2, ReceivedOn: drive.Day(noon, time.UTC)}
		if i == 0 {
			of.Shelf, of.Make = "B2", drive.Make{Print: "tonal", Turn: "either", Colours: []string{"sage"}}
		}
		_, err := s.TagLots(t.Context(), s.fresh(), []drive.Tagging{of})
		require.NoError(t, err)
	}
	was, err := s.Lot(t.Context(), "spring", lot)
	require.NoError(t, err)
	rows := []drive.Incoming[drive.LotIn]{cut(2, "K1", "Orla", 90*inch), cut(3, "K2", "", 50*inch)}
	wrong, shelf := rows[0].Value.Measured, "Z9"
	wrong.Torn, wrong.Shelf, wrong.Make = true, &shelf, drive.Make{Fibre: "linen", Weight: "quilting", Washed: true, Print: "feature", Turn: "along", TrimOK: true, Colours: []string{"navy", "white"}, Themes: []string{"sea"}}
	_, err = s.ImportFabric(t.Context(), s.fresh(), rows, false)
	require.NoError(t, err)
	require.Equal(t, map[string]string{"lot size K1": "", "lot size K2": "", "donor Orla": ""}, whyOf(t, s, 1))
	undone, err := s.UndoImport(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	require.Equal(t, ImportUndone{Undone: 3}, undone)
	is, err := s.Lot(t.Context(), "spring", lot)
	require.NoError(t, err)
	is.Version = was.Version
	require.Equal(t, was.Lot, is.Lot)
	donors, err := s.Donors(t.Context(), "spring", "")
	require.NoError(t, err)
	require.Empty(t, donors)
	_, err = s.ImportFabric(t.Context(), s.fresh(), []drive.Incoming[drive.LotIn]{cut(2, "K1", "Pim", 60*inch)}, false)
	require.NoError(t, err, "the right file is no lot of somebody else's")
	agrees(t, s)
}

// Cloth that a plan has stays, and goes once the plan has given it up.
func TestClothThatIsPromisedStays(t *testing.T) {
	s, _ := planned(t)
	_, err := s.ImportFabric(t.Context(), s.fresh(), []drive.Incoming[drive.LotIn]{cut(2, "Z1", "Orla", 360*inch)}, false)
	require.NoError(t, err)
	plan := makePlan(t, s)
	_, err = s.AcceptPlan(t.Context(), s.fresh(), plan)
	require.NoError(t, err)
	_, err = s.UndoImport(t.Context(), s.fresh(), 1)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	require.Contains(t, whyOf(t, s, 1)["lot Z1"], "is promised to a plan")
	_, err = s.WithdrawPlan(t.Context(), s.fresh(), plan)
	require.NoError(t, err)
	undone, err := s.UndoImport(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	require.Zero(t, undone.Left)
	agrees(t, s)
}

// People, donors and what is asked for go as rows, but for those of whom something came.
func TestListsBroughtByMistakeAreTakenBack(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	size := addSize(t, s, "standard")
	var people []drive.Incoming[drive.PersonIn]
	for i, name := range []string{"Marit", "Nell", "Odo"} {
		people = append(people, drive.Incoming[drive.PersonIn]{Line: i + 2, Value: drive.PersonIn{Person: drive.Person{Name: name, Kind: drive.PersonVolunteer}}})
	}
	_, err := s.ImportPeople(t.Context(), s.fresh(), people, false)
	require.NoError(t, err)
	due := dayIn(9)
	ownKits(t, s, size, 1, 2, 1, &due)
	require.Equal(t, map[string]string{"person Marit": "Has had a kit.", "person Nell": "", "person Odo": ""}, whyOf(t, s, 1))
	undone, err := s.UndoImport(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	require.Equal(t, ImportUndone{Undone: 2, Left: 1}, undone)

	row := func(line int, who string, wanted int) drive.Incoming[drive.AskedIn] {
		return drive.Incoming[drive.AskedIn]{Line: line, Value: drive.AskedIn{
			Recipient: drive.Recipient{Name: who, Kind: drive.RecipientWard}, SizeNames: []string{"standard"},
			Line: drive.Asked{Wanted: wanted, Matter: drive.MatterMust}, Columns: map[string]string{},
		}}
	}
	_, err = s.ImportAsked(t.Context(), s.fresh(), []drive.Incoming[drive.AskedIn]{row(2, "Ward 1", 6), row(3, "Ward 2", 8), row(4, "Ward 3", 9)}, false)
	require.NoError(t, err)
	_, err = s.CloseAsked(t.Context(), s.fresh(), 2)
	require.NoError(t, err)
	require.Equal(t, map[string]string{
		"asked Ward 1": "", "asked Ward 2": "Changed since.", "asked Ward 3": "",
		"recipient Ward 1": "", "recipient Ward 2": "Asks for something that stays.", "recipient Ward 3": "",
	}, whyOf(t, s, 2))
	undone, err = s.UndoImport(t.Context(), s.fresh(), 2)
	require.NoError(t, err)
	require.Equal(t, ImportUndone{Undone: 4, Left: 2}, undone)
	recipients, err := s.Recipients(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, recipients, 1)

	donors := []drive.Incoming[drive.DonorIn]{{Line: 2, Value: drive.DonorIn{Donor: drive.Donor{Name: "Bo"}}}}
	_, err = s.ImportDonors(t.Context(), s.fresh(), donors, false)
	require.NoError(t, err)
	undone, err = s.UndoImport(t.Context(), s.fresh(), 3)
	require.NoError(t, err)
	require.Equal(t, ImportUndone{Undone: 1}, undone)
	_, err = s.UndoImport(t.Context(), s.fresh(), 3)
	require.ErrorContains(t, err, "taken back already")
	agrees(t, s)
	list, err := s.Imports(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, []int{1, 0}, []int{list[0].Undone, list[0].Left}, "newest first")
}

// What hangs on a row by its key keeps it: each such key is asked about by name, so that a new
// table is not found out by an organiser.
func TestEveryKeyKeepsWhatItHangsOn(t *testing.T) {
	s := newStore(t)
	const q = `SELECT c.confrelid::regclass::text, c.conrelid::regclass::text FROM pg_constraint c
		WHERE c.contype = 'f' AND c.confrelid::regclass::text IN ('people', 'donors', 'recipients', 'asked')`
	rows, err := s.db.Owner().Query(t.Context(), q)
	require.NoError(t, err)
	asks := map[string]string{"people": peopleMade, "donors": donorsMade, "recipients": recipientsMade, "asked": askedMade}
	var of, table string
	n := 0
	_, err = pgx.ForEachRow(rows, []any{&of, &table}, func() error {
		n++
		if table != "asked_sizes" { // goes with its line
			require.True(t, strings.Contains(asks[of], "FROM "+table+" "), "%s hang on %s", table, of)
		}
		return nil
	})
	require.NoError(t, err)
	require.Greater(t, n, 10)
}

// Somebody of a wrong list whose hours are being noted stays.
func TestWhoSewsMeanwhileStays(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	_, err := s.ImportPeople(t.Context(), s.fresh(), []drive.Incoming[drive.PersonIn]{{Line: 2, Value: drive.PersonIn{Person: drive.Person{Name: "Marit", Kind: drive.PersonVolunteer}}}}, false)
	require.NoError(t, err)
	held, err := s.db.Owner().Begin(t.Context())
	require.NoError(t, err)
	defer func() { _ = held.Rollback(t.Context()) }()
	_, err = held.Exec(t.Context(), `SELECT FROM people FOR SHARE`)
	require.NoError(t, err)
	ended := make(chan error)
	act := s.fresh()
	go func() { _, err := s.UndoImport(t.Context(), act, 1); ended <- err }()
	require.Eventually(t, func() bool { return lockWaiters(t, s) == 1 }, 20*time.Second, 5*time.Millisecond)
	day := drive.Day(s.clock.now, time.UTC)
	_, err = held.Exec(t.Context(), `INSERT INTO hours (drive_id, number, person, day, doing, heads, minutes, at, who) VALUES ('spring', 1, 1, $1, 'sewing', 1, 60, now(), 1)`, day)
	require.NoError(t, err)
	require.NoError(t, held.Commit(t.Context()))
	require.True(t, apperr.Is(<-ended, apperr.KindConflict))
	require.Equal(t, map[string]string{"person Marit": "Has given hours."}, whyOf(t, s, 1))
}
