package postgres

import (
	"context"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/pgtest"
)

// opened gives a pool each of whose connections has an own share.
func opened(t *testing.T, db *pgtest.DB, name string) *pgxpool.Pool {
	t.Helper()
	config, err := pgxpool.ParseConfig(db.URL)
	require.NoError(t, err)
	config.ConnConfig.RuntimeParams["application_name"] = name
	config.AfterConnect = ShareUse
	pool, err := pgxpool.NewWithConfig(t.Context(), config)
	require.NoError(t, err)
	t.Cleanup(pool.Close)
	return pool
}

// Any number share a database, by their pools and beside them, or one restore has it alone; whoever is
// barred is told by whom, and waits no longer than it is said.
func TestUse(t *testing.T) {
	db := pgtest.New(t)
	table, shelf := opened(t, db, "the table"), opened(t, db, "the shelf")
	first, err := BeginUse(t.Context(), table)
	require.NoError(t, err)
	require.NoError(t, first.Held())
	second, err := BeginUse(t.Context(), shelf)
	require.NoError(t, err)
	inUse := func(says string) {
		t.Helper()
		_, err := TakeAlone(t.Context(), db.Owner())
		require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
		require.ErrorContains(t, err, "This database is in use "+says+". Stop whatever uses it")
	}
	inUse("(the shelf; the table)")
	require.NoError(t, shelf.Ping(t.Context()))
	require.NoError(t, first.End(t.Context()))
	require.NoError(t, second.End(t.Context()))
	inUse("(the shelf)") // a pool alone keeps others out too
	shelf.Close()

	alone, err := TakeAlone(t.Context(), db.Owner())
	require.NoError(t, err)
	require.ErrorIs(t, table.Ping(t.Context()), ErrRestoring)
	began := time.Now()
	_, err = BeginUse(t.Context(), table)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	require.ErrorContains(t, err, "A backup is being restored into this database (process ")
	require.Greater(t, time.Since(began), barredAtMost)
	require.NoError(t, alone.Held(t.Context()))
	ended, end := context.WithCancel(t.Context())
	end()
	require.NoError(t, alone.Held(ended), "that ctx has ended takes nothing away")

	// Who waits comes in as soon as it has ended.
	time.AfterFunc(barredAtMost/10, func() { _ = alone.End(context.Background()) })
	third, err := BeginUse(t.Context(), table)
	require.NoError(t, err)
	require.NoError(t, third.End(t.Context()))
}

// Rows are put in and taken out only by the very connection that has the lock: a pooler may have lent
// another, or lent that to somebody else.
func TestNothingIsFilledWithoutTheLock(t *testing.T) {
	db := pgtest.New(t)
	alone, err := TakeAlone(t.Context(), db.Owner())
	require.NoError(t, err)
	tx, err := db.Owner().Begin(t.Context())
	require.NoError(t, err)
	form, err := formOf(t.Context(), tx)
	require.NoError(t, err)
	require.NoError(t, tx.Rollback(t.Context()))
	keep := func(*Filling) error { return nil }
	require.NoError(t, Fill(t.Context(), alone, form, keep))
	require.NoError(t, Clear(t.Context(), alone))

	unlock := func(q querier) {
		t.Helper()
		var was bool
		require.NoError(t, q.QueryRow(t.Context(), `SELECT pg_advisory_unlock($1)`, useLock).Scan(&was))
		require.True(t, was)
	}
	const pooler = "not to a pooler of connections"
	require.ErrorContains(t, Fill(t.Context(), alone, form, func(f *Filling) error { unlock(f.tx); return nil }), pooler, "lost on the way")
	asked := false
	require.ErrorContains(t, Fill(t.Context(), alone, form, func(*Filling) error { asked = true; return nil }), pooler)
	require.False(t, asked)
	require.ErrorContains(t, Clear(t.Context(), alone), pooler)
	require.ErrorContains(t, alone.Held(t.Context()), pooler)

	_, err = db.Owner().Exec(t.Context(), `SELECT pg_terminate_backend($1)`, alone.held.conn.PgConn().PID())
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		err := alone.Held(t.Context())
		return err != nil && apperr.Is(err, apperr.KindConflict) && alone.held.conn.IsClosed()
	}, time.Minute, 10*time.Millisecond)
	require.ErrorContains(t, alone.Held(t.Context()), "was lost")
	require.NoError(t, alone.End(t.Context()))
}
