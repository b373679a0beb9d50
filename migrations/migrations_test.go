package migrations_test

import (
	"context"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/localpg"
	"boltward/internal/pgtest"
	"boltward/migrations"
)

func TestMigrateIsRepeatableAndKnown(t *testing.T) {
	ctx := context.Background()
	db := pgtest.Empty(t)
	err := migrations.Known(ctx, db.Pool)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	require.ErrorContains(t, err, "not been prepared")

	var racing sync.WaitGroup
	errs := make([]error, 3)
	for i := range errs {
		racing.Go(func() { errs[i] = migrations.Migrate(ctx, db.Owner()) })
	}
	racing.Wait()
	require.Equal(t, make([]error, 3), errs, "three at once")
	require.NoError(t, migrations.Migrate(ctx, db.Owner()), "once more")
	require.NoError(t, migrations.Known(ctx, db.Pool))
}

func TestKnownRefusesOtherSchemas(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		name, change, says string
		migrate            string // what Migrate says of it; "" where it mends it
	}{
		{
			"newer", `INSERT INTO goose_db_version (version_id, is_applied) VALUES (90000, true)`,
			"made by a newer boltward (schema 90000", "made by a newer boltward (schema 90000",
		},
		{
			"newer queue", `INSERT INTO river.river_migration (line, version) VALUES ('main', 900)`,
			"made by a newer boltward (job queue 900", "made by a newer boltward (job queue 900",
		},
		{
			"older queue", `DROP SCHEMA river CASCADE`,
			"older than this boltward (job queue 0", "",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := pgtest.New(t)
			_, err := db.Owner().Exec(ctx, c.change)
			require.NoError(t, err)

			err = migrations.Known(ctx, db.Pool)
			require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
			require.ErrorContains(t, err, c.says)
			err = migrations.Migrate(ctx, db.Owner())
			if c.migrate != "" {
				require.ErrorContains(t, err, c.migrate)
				return
			}
			require.NoError(t, err)
			require.NoError(t, migrations.Known(ctx, db.Pool))
		})
	}
	t.Run("older", func(t *testing.T) {
		db := pgtest.New(t)
		_, err := db.Owner().Exec(ctx, `DELETE FROM goose_db_version WHERE version_id = (SELECT max(version_id) FROM goose_db_version)`)
		require.NoError(t, err)
		require.ErrorContains(t, migrations.Known(ctx, db.Pool), "older than this boltward (schema ")
	})
	t.Run("a login without rights", func(t *testing.T) {
		db := pgtest.New(t)
		_, err := db.Owner().Exec(ctx, `REVOKE ALL ON goose_db_version FROM boltward_server`)
		require.NoError(t, err)
		err = migrations.Known(ctx, db.Pool)
		require.True(t, apperr.Is(err, apperr.KindDenied), "%v", err)
		require.ErrorContains(t, err, "member of boltward_server")
	})
}

func TestTheServerMayNotMigrate(t *testing.T) {
	ctx := context.Background()
	err := migrations.Migrate(ctx, pgtest.Empty(t).Pool)
	require.True(t, apperr.Is(err, apperr.KindDenied), "%v", err)
	require.ErrorContains(t, err, "as the owner of its tables")
}

// A restore is not to be answered by migrating: an older backup is refused by what that leaves.
func TestTheServerMayNotMakeWhatARestoreNeeds(t *testing.T) {
	ctx := context.Background()
	all, err := migrations.Read(ctx, pgtest.New(t).Owner())
	require.NoError(t, err)
	err = migrations.MigrateTo(ctx, pgtest.Empty(t).Pool, all)
	require.True(t, apperr.Is(err, apperr.KindDenied), "%v", err)
	require.ErrorContains(t, err, "restore as its owner")
	require.NotContains(t, err.Error(), "migrate")
}

func TestAFileThatFailsIsTriedAgain(t *testing.T) {
	ctx := context.Background()
	all, err := migrations.Read(ctx, pgtest.New(t).Owner())
	require.NoError(t, err)
	const forecasts = 78
	at := slices.Index(all.Ours, forecasts)
	owner := pgtest.Empty(t).Owner()
	require.NoError(t, migrations.MigrateTo(ctx, owner, migrations.Versions{Ours: all.Ours[:at-2], Queue: all.Queue}))
	_, err = owner.Exec(ctx, `CREATE TABLE forecasts (in_the_way int)`)
	require.NoError(t, err)

	for range 2 {
		err = migrations.Migrate(ctx, owner)
		require.ErrorContains(t, err, "00078_forecasts.sql failed, and nothing of it was kept")
		require.ErrorContains(t, err, "run boltward migrate again")
		require.ErrorContains(t, err, `relation "forecasts" already exists`)
		there, err := migrations.Read(ctx, owner)
		require.NoError(t, err)
		require.Equal(t, all.Ours[:at], there.Ours, "the files before it stay")
	}
	_, err = owner.Exec(ctx, `DROP TABLE forecasts`)
	require.NoError(t, err)
	require.NoError(t, migrations.Migrate(ctx, owner))
	require.NoError(t, migrations.Known(ctx, owner))
}

// The server may work the queue and read what was migrated, and may neither own
// nor make anything.
func TestRightsOfTheServer(t *testing.T) {
	ctx := context.Background()
	db := pgtest.New(t)
	for right, want := range map[string]bool{
		`has_table_privilege('river.river_job', 'SELECT, INSERT, UPDATE, DELETE')`:     true,
		`has_sequence_privilege('river.river_job_id_seq', 'USAGE')`:                    true,
		`has_table_privilege('river.river_migration', 'SELECT')`:                       true,
		`has_table_privilege('river.river_migration', 'UPDATE')`:                       false,
		`has_table_privilege('goose_db_version', 'INSERT')`:                            false,
		`has_schema_privilege('public', 'CREATE')`:                                     false,
		`has_schema_privilege('river', 'CREATE')`:                                      false,
		`EXISTS (SELECT FROM pg_class WHERE pg_get_userbyid(relowner) = current_user)`: false,
	} {
		var has bool
		require.NoError(t, db.Pool.QueryRow(ctx, `SELECT `+right).Scan(&has), right)
		require.Equal(t, want, has, right)
	}
}

func TestOwnerThatMayNotMakeTheRole(t *testing.T) {
	ctx := context.Background()
	server, err := localpg.Start(ctx, localpg.Config{Data: filepath.Join(t.TempDir(), "var"), Throwaway: true})
	require.NoError(t, err)
	defer func() { require.NoError(t, server.Close()) }()
	admin, owner := open(t, server.AdminURL()), open(t, server.OwnerURL())

	_, err = admin.Exec(ctx, `DROP ROLE boltward_server`)
	require.NoError(t, err)
	err = migrations.Migrate(ctx, owner)
	require.True(t, apperr.Is(err, apperr.KindDenied), "%v", err)
	require.ErrorContains(t, err, "CREATE ROLE boltward_server NOLOGIN")

	_, err = admin.Exec(ctx, `ALTER ROLE boltward_owner CREATEROLE`)
	require.NoError(t, err)
	require.NoError(t, migrations.Migrate(ctx, owner))
	_, err = owner.Exec(ctx, `GRANT boltward_server TO boltward`)
	require.NoError(t, err)
	require.NoError(t, migrations.Known(ctx, open(t, server.ServerURL())))
}

func open(t *testing.T, url string) *pgxpool.Pool {
	t.Helper()
	pool, err := pgxpool.New(context.Background(), url)
	require.NoError(t, err)
	t.Cleanup(pool.Close)
	return pool
}
