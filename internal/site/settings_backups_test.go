package site

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/postgres"
)

// Settings says when the last good backup was made, what failed, and how one is checked by
// hand; Needs you says it where none comes any more. Both to organisers alone.
func TestBackupsOnPages(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	organiser.get("/drives/spring/settings").has("No good backup has been made yet", "None is made by itself", "boltward verify FILE")
	require.NoError(t, ts.Store.NoteBackup(t.Context(), postgres.Backup{
		BeganAt: ts.Clock.Now(), Folder: "/media/stick", File: "spring.boltward", Bytes: 3 << 20, SHA256: "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef",
		Counts: map[string]int64{"public.lots": 1234, "public.kits": 1},
	}))
	organiser.get("/drives/spring/settings").has("The last good one was made on", "by hand", "1,235 rows, 3.0 MiB", "spring.boltward", "0123456789ab…")
	organiser.get("/drives/spring/needs").lacks("backup")

	require.NoError(t, ts.Store.SaveBackupSettings(t.Context(), postgres.BackupSettings{
		Folder: "/srv/backups", Recipients: []string{"age1qqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqq"}, EverySeconds: 6 * 3600, KeepDays: 7, KeepMonths: 1,
	}))
	organiser.get("/drives/spring/settings").has("every 6 hours", "/srv/backups", "1 public key", "age1qqqqqqqq…qqqqqq", "7 days and 1 month")
	ts.Clock.Pass(time.Hour)
	turn, err := ts.Store.BackupTurn(t.Context())
	require.NoError(t, err)
	id, err := turn.Begin(t.Context(), 0, "/srv/backups", "boltward-now.age")
	require.NoError(t, err)
	require.NoError(t, turn.End())
	organiser.get("/drives/spring/settings").has("being made")
	require.NoError(t, ts.Store.EndBackup(t.Context(), postgres.Backup{ID: id, State: postgres.BackupFailed, Trouble: "There is no room left."}))
	organiser.get("/drives/spring/settings").has("failed: There is no room left.")
	organiser.get("/drives/spring/needs").has("1 backup failed: the last good one is of", "/drives/spring/settings#backups")
	ts.as(account.Packer).get("/drives/spring/needs").lacks("backup failed")

	// A good one that a clock dated years ahead hides neither what fails after it nor that nothing comes.
	ahead := ts.Clock.Now().AddDate(10, 0, 0)
	require.NoError(t, ts.Store.NoteBackup(t.Context(), postgres.Backup{
		BeganAt: ahead, Folder: "/media/stick", File: "ahead.boltward", Bytes: 1, SHA256: strings.Repeat("0", 64), Counts: map[string]int64{},
	}))
	organiser.get("/drives/spring/needs").lacks("backup")
	ts.Clock.Pass(time.Hour)
	turn, err = ts.Store.BackupTurn(t.Context())
	require.NoError(t, err)
	id, err = turn.Begin(t.Context(), 0, "/srv/backups", "boltward-later.age")
	require.NoError(t, err)
	require.NoError(t, turn.End())
	organiser.get("/drives/spring/needs").lacks("backup")
	require.NoError(t, ts.Store.EndBackup(t.Context(), postgres.Backup{ID: id, State: postgres.BackupFailed, Trouble: "There is no room left."}))
	organiser.get("/drives/spring/needs").has("1 backup failed")
	_, err = ts.DB.Owner().Exec(t.Context(), `DELETE FROM backups WHERE state = 'failed'`)
	require.NoError(t, err)
	ts.Clock.Pass(72 * time.Hour)
	organiser.get("/drives/spring/needs").has("No backup comes by itself any more")

	require.NoError(t, ts.Store.EndBackupSettings(t.Context()))
	organiser.get("/drives/spring/needs").lacks("backup")
}
