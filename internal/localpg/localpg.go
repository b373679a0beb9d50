// Package localpg runs a private Postgres on this machine, so that the program
// works with nothing set up.
//
// Everything lies in one folder: the database in "postgres", its passwords in
// "postgres.json" (mode 0600), what it says in "postgres.log", and the locks.
// Postgres listens on a Unix socket in a short private folder and on a free
// port of 127.0.0.1, asks for passwords (scram-sha-256) on both, and syncs to
// disk. There is a database "boltward" that belongs to the login
// "boltward_owner"; the login "boltward" is a member of the group
// "boltward_server" and owns nothing. The schema is the caller's to make.
//
// Any number of processes may use one folder at once: each holds a shared lock
// beside the data. The first starts Postgres and the last stops it, whichever
// that is; where the last is killed, a small shell process (keeper.go) stops it
// instead, and where that is killed too, the next Start does. Postgres and the
// keeper have process groups of their own, so that Ctrl-C does not reach them.
//
// Postgres refuses to run as root: there it runs as the user "postgres", else
// "nobody", also in a folder whose parents that user may not enter.
//
// Linux and macOS; Postgres 15 or newer. A failure that a person can mend is an
// apperr.Error of one sentence.
package localpg

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"syscall"
	"time"
)

// stopWithin bounds a clean stop: Postgres writes what it holds in memory first.
const stopWithin = time.Minute

// Config says where the database lies.
type Config struct {
	// Data is the folder of all this installation's data; it is made where missing.
	Data string
	// Log is told what is being done, a sentence at a time; nil for silence.
	Log func(string)
	// Throwaway trades safety for speed, for tests: nothing is synced to disk,
	// and the folder is removed once its last user is gone.
	Throwaway bool
}

// Server is one use of the private Postgres; several processes may hold one each.
type Server struct {
	folder    folder
	throwaway bool
	log       func(string)
	secrets   secrets
	server    postmaster
	mu        sync.Mutex // over what Keep changes while addresses are asked for: secrets, server
	use       *os.File   // shared lock: Postgres is needed
	keeper    *os.File   // the writing end of the keeper's FIFO
	unclean   bool       // the Postgres before this one did not end by itself
	child     *child     // nil where another process started Postgres
}

// Start gives the private Postgres of cfg.Data, and starts it where it is not
// running. It waits while another process starts or stops it. Close must be
// called; a process that ends without is taken care of.
func Start(ctx context.Context, cfg Config) (*Server, error) {
	f, err := openFolder(cfg.Data)
	if err != nil {
		return nil, err
	}
	s := &Server{folder: f, throwaway: cfg.Throwaway, log: cfg.Log}
	if s.log == nil {
		s.log = func(string) {}
	}
	gate, err := f.lockGate(ctx, s.log)
	if err != nil {
		return nil, err
	}
	defer gate.Close()

	var alone bool
	if s.use, alone, err = f.lockUse(); err != nil {
		return nil, err
	}
	if err := s.start(ctx, alone); err != nil {
		s.use.Close()
		return nil, err
	}
	return s, nil
}

func (s *Server) start(ctx context.Context, alone bool) error {
	if !alone {
		joined, err := s.join(ctx)
		if joined || err != nil {
			return err
		}
		s.log("The database had stopped; starting it again…")
	}
	major, err := databaseVersion(s.folder.database())
	if err != nil {
		return err
	}
	acct, err := runAs(s.folder.database())
	if err != nil {
		return err
	}
	if err := s.clear(ctx, alone); err != nil {
		return err
	}
	if s.keeper, err = openKeeper(s.folder, alone, s.throwaway); err != nil {
		return err
	}
	if err := s.open(ctx, acct, major); err != nil {
		return errors.Join(err, s.stop())
	}
	return nil
}

// open makes the database folder where there is none, and starts Postgres.
func (s *Server) open(ctx context.Context, acct *account, major int) error {
	programs, err := s.ensureDatabase(ctx, acct, major)
	if err != nil {
		return err
	}
	if err := s.launch(ctx, programs, acct); err != nil {
		return err
	}
	if err := ensureLogins(ctx, s.AdminURL(), s.secrets); err != nil {
		return fmt.Errorf("prepare the private database: %w", err)
	}
	return nil
}

// join uses the Postgres that another living process holds. It is false where
// that Postgres is gone.
func (s *Server) join(ctx context.Context) (bool, error) {
	var err error
	if s.secrets, err = readSecrets(s.folder.secrets()); err != nil {
		return false, err
	}
	if s.server, err = readPostmaster(s.folder.database()); err != nil {
		return false, err
	}
	if s.server.pid == 0 || !s.answers(ctx) {
		return false, nil
	}
	if s.keeper, err = openKeeper(s.folder, false, s.throwaway); err != nil {
		return false, err
	}
	if err := tellKeeper(s.keeper, s.server); err != nil {
		// It is of no more use here, and another is opened in its place.
		return false, errors.Join(err, s.keeper.Close())
	}
	return true, nil
}

// OwnerURL logs in as the owner of the database, who migrates it.
func (s *Server) OwnerURL() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.url(ownerLogin, s.secrets.Owner, database)
}

// ServerURL logs in as the server, who reads and writes what it was granted.
func (s *Server) ServerURL() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.url(serverLogin, s.secrets.Server, database)
}

// AdminURL logs in as Postgres's superuser, who makes and drops databases.
func (s *Server) AdminURL() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.url(adminLogin, s.secrets.Admin, adminDatabase)
}

// Close ends this use, and stops Postgres where it was the last. It waits until
// Postgres and its keeper are gone, at most a minute each.
func (s *Server) Close() error {
	ctx, cancel := context.WithTimeout(context.Background(), stopWithin)
	defer cancel()
	gate, err := s.folder.lockGate(ctx, s.log)
	if err != nil {
		return err
	}
	defer gate.Close()

	defer s.use.Close()
	err = syscall.Flock(int(s.use.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return s.keeper.Close() // others need it still, and one of them will be last
	}
	if err != nil {
		return fmt.Errorf("lock %s: %w", s.use.Name(), err)
	}
	s.log("Stopping the database…")
	return s.stop()
}

// stop ends Postgres; the caller holds the gate and is the only user.
func (s *Server) stop() error {
	ctx, cancel := context.WithTimeout(context.Background(), stopWithin)
	defer cancel()
	if err := s.halt(ctx); err != nil {
		s.keeper.Close() // the keeper goes on trying
		return err
	}
	if err := s.server.removeSockets(); err != nil {
		return err
	}
	if err := dismissKeeper(ctx, s.folder, s.keeper); err != nil {
		return err
	}
	if s.throwaway {
		return os.RemoveAll(s.folder.root)
	}
	return nil
}
