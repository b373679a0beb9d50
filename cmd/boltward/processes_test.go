package main

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// processesIn gives the command lines of all processes that work in a folder or
// name it, by their ids: the program, its Postgres, its keeper. Linux only;
// elsewhere none.
func processesIn(t testing.TB, folder string) map[int]string {
	t.Helper()
	entries, err := os.ReadDir("/proc")
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	require.NoError(t, err)
	found := map[int]string{}
	for _, e := range entries {
		pid, err := strconv.Atoi(e.Name())
		if err != nil || pid == os.Getpid() {
			continue
		}
		// What cannot be read belongs to somebody else or has just ended.
		command, _ := os.ReadFile(filepath.Join("/proc", e.Name(), "cmdline"))
		environ, _ := os.ReadFile(filepath.Join("/proc", e.Name(), "environ"))
		cwd, _ := os.Readlink(filepath.Join("/proc", e.Name(), "cwd"))
		if len(command) == 0 { // a zombie, or a thread of the kernel
			continue
		}
		if strings.HasPrefix(cwd, folder) || bytes.Contains(command, []byte(folder)) || bytes.Contains(environ, []byte(folder)) {
			found[pid] = string(bytes.ReplaceAll(command, []byte{0}, []byte(" ")))
		}
	}
	return found
}

// someAtWork requires that the processes in a folder can be told where /proc shows
// them: that none is left would say nothing otherwise.
func someAtWork(t testing.TB, folder string) {
	t.Helper()
	if runtime.GOOS == "linux" {
		require.NotEmpty(t, processesIn(t, folder))
	}
}

// nothingLeft requires that no process works in the folder any more, at most a
// moment later.
func nothingLeft(t testing.TB, folder string) {
	t.Helper()
	for end := time.Now().Add(aMoment); len(processesIn(t, folder)) > 0 && time.Now().Before(end); {
		time.Sleep(20 * time.Millisecond)
	}
	require.Empty(t, processesIn(t, folder), "processes are left")
}

// powerCut ends all processes in a folder at once, with no chance to do anything
// first. Elsewhere than on Linux it ends the program alone.
func (p *program) powerCut(folder string) {
	p.t.Helper()
	for pid := range processesIn(p.t, folder) {
		// It may have ended by itself.
		_ = syscall.Kill(pid, syscall.SIGKILL)
	}
	p.kill()
}
