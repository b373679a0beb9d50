package jobs

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/outlook"
)

// The outlook of a drive is worked out by itself; one that takes pages no time is not kept.
func TestForecastsAreWorkedOut(t *testing.T) {
	h := newHouse(t)
	h.work(t, plain)
	row := func() (there, found bool) {
		const q = `SELECT count(*) > 0, coalesce(bool_or(found IS NOT NULL), false) FROM forecasts WHERE drive_id = 'spring' AND form = $1`
		require.NoError(t, h.db.Owner().QueryRow(t.Context(), q, outlook.Form).Scan(&there, &found))
		return there, found
	}
	require.Eventually(t, func() bool { there, _ := row(); return there }, 20*time.Second, 20*time.Millisecond)
	_, found := row()
	require.False(t, found)
}
