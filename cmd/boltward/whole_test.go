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
