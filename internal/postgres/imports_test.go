package postgres

import (
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

// cut is a row of fabric with a code, as a spreadsheet brings it.
func cut(line int, code, donor string, long length.Length) drive.Incoming[drive.LotIn] {
	m := cotton(1, long)
	return drive.Incoming[drive.LotIn]{Line: line, Value: drive.LotIn{
		Tagging:  drive.Tagging{Tag: code, Donor: donor, Pieces: 1, ReceivedOn: drive.Day(noon, time.UTC)},
		Measured: &m,
		Columns:  map[string]string{"tag": "Code", "length": "Yardage", "donor": "Given by"},
	}}
}

func everyLotAdds(t testing.TB, s *testStore) {
	t.Helper()
	list, err := s.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	for _, l := range list.Lots {
		lotAdds(t, s, l.Number)
	}
}

func TestImportFabric(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	rows := []drive.Incoming[drive.LotIn]{cut(2, "A01", "Orla", 90*inch), cut(3, "A02", "orla", 60*inch), cut(4, "A03", "", 50*inch)}
	rows[1].Value.Measured.Border, rows[1].Value.Measured.BorderDepth = drive.BorderOne, 27*inch
	rows[2].Value.Measured = nil

	preview, err := s.PreviewFabric(t.Context(), "spring", rows, false)
	require.NoError(t, err)
	report, err := s.ImportFabric(t.Context(), s.fresh(), rows, false)
	require.NoError(t, err)
	require.Equal(t, 3, report.Taken)
	require.Equal(t, preview.Taken, report.Taken, "the preview says what happens")
	require.Empty(t, report.Refused)
	everyLotAdds(t, s)
	donors, err := s.Donors(t.Context(), "spring", "")
	require.NoError(t, err)
	require.Len(t, donors, 1)
	require.Equal(t, 2, donors[0].Lots)

	again, err := s.ImportFabric(t.Context(), s.fresh(), rows, false)
	require.NoError(t, err)
	require.Equal(t, drive.ImportReport{Rows: 3, Unchanged: 3, Refused: []drive.Refusal{}, Fates: again.Fates}, again, "the same file twice changes nothing")
	list, err := s.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	require.Equal(t, 3, list.Total)

	rows[2] = cut(4, "a03", "Pim", 50*inch)
	later, err := s.ImportFabric(t.Context(), s.fresh(), rows, false)
	require.NoError(t, err)
	require.Equal(t, 1, later.Taken, "a lot that waits takes its size from the file")
	lot := lotAdds(t, s, 3)
	require.True(t, lot.Measured())
	require.Equal(t, "Pim", lot.DonorName)
}

func TestImportFabricRefused(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	_, err := s.ImportFabric(t.Context(), s.fresh(), []drive.Incoming[drive.LotIn]{cut(2, "A01", "Orla", 90*inch)}, false)
	require.NoError(t, err)
	rows := []drive.Incoming[drive.LotIn]{
		cut(2, "A01", "Orla", 90*inch),
		cut(3, "B01", "Orla", 4000*length.Metre),
		cut(4, "B02", "Orla", 90*inch),
		cut(5, "b02", "Orla", 80*inch),
		cut(6, "", "Orla", 80*inch),
	}
	again := cut(7, "a01", "Orla", 80*inch)
	rows = append(rows, again)
	report, err := s.ImportFabric(t.Context(), s.fresh(), rows, false)
	require.NoError(t, err)
	require.Zero(t, report.Taken, "with any row refused nothing is taken")
	require.Equal(t, 6, report.Rows)
	require.Equal(t, 1, report.Unchanged)
	require.Equal(t, 1, report.Good())
	var lines []int
	for _, r := range report.Refused {
		lines = append(lines, r.Line)
	}
	require.Equal(t, []int{3, 5, 6, 7}, lines)
	require.Equal(t, "Yardage", report.Refused[0].Column)
	require.Contains(t, report.Refused[0].Why, "longer than any bolt")
	require.Contains(t, report.Refused[1].Why, "stands on line 4 already")
	list, err := s.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	require.Equal(t, 1, list.Total)

	report, err = s.ImportFabric(t.Context(), s.fresh(), rows, true)
	require.NoError(t, err)
	require.Equal(t, 1, report.Taken)
	require.Len(t, report.Refused, 4)
	everyLotAdds(t, s)
	other, err := s.ImportFabric(t.Context(), s.fresh(), []drive.Incoming[drive.LotIn]{cut(2, "A01", "Orla", 91*inch)}, true)
	require.NoError(t, err)
	require.Contains(t, other.Refused[0].Why, "hangs on lot 1, which is 2 1/2 yd long")
	other, err = s.ImportFabric(t.Context(), s.fresh(), []drive.Incoming[drive.LotIn]{cut(2, "A01", "Somebody else", 90*inch)}, true)
	require.NoError(t, err)
	require.Equal(t, "Given by", other.Refused[0].Column)
}

func TestSameFileAtTwoDesks(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	var rows []drive.Incoming[drive.LotIn]
	for i := range 20 {
		rows = append(rows, cut(i+2, fmt.Sprintf("T%02d", i), "Orla", 90*inch))
	}
	var wait sync.WaitGroup
	taken := make([]int, 4)
	for i := range taken {
		act := s.act(fmt.Sprintf("desk-%d", i))
		wait.Go(func() {
			report, err := s.ImportFabric(t.Context(), act, rows, false)
			require.NoError(t, err)
			taken[i] = report.Taken
		})
	}
	wait.Wait()
	require.ElementsMatch(t, []int{20, 0, 0, 0}, taken)
}

func TestImportPeopleAndDonors(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	pace := 4
	people := []drive.Incoming[drive.PersonIn]{
		{Line: 2, Value: drive.PersonIn{Person: drive.Person{Name: "Marit Osgood", Kind: drive.PersonVolunteer, Pace: &pace}, Contacts: drive.Contacts{Email: "marit@example.org"}}},
		{Line: 3, Value: drive.PersonIn{Person: drive.Person{Name: "Millrace School", Kind: drive.PersonSchool, Heads: 18}}},
	}
	report, err := s.ImportPeople(t.Context(), s.fresh(), people, false)
	require.NoError(t, err)
	require.Equal(t, 2, report.Taken)
	again, err := s.ImportPeople(t.Context(), s.fresh(), people, false)
	require.NoError(t, err)
	require.Equal(t, 2, again.Unchanged)
	require.Empty(t, again.Fates[0].Notes)
	people[0].Value.Contacts.Email = "new@example.org"
	people = append(people,
		drive.Incoming[drive.PersonIn]{Line: 4, Value: drive.PersonIn{Person: drive.Person{Name: "MARIT osgood", Kind: drive.PersonVolunteer}}},
		drive.Incoming[drive.PersonIn]{Line: 5, Value: drive.PersonIn{Person: drive.Person{Name: "", Kind: drive.PersonVolunteer}}})
	again, err = s.ImportPeople(t.Context(), s.fresh(), people, true)
	require.NoError(t, err)
	require.Zero(t, again.Taken)
	require.Contains(t, again.Fates[0].Notes[0], "otherwise there: e-mail.")
	require.NotContains(t, again.Fates[0].Notes[0], "example.org")
	require.Len(t, again.Refused, 2)
	kept, err := s.Contacts(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, "marit@example.org", kept.Email, "what is here stays")

	donors := []drive.Incoming[drive.DonorIn]{{Line: 2, Value: drive.DonorIn{Donor: drive.Donor{Name: "Orla", Letter: true}, Contacts: drive.DonorContacts{Phone: "555 0199"}}}}
	report, err = s.ImportDonors(t.Context(), s.fresh(), donors, false)
	require.NoError(t, err)
	require.Equal(t, 1, report.Taken)
	report, err = s.ImportDonors(t.Context(), s.fresh(), donors, false)
	require.NoError(t, err)
	require.Equal(t, 1, report.Unchanged)
	contacts, err := s.DonorContacts(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, "555 0199", contacts.Phone)
}

func TestImportAsked(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	addSize(t, s, "standard")
	due := drive.Day(noon.AddDate(0, 1, 0), time.UTC)
	row := func(line int, who, size string, wanted int) drive.Incoming[drive.AskedIn] {
		return drive.Incoming[drive.AskedIn]{Line: line, Value: drive.AskedIn{
			Recipient: drive.Recipient{Name: who, Kind: drive.RecipientWard, Fibres: []string{"cotton"}}, SizeNames: []string{size},
			Line: drive.Asked{Wanted: wanted, Due: &due, Matter: drive.MatterMust}, Columns: map[string]string{"sizes": "Size", "recipient": "Who"},
		}}
	}
	rows := []drive.Incoming[drive.AskedIn]{row(2, "Larkspur ward", "Standard", 60), row(3, "Larkspur ward", "travel", 24)}
	report, err := s.ImportAsked(t.Context(), s.fresh(), rows, false)
	require.NoError(t, err)
	require.Zero(t, report.Taken)
	require.Equal(t, []drive.Refusal{{Line: 3, Column: "Size", Why: `There is no size called "travel" here. Add it under Sizes first, or use the name it has there.`}}, report.Refused)
	addSize(t, s, "travel")
	report, err = s.ImportAsked(t.Context(), s.fresh(), rows, false)
	require.NoError(t, err)
	require.Equal(t, 2, report.Taken)
	lines, err := s.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, lines, 2)
	require.Equal(t, lines[0].Recipient, lines[1].Recipient, "one recipient on two lines")
	require.Equal(t, 100, lines[0].Weight)

	s.clock.forward(90 * 24 * time.Hour) // the day has passed, and the file is still the same
	report, err = s.ImportAsked(t.Context(), s.fresh(), rows, false)
	require.NoError(t, err)
	require.Equal(t, 2, report.Unchanged)
	rows[0].Value.Line.Wanted = 61
	report, err = s.ImportAsked(t.Context(), s.fresh(), rows, false)
	require.NoError(t, err)
	require.Contains(t, report.Refused[0].Why, "asks for 60")
}

func TestImportIsOneAct(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	rows := []drive.Incoming[drive.LotIn]{cut(2, "A01", "Orla", 90*inch)}
	first, err := s.ImportFabric(t.Context(), s.act("once"), rows, false)
	require.NoError(t, err)
	second, err := s.ImportFabric(t.Context(), s.act("once"), rows, false)
	require.NoError(t, err)
	require.Equal(t, first.Taken, second.Taken, "the same form sent twice answers the same")
	_, err = s.ImportFabric(t.Context(), s.act("once"), rows, true)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
}

// Ten thousand lots with borders and flaws among them, as one act. Run with
// -benchtime 1x; the aim is under 10 s and 300 MiB on two cores.
func BenchmarkImportFabric(b *testing.B) {
	var rows []drive.Incoming[drive.LotIn]
	for i := range 10_000 {
		r := cut(i+2, fmt.Sprintf("L%05d", i), fmt.Sprintf("Donor %d", i%300), length.Length(40+i%200)*inch)
		if i%10 == 0 {
			r.Value.Measured.Cuts[0].Flaws = []sizing.Flaw{{From: 20 * inch, To: 22 * inch}}
		}
		r.Value.Note = strings.Repeat("n", 40)
		rows = append(rows, r)
	}
	for b.Loop() {
		s := newStore(b)
		startDrive(b, s)
		report, err := s.ImportFabric(b.Context(), s.fresh(), rows, false)
		require.NoError(b, err)
		require.Equal(b, len(rows), report.Taken)
	}
}
