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
	// is put in; undo takes back what it did, where nothing of the backup is left in the database.
	PutKey func(key string) (undo func() error, err error)
	// Differing takes a database whose balances do not agree, as they did not when the backup
	// was made.
	Differing bool
	// Erased are those who were erased by now: whoever of them is in the backup is erased again
	// before anybody is let in.
	Erased []postgres.Erased
	Say    func(sentence string)
}

// Restored is what a database holds after it.
type Restored struct {
	Contents
	Doubted  int64 // reminders that waited to be sent and perhaps were
	Again    Again
	Balances postgres.Balances
}

// Restore refuses a database that somebody uses, and lets nobody use it until it has ended
// (postgres.Alone). It reads the whole file first and refuses it before anything is touched, unless it
// is good, the database is empty, and the program knows the schema. Then it makes the tables as
// they were when the backup was made, puts every row in, and holds counts and checksums of
// what the database then holds against the file, all in one transaction: everything or
// nothing is kept. An older schema is brought up to this program's afterwards.
//
// The balances are held against their ledgers before it is kept; after an older schema was
// brought up, once that is done. Whatever fails then, the end of ctx too, everything is taken
// out again, and the key after it: rows never stay without the key that opens their links. So it is
// where somebody who was erased since cannot be erased again. Only where others may have come in
// meanwhile, since the connection that shuts them out was lost, nothing that is kept is taken out.
func Restore(ctx context.Context, r Return) (done Restored, err error) {
	in, err := openFile(r.File)
	if err != nil {
		return done, err
	}
	defer in.Close()
	alone, err := postgres.TakeAlone(ctx, r.Owner)
	if err != nil {
		return done, err
	}
	// A connection that was lost has given it back.
	defer func() { _ = alone.End(ctx) }()
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
	filled, err := r.fill(ctx, alone, in, &done, newest)
	if err == nil && !newest {
		err = r.bringUp(ctx, &done)
	}
	if err == nil && len(r.Erased) > 0 {
		if lost := alone.Held(ctx); lost != nil {
			return done, fmt.Errorf("%w Everything is put in, and who was erased since is not erased again yet: boltward restore --finish does it, and until then nothing serves this database", lost)
		}
		// Whatever ends the program from here on, those who are left stand in the database, and nothing serves it.
		r.Say("Erasing again who was erased since…")
		done.Again, err = EraseAgain(ctx, postgres.New(r.Owner, time.Now), r.Erased)
	}
	if err != nil {
		return done, r.takeBack(ctx, alone, err, filled, undo)
	}
	return done, nil
}

// takeBackTime is how long it may take to take out again what was put in.
const takeBackTime = 2 * time.Minute

// takeBack leaves an empty database after a restore that failed, whether ctx has ended or
// not, and takes the key back only once nothing is left that needs it. Where an answer got
// lost nobody knows whether the rows are kept, so the database itself is asked.
func (r Return) takeBack(ctx context.Context, alone *postgres.Alone, why error, filled bool, undo func() error) error {
	late, cancel := context.WithTimeout(context.WithoutCancel(ctx), takeBackTime)
	defer cancel()
	var left error
	if filled {
		r.Say("Taking out again what was put in…")
		left = postgres.Clear(late, alone)
	}
	if left == nil {
		left = postgres.Empty(late, r.Owner)
	}
	if left == nil {
		said := "Nothing of the backup was kept."
		if filled {
			said += " The tables are those of another version now: for the next try take a database that was never prepared."
		}
		r.Say(said)
		return errors.Join(why, undo())
	}
	r.Say("Rows of the backup may be in the database, so the installation's key stays where it was put: keep the two together, or restore into a new database and a new folder.")
	return errors.Join(why, fmt.Errorf("take out again what was put in: %w", left))
}

// fill reads the file a second time, into the database; filled says that its rows are kept.
func (r Return) fill(ctx context.Context, alone *postgres.Alone, in *os.File, done *Restored, newest bool) (filled bool, err error) {
	first := done.Contents
	if err := migrations.MigrateTo(ctx, r.Owner, first.Versions.ToRestore()); err != nil {
		return false, err
	}
	r.Say(fmt.Sprintf("Putting in %d rows of %d tables…", first.Rows(), len(first.Tables)))
	err = postgres.Fill(ctx, alone, first.Form, func(f *postgres.Filling) error {
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
	if err != nil && ctx.Err() == nil && apperr.As(err) == nil {
		if lost := alone.Held(ctx); lost != nil {
			err = fmt.Errorf("%w Restore again: %w", lost, err)
		}
	}
	return err == nil, err
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
	this := postgres.Backup{ID: done.Row, Bytes: done.Bytes, SHA256: done.SHA256, Counts: done.Counts(), EndedAt: &done.Made}
	if err := f.EndBackups(ctx, this); err != nil {
		return err
	}
	if err := f.StillToErase(ctx, together(r.Erased)); err != nil {
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
	return apperr.Conflict("The balances in this backup do not agree with their ledgers, as they did not when it was made (%s: %s); --as-it-stands restores it all the same.",
		found.Differences[0].Drive, found.Differences[0].What)
}

// bringUp migrates what was restored, which is kept already.
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
	return r.accept(done.Balances)
}
