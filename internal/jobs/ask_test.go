package jobs

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What to ask for is worked out in the background and kept; what the house lacks is in it.
func TestAsksAreWorkedOut(t *testing.T) {
	h := newHouse(t)
	a, err := h.Asked(t.Context(), "spring", 1)
	require.NoError(t, err)
	a.Wanted = 30
	_, err = h.UpdateAsked(t.Context(), h.act("more"), a)
	require.NoError(t, err)
	_, err = h.RequestAsks(t.Context(), h.act("asks"))
	require.NoError(t, err)
	h.work(t, nil)
	require.Eventually(t, func() bool {
		found, err := h.AskedForNow(t.Context(), "spring")
		require.NoError(t, err)
		require.NotEqual(t, "failed", found.State, found.Trouble)
		return found.State == "ready"
	}, 20*time.Second, 50*time.Millisecond)
	found, err := h.AskedForNow(t.Context(), "spring")
	require.NoError(t, err)
	require.NotEmpty(t, found.Wishes)
	require.NotNil(t, found.MadeAt)
	require.False(t, found.Changed)
	require.Positive(t, found.Seconds)
}

// Work that no job is left for ends with words, by tidying.
func TestStrandedAsksEnd(t *testing.T) {
	h := newHouse(t)
	_, err := h.RequestAsks(t.Context(), h.act("asks"))
	require.NoError(t, err)
	_, err = h.db.Owner().Exec(t.Context(), `DELETE FROM river.river_job`)
	require.NoError(t, err)
	n, err := h.FailStrandedAsks(t.Context(), gaveUpAsks)
	require.NoError(t, err)
	require.EqualValues(t, 1, n)
	found, err := h.AskedForNow(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, gaveUpAsks, found.Trouble)
}
