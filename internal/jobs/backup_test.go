package jobs

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/backup"
	"boltward/internal/postgres"
)

// Two processes that were told to make backups make one.
func TestOneBackupByTwo(t *testing.T) {
	h := newHouse(t)
	private, public, err := backup.NewIdentity()
	require.NoError(t, err)
	folder := t.TempDir()
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
	require.Equal(t, []string{public}, made.Settings.Recipients)
	key := filepath.Join(t.TempDir(), "key")
	require.NoError(t, os.WriteFile(key, []byte(private), 0o600))
	by, err := backup.WithIdentities(key)
	require.NoError(t, err)
	found, err := backup.Verify(t.Context(), filepath.Join(folder, made.Good.File), by)
	require.NoError(t, err)
	require.Equal(t, made.Good.SHA256, found.SHA256)
	// Asked for again it is not due, and nothing is put into the queue.
	require.NoError(t, h.WantBackup(t.Context(), time.Hour))
	var waiting int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), `SELECT count(*) FROM river.river_job WHERE kind = 'backup' AND state = 'available'`).Scan(&waiting))
	require.Zero(t, waiting)
}
