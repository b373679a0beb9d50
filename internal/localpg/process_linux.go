package localpg

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"syscall"
)

// lookAt tells whose process pid is, by /proc: a Postgres works in its own
// database folder, which root without the right to trace may not see.
func lookAt(pid int, folder string) who {
	if errors.Is(syscall.Kill(pid, 0), syscall.ESRCH) {
		return gone
	}
	proc := fmt.Sprintf("/proc/%d/", pid)
	stat, err := os.ReadFile(proc + "stat")
	if err != nil {
		return unclear
	}
	// pid (name) state …, and the name may hold spaces and brackets
	text := string(stat)
	from, to := strings.IndexByte(text, '('), strings.LastIndexByte(text, ')')
	if from < 0 || to < from || len(text) < to+3 {
		return unclear
	}
	if state := text[to+2]; state == 'Z' || state == 'X' {
		return gone
	}
	if name := text[from+1 : to]; name != "postgres" && name != "postmaster" {
		return stranger
	}
	cwd, err := os.Stat(proc + "cwd")
	if err != nil {
		return unclear
	}
	database, err := os.Stat(folder)
	if err != nil {
		return unclear
	}
	if os.SameFile(cwd, database) {
		return ours
	}
	return stranger
}
