package pgtest_test

import (
	"context"
	"errors"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
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

func TestFilledOnceAndCopied(t *testing.T) {
	ctx, filled := context.Background(), 0
	const add, count = `INSERT INTO sign_in_attempts (at, who, source) VALUES (now(), 'who', 'where')`, `SELECT count(*) FROM sign_in_attempts`
	copies := pgtest.Filled(func(url string) error {
		filled++
		pool, err := pgxpool.New(ctx, url)
		if err != nil {
			return err
		}
		defer pool.Close()
		_, err = pool.Exec(ctx, add)
		return err
	})
	a, b := copies(t), copies(t)
	_, err := a.Pool.Exec(ctx, add)
	require.NoError(t, err)
	for db, want := range map[*pgtest.DB]int{a: 2, b: 1, copies(t): 1, pgtest.New(t): 0} {
		var n int
		require.NoError(t, db.Pool.QueryRow(ctx, count).Scan(&n))
		require.Equal(t, want, n)
	}
	require.Equal(t, 1, filled)
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
