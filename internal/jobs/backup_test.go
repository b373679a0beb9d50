package jobs

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"boltward/internal/backup"
	"boltward/internal/drive"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
	"boltward/internal/task"
)

// Two processes that were told to make backups make one.
func TestOneBackupByTwo(t *testing.T) {
	h := newHouse(t)
	private, public, err := backup.NewIdentity()
	require.NoError(t, err)
	folder := t.TempDir()
	donor, err := h.CreateDonor(t.Context(), h.act("donor"), drive.Donor{Name: "Halcyon Reed"}, nil)
	require.NoError(t, err)
	_, err = h.EraseDonor(t.Context(), h.act("erased"), donor.Number)
	require.NoError(t, err)
	cfg := Config{
		Store: h.Store, Log: slog.New(slog.NewTextHandler(h.log, nil)), Solver: plain,
		Backups: backup.Settings{Folder: folder, Recipients: []string{public}, Every: time.Hour, Keep: backup.UsualKeep(), Key: "00"},
	}
	for range 2 {
		halt, err := Start(t.Context(), cfg)
		require.NoError(t, err)
		t.Cleanup(func() {
			ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
			defer cancel()
			require.NoError(t, halt(ctx))
		})
	}
	t.Cleanup(func() {
		if t.Failed() {
			t.Log(h.log)
		}
	})
	var made postgres.BackupsMade
	require.Eventually(t, func() bool {
		made, err = h.BackupsMade(t.Context())
		return err == nil && made.Good != nil
	}, 60*time.Second, 20*time.Millisecond, "a backup is made")
	require.Len(t, made.Lately, 1)
	require.True(t, made.Good.ByItself)
	var list []postgres.Erased
	require.Eventually(t, func() bool {
		list, err = backup.ReadErasedFile(filepath.Join(folder, backup.ErasedFile), time.Now())
		return err == nil
	}, 20*time.Second, 20*time.Millisecond, "who was erased is noted beside it")
	require.Len(t, list, 1)
	require.Equal(t, []any{postgres.ErasedDonor, "spring", donor.Number}, []any{list[0].Kind, list[0].Drive, list[0].Number})
	require.Equal(t, []string{public}, made.Settings.Recipients)
	key := filepath.Join(t.TempDir(), "key")
	require.NoError(t, os.WriteFile(key, []byte(private), 0o600))
	by, err := backup.WithIdentities(key)
	require.NoError(t, err)
	found, err := backup.Verify(t.Context(), filepath.Join(folder, made.Good.File), by)
	require.NoError(t, err)
	require.Equal(t, made.Good.SHA256, found.SHA256)
	// Asked for again it is not due, and what the other asked for meanwhile makes none either.
	require.NoError(t, h.WantBackup(t.Context(), time.Hour))
	require.Eventually(t, func() bool {
		var open int
		err := h.db.Pool.QueryRow(t.Context(), `SELECT count(*) FROM river.river_job WHERE kind = 'backup' AND finalized_at IS NULL`).Scan(&open)
		return err == nil && open == 0
	}, 60*time.Second, 20*time.Millisecond, "nothing waits")
	made, err = h.BackupsMade(t.Context())
	require.NoError(t, err)
	require.Len(t, made.Lately, 1)
}

// What the jobs that come by themselves do in an empty database holds no restore up.
func TestRestoreWhereOnlyJobsRan(t *testing.T) {
	db := pgtest.New(t)
	empty := &house{Store: postgres.New(db.Pool, time.Now), db: db, log: &text{}}
	stop := empty.work(t, plain)
	worked := func() (kinds []string) {
		rows, err := db.Owner().Query(t.Context(), `SELECT DISTINCT kind FROM river.river_job WHERE state = 'completed' ORDER BY kind`)
		require.NoError(t, err)
		kinds, err = pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(t, err)
		return kinds
	}
	kinds := []string{task.Forecasts{}.Kind(), task.Keeping{}.Kind(), task.Ledgers{}.Kind(), task.Reminders{}.Kind(), task.Standing{}.Kind(), task.Tidy{}.Kind()}
	require.Eventually(t, func() bool { return slices.Equal(kinds, worked()) }, 60*time.Second, 20*time.Millisecond, "every job that runs at the start is done")
	stop()
	require.NoError(t, postgres.Empty(t.Context(), db.Owner()))

	h := newHouse(t)
	private, public, err := backup.NewIdentity()
	require.NoError(t, err)
	folder := t.TempDir()
	key, file := filepath.Join(folder, "key"), filepath.Join(folder, "house.boltward")
	require.NoError(t, os.WriteFile(key, []byte(private), 0o600))
	by, err := backup.WithIdentities(key)
	require.NoError(t, err)
	seal, err := backup.PublicKeys("to", []string{public})
	require.NoError(t, err)
	_, err = backup.Write(t.Context(), h.Store, backup.Order{File: file, Seal: seal, Key: "00", Now: time.Now})
	require.NoError(t, err)
	_, err = backup.Restore(t.Context(), backup.Return{
		File: file, By: by, Owner: db.Owner(), Say: func(string) {},
		PutKey: func(string) (func() error, error) { return func() error { return nil }, nil },
	})
	require.NoError(t, err)
	drives, err := empty.Drives(t.Context())
	require.NoError(t, err)
	require.Len(t, drives, 1)
}
