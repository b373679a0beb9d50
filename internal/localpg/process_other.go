//go:build !linux

package localpg

import (
	"errors"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// lookAt tells whose process pid is, as far as ps shows it.
func lookAt(pid int, _ string) who {
	if errors.Is(syscall.Kill(pid, 0), syscall.ESRCH) {
		return gone
	}
	out, err := exec.Command("ps", "-o", "stat=,comm=", "-p", strconv.Itoa(pid)).Output()
	if err != nil {
		return gone
	}
	state, name, _ := strings.Cut(strings.TrimSpace(string(out)), " ")
	if strings.HasPrefix(state, "Z") {
		return gone
	}
	if base := filepath.Base(strings.TrimSpace(name)); base != "postgres" && base != "postmaster" {
		return stranger
	}
	return unclear
}
