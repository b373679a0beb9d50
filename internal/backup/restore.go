package backup

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
	"boltward/migrations"
)

// Return is a backup to be put into an empty database.
type Return struct {
	File  string
	By    Opener
	Owner *pgxpool.Pool // logs in as the owner of the database
	// PutKey puts the installation's key where programs look for it, or refuses where
	// another lies there. It is called once the file is known to be good, and before any row
	// is put in; undo takes back what it did.
	PutKey func(key string) (undo func() error, err error)
	// Differing takes a database whose balances do not agree, as they did not when the backup
	// was made.
	Differing bool
	Say       func(sentence string)
}

// Restored is what a database holds after it.
type Restored struct {
	Contents
	Doubted  int64 // reminders that waited to be sent and perhaps were
	Balances postgres.Balances
}

// Restore reads the whole file first and refuses it before anything is touched, unless it
// is good, the database is empty, and the program knows the schema. Then it makes the tables as
// they were when the backup was made, puts every row in, and holds counts and checksums of
// what the database then holds against the file, all in one transaction: everything or
// nothing is kept. An older schema is brought up to this program's afterwards.
//
// The balances are held against their ledgers before it is kept; after an older schema was
// brought up, once that is done, and where they differ everything is taken out again.
func Restore(ctx context.Context, r Return) (Restored, error) {
	var done Restored
	in, err := openFile(r.File)
	if err != nil {
		return done, err
	}
	defer in.Close()
	r.Say("Reading the whole backup first…")
	if done.Contents, err = readWhole(ctx, in, r.By, nothing); err != nil {
		return done, err
	}
	known, newest, err := migrations.Knows(ctx, r.Owner, done.Versions)
	if err != nil {
		return done, err
	}
	if !known {
		return done, apperr.Conflict("%s was made by a newer boltward: restore it with that version. Nothing was changed.", r.File)
	}
	if err := postgres.Empty(ctx, r.Owner); err != nil {
		return done, err
	}
	undo, err := r.PutKey(done.Key)
	if err != nil {
		return done, err
	}
	if err := r.fill(ctx, in, newest, &done); err != nil {
		return done, errors.Join(err, undo())
	}
	return done, nil
}

// fill reads the file a second time, into the database.
func (r Return) fill(ctx context.Context, in *os.File, newest bool, done *Restored) error {
	first := done.Contents
	if err := migrations.MigrateTo(ctx, r.Owner, first.Versions); err != nil {
		return err
	}
	r.Say(fmt.Sprintf("Putting in %d rows of %d tables…", first.Rows(), len(first.Tables)))
	err := postgres.Fill(ctx, r.Owner, first.Form, func(f *postgres.Filling) error {
		second, err := readWhole(ctx, in, r.By, each{
			manifest: func(Manifest) error { return nil },
			table: func(t postgres.TableForm, lines io.Reader) error {
				_, err := f.Load(ctx, t, lines)
				return err
			},
		})
		if err != nil {
			return err
		}
		if second.SHA256 != first.SHA256 {
			return apperr.Conflict("%s was changed while it was being restored: nothing was kept.", r.File)
		}
		return r.agree(ctx, f, newest, done)
	})
	if err != nil {
		return err
	}
	if newest {
		return nil
	}
	return r.bringUp(ctx, done)
}

// agree holds what the database now holds against the file, and the balances against the ledgers.
func (r Return) agree(ctx context.Context, f *postgres.Filling, newest bool, done *Restored) error {
	r.Say("Comparing every table with the backup…")
	for _, t := range done.Tables {
		sum, err := f.Sum(ctx, t)
		if err != nil {
			return err
		}
		if there := sumsOf(sum); there != done.Sums[t.Name] {
			return apperr.Conflict("The database does not hold what was put into %s: %d rows in place of %d. Nothing was kept.", t.Name, there.Rows, done.Sums[t.Name].Rows)
		}
	}
	err := f.EndSignIns(ctx)
	if err != nil {
		return err
	}
	if done.Doubted, err = f.DoubtReminders(ctx); err != nil || !newest {
		return err
	}
	if done.Balances, err = f.Balances(ctx); err != nil {
		return err
	}
	return r.accept(done.Balances)
}

// accept refuses balances that differ, unless that is what is wanted.
func (r Return) accept(found postgres.Balances) error {
	if found.Agree() || r.Differing {
		return nil
	}
	return apperr.Conflict("The balances in this backup do not agree with their ledgers, as they did not when it was made (%s: %s). Nothing was kept; --as-it-stands restores it all the same.",
		found.Differences[0].Drive, found.Differences[0].What)
}

// bringUp migrates what was restored, which is kept already, and takes it out again where
// the balances differ.
func (r Return) bringUp(ctx context.Context, done *Restored) error {
	r.Say("Bringing the restored database up to this version…")
	if err := migrations.Migrate(ctx, r.Owner); err != nil {
		return err
	}
	_, err := r.Owner.Exec(ctx, `ANALYZE`)
	if err != nil {
		return fmt.Errorf("look at what was restored: %w", err)
	}
	if done.Balances, err = postgres.New(r.Owner, time.Now).CheckBalances(ctx); err != nil {
		return err
	}
	if err := r.accept(done.Balances); err != nil {
		return errors.Join(err, postgres.Clear(ctx, r.Owner))
	}
	return nil
}
