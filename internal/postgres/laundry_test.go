package postgres

import (
	"testing"
	"time"

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
