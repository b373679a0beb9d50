package postgres

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// TestAWardAndADeskAtOnce: the ward sends what it counted, the desk notes a phone call, an
// organiser settles and somebody undoes, all at the same moment: one after the other, and
// every pillowcase stands in one place after it.
func TestAWardAndADeskAtOnce(t *testing.T) {
	s, a := wardOf(t, 60)
	number, box := onTheWay(t, s, a, 12)
	size := a.Sizes[0]
	var wg sync.WaitGroup
	refused := make(chan error, 40)
	for i := range 40 {
		wg.Go(func() {
			var err error
			act := s.act(fmt.Sprintf("race-%d", i))
			said := drive.Confirmation{By: "Ward 4", How: drive.ByPhone, On: dayIn(0), Arrived: []drive.Arrived{{Box: box, Size: size, N: 9 + i%6}}}
			switch i % 4 {
			case 0:
				said.How = drive.OwnPage
				_, err = s.ConfirmDelivery(t.Context(), act, number, said)
			case 1:
				_, err = s.ConfirmDelivery(t.Context(), act, number, said)
			case 2:
				ways := drive.SettleWays()
				_, err = s.SettleDelivery(t.Context(), act, number, drive.Settlement{Box: box, Size: size, Way: ways[i/4%len(ways)], N: 1, Reason: "looked"})
			case 3:
				_, err = s.UndoDelivery(t.Context(), act, number)
			}
			if err != nil {
				refused <- err
			}
		})
	}
	wg.Wait()
	close(refused)
	for err := range refused {
		require.NotNil(t, apperr.As(err), "each of the others is told why: %v", err)
	}
	agrees(t, s)
	d, err := s.Delivery(t.Context(), "spring", number)
	require.NoError(t, err)
	counts := line(t, s, a.Number).Counts
	if d.State() == drive.DeliveryUndone {
		require.Equal(t, 12, counts[drive.CasePacked])
		return
	}
	require.Equal(t, d.Open(), counts[drive.CaseDelivered])
	require.Equal(t, d.Confirmed(), counts[drive.CaseConfirmed])
	require.Equal(t, d.Cases(), d.Confirmed()+d.Open()+d.Missing()+d.Returned())
}

// TestOneFormFromAShakyFinger: the same answer sent a hundred times is one answer.
func TestOneFormFromAShakyFinger(t *testing.T) {
	s, a := wardOf(t, 60)
	number, box := onTheWay(t, s, a, 5)
	said := drive.Confirmation{By: "Ward 4", How: drive.OwnPage, On: dayIn(0), Arrived: []drive.Arrived{{Box: box, Size: a.Sizes[0], N: 4}}}
	var wg sync.WaitGroup
	answers := make([]Settled, 100)
	for i := range answers {
		wg.Go(func() { answers[i], _ = s.ConfirmDelivery(t.Context(), s.act("one-answer"), number, said) })
	}
	wg.Wait()
	for i, got := range answers {
		require.Equal(t, Settled{Cases: 5, Confirmed: 4, Open: 1}, got, "answer %d", i)
	}
	heard, _, err := s.DeliveryHistory(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Len(t, heard, 1)

	// A machine that says something else each time is held off by its link alone.
	var last error
	for i := range answersAnHour {
		said.Arrived[0].N = 3 + i%2
		_, last = s.ConfirmDelivery(t.Context(), s.fresh(), number, said)
	}
	require.True(t, apperr.Is(last, apperr.KindDenied), "%v", last)
	said.How = drive.ByPhone
	_, err = s.ConfirmDelivery(t.Context(), s.fresh(), number, said)
	require.NoError(t, err, "the phone still answers")
}

// TestWhatWasSaidStaysBesideWhatWasSettled: a count is corrected, settled, found again; the
// history tells all of it, and the note stays as it was printed.
func TestWhatWasSaidStaysBesideWhatWasSettled(t *testing.T) {
	s, a := wardOf(t, 60)
	number, box := onTheWay(t, s, a, 10)
	size := a.Sizes[0]
	say := func(n int) Settled {
		t.Helper()
		d, err := s.ConfirmDelivery(t.Context(), s.fresh(), number, drive.Confirmation{
			By: "Sister Hale", How: drive.ByNote, On: dayIn(0), Arrived: []drive.Arrived{{Box: box, Size: size, N: n}},
		})
		require.NoError(t, err)
		return d
	}
	settle := func(way drive.SettleWay, n int) Settled {
		t.Helper()
		d, err := s.SettleDelivery(t.Context(), s.fresh(), number, drive.Settlement{Box: box, Size: size, Way: way, N: n, Reason: "rang the desk"})
		require.NoError(t, err)
		return d
	}
	require.Equal(t, 4, say(6).Open)
	require.Equal(t, 3, settle(drive.SettleFound, 1).Open)
	require.Equal(t, 2, settle(drive.SettleBackGood, 1).Open)
	require.Equal(t, 1, settle(drive.SettleBackCheck, 1).Open)
	require.Equal(t, 0, settle(drive.SettleMissing, 1).Open)
	require.Equal(t, 0, say(6).Open, "who repeats what they said changes nothing that was settled since")
	require.Equal(t, 2, say(9).More, "what was booked as back or missing is said to be there")
	require.Equal(t, 0, settle(drive.SettleMore, 2).More, "one was missing, one is born")
	agrees(t, s)
	counts := line(t, s, a.Number).Counts
	require.Equal(t, []int{9, 1, 1, 0}, []int{counts[drive.CaseConfirmed], counts[drive.CaseGood], counts[drive.CaseSewn], counts[drive.CaseNotReceived]})

	answers, ways, err := s.DeliveryHistory(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Len(t, answers, 3)
	require.Equal(t, []int{6, 6, 9}, []int{answers[0].Counts[0].Arrived, answers[1].Counts[0].Arrived, answers[2].Counts[0].Arrived})
	require.Len(t, ways, 5)
	note, err := s.DeliveryNote(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, 10, note.Note.Cases(), "the note stays as it went")

	_, err = s.UndoDelivery(t.Context(), s.fresh(), number)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
}

// A note counts by the theme of a kit's bodies where all of them have it; of a kit that mixes themes
// nobody knows which pillowcases lie in the box.
func TestNoteNamesThemesOfWholeKitsOnly(t *testing.T) {
	s, a, got := accepted(t)
	for _, number := range sheetsWaiting(t, s) {
		_, err := s.MarkSheetCut(t.Context(), s.fresh(), number)
		require.NoError(t, err)
	}
	ref, mary := drive.KitRef{Number: got.FirstKit, Part: 1}, addPerson(t, s, "Mary Ellis")
	_, err := s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{ref}, Person: mary})
	require.NoError(t, err)
	_, err = s.TakeBack(t.Context(), s.fresh(), ref, drive.KitReturn{Sewn: 2}, time.Time{})
	require.NoError(t, err)
	waits, err := s.Stacks(t.Context(), "spring", drive.CaseSewn)
	require.NoError(t, err)
	_, err = s.CheckCases(t.Context(), s.fresh(), waits[0].Stack, drive.Checked{Good: 2, Pins: true})
	require.NoError(t, err)
	box := packN(t, s, a, 2)

	do := func(q string, args ...any) {
		t.Helper()
		_, err := s.db.Owner().Exec(t.Context(), q, args...)
		require.NoError(t, err)
	}
	themes := func() []string {
		rows, err := s.BoxRows(t.Context(), "spring", box)
		require.NoError(t, err)
		var said []string
		for _, r := range rows {
			said = append(said, fmt.Sprintf("%d %s", r.N, r.Theme))
		}
		return said
	}
	do(`UPDATE lots SET themes = '{foxes,forest}'`)
	require.Equal(t, []string{"2 forest, foxes"}, themes())
	do(`INSERT INTO panels (drive_id, sheet, panel, role, size, x, y, w, h, kit, pillowcase)
		SELECT n.drive_id, h.number, 999, 'body', n.size, 0, 0, 1, 1, n.kit, n.pillowcase FROM panels n JOIN sheets o ON o.number = n.sheet JOIN sheets h ON h.lot <> o.lot
		WHERE n.kit = $1 AND n.role = 'body' LIMIT 1`, ref.Number)
	require.Equal(t, []string{"2 forest, foxes"}, themes(), "two lots of one theme")
	do(`UPDATE lots SET themes = '{}' WHERE number = (SELECT h.lot FROM panels n JOIN sheets h ON h.number = n.sheet WHERE n.panel = 999)`)
	require.Equal(t, []string{"2 "}, themes(), "a body without it is among them")
}

// TestForgetWhatWasWritten: names, notes and reasons of a delivery go for good, its counts stay.
func TestForgetWhatWasWritten(t *testing.T) {
	s, a := wardOf(t, 60)
	number, box := onTheWay(t, s, a, 5)
	_, err := s.ConfirmDelivery(t.Context(), s.fresh(), number, drive.Confirmation{
		By: "Sister Hale", How: drive.ByPhone, On: dayIn(0), Note: "ring Ann", Arrived: []drive.Arrived{{Box: box, Size: a.Sizes[0], N: 4}},
	})
	require.NoError(t, err)
	_, err = s.SettleDelivery(t.Context(), s.fresh(), number, drive.Settlement{Box: box, Size: a.Sizes[0], Way: drive.SettleMissing, N: 1, Reason: "Ann looked"})
	require.NoError(t, err)
	_, err = s.ForgetWritten(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	said, settled, err := s.DeliveryHistory(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, []string{"", "", ""}, []string{said[0].By, said[0].Note, settled[0].Reason})
	d, err := s.Delivery(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, []int{5, 4, 1}, []int{d.Cases(), d.Confirmed(), d.Missing()})
	_, err = s.ForgetWritten(t.Context(), s.fresh(), number)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	agrees(t, s)
}

// TestForgetNotesOfTheTable: what people wrote at the returns table and of the laundry goes
// one by one or all up to a day; what was counted, and why it failed, stays.
func TestForgetNotesOfTheTable(t *testing.T) {
	s, a := wardOf(t, 60)
	at := drive.Stack{Asked: a.Number, Size: a.Sizes[0]}
	_, err := s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: at.Size, N: 6, Asked: a.Number, Note: "Ann brought them"})
	require.NoError(t, err)
	_, err = s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{
		Good: 3, Pins: true, Note: "ring Ann", Failed: []drive.Failed{{N: 2, To: drive.CaseToMend, Reasons: []string{"seam open"}}, {N: 1, To: drive.CaseNotUsable, Reasons: []string{"stain or hole"}}},
	})
	require.NoError(t, err)
	batch, err := s.StartBatch(t.Context(), s.fresh(), Washing{By: "EN", Note: "at Ann's", Lines: []drive.LaundryLine{{Asked: a.Number, Size: at.Size, N: 3}}})
	require.NoError(t, err)
	notes := func() (n int) {
		t.Helper()
		steps, err := s.CasesLately(t.Context(), "spring", 10)
		require.NoError(t, err)
		for _, step := range steps {
			if step.Note != "" {
				n++
			}
		}
		return n
	}
	require.Equal(t, 3, notes(), "one beside what was brought, one beside each way it failed")
	steps, err := s.CasesLately(t.Context(), "spring", 10)
	require.NoError(t, err)
	var failed int64
	for _, step := range steps {
		if step.To == drive.CaseToMend {
			failed = step.ID
		}
	}
	_, err = s.ForgetStepNote(t.Context(), s.fresh(), failed)
	require.NoError(t, err)
	require.Equal(t, 1, notes(), "a check has one note")
	_, err = s.ForgetStepNote(t.Context(), s.fresh(), failed)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	_, err = s.ForgetNotes(t.Context(), s.fresh(), dayIn(1))
	require.Contains(t, apperr.Fields(err), "until")
	_, err = s.ForgetNotes(t.Context(), s.fresh(), dayIn(-1))
	require.True(t, apperr.Is(err, apperr.KindConflict), "nothing was written by then: %v", err)
	n, err := s.ForgetNotes(t.Context(), s.fresh(), dayIn(0))
	require.NoError(t, err)
	require.Equal(t, []int{2, 0}, []int{n, notes()})
	_, err = s.ForgetBatchNote(t.Context(), s.fresh(), batch)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	found, err := s.Findings(t.Context(), "spring", dayIn(-1))
	require.NoError(t, err)
	require.Len(t, found.Faults, 2, "why they failed stays")
	agrees(t, s)
}
