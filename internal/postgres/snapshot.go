package postgres

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"boltward/internal/apperr"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// TableForm is a table and those of its columns that hold something of their own, by name.
type TableForm struct {
	Name    string   `json:"name" db:"name"` // with its schema: public.lots
	Columns []string `json:"columns" db:"columns"`
}

// Sequence is the last number that a sequence has given. nil: none, or it was set to give one next,
// which Postgres does not tell apart.
type Sequence struct {
	Name string `json:"name" db:"name"`
	Last *int64 `json:"last" db:"last"`
}

// Form is what a backup has to carry of a database: every table but those that another
// database makes for itself (migrations, the queue's own), and those that open it to
// somebody for a while (sessions, tries at signing in).
type Form struct {
	Tables    []TableForm `json:"tables"`
	Sequences []Sequence  `json:"sequences"`
}

// Table gives the form of a table.
func (f Form) Table(name string) (TableForm, bool) {
	i := slices.IndexFunc(f.Tables, func(t TableForm) bool { return t.Name == name })
	if i < 0 {
		return TableForm{}, false
	}
	return f.Tables[i], true
}

// ordered is a name as SQL takes it.
func ordered(name string) string { return pgx.Identifier(strings.Split(name, ".")).Sanitize() }

// copied gives the table and its columns as COPY takes them.
func (t TableForm) copied() string {
	columns := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		columns[i] = pgx.Identifier{c}.Sanitize()
	}
	return ordered(t.Name) + " (" + strings.Join(columns, ", ") + ")"
}

// formOf reads what there is to carry. Sequences may have counted further than the rows
// that a snapshot sees, never less far.
func formOf(ctx context.Context, db querier) (Form, error) {
	const tables = `SELECT n.nspname || '.' || c.relname AS name, array_agg(a.attname::text ORDER BY a.attname::text COLLATE "C") AS columns
		FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
		JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
		WHERE c.relkind = 'r' AND (n.nspname = 'public' AND c.relname NOT IN ('goose_db_version', 'sessions', 'sign_in_attempts', 'erase_again')
			OR n.nspname = 'river' AND c.relname = 'river_job')
		GROUP BY n.nspname, c.relname ORDER BY n.nspname, c.relname`
	rows, err := db.Query(ctx, tables)
	if err != nil {
		return Form{}, fmt.Errorf("list tables: %w", err)
	}
	var f Form
	if f.Tables, err = collect(rows, "list tables", pgx.RowToStructByName[TableForm]); err != nil {
		return Form{}, err
	}
	const sequences = `SELECT schemaname || '.' || sequencename AS name, last_value AS last FROM pg_sequences
		WHERE schemaname IN ('public', 'river') AND sequencename NOT IN ('goose_db_version_id_seq', 'sign_in_attempts_id_seq')
		ORDER BY schemaname, sequencename`
	if rows, err = db.Query(ctx, sequences); err != nil {
		return Form{}, fmt.Errorf("list sequences: %w", err)
	}
	f.Sequences, err = collect(rows, "list sequences", pgx.RowToStructByName[Sequence])
	return f, err
}

// asCopied makes COPY write the same of the same values, whoever set what of the database.
const asCopied = `SET LOCAL client_encoding = 'UTF8'; SET LOCAL datestyle = 'ISO, YMD'; SET LOCAL intervalstyle = 'postgres';
	SET LOCAL timezone = 'UTC'; SET LOCAL extra_float_digits = 1; SET LOCAL bytea_output = 'hex';
	SET LOCAL statement_timeout = 0; SET LOCAL idle_in_transaction_session_timeout = 0`

// Snapshot is the whole database as it stood at one moment, while others go on writing.
type Snapshot struct {
	Form
	tx pgx.Tx
}

// Snapshot hands fn the whole database as it stands. Others are held up by it only where
// they would change the tables themselves: to migrate waits until fn has returned.
func (s *Store) Snapshot(ctx context.Context, fn func(*Snapshot) error) error {
	// Tables are locked before the first look at them fixes the moment.
	before, err := formOf(ctx, s.root)
	if err != nil {
		return err
	}
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	return pgx.BeginTxFunc(ctx, s.root, options, func(tx pgx.Tx) error {
		names := make([]string, len(before.Tables))
		for i, t := range before.Tables {
			names[i] = ordered(t.Name)
		}
		if _, err := tx.Exec(ctx, asCopied+`; LOCK TABLE `+strings.Join(names, ", ")+` IN ACCESS SHARE MODE`); err != nil {
			return fmt.Errorf("lock the tables for a snapshot: %w", err)
		}
		form, err := formOf(ctx, tx)
		if err != nil {
			return err
		}
		if !slices.EqualFunc(before.Tables, form.Tables, sameTable) {
			return apperr.Conflict("The database was being migrated just now: try again in a moment.")
		}
		if err := readable(ctx, tx); err != nil {
			return err
		}
		return fn(&Snapshot{form, tx})
	})
}

// readable refuses sequences that would look as if nobody had counted yet.
func readable(ctx context.Context, db querier) error {
	const blind = `SELECT schemaname || '.' || sequencename FROM pg_sequences WHERE schemaname IN ('public', 'river')
		AND sequencename <> 'goose_db_version_id_seq' AND NOT has_sequence_privilege(format('%I.%I', schemaname, sequencename), 'SELECT, USAGE')`
	rows, err := db.Query(ctx, blind)
	if err != nil {
		return fmt.Errorf("look at the rights to sequences: %w", err)
	}
	closed, err := collect(rows, "look at the rights to sequences", pgx.RowTo[string])
	if err == nil && len(closed) > 0 {
		err = fmt.Errorf("this login may not read the sequences %s", strings.Join(closed, ", "))
	}
	return err
}

func sameTable(a, b TableForm) bool { return a.Name == b.Name && slices.Equal(a.Columns, b.Columns) }

// Versions are the migrations that a database has, ours and the queue's.
type Versions struct{ Ours, Queue []int64 }

// Versions gives those of the snapshot.
func (s *Snapshot) Versions(ctx context.Context) (Versions, error) {
	var v Versions
	for _, line := range []struct {
		list *[]int64
		q    string
	}{
		{&v.Ours, `SELECT version_id FROM goose_db_version WHERE is_applied AND version_id > 0 ORDER BY version_id`},
		{&v.Queue, `SELECT version FROM river.river_migration WHERE line = 'main' ORDER BY version`},
	} {
		rows, err := s.tx.Query(ctx, line.q)
		if err != nil {
			return v, fmt.Errorf("read versions: %w", err)
		}
		if *line.list, err = collect(rows, "read versions", pgx.RowTo[int64]); err != nil {
			return v, err
		}
	}
	return v, nil
}

// Copy writes a table to w, a line a row, and says how many rows Postgres says it sent.
func (s *Snapshot) Copy(ctx context.Context, t TableForm, w io.Writer) (int64, error) {
	return copyOut(ctx, s.tx, t, w)
}

func copyOut(ctx context.Context, tx pgx.Tx, t TableForm, w io.Writer) (int64, error) {
	tag, err := tx.Conn().PgConn().CopyTo(ctx, w, `COPY `+t.copied()+` TO STDOUT`)
	if err != nil {
		return 0, fmt.Errorf("copy %s: %w", t.Name, err)
	}
	return tag.RowsAffected(), nil
}

// sumOut sums a table up.
func sumOut(ctx context.Context, tx pgx.Tx, t TableForm) (*RowSum, error) {
	sum := NewRowSum()
	n, err := copyOut(ctx, tx, t, sum)
	if err == nil && (n != sum.Rows || !sum.Whole()) {
		err = fmt.Errorf("copy %s: %d rows were announced and %d came", t.Name, n, sum.Rows)
	}
	return sum, err
}

// passing are the tables of which rows come and go by themselves.
func passing() []string {
	return []string{
		"public.once", "public.uploads", "public.asks", "public.forecasts", "public.lots_in_hand", "public.photos",
		"public.backups", "public.backup_settings", "public.sign_ins", "public.half_sign_ins", "public.devices", "public.ledger_checks", "river.river_job",
	}
}

// CheckAll does what CheckBalances does, and sums up every table but those whose rows
// come and go by themselves, all as they stood at one moment. It reads everything there is.
func (s *Store) CheckAll(ctx context.Context) (Balances, error) {
	var b Balances
	err := s.Snapshot(ctx, func(d *Snapshot) (err error) {
		if b, err = balancesIn(ctx, d.tx); err != nil {
			return err
		}
		b.Checksums = map[string]string{}
		for _, t := range d.Tables {
			if slices.Contains(passing(), t.Name) {
				continue
			}
			sum, err := sumOut(ctx, d.tx, t)
			if err != nil {
				return err
			}
			b.Checksums[strings.TrimPrefix(t.Name, "public.")] = sum.String()
		}
		return nil
	})
	return b, err
}

// Empty returns nil where the database holds nothing that somebody might miss: what a
// program that serves an empty database makes by itself is none of that. Otherwise, and
// where there are tables that are not ours, it is a conflict.
func Empty(ctx context.Context, pool *pgxpool.Pool) error { return emptyIn(ctx, pool) }

func emptyIn(ctx context.Context, db querier) error {
	var ours bool
	if err := db.QueryRow(ctx, `SELECT to_regclass('public.goose_db_version') IS NOT NULL`).Scan(&ours); err != nil {
		return fmt.Errorf("look for tables: %w", err)
	}
	form, err := formOf(ctx, db)
	if err != nil {
		return err
	}
	for _, t := range form.Tables {
		if !ours && strings.HasPrefix(t.Name, "public.") {
			return apperr.Conflict("This database is not empty: it holds tables of another program, such as %s. Restore into one of its own.", strings.TrimPrefix(t.Name, "public."))
		}
		where := ""
		switch t.Name {
		case "river.river_job", "public.backups", "public.backup_settings", "public.ledger_checks": // jobs write there by themselves
			continue
		case "public.links":
			where = ` WHERE purpose <> 'first' OR used_at IS NOT NULL`
		}
		var some bool
		if err := db.QueryRow(ctx, `SELECT EXISTS (SELECT FROM `+ordered(t.Name)+where+`)`).Scan(&some); err != nil {
			return fmt.Errorf("look into %s: %w", t.Name, err)
		}
		if some {
			return apperr.Conflict("This database is not empty: it has rows in %s. Restore into an empty one; nothing was changed here.", strings.TrimPrefix(t.Name, "public."))
		}
	}
	return nil
}
