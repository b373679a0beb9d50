package migrations_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/pgtest"
	"boltward/migrations"
)

// databaseBefore gives a database as it was before a migration of ours, and what writes into it.
func databaseBefore(t *testing.T, migration int64) (db *pgtest.DB, do func(q string, args ...any)) {
	t.Helper()
	newest, err := migrations.Read(t.Context(), pgtest.New(t).Owner())
	require.NoError(t, err)
	older := migrations.Versions{Queue: newest.Queue}
	for _, n := range newest.Ours {
		if n < migration {
			older.Ours = append(older.Ours, n)
		}
	}
	db = pgtest.Empty(t)
	require.NoError(t, migrations.MigrateTo(t.Context(), db.Owner(), older))
	return db, func(q string, args ...any) {
		t.Helper()
		_, err := db.Owner().Exec(t.Context(), q, args...)
		require.NoError(t, err)
	}
}
