package localpg

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
)

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(t *testing.T, dir string) (data string)
		says []string
	}{
		{"the data folder is a file", func(t *testing.T, dir string) string {
			data := filepath.Join(dir, "var")
			require.NoError(t, os.WriteFile(data, nil, 0o600))
			return data
		}, []string{"cannot write to its data folder", "not a directory", "BOLTWARD_DATA"}},
		{"the data folder cannot be made", func(t *testing.T, dir string) string {
			return "/proc/boltward"
		}, []string{"cannot write to its data folder /proc/boltward", "BOLTWARD_DATA"}},
		{"the path is too long", func(t *testing.T, dir string) string {
			return filepath.Join(dir, strings.Repeat("long/", 200))
		}, []string{"longer than Postgres can take", "BOLTWARD_DATA"}},
		{"another version made it", func(t *testing.T, dir string) string {
			database := filepath.Join(dir, "postgres")
			require.NoError(t, os.Mkdir(database, 0o700))
			require.NoError(t, os.WriteFile(filepath.Join(database, "PG_VERSION"), []byte("11\n"), 0o600))
			return dir
		}, []string{"made by Postgres 11", "install Postgres 11", "BOLTWARD_DATA"}},
		{"something else lies there", func(t *testing.T, dir string) string {
			require.NoError(t, os.Mkdir(filepath.Join(dir, "postgres"), 0o700))
			return dir
		}, []string{"is not the folder of a Postgres database"}},
		{"its passwords are damaged", func(t *testing.T, dir string) string {
			require.NoError(t, os.WriteFile(filepath.Join(dir, "postgres.json"), []byte("{"), 0o600))
			return dir
		}, []string{"passwords", "backup"}},
		{"it belongs to root", func(t *testing.T, dir string) string {
			data := as{name: "ourselves"}.made(t)
			require.NoError(t, os.Chown(filepath.Join(data, "postgres"), 0, 0))
			return data
		}, []string{"belongs to root", "chown -R"}},
		{"Postgres itself refuses", func(t *testing.T, dir string) string {
			data := as{name: "ourselves"}.made(t)
			require.NoError(t, os.Remove(filepath.Join(data, "postgres", "global", "pg_control")))
			return data
		}, []string{"did not start", "pg_control", "postgres.log"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, a := range accounts(t) {
				switch {
				case a.credential != nil && c.name == "Postgres itself refuses":
					continue // made by root
				case (a.credential != nil || os.Geteuid() != 0) && c.name == "it belongs to root":
					continue // who cannot make such a folder
				}
				data := c.make(t, a.folder(t))
				giveAll(t, a, data)
				text := a.refused(t, data)
				for _, want := range c.says {
					require.Contains(t, text, want, "as %s", a.name)
				}
				require.Empty(t, left(t, data))
			}
		})
	}
}

// giveAll gives what root made in a test to the account under test.
func giveAll(t *testing.T, a as, data string) {
	t.Helper()
	if a.credential == nil || strings.HasPrefix(data, "/proc") {
		return
	}
	err := filepath.WalkDir(data, func(path string, _ os.DirEntry, err error) error {
		if err != nil {
			return nil // a folder that is not there yet
		}
		return os.Chown(path, int(a.credential.Uid), int(a.credential.Gid))
	})
	require.NoError(t, err)
}

func TestUnwritableFolder(t *testing.T) {
	for _, a := range accounts(t) {
		if os.Geteuid() == 0 && a.credential == nil {
			continue // root may write anywhere
		}
		dir := a.folder(t)
		require.NoError(t, os.Chmod(dir, 0o500))
		text := a.refused(t, filepath.Join(dir, "var"))
		require.Contains(t, text, "permission denied")
		require.Contains(t, text, "BOLTWARD_DATA")
		require.Contains(t, a.refused(t, dir), "permission denied")
	}
}

func TestFullDisk(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("only root may mount a small disk")
	}
	disk := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=20m", "tmpfs", disk).CombinedOutput(); err != nil {
		t.Skipf("no small disk can be mounted here: %s", out)
	}
	t.Cleanup(func() { require.NoError(t, exec.Command("umount", disk).Run()) })
	me := as{name: "ourselves"}
	text := me.refused(t, filepath.Join(disk, "var"))
	require.Contains(t, text, "no room left for the data folder")

	require.NoError(t, exec.Command("mount", "-o", "remount,size=200m", disk).Run())
	p := me.use(t, filepath.Join(disk, "var"))
	require.Equal(t, "here", p.ask(`SELECT 'here'`), "once there is room")
	p.leave()
}

func TestOnlyOneServes(t *testing.T) {
	data := t.TempDir()
	first, err := LockServe(data, "http://127.0.0.1:8080")
	require.NoError(t, err)
	_, err = LockServe(data, "http://127.0.0.1:8081")
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	require.ErrorContains(t, err, "at http://127.0.0.1:8080")

	require.NoError(t, first.Announce("http://127.0.0.1:9"))
	_, err = LockServe(data, "")
	require.ErrorContains(t, err, "at http://127.0.0.1:9:")

	require.NoError(t, first.Release())
	second, err := LockServe(data, "http://127.0.0.1:8081")
	require.NoError(t, err)
	require.NoError(t, second.Release())
}

func TestStartGivesUpWithItsContext(t *testing.T) {
	data := t.TempDir()
	for _, after := range []time.Duration{0, 50 * time.Millisecond, 300 * time.Millisecond} {
		ctx, cancel := context.WithTimeout(context.Background(), after)
		s, err := Start(ctx, Config{Data: data})
		cancel()
		if err == nil { // a quick machine
			require.NoError(t, s.Close())
		} else {
			require.ErrorIs(t, err, context.DeadlineExceeded)
		}
		require.Empty(t, left(t, data), "after %v", after)
	}
	s, err := Start(context.Background(), Config{Data: data})
	require.NoError(t, err, "after starts that were cut short")
	require.NoError(t, s.Close())
}
