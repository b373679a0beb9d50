package localpg

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"

	"boltward/internal/apperr"
)

// newDatabaseRoom is what a new database takes, 55 MB, and as much again to
// work with. initdb's own words on a full disk differ by where it meets it.
const newDatabaseRoom = 110 << 20

// ensureDatabase makes the database folder where major says that there is none,
// and gives the programs of the Postgres that made it.
func (s *Server) ensureDatabase(ctx context.Context, acct *account, major int) (programs, error) {
	bin, err := findPrograms(ctx, s.folder, acct, major, s.log)
	if err != nil {
		return programs{}, err
	}
	if s.secrets, err = ensureSecrets(s.folder.secrets()); err != nil {
		return programs{}, err
	}
	if major != 0 {
		return bin, acct.mayUse(s.folder.database())
	}
	s.log("Making the database folder (first time, about a second)…")
	return bin, s.initDatabase(ctx, bin, acct)
}

// databaseVersion is the major version of the Postgres that made the folder; 0
// where there is no folder yet.
func databaseVersion(folder string) (int, error) {
	text, err := os.ReadFile(filepath.Join(folder, "PG_VERSION"))
	if errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Stat(folder); err == nil {
			return 0, apperr.Conflict("%s is not the folder of a Postgres database: move it away, or choose another data folder with BOLTWARD_DATA.", folder)
		}
		return 0, nil
	}
	if err != nil {
		return 0, folderError(filepath.Dir(folder), err)
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return 0, apperr.Conflict("The version of the database folder %s is %q, which is no version of Postgres that Boltward knows.", folder, strings.TrimSpace(string(text)))
	}
	return major, nil
}

// initDatabase makes the folder under another name first, so that one that is
// there under its own name is whole.
func (s *Server) initDatabase(ctx context.Context, bin programs, acct *account) error {
	var disk syscall.Statfs_t
	if err := syscall.Statfs(s.folder.root, &disk); err == nil && uint64(disk.Bavail)*uint64(disk.Bsize) < newDatabaseRoom {
		return folderError(s.folder.root, syscall.ENOSPC)
	}
	unfinished := s.folder.unfinished()
	if err := clearUnfinished(ctx, unfinished); err != nil {
		return folderError(s.folder.root, err)
	}
	if err := os.Mkdir(unfinished, 0o700); err != nil {
		return folderError(s.folder.root, err)
	}
	if err := acct.own(unfinished); err != nil {
		return folderError(s.folder.root, err)
	}
	args := []string{
		"--username", adminLogin, "--auth", "scram-sha-256",
		"--encoding", "UTF8", "--locale", locale(),
	}
	if s.throwaway {
		args = append(args, "--no-sync")
	} else {
		args = append(args, "--data-checksums")
	}
	cmd := exec.CommandContext(ctx, bin.path("initdb"), args...)
	acct.command(cmd)
	// initdb alone, which ends after the step it is at; what it runs would leave
	// shared memory behind.
	cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
	name, handle, err := acct.reach(cmd, unfinished)
	if err != nil {
		return err
	}
	defer handle.Close() // a nil file only says that it is not open
	password, err := s.passwordPipe(acct)
	if err != nil {
		return err
	}
	defer password.Close()
	cmd.ExtraFiles = append(cmd.ExtraFiles, password)
	cmd.Args = append(cmd.Args, "--pgdata", name, "--pwfile", fmt.Sprintf("/dev/fd/%d", 2+len(cmd.ExtraFiles)))
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Run(); err != nil {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		return apperr.Conflict("The database folder could not be made in %s: %s", s.folder.root, complaint(said.String(), err))
	}
	if err := os.Rename(unfinished, s.folder.database()); err != nil {
		return folderError(s.folder.root, err)
	}
	return nil
}

// clearUnfinished removes what a start that was cut short has left. Its initdb may
// live on for a moment and write there still: the folder loses its name first, so
// that nothing of it can get into the new one, and is removed until it stays so.
func clearUnfinished(ctx context.Context, unfinished string) error {
	left := fmt.Sprintf("%s.left-%d", unfinished, os.Getpid())
	if err := os.Rename(unfinished, left); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	lefts, err := filepath.Glob(unfinished + ".left-*")
	if err != nil {
		return err
	}
	for _, folder := range lefts {
		if err := removeWhileWritten(ctx, folder); err != nil {
			return err
		}
	}
	return nil
}

// removeWhileWritten removes a folder that another process may still write into.
func removeWhileWritten(ctx context.Context, folder string) error {
	const tries, pause = 100, 100 * time.Millisecond
	for try := 1; ; try++ {
		err := os.RemoveAll(folder)
		if !errors.Is(err, syscall.ENOTEMPTY) || try == tries {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause):
		}
	}
}

// passwordPipe holds the superuser's password for initdb to read. It lies in no
// file, so a start that is cut short leaves it nowhere.
func (s *Server) passwordPipe(acct *account) (*os.File, error) {
	read, write, err := os.Pipe()
	if err != nil {
		return nil, fmt.Errorf("give password: %w", err)
	}
	_, err = write.WriteString(s.secrets.Admin + "\n") // a pipe takes far more before it waits
	err = errors.Join(err, write.Close())
	if err == nil && acct != nil {
		err = read.Chown(int(acct.uid), int(acct.gid))
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("give password: %w", err), read.Close())
	}
	return read, nil
}

// locale sorts by code point and knows all letters; macOS has it under no name
// that initdb takes, and there only upper and lower case beyond ASCII are lost.
func locale() string {
	if runtime.GOOS == "linux" {
		return "C.UTF-8"
	}
	return "C"
}

// complaint is the first line in which a program of Postgres says why it gave
// up, else the last line of all that it said.
func complaint(said string, err error) string {
	last := err.Error()
	for line := range strings.Lines(said) {
		line = strings.TrimSpace(line)
		for _, mark := range []string{"FATAL: ", "PANIC: ", "error: "} {
			if _, why, found := strings.Cut(line, mark); found {
				return strings.TrimSpace(why)
			}
		}
		if line != "" {
			last = line
		}
	}
	return last
}
