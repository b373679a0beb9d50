// Package pgtest gives a test a real Postgres database of its own, freshly
// migrated, in about ten milliseconds.
//
// Each test binary starts its own private Postgres at the first New, migrates
// one database, and hands out copies of it; a copy is dropped when its test
// ends. Postgres and its folder are gone once the test binary is, however it
// ends, so a package needs no TestMain for this. The data lies in memory where
// there is room (/dev/shm), else in the temporary folder, and is never synced.
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
	const freeze = `ALTER DATABASE ` + template + ` IS_TEMPLATE true ALLOW_CONNECTIONS false`
	_, err = s.admin.Exec(ctx, freeze)
	return s, err
}

func (s *cluster) copy(t testing.TB, from string) *DB {
	t.Helper()
	ctx := context.Background()
	name := fmt.Sprintf("test_%d", s.made.Add(1))
	create := fmt.Sprintf(`CREATE DATABASE %s OWNER boltward_owner TEMPLATE %s STRATEGY file_copy`, name, from)
	if _, err := s.admin.Exec(ctx, create); err != nil {
		t.Fatalf("pgtest: copy %s: %v", from, err)
	}
	d := &DB{t: t, URL: inDatabase(t, s.server.ServerURL(), name), OwnerURL: inDatabase(t, s.server.OwnerURL(), name)}
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

func inDatabase(t testing.TB, base, name string) string {
	t.Helper()
	u, err := url.Parse(base)
	if err != nil {
		t.Fatalf("pgtest: parse address of Postgres: %v", err)
	}
	u.Path = "/" + name
	return u.String()
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
