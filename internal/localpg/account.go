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
		if st := info.Sys().(*syscall.Stat_t); st.Uid != 0 {
			return &account{strconv.Itoa(int(st.Uid)), st.Uid, st.Gid}, nil
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
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

// mayUse refuses a database that was copied or given away such that it belongs
// to root.
func (a *account) mayUse(database string) error {
	if a == nil {
		return nil
	}
	info, err := os.Stat(database)
	if err != nil {
		return fmt.Errorf("look at %s: %w", database, err)
	}
	if info.Sys().(*syscall.Stat_t).Uid == 0 {
		return apperr.Conflict("The database folder %[1]s belongs to root, as whom Postgres will not run: give it away with chown -R %[2]s %[1]s.", database, a.name)
	}
	return nil
}

// mayEnter tries it, since access lists decide too.
func (a *account) mayEnter(folder string) bool {
	if a == nil {
		return true
	}
	try := exec.Command("/bin/sh", "-c", `cd "$1"`, "sh", folder)
	a.command(try)
	return try.Run() == nil
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
