package localpg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"time"

	"boltward/internal/apperr"
)

const (
	shortPrefix = "boltward-"
	// longestSocket is the room for a path in sockaddr_un on macOS, the smallest
	// (Linux has 108), with the closing zero.
	longestSocket = 104
	// retryFor is enough for a free port that was taken in between; after a crash
	// the processes of a Postgres that was killed may need longer to notice and to
	// let go of its memory.
	retryFor        = time.Second
	retryForUnclean = 10 * time.Second
	// largestLog is where the log is put aside at a start; one old one is kept.
	largestLog = 8 << 20
)

// child is a Postgres that this process started.
type child struct {
	cmd  *exec.Cmd
	done chan struct{} // closed once it has ended
}

// launch starts Postgres and returns once it answers.
func (s *Server) launch(ctx context.Context, bin programs, acct *account) error {
	s.log("Starting the database…")
	sockets, err := makeShortFolder(acct)
	if err != nil {
		return err
	}
	port := s.server.port // where other users of one that died still look for it
	patience := retryFor
	if s.unclean {
		patience = retryForUnclean
	}
	for end := time.Now().Add(patience); ; {
		if port, err = freePort(port); err != nil {
			return err
		}
		s.server = postmaster{port: port, sockets: sockets}
		said, err := s.tryLaunch(ctx, bin, acct)
		if err == nil {
			return nil
		}
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		if time.Now().After(end) || apperr.As(err) != nil {
			return apperr.Conflict("The database in %s did not start: %s (all that it said is in %s).",
				s.folder.database(), complaint(said, err), s.folder.log())
		}
		if err := pause(ctx, 200*time.Millisecond); err != nil {
			return err
		}
	}
}

// tryLaunch gives what Postgres wrote to its log where it did not start.
func (s *Server) tryLaunch(ctx context.Context, bin programs, acct *account) (said string, err error) {
	log, from, err := openLog(s.folder.log())
	if err != nil {
		return "", folderError(s.folder.root, err)
	}
	defer log.Close()

	cmd := exec.Command(bin.path("postgres"), settings(s.server, s.throwaway)...)
	acct.command(cmd)
	cmd.Stdout, cmd.Stderr = log, log
	name, handle, err := acct.reach(cmd, s.folder.database())
	if err != nil {
		return "", err
	}
	defer handle.Close() // a nil file only says that it is not open
	cmd.Args = append(cmd.Args, "-D", name)
	if err := cmd.Start(); err != nil {
		return "", fmt.Errorf("start %s: %w", bin.path("postgres"), err)
	}
	c := &child{cmd: cmd, done: make(chan struct{})}
	go func() {
		cmd.Wait() // how it ended shows in its log and its lock file
		close(c.done)
	}()
	s.child, s.server.pid = c, cmd.Process.Pid
	if err := tellKeeper(s.keeper, s.server); err != nil {
		return "", err
	}
	if err := s.waitReady(ctx); err != nil {
		text, readErr := readFrom(log, from)
		return text, errors.Join(err, readErr)
	}
	return "", nil
}

// settings are given on the command line, so that they hold for a folder that
// was made with others. Details of errors, which quote what people typed, and
// statements, which may hold a password, stay out of the log.
func settings(p postmaster, throwaway bool) []string {
	list := []string{
		"listen_addresses=127.0.0.1",
		"port=" + strconv.Itoa(p.port),
		"unix_socket_directories=" + p.sockets,
		"timezone=UTC",
		"log_timezone=UTC",
		"logging_collector=off",
		"log_error_verbosity=terse",
		"log_min_error_statement=panic",
		// Compiling pays for queries that take seconds; those of pages take milliseconds.
		"jit=off",
	}
	if throwaway {
		list = append(list, "fsync=off", "synchronous_commit=off", "full_page_writes=off",
			"wal_level=minimal", "max_wal_senders=0", "shared_buffers=32MB", "max_connections=300",
			// Tests open connections of their own; statements are planned as the program has them planned.
			"plan_cache_mode=force_generic_plan", "random_page_cost=1.1")
	} else {
		list = append(list, "fsync=on", "full_page_writes=on", "synchronous_commit=on",
			// Whenever a table was looked at, every connection plans its statements on it anew. In a database
			// this small a table in use changes by a tenth each minute, which is how often Postgres looks.
			"autovacuum_naptime=5min")
	}
	var args []string
	for _, set := range list {
		args = append(args, "-c", set)
	}
	return args
}

// waitReady waits until the lock file says that our child takes connections.
// Recovery after a crash may take long; it is waited for, and told.
func (s *Server) waitReady(ctx context.Context) error {
	tell := time.NewTicker(5 * time.Second)
	defer tell.Stop()
	for {
		p, err := readPostmaster(s.folder.database())
		if err == nil && p.pid == s.server.pid && p.ready {
			return nil
		}
		select {
		case <-s.child.done:
			s.child = nil
			return fmt.Errorf("postgres ended while starting")
		case <-tell.C:
			s.log("The database is still getting ready…")
		case <-ctx.Done():
			stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopWithin)
			defer cancel()
			return errors.Join(context.Cause(ctx), s.child.halt(stopping))
		case <-time.After(2 * time.Millisecond):
		}
	}
}

// halt asks Postgres to stop at once but cleanly, and waits until it has. It asks again: what comes
// before Postgres listens for it is lost where this process was started with SIGINT ignored.
func (c *child) halt(ctx context.Context) error {
	for {
		if err := c.cmd.Process.Signal(syscall.SIGINT); err != nil && !errors.Is(err, os.ErrProcessDone) {
			return fmt.Errorf("stop the database: %w", err)
		}
		select {
		case <-c.done:
			return nil
		case <-ctx.Done():
			return fmt.Errorf("wait for the database to stop: %w", context.Cause(ctx))
		case <-time.After(250 * time.Millisecond):
		}
	}
}

// makeShortFolder makes a private folder that the account may enter and whose
// path is short enough for a socket: in the temporary folder, else in /tmp.
func makeShortFolder(acct *account) (string, error) {
	const room = len("0000000000/.s.PGSQL.65535.lock")
	for _, above := range []string{os.TempDir(), "/tmp"} {
		if len(filepath.Join(above, shortPrefix))+room > longestSocket || !acct.mayEnter(above) {
			continue
		}
		dir, err := os.MkdirTemp(above, shortPrefix)
		if err != nil {
			continue
		}
		if err := acct.own(dir); err != nil {
			return "", errors.Join(fmt.Errorf("give socket folder: %w", err), os.Remove(dir))
		}
		return dir, nil
	}
	return "", apperr.Conflict("There is no temporary folder that Postgres may use for its socket, with a path of 60 letters or fewer (tried %s and /tmp): set TMPDIR to one.", os.TempDir())
}

// freePort gives the wanted port of 127.0.0.1 where it is free, else any other.
func freePort(want int) (int, error) {
	l, err := net.Listen("tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(want)))
	if err != nil {
		l, err = net.Listen("tcp", "127.0.0.1:0")
	}
	if err != nil {
		return 0, fmt.Errorf("find a free port: %w", err)
	}
	return l.Addr().(*net.TCPAddr).Port, l.Close()
}

// openLog opens the log at its end, having put a large one aside.
func openLog(path string) (log *os.File, from int64, err error) {
	if info, err := os.Stat(path); err == nil && info.Size() > largestLog {
		if err := os.Rename(path, path+".1"); err != nil {
			return nil, 0, err
		}
	}
	log, err = os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return nil, 0, err
	}
	info, err := log.Stat()
	if err != nil {
		return nil, 0, errors.Join(err, log.Close())
	}
	return log, info.Size(), nil
}

func readFrom(log *os.File, from int64) (string, error) {
	text, err := io.ReadAll(io.NewSectionReader(log, from, largestLog))
	return string(text), err
}
