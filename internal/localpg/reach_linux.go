package localpg

import (
	"os"
	"os/exec"
)

// reach gives the name by which cmd, run as a, finds the folder. Linux follows
// an open handle also below a folder that a may not enter, such as a home of
// mode 0700. The handle must stay open until cmd has started.
func (a *account) reach(cmd *exec.Cmd, folder string) (name string, handle *os.File, err error) {
	if a == nil {
		return folder, nil, nil
	}
	handle, err = os.Open(folder)
	if err != nil {
		return "", nil, err
	}
	cmd.ExtraFiles = []*os.File{handle} // descriptor 3 there
	return "/proc/self/fd/3", handle, nil
}
