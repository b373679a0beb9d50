package migrations

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"

	"boltward/internal/apperr"
	"boltward/internal/task"
)

// Conditions of Postgres that we tell apart, by their SQLSTATE
// (https://www.postgresql.org/docs/15/errcodes-appendix.html).
const (
	insufficientPrivilege = "42501"
	undefinedTable        = "42P01"
	duplicateObject       = "42710"
	uniqueViolation       = "23505"
)

// Migrate brings the database up to this program's schema. The pool must log in
// as the owner. It waits for up to five minutes while another process migrates.
//
// A database of a newer program, a login that does not own the tables, and one
// that may not make the role boltward_server where it is missing, are refused
// with an apperr.Error, and nothing is changed. A file that fails leaves the files before it applied and
// itself not at all.
func Migrate(ctx context.Context, owner *pgxpool.Pool) error {
	err := migrate(ctx, owner, refuseNewer, goUp)
	if state(err) == insufficientPrivilege {
		return apperr.Denied("The login in DATABASE_URL may not change this database: run boltward migrate as the owner of its tables.")
	}
	return err
}

// MigrateTo brings an empty database to exactly the versions of another one, so that
// its rows can be put in as they were; Migrate then brings both up. It refuses as Migrate
// does, and where the database or the program does not fit these versions.
func MigrateTo(ctx context.Context, owner *pgxpool.Pool, want Versions) error {
	fits := func(ctx context.Context, owner *pgxpool.Pool) error { return refuseBeyond(ctx, owner, want) }
	err := migrate(ctx, owner, fits, func(ctx context.Context, owner *pgxpool.Pool, ours *goose.Provider) error {
		return goTo(ctx, owner, ours, want)
	})
	if state(err) == insufficientPrivilege {
		// Not to migrate: a database of this version takes no backup of an older one.
		return apperr.Denied("The login in DATABASE_URL may not make tables in this database: restore as its owner.")
	}
	return err
}

// EraseAgain is the file that makes the table of who is still to be erased. It stands alone, so that
// a restore has it whichever versions the backup is of.
const EraseAgain = 88

// ToRestore gives the versions that a database must have for a backup of these to be put in.
func (v Versions) ToRestore() Versions {
	if !slices.Contains(v.Ours, EraseAgain) {
		v.Ours = append(slices.Clone(v.Ours), EraseAgain)
	}
	return v
}

// migrate does steps under the lock, unless check refuses.
func migrate(ctx context.Context, owner *pgxpool.Pool, check func(context.Context, *pgxpool.Pool) error,
	steps func(context.Context, *pgxpool.Pool, *goose.Provider) error,
) (err error) {
	if err := ensureServerRole(ctx, owner); err != nil {
		return err
	}
	db := stdlib.OpenDBFromPool(owner)
	defer db.Close()

	// goose's lock is held around River's migrations and the grants too, which
	// is why it is taken here and not by goose's provider.
	locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(1, 300))
	if err != nil {
		return fmt.Errorf("migration lock: %w", err)
	}
	conn, err := db.Conn(ctx)
	if err != nil {
		return fmt.Errorf("connect to migrate: %w", err)
	}
	defer conn.Close()
	if err := locker.SessionLock(ctx, conn); err != nil {
		return fmt.Errorf("wait for another migration: %w", err)
	}
	defer func() {
		unlock := locker.SessionUnlock(context.WithoutCancel(ctx), conn)
		if unlock != nil && err == nil {
			err = fmt.Errorf("release migration lock: %w", unlock)
		}
	}()

	if err := check(ctx, owner); err != nil {
		return err
	}
	// Numbers are given out ahead to whoever works on something, so that a lower one may
	// come in after a higher one.
	provider, err := goose.NewProvider(goose.DialectPostgres, db, files, goose.WithDisableGlobalRegistry(true), goose.WithAllowOutofOrder(true))
	if err != nil {
		return fmt.Errorf("read migrations: %w", err)
	}
	return steps(ctx, owner, provider)
}

func goUp(ctx context.Context, owner *pgxpool.Pool, ours *goose.Provider) error {
	_, err := ours.Up(ctx)
	if failed, is := errors.AsType[*goose.PartialError](err); is {
		return fmt.Errorf("file %s failed, and nothing of it was kept; the files before it stay. Mend what it says and run boltward migrate again, or restore the backup with the version of before: %w",
			failed.Failed.Source.Path, failed.Err)
	}
	if err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	return migrateRiver(ctx, owner, 0)
}

func goTo(ctx context.Context, owner *pgxpool.Pool, ours *goose.Provider, want Versions) error {
	there, err := Read(ctx, owner)
	if err != nil {
		return err
	}
	for _, n := range want.Ours {
		if slices.Contains(there.Ours, n) {
			continue
		}
		if _, err := ours.ApplyVersion(ctx, n, true); err != nil {
			return fmt.Errorf("migrate to %d: %w", n, err)
		}
	}
	if last(there.Queue) == last(want.Queue) {
		return nil
	}
	return migrateRiver(ctx, owner, int(last(want.Queue)))
}

func ensureServerRole(ctx context.Context, owner *pgxpool.Pool) error {
	const find = `SELECT EXISTS (SELECT FROM pg_roles WHERE rolname = $1)`
	var exists bool
	if err := owner.QueryRow(ctx, find, ServerRole).Scan(&exists); err != nil {
		return fmt.Errorf("look for role %s: %w", ServerRole, err)
	}
	if exists {
		return nil
	}
	const create = `CREATE ROLE ` + ServerRole + ` NOLOGIN`
	_, err := owner.Exec(ctx, create)
	switch state(err) {
	case duplicateObject, uniqueViolation: // another process made it in between
		return nil
	case insufficientPrivilege:
		return apperr.Denied("This login may not make the role %[1]s: as a superuser run CREATE ROLE %[1]s NOLOGIN, or give the owner CREATEROLE.", ServerRole)
	}
	if err != nil {
		return fmt.Errorf("make role %s: %w", ServerRole, err)
	}
	return nil
}

// migrateRiver brings the queue up to a version; to the newest where that is 0.
func migrateRiver(ctx context.Context, owner *pgxpool.Pool, to int) error {
	const schema = `CREATE SCHEMA IF NOT EXISTS ` + task.Schema
	if _, err := owner.Exec(ctx, schema); err != nil {
		return fmt.Errorf("make schema %s: %w", task.Schema, err)
	}
	river, err := riverMigrator(owner)
	if err != nil {
		return err
	}
	if _, err := river.Migrate(ctx, rivermigrate.DirectionUp, &rivermigrate.MigrateOpts{TargetVersion: to}); err != nil {
		return fmt.Errorf("migrate the queue: %w", err)
	}
	// Repeated after each run, since a newer River may bring a table with it.
	const grants = `
		GRANT USAGE ON SCHEMA river TO boltward_server;
		GRANT USAGE ON ALL SEQUENCES IN SCHEMA river TO boltward_server;
		GRANT SELECT, INSERT, UPDATE, DELETE
			ON river.river_job, river.river_leader, river.river_queue, river.river_notification
			TO boltward_server;
		GRANT SELECT ON river.river_migration TO boltward_server`
	if _, err := owner.Exec(ctx, grants); err != nil {
		return fmt.Errorf("grant the queue: %w", err)
	}
	return nil
}

func riverMigrator(pool *pgxpool.Pool) (*rivermigrate.Migrator[pgx.Tx], error) {
	m, err := rivermigrate.New(riverpgxv5.New(pool), &rivermigrate.Config{
		Schema: task.Schema,
		Logger: slog.New(slog.DiscardHandler), // it tells of each step; failures come back as errors
	})
	if err != nil {
		return nil, fmt.Errorf("read the queue's migrations: %w", err)
	}
	return m, nil
}

// state gives the SQLSTATE of an error from Postgres, "" for nil and others.
func state(err error) string {
	if pgErr, ok := errors.AsType[*pgconn.PgError](err); ok {
		return pgErr.Code
	}
	return ""
}
