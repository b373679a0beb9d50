package postgres

import (
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// A number that was given beyond its counter is given a second time, and refused: whatever is
// numbered within a drive is held against its counter.
func TestEveryCounterIsChecked(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	const q = `SELECT t.relname FROM pg_constraint c JOIN pg_class t ON t.oid = c.conrelid AND t.relnamespace = 'public'::regnamespace
		JOIN pg_attribute a ON a.attrelid = t.oid AND a.attnum = c.conkey[1] AND a.attname = 'drive_id'
		JOIN pg_attribute b ON b.attrelid = t.oid AND b.attnum = c.conkey[2] AND b.attname = 'number'
		WHERE c.contype = 'p' ORDER BY 1`
	rows, err := s.db.Owner().Query(t.Context(), q)
	require.NoError(t, err)
	numbered, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	require.Contains(t, numbered, "kits")
	bySequence := []string{"kit_reports"}
	for _, table := range numbered {
		checked := strings.Contains(checkCounters, " FROM "+table+" GROUP BY")
		require.NotEqual(t, slices.Contains(bySequence, table), checked, "numbers of %s", table)
	}

	found, err := s.CheckBalances(t.Context())
	require.NoError(t, err)
	require.True(t, found.Agree())
	_, err = s.db.Owner().Exec(t.Context(), `INSERT INTO laundry (drive_id, number, started_on, at, who) VALUES ('spring', 3, now(), now(), 1)`)
	require.NoError(t, err)
	found, err = s.CheckBalances(t.Context())
	require.NoError(t, err)
	require.Equal(t, []Difference{{"spring", "the highest laundry is 3, its counter stands at 0"}}, found.Differences)
}
