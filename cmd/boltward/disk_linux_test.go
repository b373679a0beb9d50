package main

import (
	"fmt"
	"os"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// smallDisk gives a disk of its own, in memory, that goes with the test. Only root
// may have one.
func smallDisk(t testing.TB, bytes int) string {
	t.Helper()
	folder, err := os.MkdirTemp("", "boltward-disk-")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.Remove(folder)) })
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, fmt.Sprintf("size=%d,mode=0711", bytes)); err != nil {
		t.Skipf("LEFT OUT: a full disk; it needs the right to mount a small one: %v", err)
	}
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(folder, syscall.MNT_DETACH)) })
	return folder
}
