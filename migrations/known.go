package migrations

import (
	"context"
	"fmt"
	"io/fs"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/pressly/goose/v3"

	"boltward/internal/apperr"
)

// Known returns nil when the database has exactly the schema this program was
// built for. It works as the server's login. An older schema, a newer one, one
// that was never migrated and a login without the server's rights are each an
// apperr.Error that says what to do.
func Known(ctx context.Context, server *pgxpool.Pool) error {
	lines, err := readVersions(ctx, server)
	if state(err) == insufficientPrivilege {
		return apperr.Denied("The login in DATABASE_URL has no rights in this database: make it a member of %s, and run boltward migrate as the owner.", ServerRole)
	}
	if err != nil {
		return err
	}
	if len(lines.ours.applied) == 0 {
		return apperr.Conflict("This database has not been prepared yet: run boltward migrate as its owner first.")
	}
	for _, v := range []versions{lines.ours, lines.queue} {
		if v.newer() {
			return newerError(v)
		}
		if v.older() {
			return olderError(v)
		}
	}
	river, err := riverMigrator(server)
	if err != nil {
		return err
	}
	result, err := river.Validate(ctx, nil)
	if err != nil {
		return fmt.Errorf("validate the queue: %w", err)
	}
	if !result.OK {
		return olderError(lines.queue)
	}
	return nil
}

// refuseNewer keeps Migrate from touching a database that a newer program made.
func refuseNewer(ctx context.Context, owner *pgxpool.Pool) error {
	lines, err := readVersions(ctx, owner)
	if err != nil {
		return err
	}
	for _, v := range []versions{lines.ours, lines.queue} {
		if v.newer() {
			return newerError(v)
		}
	}
	return nil
}

// Versions says which migrations a database has, ours and those of the queue, ascending.
type Versions struct {
	Ours  []int64 `json:"ours"`
	Queue []int64 `json:"queue"`
}

// Read gives the versions of a database; none of one that was never migrated.
func Read(ctx context.Context, pool *pgxpool.Pool) (Versions, error) {
	lines, err := readVersions(ctx, pool)
	return Versions{lines.ours.applied, lines.queue.applied}, err
}

// Knows says whether this program has every migration of v, and whether v is all it has.
func Knows(ctx context.Context, pool *pgxpool.Pool, v Versions) (known, newest bool, err error) {
	lines, err := readVersions(ctx, pool)
	lines.ours.applied, lines.queue.applied = v.Ours, v.Queue
	known = !lines.ours.newer() && !lines.queue.newer()
	return known, known && !lines.ours.older() && !lines.queue.older(), err
}

// refuseBeyond keeps MigrateTo from versions that this program does not know, and from a
// database that has others than those.
func refuseBeyond(ctx context.Context, owner *pgxpool.Pool, want Versions) error {
	lines, err := readVersions(ctx, owner)
	if err != nil {
		return err
	}
	for _, v := range []struct {
		versions
		wanted []int64
	}{{lines.ours, want.Ours}, {lines.queue, want.Queue}} {
		if wanted := (versions{v.name, v.wanted, v.known}); wanted.newer() {
			return apperr.Conflict("A newer boltward is needed (%s %d, this program knows up to %d).", v.name, last(v.wanted), last(v.known))
		}
		if there := (versions{v.name, v.applied, v.wanted}); there.newer() {
			return apperr.Conflict("This database was prepared for a newer version (%s %d, wanted is %d): take one that was never prepared, without boltward migrate.",
				v.name, last(v.applied), last(v.wanted))
		}
	}
	return nil
}

// versions are those of one line of migrations, ascending.
type versions struct {
	name    string
	applied []int64 // in the database
	known   []int64 // to this program
}

func (v versions) newer() bool {
	return slices.ContainsFunc(v.applied, func(n int64) bool { return !slices.Contains(v.known, n) })
}

func (v versions) older() bool {
	return slices.ContainsFunc(v.known, func(n int64) bool { return !slices.Contains(v.applied, n) })
}

func newerError(v versions) error {
	return apperr.Conflict("This database was made by a newer boltward (%s %d, this program knows up to %d): run that version.",
		v.name, last(v.applied), last(v.known))
}

func olderError(v versions) error {
	return apperr.Conflict("This database is older than this boltward (%s %d, needed %d): run boltward migrate as its owner first.",
		v.name, last(v.applied), last(v.known))
}

func last(list []int64) int64 {
	if len(list) == 0 {
		return 0
	}
	return list[len(list)-1]
}

type bothLines struct{ ours, queue versions }

// readVersions reads both lines; where a table is not there yet nothing counts
// as applied.
func readVersions(ctx context.Context, pool *pgxpool.Pool) (bothLines, error) {
	ours := versions{name: "schema"}
	names, err := fs.Glob(files, "*.sql")
	if err != nil {
		return bothLines{}, fmt.Errorf("list migrations: %w", err)
	}
	for _, name := range names {
		n, err := goose.NumericComponent(name)
		if err != nil {
			return bothLines{}, fmt.Errorf("number of migration %s: %w", name, err)
		}
		ours.known = append(ours.known, n)
	}
	const applied = `SELECT version_id FROM goose_db_version WHERE is_applied AND version_id > 0 ORDER BY version_id`
	if ours.applied, err = column(ctx, pool, applied); err != nil {
		return bothLines{}, fmt.Errorf("read schema version: %w", err)
	}

	queue := versions{name: "job queue"}
	river, err := riverMigrator(pool)
	if err != nil {
		return bothLines{}, err
	}
	for _, m := range river.AllVersions() {
		queue.known = append(queue.known, int64(m.Version))
	}
	const queued = `SELECT version FROM river.river_migration WHERE line = 'main' ORDER BY version`
	if queue.applied, err = column(ctx, pool, queued); err != nil {
		return bothLines{}, fmt.Errorf("read queue version: %w", err)
	}
	return bothLines{ours, queue}, nil
}

// column gives the numbers of a query of one column; none where its table is
// not there yet.
func column(ctx context.Context, pool *pgxpool.Pool, q string) ([]int64, error) {
	rows, err := pool.Query(ctx, q)
	var list []int64
	if err == nil {
		list, err = pgx.CollectRows(rows, pgx.RowTo[int64])
	}
	if state(err) == undefinedTable {
		return nil, nil
	}
	return list, err
}
