package jobs

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/outlook"
)

// Of 500 people the rest of a drive takes four seconds of a processor to play, with all that would help. A worker that
// gives way to others may be at it for minutes, and is not dead.
func TestAForecastIsNotTakenForDead(t *testing.T) {
	require.Greater(t, (&forecastWorker{}).Timeout(nil), 60*4*time.Second)
	require.Greater(t, (&forecastWorker{}).Timeout(nil), RescueAfter)
}

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
