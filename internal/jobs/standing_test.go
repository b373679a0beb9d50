package jobs

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
)

// A month's line comes by itself when its time has come, and comes once whoever works.
func TestMonthsLinesComeByThemselves(t *testing.T) {
	h := newHouse(t)
	due := drive.Day(time.Now(), time.UTC).AddDate(0, 0, 20)
	lines, err := h.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	line := lines[0].Asked
	line.Due, line.Wanted = &due, 40
	_, err = h.CreateStanding(t.Context(), h.act("standing"), drive.StandingAsk{Line: line, LeadDays: 5})
	require.NoError(t, err)
	wanted := func() []int {
		lines, err := h.AskedLines(t.Context(), "spring")
		require.NoError(t, err)
		var list []int
		for _, l := range lines {
			list = append(list, l.Wanted)
		}
		return list
	}
	require.Equal(t, []int{3}, wanted(), "too early")

	_, err = h.db.Owner().Exec(t.Context(), `UPDATE standing_asks SET lead_days = 25`)
	require.NoError(t, err)
	h.work(t, plain)
	h.work(t, plain)
	require.Eventually(t, func() bool { return len(wanted()) > 1 }, 10*time.Second, 10*time.Millisecond)
	again, err := h.StandingDue(t.Context())
	require.NoError(t, err)
	require.Zero(t, again)
	require.ElementsMatch(t, []int{3, 40}, wanted())
}
