package localpg

import (
	"context"
	"errors"
	"time"

	"boltward/internal/apperr"
)

// How often a Postgres that another process started is looked at, and how long
// is waited between tries to start one again.
const (
	lookEvery   = 500 * time.Millisecond
	againAfter  = time.Second
	againAtMost = 5 * time.Second
)

// Keep starts Postgres again wherever it ends under its users: killed, out of
// memory, on a full disk. It tries until that succeeds, tells each new reason
// once, and returns when ctx ends. Addresses asked for after lead to the new
// one: by the same port where that is still free. Close must wait for it.
func (s *Server) Keep(ctx context.Context) {
	for s.ended(ctx) {
		s.log("The database has stopped by itself; starting it again…")
		told, wait := "", againAfter
		for {
			err := s.revive(ctx)
			if err == nil {
				s.log("The database is back.")
				break
			}
			if ctx.Err() != nil {
				return
			}
			if text := err.Error(); text != told {
				s.log(text + " Trying again until it starts…")
				told = text
			}
			if pause(ctx, wait) != nil {
				return
			}
			wait = min(2*wait, againAtMost)
		}
	}
}

// ended waits until Postgres has ended; false where ctx ended first.
func (s *Server) ended(ctx context.Context) bool {
	if s.child != nil {
		select {
		case <-ctx.Done():
			return false
		case <-s.child.done:
			return true
		}
	}
	for {
		if who := lookAt(s.server.pid, s.folder.database()); who == gone || who == stranger {
			return true
		}
		if pause(ctx, lookEvery) != nil {
			return false
		}
	}
}

// revive joins the Postgres that another user has started meanwhile, or starts it.
func (s *Server) revive(ctx context.Context) error {
	gate, err := s.folder.lockGate(ctx, s.log)
	if err != nil {
		return err
	}
	defer gate.Close()

	before := s.server
	now := &Server{folder: s.folder, throwaway: s.throwaway, log: s.log, secrets: s.secrets, server: before, use: s.use, keeper: s.keeper}
	joined, err := now.join(ctx)
	if err != nil {
		return err
	}
	if !joined {
		if err := now.startAgain(ctx, before); err != nil {
			return err
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	keeper := s.keeper
	s.server, s.child, s.keeper, s.secrets = now.server, now.child, now.keeper, now.secrets
	if keeper == s.keeper {
		return nil
	}
	// The keeper ends with its last writing end: the new one is open already.
	return keeper.Close()
}

// startAgain starts Postgres under users who go on; none of them is alone.
func (s *Server) startAgain(ctx context.Context, before postmaster) error {
	major, err := databaseVersion(s.folder.database())
	if err != nil {
		return err
	}
	if major == 0 {
		// A new one in its place would be empty, and nobody would notice at once.
		return apperr.Conflict("The database folder %s is gone: put it back, or end this and restore a backup.", s.folder.database())
	}
	acct, err := runAs(s.folder.database())
	if err != nil {
		return err
	}
	if err := s.clear(ctx, false); err != nil {
		return err
	}
	// Where its users look for it; the lock file may be gone.
	s.server.port, s.unclean = before.port, true
	if s.keeper, err = openKeeper(s.folder, false, s.throwaway); err != nil {
		return err
	}
	if err := s.open(ctx, acct, major); err != nil {
		if s.child != nil { // it runs, and something else is wrong
			stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopWithin)
			defer cancel()
			err = errors.Join(err, s.child.halt(stopping))
		}
		return errors.Join(err, s.server.removeSockets(), s.keeper.Close())
	}
	return before.removeSockets()
}
