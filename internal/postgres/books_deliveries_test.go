package postgres

import (
	"iter"
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// TestBooksOfADeliveryOverTwoMonths: what left in one period and is settled or undone in
// the next is open by what left in both.
func TestBooksOfADeliveryOverTwoMonths(t *testing.T) {
	s, a := wardOf(t, 30)
	settled, box := onTheWay(t, s, a, 10)
	undone, _ := onTheWay(t, s, a, 4)
	_, err := s.ConfirmDelivery(t.Context(), s.fresh(), settled, drive.Confirmation{
		By: "Sister Hale", How: drive.ByPhone, On: dayIn(0), Arrived: []drive.Arrived{{Box: box, Size: a.Sizes[0], N: 12}},
	})
	require.NoError(t, err)
	s.clock.forward(48 * time.Hour)
	_, err = s.SettleDelivery(t.Context(), s.fresh(), settled, drive.Settlement{Box: box, Size: a.Sizes[0], Way: drive.SettleMore, N: 2, Reason: "in the box uncounted"})
	require.NoError(t, err)
	_, err = s.UndoDelivery(t.Context(), s.fresh(), undone)
	require.NoError(t, err)

	counts := func(books readBooks) map[int64][5]int {
		got, boxes := map[int64][5]int{}, map[int64][5]int{}
		for _, d := range books.Deliveries {
			got[d.Number] = [5]int{d.SentBefore, d.Sent, d.Confirmed, d.Missing + d.SentBack, d.Open()}
		}
		for _, b := range books.Boxes {
			at := boxes[b.Delivery]
			for i, n := range []int{b.SentBefore, b.Sent, b.Confirmed, b.Missing + b.SentBack, b.Open()} {
				at[i] += n
			}
			boxes[b.Delivery] = at
		}
		require.Equal(t, got, boxes, "by delivery and by box")
		return got
	}
	boxesOf := func(from, to int) map[int64]int {
		got := map[int64]int{}
		for _, d := range booksIn(t, s.Store, dayIn(from), dayIn(to)).Deliveries {
			got[d.Number] = d.Boxes
		}
		return got
	}
	require.Equal(t, map[int64]int{settled: 1, undone: 1}, boxesOf(0, 1))
	require.Equal(t, map[int64]int{settled: 1, undone: 0}, boxesOf(2, 2), "its box leaves with another")
	require.Equal(t, map[int64]int{settled: 1, undone: 0}, boxesOf(0, 2))
	require.Equal(t, map[int64][5]int{settled: {0, 10, 10, 0, 0}, undone: {0, 4, 0, 0, 4}}, counts(booksIn(t, s.Store, dayIn(0), dayIn(1))))
	require.Equal(t, map[int64][5]int{settled: {10, 2, 12, 0, 0}, undone: {4, -4, 0, 0, 0}}, counts(booksIn(t, s.Store, dayIn(2), dayIn(2))))
	require.Equal(t, map[int64][5]int{settled: {0, 12, 12, 0, 0}, undone: {0, 0, 0, 0, 0}}, counts(booksIn(t, s.Store, dayIn(0), dayIn(2))))
}

// allRows reads a list of the books to its end.
func allRows[T any](t testing.TB, rows iter.Seq2[T, error]) []T {
	t.Helper()
	var list []T
	for row, err := range rows {
		require.NoError(t, err)
		list = append(list, row)
	}
	return list
}
