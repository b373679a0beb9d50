package postgres

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// TestStandingDue: each month's line comes by itself and once, however many look for it at once, until the end.
func TestStandingDue(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, r := addSize(t, s, "standard"), addRecipient(t, s, "Ward 4")
	first, until := time.Date(2026, 10, 31, 0, 0, 0, 0, time.UTC), time.Date(2026, 12, 31, 0, 0, 0, 0, time.UTC)
	a, err := s.CreateStanding(t.Context(), s.act("monthly"), drive.StandingAsk{
		LeadDays: 28, Until: &until, Line: drive.Asked{Recipient: r.Number, Sizes: []int64{z.Number}, Wanted: 40, Matter: drive.MatterMust, Due: &first},
	})
	require.NoError(t, err)
	dues := func() []string {
		lines, err := s.AskedLines(t.Context(), "spring")
		require.NoError(t, err)
		var days []string
		for _, l := range lines {
			require.Equal(t, 40, l.Wanted)
			days = append(days, l.Due.Format(time.DateOnly))
		}
		return days
	}
	require.Equal(t, []string{"2026-10-31"}, dues(), "the first is due in 28 days and comes at once")
	made, err := s.StandingDue(t.Context())
	require.NoError(t, err)
	require.Zero(t, made)

	s.clock.forward(31 * 24 * time.Hour)
	var wg sync.WaitGroup
	for range 6 {
		wg.Go(func() {
			_, err := s.StandingDue(t.Context())
			require.NoError(t, err)
		})
	}
	wg.Wait()
	require.Equal(t, []string{"2026-10-31", "2026-11-30"}, dues())

	s.clock.forward(200 * 24 * time.Hour)
	made, err = s.StandingDue(t.Context())
	require.NoError(t, err)
	require.Equal(t, 1, made, "what was missed comes late, and nothing after the end")
	require.Equal(t, []string{"2026-10-31", "2026-11-30", "2026-12-31"}, dues())
	_, err = s.ChangeStanding(t.Context(), s.fresh(), a.Number, 7, 50, nil)
	require.Error(t, err, "a stale version")
	_, err = s.EndStanding(t.Context(), s.fresh(), a.Number)
	require.NoError(t, err)
	open, err := s.StandingAsks(t.Context(), "spring")
	require.NoError(t, err)
	require.Empty(t, open)
}

// A recipient that has gone while somebody filled the form in is said beside it.
func TestAStandingRequestOfNobody(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	first := time.Date(2026, 10, 31, 0, 0, 0, 0, time.UTC)
	_, err := s.CreateStanding(t.Context(), s.act("monthly"), drive.StandingAsk{
		LeadDays: 28, Line: drive.Asked{Recipient: 99, Sizes: []int64{z.Number}, Wanted: 40, Matter: drive.MatterMust, Due: &first},
	})
	require.ErrorContains(t, err, "Choose a recipient from the list.")
	require.NotNil(t, apperr.As(err))
}

// A standing request whose line cannot be made keeps no other from its own.
func TestAFailingStandingRequestKeepsNoOtherBack(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, r := addSize(t, s, "standard"), addRecipient(t, s, "Ward 4")
	first := time.Date(2026, 10, 31, 0, 0, 0, 0, time.UTC)
	for i, wanted := range []int{13, 40} {
		_, err := s.CreateStanding(t.Context(), s.act(fmt.Sprint("monthly-", i)), drive.StandingAsk{
			LeadDays: 28, Line: drive.Asked{Recipient: r.Number, Sizes: []int64{z.Number}, Wanted: wanted, Matter: drive.MatterMust, Due: &first},
		})
		require.NoError(t, err)
	}
	_, err := s.db.Owner().Exec(t.Context(), `ALTER TABLE asked ADD CONSTRAINT asked_no_more CHECK (wanted <> 13) NOT VALID`)
	require.NoError(t, err)
	s.clock.forward(31 * 24 * time.Hour)
	made, err := s.StandingDue(t.Context())
	require.ErrorContains(t, err, "standing request 1 of spring")
	require.Equal(t, 1, made)
	var lines int
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT count(*) FROM asked WHERE wanted = 40`).Scan(&lines))
	require.Equal(t, 2, lines)
}
