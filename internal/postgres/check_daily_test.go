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
	list, more := last.Of("spring")
	require.NotEmpty(t, list)
	require.Zero(t, more)
	require.Equal(t, len(list), last.Differ())
	others, more := last.Of("autumn")
	require.Empty(t, others)
	require.Zero(t, more)
	needs, err := s.Needs(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, drive.NeedLedgers, needs[0].Kind, "before all else")
	require.Equal(t, len(list), needs[0].N)
	autumn, err := s.Needs(t.Context(), "autumn")
	require.NoError(t, err)
	for _, n := range autumn {
		require.NotEqual(t, drive.NeedLedgers, n.Kind)
	}
	s.clock.forward(time.Minute)
	due("at once again, until it agrees", true)
	_, err = s.db.Owner().Exec(t.Context(), `UPDATE kits SET cases = cases - 1 WHERE state = 'out'`)
	require.NoError(t, err)
	due("it agrees again", true)
	require.Empty(t, needsOf(t, s)[drive.NeedLedgers])
}

// Where everything differs, the first of it are kept and told, and how many there were.
func TestManyDifferencesAreCounted(t *testing.T) {
	s, _ := lived(t)
	startDriveAs(t, s, "autumn")
	const many = 400
	_, err := s.db.Owner().Exec(t.Context(), `INSERT INTO lots (drive_id, number, received_on, created_at) SELECT 'autumn', 9000 + n, '2026-01-02', now() FROM generate_series(1, 400) n;
		INSERT INTO pieces (drive_id, lot, piece, kind, width) SELECT 'autumn', 9000 + n, 1, 'whole', 1000 FROM generate_series(1, 400) n;
		UPDATE pieces SET received = 5000, free = 5000, free_length = 5 WHERE drive_id = 'autumn';
		UPDATE kits SET cases = cases + 1 WHERE drive_id = 'spring' AND state = 'out'`)
	require.NoError(t, err)
	found, err := s.CheckBalances(t.Context())
	require.NoError(t, err)
	require.GreaterOrEqual(t, found.Differing["autumn"], many)
	_, err = s.CheckLedgersDue(t.Context())
	require.NoError(t, err)
	last, err := s.LastLedgerCheck(t.Context())
	require.NoError(t, err)
	require.Equal(t, found.Differing, last.Differing)
	require.Equal(t, found.Differ(), last.Differ())
	list, more := last.Of("autumn")
	require.Len(t, list, DifferencesTold)
	require.Equal(t, found.Differing["autumn"]-DifferencesTold, more)
	list, more = last.Of("spring")
	require.NotEmpty(t, list, "those of one drive do not hide behind those of another")
	require.Zero(t, more)
	needs, err := s.Needs(t.Context(), "autumn")
	require.NoError(t, err)
	require.Equal(t, drive.NeedLedgers, needs[0].Kind)
	require.Equal(t, found.Differing["autumn"], needs[0].N)
}
