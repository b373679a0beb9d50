// Package pgtest gives a test a real Postgres database of its own, freshly
// migrated, in about ten milliseconds.
//
// Each test binary starts its own private Postgres at the first New, migrates
// one database, and hands out copies of it; a copy is dropped when its test
// ends. Filled does the same with a database that has more in it. Postgres and
// its folder are gone once the test binary is, however it ends, so a package
// needs no TestMain for this. The data lies in memory where there is room
// (/dev/shm), else in the temporary folder, and is never synced.
//
// Pool and URL log in as the server, whose rights end where those of the real
// server end; Owner and OwnerURL as the owner of the tables, for what the server
// may not do.
package pgtest

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"boltward/internal/localpg"
	"boltward/migrations"
)

// DB is a database that one test has to itself.
type DB struct {
	Pool     *pgxpool.Pool // logs in as the server
	URL      string        // what Pool uses, for a program under test
	OwnerURL string        // logs in as the owner

	t     testing.TB
	owner func() *pgxpool.Pool
}

// New gives a database with the whole schema and no rows but those that the
// migrations insert. It fails the test where that cannot be had.
func New(t testing.TB) *DB {
	t.Helper()
	s, err := migrated()
	if err != nil {
		t.Fatalf("pgtest: start a migrated Postgres: %v", err)
	}
	return s.copy(t, template)
}

// Empty gives a database that was never migrated, with the roles in place; for
// tests of the migrations themselves.
func Empty(t testing.TB) *DB {
	t.Helper()
	s, err := started()
	if err != nil {
		t.Fatalf("pgtest: start Postgres: %v", err)
	}
	return s.copy(t, "template0")
}

// Filled gives copies of one database, which is filled when the first of them is
// wanted: fill is told as whom and where the server logs in, and leaves nobody connected.
func Filled(fill func(url string) error) func(t testing.TB) *DB {
	made := sync.OnceValues(func() (string, error) {
		s, err := migrated()
		if err != nil {
			return "", err
		}
		name, ctx := fmt.Sprintf("filled_%d", s.made.Add(1)), context.Background()
		if err := s.create(ctx, name, template); err != nil {
			return "", err
		}
		url, err := inDatabase(s.server.ServerURL(), name)
		if err == nil {
			err = fill(url)
		}
		if err != nil {
			return "", err
		}
		return name, s.freeze(ctx, name)
	})
	return func(t testing.TB) *DB {
		t.Helper()
		name, err := made()
		if err != nil {
			t.Fatalf("pgtest: fill a database: %v", err)
		}
		s, err := started()
		if err != nil {
			t.Fatalf("pgtest: start Postgres: %v", err)
		}
		return s.copy(t, name)
	}
}

// Owner gives a pool that logs in as the owner of the tables, made at the first
// call and closed with the test.
func (d *DB) Owner() *pgxpool.Pool {
	d.t.Helper()
	return d.owner()
}

// template is the database that New copies; localpg makes it.
const template = "boltward"

// cluster is this test binary's Postgres.
type cluster struct {
	folder string
	server *localpg.Server
	admin  *pgxpool.Pool
	made   *atomic.Int64 // numbers the copies
}

// One Postgres a process is the purpose of this package; nothing else is kept.
var (
	started  = sync.OnceValues(start)
	migrated = sync.OnceValues(migrate)
)

func start() (*cluster, error) {
	folder, err := makeFolder()
	if err != nil {
		return nil, err
	}
	ctx := context.Background()
	server, err := localpg.Start(ctx, localpg.Config{Data: folder, Throwaway: true})
	if err != nil {
		os.RemoveAll(folder)
		return nil, err
	}
	admin, err := pgxpool.New(ctx, server.AdminURL())
	if err != nil {
		return nil, err
	}
	return &cluster{folder, server, admin, new(atomic.Int64)}, nil
}

func migrate() (*cluster, error) {
	s, err := started()
	if err != nil {
		return nil, err
	}
	ctx := context.Background()
	owner, err := pgxpool.New(ctx, s.server.OwnerURL())
	if err != nil {
		return nil, err
	}
	err = migrations.Migrate(ctx, owner)
	owner.Close() // nobody may be connected to a database that is copied
	if err != nil {
		return nil, err
	}
	return s, s.freeze(ctx, template)
}

// freeze keeps a database as it is, to be copied.
func (s *cluster) freeze(ctx context.Context, name string) error {
	_, err := s.admin.Exec(ctx, `ALTER DATABASE `+name+` IS_TEMPLATE true ALLOW_CONNECTIONS false`)
	return err
}

func (s *cluster) create(ctx context.Context, name, from string) error {
	_, err := s.admin.Exec(ctx, fmt.Sprintf(`CREATE DATABASE %s OWNER boltward_owner TEMPLATE %s STRATEGY file_copy`, name, from))
	return err
}

func (s *cluster) copy(t testing.TB, from string) *DB {
	t.Helper()
	ctx := context.Background()
	name := fmt.Sprintf("test_%d", s.made.Add(1))
	if err := s.create(ctx, name, from); err != nil {
		t.Fatalf("pgtest: copy %s: %v", from, err)
	}
	d := &DB{t: t}
	for at, base := range map[*string]string{&d.URL: s.server.ServerURL(), &d.OwnerURL: s.server.OwnerURL()} {
		var err error
		if *at, err = inDatabase(base, name); err != nil {
			t.Fatalf("pgtest: %v", err)
		}
	}
	t.Cleanup(func() {
		if _, err := s.admin.Exec(ctx, `DROP DATABASE `+name+` WITH (FORCE)`); err != nil {
			t.Errorf("pgtest: drop %s: %v", name, err)
		}
	})
	d.Pool = open(t, d.URL)
	d.owner = sync.OnceValue(func() *pgxpool.Pool { return open(t, d.OwnerURL) })
	return d
}

// open gives a pool that is closed with the test, and fails a test that keeps a
// connection.
func open(t testing.TB, url string) *pgxpool.Pool {
	t.Helper()
	pool, err := pgxpool.New(context.Background(), url)
	if err != nil {
		t.Fatalf("pgtest: open pool: %v", err)
	}
	t.Cleanup(func() {
		closed := make(chan struct{})
		go func() {
			pool.Close()
			close(closed)
		}()
		select {
		case <-closed:
		case <-time.After(10 * time.Second):
			t.Errorf("pgtest: the test ended with %d connections of its pool still in use", pool.Stat().AcquiredConns())
		}
	})
	return pool
}

func inDatabase(base, name string) (string, error) {
	u, err := url.Parse(base)
	if err != nil {
		return "", fmt.Errorf("parse address of Postgres: %w", err)
	}
	u.Path = "/" + name
	return u.String(), nil
}

// makeFolder makes the folder of the data, in memory where 1 GB is free there.
// Others may pass through it: as root, Postgres runs as another user.
func makeFolder() (string, error) {
	above := os.TempDir()
	if freeBytes("/dev/shm") >= 1<<30 {
		above = "/dev/shm"
	}
	folder, err := os.MkdirTemp(above, "boltward-test-")
	if err != nil {
		return "", err
	}
	return folder, os.Chmod(folder, 0o711)
}
