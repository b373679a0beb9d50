package main

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"syscall"
)

// giveWay lets every process of the usual priority go before this one, so that a plan or a
// forecast keeps nobody waiting for a page on the same machine. Linux gives each thread a
// priority of its own, which those it begins take over: it goes on until all have it.
func giveWay() error {
	const nice = 10
	given := map[int]bool{}
	for more := true; more; {
		tasks, err := os.ReadDir("/proc/self/task")
		if err != nil {
			return fmt.Errorf("give way to other processes: %w", err)
		}
		more = false
		for _, t := range tasks {
			id, err := strconv.Atoi(t.Name())
			if err != nil {
				return fmt.Errorf("give way to other processes: %w", err)
			}
			if given[id] {
				continue
			}
			given[id], more = true, true
			// The kernel gives 20 less the priority. A thread that gives way as much already stays as it
			// is, and one that has ended meanwhile needs nothing.
			is, err := syscall.Getpriority(syscall.PRIO_PROCESS, id)
			if err == nil && 20-is < nice {
				err = syscall.Setpriority(syscall.PRIO_PROCESS, id, nice)
			}
			if err != nil && !errors.Is(err, syscall.ESRCH) {
				return fmt.Errorf("give way to other processes: %w", err)
			}
		}
	}
	return nil
}
