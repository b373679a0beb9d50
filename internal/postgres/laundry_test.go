package postgres

import (
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// wash launders so many of a line's pillowcases that came without a kit.
func wash(t testing.TB, s *testStore, a drive.Asked, n int) int64 {
	t.Helper()
	batch, err := s.StartBatch(t.Context(), s.fresh(), Washing{By: "EN", Lines: []drive.LaundryLine{{Asked: a.Number, Size: a.Sizes[0], N: n}}})
	require.NoError(t, err)
	_, err = s.FinishBatch(t.Context(), s.fresh(), batch, "EN", time.Time{})
	require.NoError(t, err)
	return batch
}

// cleanAt is how many of a line's pillowcases that lie here are laundered, and how many may go in.
func cleanAt(t testing.TB, s *testStore, line int64) [2]int {
	t.Helper()
	here, err := s.Washables(t.Context(), "spring")
	require.NoError(t, err)
	var got [2]int
	for _, w := range here {
		if w.Asked == line {
			got[0], got[1] = got[0]+w.Clean(), got[1]+w.Free()
		}
	}
	return got
}

func packN(t testing.TB, s *testStore, a drive.Asked, n int) int64 {
	t.Helper()
	box, err := s.PackBox(t.Context(), s.fresh(), PackedBox{
		Recipient: a.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: n}},
	})
	require.NoError(t, err)
	return box
}

// TestLaunderedIsWhatWasWashedAndLiesHere: however pillowcases leave, none that were never
// washed pass as laundered, and none that were washed count as not.
func TestLaunderedIsWhatWasWashedAndLiesHere(t *testing.T) {
	s, a := wardOf(t, 200)
	stack := drive.Stack{Asked: a.Number, Size: a.Sizes[0]}

	// Packed unlaundered before: what is washed next is clean.
	bringGood(t, s, a, 30)
	dirty := packN(t, s, a, 25)
	batch := wash(t, s, a, 5)
	require.Equal(t, [2]int{5, 0}, cleanAt(t, s, a.Number))
	box := packN(t, s, a, 5)
	require.Equal(t, [2]int{0, 0}, cleanAt(t, s, a.Number))
	_, err := s.UnpackBox(t.Context(), s.fresh(), dirty)
	require.NoError(t, err)
	require.Equal(t, [2]int{0, 25}, cleanAt(t, s, a.Number), "none of that box was laundered")
	_, err = s.UndoBatch(t.Context(), s.fresh(), batch)
	require.ErrorContains(t, err, "5 pillowcases of it went on as laundered")

	// What was never washed goes to another line as such.
	recipients, err := s.Recipients(t.Context(), "spring")
	require.NoError(t, err)
	sizes, err := s.Sizes(t.Context(), "spring")
	require.NoError(t, err)
	other := addAsked(t, s, recipients[0], sizes[0], 40)
	stack.State = drive.CaseGood
	given, err := s.GiveToLine(t.Context(), s.fresh(), stack, 4, other.Number)
	require.NoError(t, err)
	require.Equal(t, [2]int{0, 4}, cleanAt(t, s, other.Number))
	_, err = s.UndoCases(t.Context(), s.fresh(), other.Number, given.Step)
	require.NoError(t, err)
	_, err = s.UnpackBox(t.Context(), s.fresh(), box)
	require.NoError(t, err)
	require.Equal(t, [2]int{5, 25}, cleanAt(t, s, a.Number), "that box went laundered")

	// Washed, then found to mend: what was not washed stays so, until that is undone.
	wash(t, s, a, 20)
	_, err = s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Asked: a.Number, Size: a.Sizes[0], N: 10})
	require.NoError(t, err)
	packN(t, s, a, 25)
	require.Equal(t, [2]int{0, 15}, cleanAt(t, s, a.Number))
	wash(t, s, a, 4)
	stack.State = drive.CaseSewn
	_, err = s.CheckCases(t.Context(), s.fresh(), stack, drive.Checked{Failed: []drive.Failed{{N: 4, To: drive.CaseToMend, Reasons: []string{"seam open"}}}, Pins: true})
	require.NoError(t, err)
	require.Equal(t, [2]int{0, 11}, cleanAt(t, s, a.Number))
	steps, err := s.CasesLately(t.Context(), "spring", 1)
	require.NoError(t, err)
	_, err = s.UndoCases(t.Context(), s.fresh(), 0, steps[0].ID)
	require.NoError(t, err)
	require.Equal(t, [2]int{4, 11}, cleanAt(t, s, a.Number))

	// In the wash, and then there are not so many any more.
	open, err := s.StartBatch(t.Context(), s.fresh(), Washing{By: "EN", Lines: []drive.LaundryLine{{Asked: a.Number, Size: a.Sizes[0], N: 11}}})
	require.NoError(t, err)
	stack.State = drive.CaseGood
	packN(t, s, a, 5)
	n, err := s.FinishBatch(t.Context(), s.fresh(), open, "EN", time.Time{})
	require.NoError(t, err)
	require.Equal(t, 10, n, "one was taken out of the wash and packed")
	require.Equal(t, [2]int{10, 0}, cleanAt(t, s, a.Number))
	agrees(t, s)
}

// launderedOrHere holds that no more of a stack is laundered or in the wash than lies here.
func launderedOrHere(t testing.TB, s *testStore) {
	t.Helper()
	const q = `SELECT count(*) FROM (
			SELECT l.asked, l.size, l.kit, l.part, sum(l.n - l.gone) AS n FROM laundry_lines l JOIN laundry y ON y.drive_id = l.drive_id AND y.number = l.batch
			WHERE l.drive_id = 'spring' AND y.undone_at IS NULL GROUP BY 1, 2, 3, 4) w
		WHERE w.n > coalesce((SELECT sum(b.n) FROM case_balances b WHERE b.drive_id = 'spring' AND b.asked = w.asked AND b.size = w.size
			AND b.kit = w.kit AND b.part = w.part AND b.state IN ('sewn', 'good')), 0)`
	var n int
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), q).Scan(&n))
	require.Zero(t, n, "stacks of which more is laundered or in the wash than lies here")
}

// TestLaundryByManyHands: some put pillowcases into the wash, some say it is done or was
// not, some pack and unpack the same ones, all at once: each batch is finished once, and
// never does something pass as laundered that is not here or was not washed.
func TestLaundryByManyHands(t *testing.T) {
	s, a := wardOf(t, 200)
	bringGood(t, s, a, 60)
	batch, err := s.StartBatch(t.Context(), s.fresh(), Washing{By: "EN", Lines: []drive.LaundryLine{{Asked: a.Number, Size: a.Sizes[0], N: 30}}})
	require.NoError(t, err)
	var finished atomic.Int64
	inParallel(40, func(i int) {
		act := s.act(fmt.Sprintf("laundry-%d", i))
		var err error
		switch i % 4 {
		case 0:
			if _, err = s.FinishBatch(t.Context(), act, batch, "EN", time.Time{}); err == nil {
				finished.Add(1)
			}
		case 1:
			_, err = s.StartBatch(t.Context(), act, Washing{By: "EN", Lines: []drive.LaundryLine{{Asked: a.Number, Size: a.Sizes[0], N: 3}}})
		default:
			_, err = s.PackBox(t.Context(), act, PackedBox{
				Recipient: a.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: 2}},
			})
		}
		if err != nil && apperr.As(err) == nil {
			t.Errorf("hand %d: %v", i, err)
		}
	})
	require.Equal(t, int64(1), finished.Load(), "a batch is finished once")
	launderedOrHere(t, s)
	agrees(t, s)
	// What comes in next was never washed, however much was before.
	bringGood(t, s, a, 20)
	before := cleanAt(t, s, a.Number)
	require.GreaterOrEqual(t, before[1], 20, "all that is new may go into the wash")
}
