package postgres

import (
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// Ledgers are checked once a day, and again at each look while they differ; what
// differs needs somebody in the drive it is of.
func TestLedgersAreCheckedDaily(t *testing.T) {
	s, _ := lived(t)
	startDriveAs(t, s, "autumn")
	last, err := s.LastLedgerCheck(t.Context())
	require.NoError(t, err)
	require.Zero(t, last, "none yet")
	due := func(what string, want bool) {
		t.Helper()
		check, err := s.CheckLedgersDue(t.Context())
		require.NoError(t, err, what)
		require.Equal(t, want, check != nil, what)
	}
	due("the first", true)
	last, err = s.LastLedgerCheck(t.Context())
	require.NoError(t, err)
	require.Empty(t, last.Differences)
	require.True(t, last.At.Equal(s.clock.now))
	s.clock.forward(CheckedEvery - time.Minute)
	due("not yet", false)
	s.clock.forward(2 * time.Minute)
	due("a day later", true)
	s.clock.forward(-48 * time.Hour)
	due("a clock that was ahead", true)
	require.Empty(t, needsOf(t, s)[drive.NeedLedgers])

	_, err = s.db.Owner().Exec(t.Context(), `UPDATE kits SET cases = cases + 1 WHERE state = 'out'`)
	require.NoError(t, err)
	s.clock.forward(CheckedEvery)
	due("it differs", true)
	last, err = s.LastLedgerCheck(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, last.Of("spring"))
	require.Empty(t, last.Of("autumn"))
	needs, err := s.Needs(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, drive.NeedLedgers, needs[0].Kind, "before all else")
	require.Equal(t, len(last.Of("spring")), needs[0].N)
	others, err := s.Needs(t.Context(), "autumn")
	require.NoError(t, err)
	for _, n := range others {
		require.NotEqual(t, drive.NeedLedgers, n.Kind)
	}
	s.clock.forward(time.Minute)
	due("at once again, until it agrees", true)
	_, err = s.db.Owner().Exec(t.Context(), `UPDATE kits SET cases = cases - 1 WHERE state = 'out'`)
	require.NoError(t, err)
	due("it agrees again", true)
	require.Empty(t, needsOf(t, s)[drive.NeedLedgers])
}
