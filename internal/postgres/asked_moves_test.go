package postgres

import (
	"sync"
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// TestLowerAsked: a line cannot ask for less than was delivered; what is good beyond it is kept or released, and
// the sum over all states stays what it was.
func TestLowerAsked(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), z, 10)
	standing(t, s, a.Number, z.Number, drive.CaseGood, 6)
	a.Wanted = 4
	_, err := s.UpdateAsked(t.Context(), s.fresh(), a)
	require.Contains(t, apperr.Fields(err), "beyond", "%v", err)
	a.Beyond = drive.BeyondRelease
	a, err = s.UpdateAsked(t.Context(), s.fresh(), a)
	require.NoError(t, err)
	spares, err := s.Spares(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, spares, 2)
	require.Equal(t, []int{2, 4}, []int{spares[0].N, spares[1].N})
	require.Zero(t, spares[0].Asked, "two are nobody's now, and come first")
	lines, err := s.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, drive.Counts{drive.CaseGood: 4}, lines[0].Counts)

	a.Wanted, a.Beyond = 3, drive.BeyondKeep
	_, err = s.UpdateAsked(t.Context(), s.fresh(), a)
	require.NoError(t, err)
	past, err := s.AskedHistory(t.Context(), "spring", 0, []int64{a.Number})
	require.NoError(t, err)
	require.Len(t, past, 3)
	require.Equal(t, "asked for changed", past[0].Act)
	require.Equal(t, []Changed{{"wanted", 4.0, 3.0}}, past[0].Changes)
}

// TestGiveToLine: what is finished elsewhere goes to the line that needs it, once, however many give it; it can be taken back.
func TestGiveToLine(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, queen := addSize(t, s, "standard"), addSize(t, s, "queen")
	ward := addRecipient(t, s, "Ward 4")
	later, sooner, other := addAsked(t, s, ward, z, 10), addAsked(t, s, ward, z, 10), addAsked(t, s, ward, queen, 10)
	standing(t, s, later.Number, z.Number, drive.CaseGood, 5)
	at := drive.Stack{Asked: later.Number, Size: z.Number}
	_, err := s.GiveToLine(t.Context(), s.fresh(), at, 2, other.Number)
	require.Contains(t, apperr.Fields(err), "asked", "another size: %v", err)
	_, err = s.GiveToLine(t.Context(), s.fresh(), at, 6, sooner.Number)
	require.Contains(t, apperr.Fields(err), "n", "%v", err)
	given, err := s.GiveToLine(t.Context(), s.fresh(), at, 2, sooner.Number)
	require.NoError(t, err)
	require.Equal(t, 2, given.N)
	for _, line := range []int64{0, later.Number} {
		_, err = s.UndoCases(t.Context(), s.fresh(), line, given.Step)
		require.True(t, apperr.Is(err, apperr.KindConflict), "from line %d: %v", line, err)
	}
	_, err = s.UndoCases(t.Context(), s.fresh(), sooner.Number, given.Step)
	require.NoError(t, err)
	for line, act := range map[int64]string{later.Number: "given from a line", sooner.Number: "given to a line"} {
		past, err := s.AskedHistory(t.Context(), "spring", 0, []int64{line})
		require.NoError(t, err)
		require.Equal(t, []string{"giving undone", act, "asked for"}, []string{past[0].Act, past[1].Act, past[2].Act}, "line %d", line)
		require.Equal(t, []Changed{{"of line", float64(sooner.Number), float64(later.Number)}, {"pillowcases", nil, 2.0}}, past[0].Changes)
	}

	var wg sync.WaitGroup
	got := make([]bool, 5)
	for i := range got {
		act := s.fresh()
		wg.Go(func() {
			_, err := s.GiveToLine(t.Context(), act, at, 3, sooner.Number)
			got[i] = err == nil
		})
	}
	wg.Wait()
	n := 0
	for _, ok := range got {
		if ok {
			n++
		}
	}
	require.Equal(t, 1, n, "of five who each give three of five, one does")
	lines, err := s.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	for _, l := range lines {
		if l.Number == sooner.Number {
			require.Equal(t, drive.Counts{drive.CaseGood: 3}, l.Counts)
		}
	}
}

// TestGiveNoMoreThanLacks: a line is never given more than it lacks, by one or by many at once, out of one stack or two.
func TestGiveNoMoreThanLacks(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	ward := addRecipient(t, s, "Ward 4")
	other, lacks := addAsked(t, s, ward, z, 40), addAsked(t, s, ward, z, 22)
	standing(t, s, other.Number, z.Number, drive.CaseGood, 40)
	standing(t, s, 0, z.Number, drive.CaseGood, 40)
	standing(t, s, lacks.Number, z.Number, drive.CaseDelivered, 2)
	from := []drive.Stack{{Asked: other.Number, Size: z.Number}, {Size: z.Number}}
	_, err := s.GiveToLine(t.Context(), s.fresh(), from[1], 21, lacks.Number)
	require.Equal(t, "20 are lacking here, so give 1 to 20.", apperr.Fields(err)["n"], "%v", err)

	var wg sync.WaitGroup
	errs := make([]error, 4)
	for i := range errs {
		act := s.fresh()
		wg.Go(func() { _, errs[i] = s.GiveToLine(t.Context(), act, from[i%2], 20, lacks.Number) })
	}
	wg.Wait()
	given := 0
	for _, err := range errs {
		if err == nil {
			given++
			continue
		}
		require.Contains(t, apperr.Fields(err)["n"], "Nothing is lacking here any more", "%v", err)
	}
	require.Equal(t, 1, given)
	require.Equal(t, 20, line(t, s, lacks.Number).Counts[drive.CaseGood])
}
