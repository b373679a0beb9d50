package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every thread of a process that only works gives way to those that show pages, and one that
// serves does not.
func TestWorkGivesWay(t *testing.T) {
	t.Parallel()
	set, _ := withDatabase(t)
	worker := launch(t, set, "work")
	worker.until("it works", func() bool { return strings.Contains(worker.out.String(), "Working background jobs") })
	server := launch(t, set, "serve", "--jobs=false")
	server.until("it serves", func() bool { return strings.Contains(server.out.String(), "is at http://") })
	usual := nices(t, os.Getpid())[0]
	for _, nice := range nices(t, worker.cmd.Process.Pid) {
		require.Equal(t, max(usual, 10), nice)
	}
	for _, nice := range nices(t, server.cmd.Process.Pid) {
		require.Equal(t, usual, nice)
	}
}

// nices gives the priority of each thread: the nineteenth field of its stat (proc_pid_stat(5)),
// counted after the name in brackets.
func nices(t *testing.T, pid int) (list []int) {
	t.Helper()
	files, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/stat", pid))
	require.NoError(t, err)
	for _, file := range files {
		text, err := os.ReadFile(file)
		if os.IsNotExist(err) {
			continue // it has ended
		}
		require.NoError(t, err)
		_, fields, _ := strings.Cut(string(text), ") ")
		nice, err := strconv.Atoi(strings.Fields(fields)[16])
		require.NoError(t, err)
		list = append(list, nice)
	}
	require.NotEmpty(t, list)
	return list
}
