package localpg

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"boltward/internal/apperr"
)

// postmaster is the main process of Postgres as its lock file tells it
// (https://www.postgresql.org/docs/15/storage-file-layout.html, postmaster.pid).
type postmaster struct {
	pid     int // 0 where there is no lock file, or it was cut short
	port    int
	sockets string // the folder of the Unix socket
	ready   bool
}

// readPostmaster reads the lock file in the database folder.
func readPostmaster(folder string) (postmaster, error) {
	text, err := os.ReadFile(filepath.Join(folder, "postmaster.pid"))
	if errors.Is(err, fs.ErrNotExist) {
		return postmaster{}, nil
	}
	if err != nil {
		return postmaster{}, fmt.Errorf("read lock file of the database: %w", err)
	}
	lines := strings.Split(string(text), "\n")
	for len(lines) < 8 { // it is written in steps
		lines = append(lines, "")
	}
	var p postmaster
	p.pid, _ = strconv.Atoi(lines[0])
	p.port, _ = strconv.Atoi(lines[3])
	p.sockets = lines[4]
	p.ready = strings.TrimSpace(lines[7]) == "ready"
	return p, nil
}

// removeSockets removes the short folder that was made for the socket, and
// nothing that is not known to be there.
func (p postmaster) removeSockets() error {
	if !strings.HasPrefix(filepath.Base(p.sockets), shortPrefix) {
		return nil
	}
	socket := filepath.Join(p.sockets, ".s.PGSQL."+strconv.Itoa(p.port))
	for _, path := range []string{socket, socket + ".lock", p.sockets} {
		if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("remove the socket of the database: %w", err)
		}
	}
	return nil
}

// clear makes way for a fresh start: it stops a Postgres that was left over
// when all its users were killed, waits for one that is already stopping, and
// frees a lock file whose process is no more. One that living processes use is
// never stopped.
func (s *Server) clear(ctx context.Context, alone bool) error {
	const patience = 10 * time.Second
	old, err := readPostmaster(s.folder.database())
	if err != nil {
		return err
	}
	if old.pid == 0 {
		return removeEmptyLockFile(s.folder.database())
	}
	s.server, s.unclean = old, true
	if known, err := readSecrets(s.folder.secrets()); err == nil {
		s.secrets = known
	}
	if alone {
		s.log("The last run did not end cleanly; putting the database in order…")
	}
	for end := time.Now().Add(patience); ; {
		now, err := readPostmaster(s.folder.database())
		if err != nil {
			return err
		}
		if now.pid != old.pid {
			return old.removeSockets()
		}
		who := lookAt(old.pid, s.folder.database())
		if who == gone || who == stranger {
			if err := disown(s.folder.database()); err != nil {
				return err
			}
			return old.removeSockets()
		}
		if alone && (who == ours || s.answers(ctx)) {
			ctx, cancel := context.WithTimeout(ctx, stopWithin)
			defer cancel()
			if err := s.halt(ctx); err != nil {
				return err
			}
			return old.removeSockets()
		}
		if time.Now().After(end) {
			return apperr.Conflict("Process %d seems to be a Postgres that uses %s, but it does not answer: end it, then start again.", old.pid, s.folder.database())
		}
		if err := pause(ctx, 50*time.Millisecond); err != nil {
			return err
		}
	}
}

// disown writes our own number into the lock file of a Postgres that is gone.
// Postgres takes its parent's number there for stale, where it would wait for a
// zombie or for a stranger to whom the number was given since; it still checks
// for itself that no process of the old one is left.
func disown(folder string) error {
	path := filepath.Join(folder, "postmaster.pid")
	text, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("read lock file of the database: %w", err)
	}
	_, rest, _ := strings.Cut(string(text), "\n")
	info, err := os.Stat(path)
	if err != nil {
		return fmt.Errorf("look at lock file of the database: %w", err)
	}
	if err := writeWhole(path, []byte(strconv.Itoa(os.Getpid())+"\n"+rest)); err != nil {
		return fmt.Errorf("free lock file of the database: %w", err)
	}
	if os.Geteuid() == 0 {
		st := info.Sys().(*syscall.Stat_t)
		return os.Chown(path, int(st.Uid), int(st.Gid))
	}
	return nil
}

// removeEmptyLockFile removes a lock file that was cut short by a power cut,
// which Postgres refuses to start over.
func removeEmptyLockFile(folder string) error {
	err := os.Remove(filepath.Join(folder, "postmaster.pid"))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("remove empty lock file of the database: %w", err)
	}
	return nil
}

// halt asks Postgres to stop at once but cleanly, and waits until it is gone.
func (s *Server) halt(ctx context.Context) error {
	if s.child != nil {
		return s.child.halt(ctx)
	}
	pid := s.server.pid
	if pid == 0 { // it never came to a start
		return nil
	}
	for asked := false; ; {
		now, err := readPostmaster(s.folder.database())
		if err != nil {
			return err
		}
		if who := lookAt(pid, s.folder.database()); now.pid != pid || who == gone || who == stranger {
			return nil
		}
		if !asked {
			if err := syscall.Kill(pid, syscall.SIGINT); err != nil && !errors.Is(err, syscall.ESRCH) {
				return fmt.Errorf("stop process %d: %w", pid, err)
			}
			asked = true
		}
		if err := pause(ctx, 10*time.Millisecond); err != nil {
			return fmt.Errorf("wait for process %d to stop: %w", pid, err)
		}
	}
}
