package pgtest_test

import (
	"context"
	"errors"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"boltward/internal/pgtest"
	"boltward/migrations"
)

func TestEachTestHasItsOwn(t *testing.T) {
	ctx := context.Background()
	a, b := pgtest.New(t), pgtest.New(t)
	_, err := a.Owner().Exec(ctx, `CREATE TABLE mine (n integer)`)
	require.NoError(t, err)
	var there bool
	require.NoError(t, b.Pool.QueryRow(ctx, `SELECT to_regclass('mine') IS NOT NULL`).Scan(&there))
	require.False(t, there, "a table of one test is in the database of another")
	require.NoError(t, migrations.Known(ctx, a.Pool))
}

func TestThePoolIsTheServers(t *testing.T) {
	ctx := context.Background()
	db := pgtest.New(t)
	var login string
	require.NoError(t, db.Pool.QueryRow(ctx, `SELECT current_user`).Scan(&login))
	require.Equal(t, "boltward", login)

	_, err := db.Pool.Exec(ctx, `CREATE TABLE no (n integer)`)
	var pgErr *pgconn.PgError
	require.True(t, errors.As(err, &pgErr), "the server made a table: %v", err)
	require.Equal(t, "42501", pgErr.Code)
}

func BenchmarkNew(b *testing.B) {
	for b.Loop() {
		b.Run("one", func(b *testing.B) { pgtest.New(b) })
	}
}
