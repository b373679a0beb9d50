package drive

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
)

func TestStandingAsk(t *testing.T) {
	day := func(m time.Month, d int) time.Time { return time.Date(2027, m, d, 0, 0, 0, 0, time.UTC) }
	first, until := day(1, 31), day(4, 30)
	s := StandingAsk{Line: Asked{Recipient: 1, Sizes: []int64{1}, Wanted: 40, Matter: MatterMust, Due: &first}, LeadDays: 28, Until: &until}
	require.NoError(t, s.Check(day(1, 1)))
	require.Empty(t, s.Due(day(1, 2)))
	require.Equal(t, []time.Time{first}, s.Due(day(1, 3)))
	require.Equal(t, []time.Time{first, day(2, 28), day(3, 31)}, s.Due(day(3, 3)), "a shorter month has its last day")
	require.Equal(t, []time.Time{first, day(2, 28), day(3, 31), until}, s.Due(day(12, 1)), "after the end none comes")
	require.Equal(t, day(2, 28), *s.Next(day(1, 3)))
	require.Nil(t, s.Next(day(5, 1)))

	before := day(1, 30)
	for field, spoil := range map[string]func(*StandingAsk){
		"due":    func(s *StandingAsk) { s.Line.Due = nil },
		"lead":   func(s *StandingAsk) { s.LeadDays = 181 },
		"until":  func(s *StandingAsk) { s.Until = &before },
		"wanted": func(s *StandingAsk) { s.Line.Wanted = 0 },
	} {
		bad := s
		spoil(&bad)
		require.Contains(t, apperr.Fields(bad.Check(day(1, 1))), field)
	}
	_, err := s.Change(0, nil)
	require.Contains(t, apperr.Fields(err), "wanted")
	s.Ended = true
	require.Empty(t, s.Due(day(3, 3)))
	_, err = s.Change(5, nil)
	require.Error(t, err)
}
