package jobs

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// list gives fabric as CSV with this many lots.
func list(n int) []byte {
	var text strings.Builder
	text.WriteString("Code,Yardage,Width,Fibre,Print\n")
	for i := range n {
		fmt.Fprintf(&text, "W%05d,2 1/2,44,cotton,solid\n", i)
	}
	return []byte(text.String())
}

func (h *house) keep(t *testing.T, content []byte) int64 {
	t.Helper()
	number, err := h.KeepUpload(t.Context(), h.act("keep"), drive.BringFabric, "list.csv", content)
	require.NoError(t, err)
	return number
}

// taken waits until the taking in has ended.
func (h *house) taken(t *testing.T, number int64) postgres.Take {
	t.Helper()
	var take postgres.Take
	require.Eventually(t, func() bool {
		var err error
		take, err = h.TakeOf(t.Context(), "spring", number)
		require.NoError(t, err)
		return !take.State.Busy()
	}, 30*time.Second, 20*time.Millisecond)
	return take
}

func (h *house) lots(t *testing.T) int {
	t.Helper()
	list, err := h.Lots(t.Context(), "spring", postgres.LotsQuery{State: postgres.LotsAll})
	require.NoError(t, err)
	return list.Total
}

func TestAListIsTakenIn(t *testing.T) {
	h := newHouse(t)
	before := h.lots(t)
	n := h.keep(t, append(list(30), "W00001,1 yd,44,cotton,solid\n"...))
	require.NoError(t, h.RequestTake(t.Context(), h.act("take"), n, false))
	h.work(t, nil)
	require.Equal(t, postgres.Take{State: drive.TakeTaken, Refused: 1, Total: 31}, withoutDone(h.taken(t, n)), "with a row refused nothing is taken")
	require.Equal(t, before, h.lots(t))
	require.NoError(t, h.RequestTake(t.Context(), h.act("take the good"), n, true))
	require.Equal(t, postgres.Take{State: drive.TakeTaken, Good: true, Taken: 30, Refused: 1, Total: 31}, withoutDone(h.taken(t, n)))
	require.Equal(t, before+30, h.lots(t))
}

// withoutDone leaves out what depends on when somebody looked.
func withoutDone(take postgres.Take) postgres.Take {
	take.Done, take.Total = 0, 31
	return take
}

func TestAListThatCannotBeReadFails(t *testing.T) {
	h := newHouse(t)
	n := h.keep(t, []byte("foo,ever\n1,2\n"))
	require.NoError(t, h.RequestTake(t.Context(), h.act("take"), n, false))
	h.work(t, nil)
	take := h.taken(t, n)
	require.Equal(t, drive.TakeFailed, take.State)
	require.Contains(t, take.Trouble, "No line of headings")
}

// A long list is stopped by somebody at another process: nothing of it is taken.
func TestAListIsStoppedWithNothingTaken(t *testing.T) {
	h := newHouse(t)
	before := h.lots(t)
	n := h.keep(t, list(6000))
	require.NoError(t, h.RequestTake(t.Context(), h.act("take"), n, false))
	h.work(t, nil)
	require.Eventually(t, func() bool {
		take, err := h.TakeOf(t.Context(), "spring", n)
		require.NoError(t, err)
		return take.Done > 0
	}, 30*time.Second, 10*time.Millisecond, "its progress is seen")
	stopped, err := h.StopTake(t.Context(), h.act("stop"), n)
	require.NoError(t, err)
	require.True(t, stopped)
	take := h.taken(t, n)
	require.Equal(t, drive.TakeStopped, take.State)
	require.Less(t, take.Done, take.Total)
	require.Equal(t, before, h.lots(t))
	require.NoError(t, h.RequestTake(t.Context(), h.act("take again"), n, false))
	require.Equal(t, 6000, h.taken(t, n).Taken)
	require.Equal(t, before+6000, h.lots(t))
}

// A worker that ends on the way leaves the list to the next, which takes it whole.
func TestAListIsTakenUpByAnother(t *testing.T) {
	h := newHouse(t)
	before := h.lots(t)
	n := h.keep(t, list(4000))
	require.NoError(t, h.RequestTake(t.Context(), h.act("take"), n, false))
	stop := h.work(t, nil)
	require.Eventually(t, func() bool {
		take, err := h.TakeOf(t.Context(), "spring", n)
		require.NoError(t, err)
		return take.Done > 0
	}, 30*time.Second, 10*time.Millisecond)
	stop()
	h.work(t, nil)
	require.Equal(t, 4000, h.taken(t, n).Taken)
	require.Equal(t, before+4000, h.lots(t))
}
