//go:build !linux

package localpg

import (
	"os"
	"os/exec"
	"path/filepath"

	"boltward/internal/apperr"
)

// reach gives the name by which cmd, run as a, finds the folder. Where a may
// not enter one of the folders above, that one is named.
func (a *account) reach(_ *exec.Cmd, folder string) (name string, handle *os.File, err error) {
	if a == nil {
		return folder, nil, nil
	}
	var above []string
	for dir := folder; dir != filepath.Dir(dir); dir = filepath.Dir(dir) {
		above = append([]string{dir}, above...)
	}
	for _, dir := range above {
		if !a.mayEnter(dir) {
			return "", nil, apperr.Conflict("Postgres runs as the user %s, who may not enter %s: allow it with chmod o+x, or choose another folder with BOLTWARD_DATA.", a.name, dir)
		}
	}
	return folder, nil, nil
}
