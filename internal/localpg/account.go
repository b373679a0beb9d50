package localpg

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"os/user"
	"strconv"
	"syscall"

	"boltward/internal/apperr"
)

// account is the user that Postgres runs as where we are root; nil where it
// runs as ourselves.
type account struct {
	name     string
	uid, gid uint32
}

// runAs gives the owner of a database that exists, so that one made by an
// ordinary user works under root too; else "postgres", else "nobody".
func runAs(database string) (*account, error) {
	if os.Geteuid() != 0 {
		return nil, nil
	}
	info, err := os.Stat(database)
	if err == nil {
		st := info.Sys().(*syscall.Stat_t)
		if st.Uid == 0 {
			return nil, apperr.Conflict("The database folder %s belongs to root, as whom Postgres will not run: give it to another user with chown -R.", database)
		}
		return &account{strconv.Itoa(int(st.Uid)), st.Uid, st.Gid}, nil
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("look at %s: %w", database, err)
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err1 := strconv.ParseUint(u.Uid, 10, 32)
		gid, err2 := strconv.ParseUint(u.Gid, 10, 32)
		if err1 == nil && err2 == nil && uid != 0 {
			return &account{name, uint32(uid), uint32(gid)}, nil
		}
	}
	return nil, apperr.Conflict("Postgres will not run as root, and there is no user named postgres or nobody here: run boltward as an ordinary user, or set DATABASE_URL.")
}

// owns gives a file or folder to the account.
func (a *account) own(path string) error {
	if a == nil {
		return nil
	}
	return os.Chown(path, int(a.uid), int(a.gid))
}

// command prepares a program of Postgres: as the account, in a process group of
// its own, in a folder that anybody may enter, and with an environment that
// holds no secret of ours.
func (a *account) command(cmd *exec.Cmd) {
	cmd.Dir = "/"
	cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "LC_ALL=C"}
	for _, name := range []string{"LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH"} {
		if value := os.Getenv(name); value != "" {
			cmd.Env = append(cmd.Env, name+"="+value)
		}
	}
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if a != nil {
		cmd.SysProcAttr.Credential = &syscall.Credential{Uid: a.uid, Gid: a.gid}
	}
}
