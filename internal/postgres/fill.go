package postgres

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"boltward/internal/apperr"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// Conditions of Postgres that we tell apart here, by their SQLSTATE
// (https://www.postgresql.org/docs/15/errcodes-appendix.html).
const (
	insufficientPrivilege = "42501"
	undefinedTable        = "42P01"
)

// Filling is an empty database into which the rows of another are put, as they were.
type Filling struct {
	tx        pgx.Tx
	sequences []Sequence
}

// Fill lets fn put the rows of a database of this form into an empty one of the same
// schema, and keeps all of it or nothing. alone logs in as the owner of the tables, who need not be
// a superuser: within the transaction the ledgers' triggers rest, since balances
// come as rows too, and keys between tables are made anew once all is there, which holds
// them against every row. Nobody else sees or uses the tables meanwhile.
//
// A database that is not empty and a form that does not fit are conflicts.
func Fill(ctx context.Context, alone *Alone, form Form, fn func(*Filling) error) error {
	return pgx.BeginFunc(ctx, alone.held.conn, func(tx pgx.Tx) error {
		if err := aloneOn(ctx, tx); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, asCopied); err != nil {
			return fmt.Errorf("prepare to fill: %w", err)
		}
		f := &Filling{tx, form.Sequences}
		if err := f.take(ctx, form); err != nil {
			return err
		}
		keys, err := f.statements(ctx, keysBetween)
		if err != nil {
			return err
		}
		triggers, err := f.statements(ctx, ownTriggers)
		if err != nil {
			return err
		}
		if err := f.all(ctx, keys.before, triggers.before); err != nil {
			return err
		}
		if err := f.empty(ctx, form); err != nil {
			return err
		}
		if err := fn(f); err != nil {
			return err
		}
		if err := f.count(ctx); err != nil {
			return err
		}
		if err := f.all(ctx, keys.after, triggers.after); err != nil {
			return err
		}
		return aloneOn(ctx, tx)
	})
}

// Clear takes everything out again that Fill has put in, while nobody else can have used it.
func Clear(ctx context.Context, alone *Alone) error {
	return pgx.BeginFunc(ctx, alone.held.conn, func(tx pgx.Tx) error {
		if err := aloneOn(ctx, tx); err != nil {
			return err
		}
		f := &Filling{tx: tx}
		form, err := formOf(ctx, tx)
		if err != nil {
			return err
		}
		triggers, err := f.statements(ctx, ownTriggers)
		if err != nil {
			return err
		}
		if err := f.all(ctx, triggers.before); err != nil {
			return err
		}
		if err := f.empty(ctx, form); err != nil {
			return err
		}
		return f.all(ctx, triggers.after)
	})
}

// take locks the tables and refuses a database that is not empty, or another one.
func (f *Filling) take(ctx context.Context, form Form) error {
	there, err := formOf(ctx, f.tx)
	if err != nil {
		return err
	}
	var names []string
	for _, t := range there.Tables {
		names = append(names, ordered(t.Name))
	}
	if len(names) > 0 {
		if _, err := f.tx.Exec(ctx, `LOCK TABLE `+strings.Join(names, ", ")+` IN ACCESS EXCLUSIVE MODE`); err != nil {
			if refused, is := errors.AsType[*pgconn.PgError](err); is && refused.Code == insufficientPrivilege {
				return apperr.Denied("The login in DATABASE_URL may not change this database: restore as the owner of its tables.")
			}
			return fmt.Errorf("lock the tables to fill: %w", err)
		}
	}
	if err := emptyIn(ctx, f.tx); err != nil {
		return err
	}
	if there, err = formOf(ctx, f.tx); err != nil {
		return err
	}
	if !slices.EqualFunc(there.Tables, form.Tables, sameTable) {
		return apperr.Conflict("The tables of the backup are not those of this database, although both name the same version: nothing was changed.")
	}
	return nil
}

// empty removes what a program makes by itself in an empty database.
func (f *Filling) empty(ctx context.Context, form Form) error {
	names := []string{"sessions", "sign_in_attempts"}
	due, err := f.has(ctx, "public.erase_again")
	if err != nil {
		return err
	}
	if due {
		names = append(names, "erase_again")
	}
	for _, t := range form.Tables {
		names = append(names, ordered(t.Name))
	}
	if _, err := f.tx.Exec(ctx, `TRUNCATE `+strings.Join(names, ", ")); err != nil {
		return fmt.Errorf("empty the tables to fill: %w", err)
	}
	return nil
}

// aside are statements that put something aside, and those that bring it back.
type aside struct{ before, after []string }

// keysBetween gives how each foreign key is dropped and made again.
const keysBetween = `SELECT format('ALTER TABLE %s DROP CONSTRAINT %I', conrelid::regclass, conname),
		format('ALTER TABLE %s ADD CONSTRAINT %I %s', conrelid::regclass, conname, pg_get_constraintdef(oid))
	FROM pg_constraint WHERE contype = 'f' AND connamespace = 'public'::regnamespace AND conparentid = 0 ORDER BY conrelid::regclass::text, conname`

// ownTriggers gives how each trigger that acts is made to rest and to act again.
const ownTriggers = `SELECT format('ALTER TABLE %s DISABLE TRIGGER %I', tgrelid::regclass, tgname),
		format('ALTER TABLE %s ENABLE TRIGGER %I', tgrelid::regclass, tgname)
	FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
	WHERE NOT t.tgisinternal AND t.tgenabled = 'O' AND c.relnamespace IN ('public'::regnamespace, 'river'::regnamespace)
	ORDER BY tgrelid::regclass::text, tgname`

func (f *Filling) statements(ctx context.Context, q string) (aside, error) {
	rows, err := f.tx.Query(ctx, q)
	if err != nil {
		return aside{}, fmt.Errorf("read what rests meanwhile: %w", err)
	}
	var a aside
	var before, after string
	_, err = pgx.ForEachRow(rows, []any{&before, &after}, func() error {
		a.before, a.after = append(a.before, before), append(a.after, after)
		return nil
	})
	if err != nil {
		return aside{}, fmt.Errorf("read what rests meanwhile: %w", err)
	}
	return a, nil
}

func (f *Filling) all(ctx context.Context, lists ...[]string) error {
	if all := slices.Concat(lists...); len(all) > 0 {
		if _, err := f.tx.Exec(ctx, strings.Join(all, "; ")); err != nil {
			return fmt.Errorf("put keys and triggers aside, or back: %w", err)
		}
	}
	return nil
}

// count lets the sequences go on from where they stood, and none from before what its column holds: a
// backup may say of a sequence that it has given no number although there are rows.
func (f *Filling) count(ctx context.Context) error {
	for _, s := range f.sequences {
		if s.Last == nil {
			continue
		}
		if _, err := f.tx.Exec(ctx, `SELECT setval($1::text::regclass, $2)`, ordered(s.Name), *s.Last); err != nil {
			return fmt.Errorf("go on counting %s: %w", s.Name, err)
		}
	}
	columns, err := countedColumns(ctx, f.tx)
	if err != nil {
		return err
	}
	for _, c := range columns {
		furthest, err := c.furthest(ctx, f.tx)
		if err != nil {
			return err
		}
		if !c.behind(furthest) {
			continue
		}
		if _, err := f.tx.Exec(ctx, `SELECT setval($1::text::regclass, $2)`, ordered(c.Sequence), furthest); err != nil {
			return fmt.Errorf("go on counting %s: %w", c.Sequence, err)
		}
	}
	return nil
}

// Load puts the lines of a table in, and says how many rows it has taken.
func (f *Filling) Load(ctx context.Context, t TableForm, lines io.Reader) (int64, error) {
	tag, err := f.tx.Conn().PgConn().CopyFrom(ctx, lines, `COPY `+t.copied()+` FROM STDIN`)
	if err != nil {
		return 0, fmt.Errorf("load %s: %w", t.Name, err)
	}
	return tag.RowsAffected(), nil
}

// Sum sums up what a table holds now.
func (f *Filling) Sum(ctx context.Context, t TableForm) (*RowSum, error) {
	return sumOut(ctx, f.tx, t)
}

// DoubtReminders makes reminders that waited to be sent by e-mail perhaps sent, and says
// how many: the database that they come from may have sent them since, and no reminder goes
// twice by itself.
func (f *Filling) DoubtReminders(ctx context.Context) (int64, error) {
	const q = `UPDATE reminders SET state = 'perhaps sent', ended_at = now(), trouble = 'restored from a backup, made before it was sent'
		WHERE state IN ('queued', 'sending')`
	tag, err := f.tx.Exec(ctx, q)
	if err != nil {
		return 0, fmt.Errorf("doubt reminders: %w", err)
	}
	return tag.RowsAffected(), nil
}

// EndSignIns ends what people were signed in by, since sessions are in no backup.
func (f *Filling) EndSignIns(ctx context.Context) error {
	there, err := f.has(ctx, "public.sign_ins")
	if err != nil || !there {
		return err
	}
	if _, err := f.tx.Exec(ctx, `UPDATE sign_ins SET ended_at = now() WHERE ended_at IS NULL`); err != nil {
		return fmt.Errorf("end sign-ins: %w", err)
	}
	// The database they come from may have sent mails about them since, and told of passwords without a code.
	var tells bool
	const column = `SELECT EXISTS (SELECT FROM pg_attribute WHERE attrelid = to_regclass('public.sign_ins') AND attname = 'told')`
	if err := f.tx.QueryRow(ctx, column).Scan(&tells); err != nil || !tells {
		return wrapped("look for mails about sign-ins", err)
	}
	const doubt = `UPDATE sign_ins SET told = 'perhaps sent' WHERE told IN ('queued', 'sending')`
	if _, err := f.tx.Exec(ctx, doubt); err != nil {
		return fmt.Errorf("doubt mails about sign-ins: %w", err)
	}
	if there, err = f.has(ctx, "public.half_sign_ins"); err != nil || !there {
		return err
	}
	const halves = `UPDATE half_sign_ins SET told = CASE WHEN told IS NULL THEN 'on the page' ELSE 'perhaps sent' END, told_at = coalesce(told_at, until)
		WHERE told IS NULL OR told IN ('queued', 'sending')`
	if _, err := f.tx.Exec(ctx, halves); err != nil {
		return fmt.Errorf("doubt mails about passwords without a code: %w", err)
	}
	return nil
}

// EndBackups ends backups that were being made at the moment that is restored: this one, by
// its number, turned out good, as can be read now; others were left behind.
func (f *Filling) EndBackups(ctx context.Context, this Backup) error {
	there, err := f.has(ctx, "public.backups")
	if err != nil || !there {
		return err
	}
	const good = `UPDATE backups SET state = 'good', ended_at = greatest(began_at, $2::timestamptz), bytes = $3, sha256 = $4, counts = $5
		WHERE state = 'running' AND id = $1`
	if _, err := f.tx.Exec(ctx, good, this.ID, this.EndedAt, this.Bytes, this.SHA256, this.Counts); err != nil {
		return fmt.Errorf("end backups: %w", err)
	}
	const others = `UPDATE backups SET state = 'stopped', ended_at = now(), trouble = 'it was being made when the backup was made from which all this was restored'
		WHERE state = 'running'`
	if _, err := f.tx.Exec(ctx, others); err != nil {
		return fmt.Errorf("end backups: %w", err)
	}
	return nil
}

// has says whether there is such a table, which an older schema may not have.
func (f *Filling) has(ctx context.Context, table string) (there bool, err error) {
	if err = f.tx.QueryRow(ctx, `SELECT to_regclass($1) IS NOT NULL`, table).Scan(&there); err != nil {
		err = fmt.Errorf("look for %s: %w", table, err)
	}
	return there, err
}

// Balances holds what is there against the ledgers, with the sequences as they will go on. The schema
// must be the newest.
func (f *Filling) Balances(ctx context.Context) (Balances, error) {
	if err := f.count(ctx); err != nil {
		return Balances{}, err
	}
	// Without figures about tables that have just been filled Postgres reads them in the slowest ways.
	if _, err := f.tx.Exec(ctx, `ANALYZE`); err != nil {
		return Balances{}, fmt.Errorf("look at what was put in: %w", err)
	}
	return balancesIn(ctx, f.tx)
}
