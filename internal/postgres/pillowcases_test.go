package postgres

import (
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// wardOf gives a drive with a ward that asks for n standard pillowcases.
func wardOf(t testing.TB, n int) (*testStore, drive.Asked) {
	t.Helper()
	s := newStore(t)
	startDrive(t, s)
	return s, addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), n)
}

// bringGood brings in n pillowcases for a line without a kit and finds them good.
func bringGood(t testing.TB, s *testStore, a drive.Asked, n int) drive.Stack {
	t.Helper()
	_, err := s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: n, Asked: a.Number})
	require.NoError(t, err)
	at := drive.Stack{Asked: a.Number, Size: a.Sizes[0]}
	_, err = s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Good: n, Pins: true})
	require.NoError(t, err)
	at.State, at.N = drive.CaseGood, n
	return at
}

func TestBringInAndCheck(t *testing.T) {
	s, a := wardOf(t, 20)
	at := drive.Stack{Asked: a.Number, Size: a.Sizes[0]}
	_, err := s.BringIn(t.Context(), s.act("bring-6"), drive.BroughtIn{Size: at.Size, N: 6, Asked: a.Number})
	require.NoError(t, err)
	_, err = s.BringIn(t.Context(), s.act("bring-6"), drive.BroughtIn{Size: at.Size, N: 6, Asked: a.Number})
	require.NoError(t, err, "the same form twice")
	require.Equal(t, 6, line(t, s, a.Number).Counts[drive.CaseSewn], "is booked once")

	_, err = s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Good: 5})
	require.Contains(t, apperr.Fields(err), "pins", "a needle check is never left out")
	_, err = s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Good: 7, Pins: true})
	require.Contains(t, apperr.Fields(err), "good")
	_, err = s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Good: 4, Failed: []drive.Failed{{N: 2, To: drive.CaseToMend}}, Pins: true})
	require.Contains(t, apperr.Fields(err), "row1_reasons")
	_, err = s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Good: 4, Pins: true, Failed: []drive.Failed{
		{N: 1, To: drive.CaseToMend, Reasons: []string{"seam open"}}, {N: 1, To: drive.CaseNotUsable, Reasons: []string{"stain or hole", "raw edge shows"}},
	}})
	require.NoError(t, err)
	_, err = s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Good: 1, Pins: true})
	require.True(t, apperr.Is(err, apperr.KindConflict), "nothing waits any more: %v", err)

	at.State = drive.CaseToMend
	_, err = s.MendedHere(t.Context(), s.fresh(), at, 1)
	require.NoError(t, err)
	c := line(t, s, a.Number).Counts
	require.Equal(t, drive.Counts{drive.CaseSewn: 1, drive.CaseGood: 4, drive.CaseNotUsable: 1}, c)
	require.Equal(t, 15, line(t, s, a.Number).ToPlan, "what is not usable has to be made again")
}

func TestBringInRefuses(t *testing.T) {
	s, a := wardOf(t, 20)
	queen := addSize(t, s, "queen")
	nobody := int64(99)
	for field, b := range map[string]drive.BroughtIn{
		"n":      {Size: a.Sizes[0], N: 0},
		"asked":  {Size: queen.Number, N: 1, Asked: a.Number},
		"size":   {Size: 99, N: 1},
		"person": {Size: a.Sizes[0], N: 1, Maker: &nobody},
	} {
		_, err := s.BringIn(t.Context(), s.fresh(), b)
		require.Contains(t, apperr.Fields(err), field, "%+v: %v", b, err)
	}
	_, err := s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: 1, Asked: 77})
	require.Contains(t, apperr.Fields(err), "asked")
}

func TestPromiseLater(t *testing.T) {
	s, a := wardOf(t, 20)
	_, err := s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: 3})
	require.NoError(t, err)
	at := drive.Stack{Size: a.Sizes[0], State: drive.CaseSewn}
	_, err = s.Promise(t.Context(), s.fresh(), at, 2, a.Number)
	require.NoError(t, err)
	require.Equal(t, 2, line(t, s, a.Number).Counts[drive.CaseSewn])
	_, err = s.Promise(t.Context(), s.fresh(), at, 2, a.Number)
	require.Contains(t, apperr.Fields(err), "n", "only one is left")
}

func TestUndoAtTheTable(t *testing.T) {
	s, a := wardOf(t, 20)
	bringGood(t, s, a, 4)
	steps, err := s.CasesLately(t.Context(), "spring", 10)
	require.NoError(t, err)
	require.Len(t, steps, 2)
	_, err = s.UndoCases(t.Context(), s.fresh(), 0, steps[1].ID)
	require.True(t, apperr.Is(err, apperr.KindConflict), "what was checked since cannot be un-brought: %v", err)
	for _, step := range steps {
		require.True(t, step.MayUndo())
		_, err = s.UndoCases(t.Context(), s.fresh(), 0, step.ID)
		require.NoError(t, err)
	}
	require.Equal(t, 20, line(t, s, a.Number).ToPlan)
	_, err = s.UndoCases(t.Context(), s.fresh(), 0, steps[0].ID)
	require.True(t, apperr.Is(err, apperr.KindConflict), "undone once: %v", err)
	_, err = s.UndoCases(t.Context(), s.fresh(), 0, 12345)
	require.True(t, apperr.Is(err, apperr.KindNotFound))
}

func TestSendToMend(t *testing.T) {
	s, a := wardOf(t, 20)
	p, err := s.CreatePerson(t.Context(), s.fresh(), drive.Person{Kind: "volunteer", Name: "Ada", Heads: 1, Active: true}, nil)
	require.NoError(t, err)
	_, err = s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: 3, Asked: a.Number})
	require.NoError(t, err)
	at := drive.Stack{Asked: a.Number, Size: a.Sizes[0]}
	_, err = s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Good: 1, Failed: []drive.Failed{{N: 2, To: drive.CaseToMend}}, Note: "cuff loose", Pins: true})
	require.NoError(t, err)

	ref, err := s.SendToMend(t.Context(), s.fresh(), Mending{At: at, N: 2, Person: p.Number})
	require.NoError(t, err)
	_, err = s.MendedHere(t.Context(), s.fresh(), drive.Stack{Asked: a.Number, Size: at.Size, Kit: ref.Number, Part: ref.Part}, 1)
	require.True(t, apperr.Is(err, apperr.KindConflict), "it is not here: %v", err)
	today := drive.Day(s.clock.now, time.UTC)
	_, err = s.TakeBack(t.Context(), s.fresh(), ref, drive.KitReturn{Sewn: 1}, today)
	require.NoError(t, err)
	require.Equal(t, drive.Counts{drive.CaseSewn: 1, drive.CaseGood: 1, drive.CaseToMend: 1}, line(t, s, a.Number).Counts)

	back := drive.KitRef{Number: ref.Number, Part: 2}
	at = drive.Stack{Asked: a.Number, Size: at.Size, Kit: back.Number, Part: back.Part}
	_, err = s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Failed: []drive.Failed{{N: 1, To: drive.CaseToMend, Reasons: []string{"seam open"}}}, Pins: true})
	require.NoError(t, err)
	again, err := s.SendToMend(t.Context(), s.fresh(), Mending{At: at, N: 1, Person: p.Number})
	require.NoError(t, err)
	require.Equal(t, back, again, "all that is here of it goes out as it is")
}

func TestFromBoxToConfirmed(t *testing.T) {
	s, a := wardOf(t, 20)
	bringGood(t, s, a, 5)
	pack := PackedBox{Recipient: a.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: 6}}}
	_, err := s.PackBox(t.Context(), s.fresh(), pack)
	require.Contains(t, apperr.Fields(err), fmt.Sprintf("n.%d.%d", a.Number, a.Sizes[0]))
	pack.Cases[0].N = 5
	box, err := s.PackBox(t.Context(), s.fresh(), pack)
	require.NoError(t, err)
	_, err = s.UnpackBox(t.Context(), s.fresh(), box)
	require.NoError(t, err)
	box, err = s.PackBox(t.Context(), s.fresh(), pack)
	require.NoError(t, err)

	today := drive.Day(s.clock.now, time.UTC)
	number, err := s.MakeDelivery(t.Context(), s.fresh(), Sending{Recipient: a.Recipient, Boxes: []int64{box}, SentOn: &today})
	require.NoError(t, err)
	_, err = s.MakeDelivery(t.Context(), s.fresh(), Sending{Recipient: a.Recipient, Boxes: []int64{box}, SentOn: &today})
	require.True(t, apperr.Is(err, apperr.KindConflict), "a box leaves once: %v", err)

	field := fmt.Sprintf("n.%d.%d", box, a.Sizes[0])
	said := drive.Confirmation{By: "Sister Hale", How: drive.ByPhone, On: today, Arrived: []drive.Arrived{{Box: box, Size: a.Sizes[0], N: 55}}}
	_, err = s.ConfirmDelivery(t.Context(), s.fresh(), number, said)
	require.Contains(t, apperr.Fields(err), field, "far more than was sent")
	lost := drive.Settlement{Box: box, Size: a.Sizes[0], Way: drive.SettleMissing, N: 1, Reason: "not in the box, nobody knows"}
	_, err = s.SettleDelivery(t.Context(), s.fresh(), number, lost)
	require.True(t, apperr.Is(err, apperr.KindConflict), "nobody said what arrived: %v", err)
	said.Arrived[0].N = 4
	d, err := s.ConfirmDelivery(t.Context(), s.fresh(), number, said)
	require.NoError(t, err)
	require.Equal(t, []int{5, 4, 1}, []int{d.Cases, d.Confirmed, d.Open})
	_, err = s.SettleDelivery(t.Context(), s.fresh(), number, lost)
	require.NoError(t, err)
	require.Equal(t, drive.Counts{drive.CaseConfirmed: 4, drive.CaseNotReceived: 1},
		line(t, s, a.Number).Counts)

	b := booksIn(t, s.Store, today, today)
	require.Len(t, b.Deliveries, 1)
	require.Equal(t, []int{5, 4, 1}, []int{b.Deliveries[0].Sent, b.Deliveries[0].Confirmed, b.Deliveries[0].Missing})
	require.Equal(t, []int{5, 5, 5, 4}, []int{b.Cases[0].CameIn, b.Cases[0].FoundGood, b.Cases[0].Sent, b.Cases[0].Confirmed})
	before := booksIn(t, s.Store, today.AddDate(0, 0, -9), today.AddDate(0, 0, -1))
	require.Empty(t, before.Deliveries)
	require.Zero(t, before.Cases[0].Counts.Alive(), "nothing had happened by then")
}

// TestFiftyPackers: fifty people pack the same thirty pillowcases one by one: no
// pillowcase is packed twice and none is left.
func TestFiftyPackers(t *testing.T) {
	s, a := wardOf(t, 60)
	bringGood(t, s, a, 30)
	var wg sync.WaitGroup
	packed, refused := make(chan int64, 50), make(chan error, 50)
	for i := range 50 {
		wg.Go(func() {
			box, err := s.PackBox(t.Context(), s.act(fmt.Sprintf("pack-%d", i)), PackedBox{
				Recipient: a.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: 1}},
			})
			if err != nil {
				refused <- err
				return
			}
			packed <- box
		})
	}
	wg.Wait()
	require.Len(t, packed, 30)
	require.Len(t, refused, 20)
	for range 20 {
		var e *apperr.Error
		require.True(t, errors.As(<-refused, &e), "each of the others is told why")
	}
	require.Equal(t, drive.Counts{drive.CasePacked: 30}, line(t, s, a.Number).Counts)
}

// TestOneBoxFromTwoHundredForms: one box, whatever a shaky finger sends.
func TestOneBoxFromTwoHundredForms(t *testing.T) {
	s, a := wardOf(t, 60)
	bringGood(t, s, a, 30)
	var wg sync.WaitGroup
	boxes := make([]int64, 200)
	for i := range boxes {
		wg.Go(func() {
			box, err := s.PackBox(t.Context(), s.act("one-form"), PackedBox{
				Recipient: a.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: 2}},
			})
			if err == nil {
				boxes[i] = box
			}
		})
	}
	wg.Wait()
	for i, box := range boxes {
		require.Equal(t, boxes[0], box, "answer %d", i)
	}
	require.Equal(t, 2, line(t, s, a.Number).Counts[drive.CasePacked])
}
