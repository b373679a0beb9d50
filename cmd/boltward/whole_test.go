package main

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWriteWhole(t *testing.T) {
	dir := t.TempDir()
	file, link, pipe := filepath.Join(dir, "plan"), filepath.Join(dir, "link"), filepath.Join(dir, "pipe")
	require.NoError(t, os.WriteFile(file, []byte("old"), 0o600))
	require.NoError(t, os.Symlink("plan", link))
	require.NoError(t, writeWhole(link, []byte("new")))
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "new", string(text))
	at, err := os.Lstat(link)
	require.NoError(t, err)
	require.Equal(t, os.ModeSymlink, at.Mode().Type(), "the link stays")

	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	came := make(chan string, 1)
	go func() {
		text, _ := os.ReadFile(pipe)
		came <- string(text)
	}()
	require.NoError(t, writeWhole(pipe, []byte("through")))
	require.Equal(t, "through", <-came)
	at, err = os.Lstat(pipe)
	require.NoError(t, err)
	require.Equal(t, os.ModeNamedPipe, at.Mode().Type(), "the pipe stays")

	require.ErrorContains(t, writeWhole(filepath.Join(dir, "nowhere", "plan"), nil), "nowhere")
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, entries, 3, "nothing half written lies about")
}

// Who may read a file stays as it was where there is one, and is nobody whom the umask shuts out
// where there is none: what is written may hold addresses and phones.
func TestAFileIsReadByNoMoreThanBefore(t *testing.T) {
	dir := t.TempDir()
	private := filepath.Join(dir, "people.csv")
	require.NoError(t, os.WriteFile(private, []byte("old"), 0o600))
	require.NoError(t, writeWhole(private, []byte("new")))
	info, err := os.Stat(private)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	require.Equal(t, "new", string(readFile(t, private)))

	usual, written := filepath.Join(dir, "usual"), filepath.Join(dir, "written")
	require.NoError(t, os.WriteFile(usual, nil, 0o666))
	require.NoError(t, writeWhole(written, nil))
	as, err := os.Stat(usual)
	require.NoError(t, err)
	info, err = os.Stat(written)
	require.NoError(t, err)
	require.Equal(t, as.Mode().Perm(), info.Mode().Perm())
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, left, 3, "nothing else stays there")
}
