package postgres

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// wish is once with a body of text that counts how often it is really done.
func wish(ctx context.Context, s *testStore, act drive.Act, body string, done *atomic.Int64, fn func(tx pgx.Tx) error) (int64, error) {
	return once(ctx, s.Store, act, "test", body, func(tx pgx.Tx) (int64, error) {
		n := done.Add(1)
		return n, fn(tx)
	})
}

func well(pgx.Tx) error { return nil }

func TestOneWishTwoHundredTimes(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	var done atomic.Int64
	answers, errs := make([]int64, 200), make([]error, 200)
	inParallel(200, func(i int) {
		answers[i], errs[i] = wish(t.Context(), s, s.act("one"), "body", &done, func(tx pgx.Tx) error {
			_, err := next(t.Context(), tx, "spring", "lot")
			return err
		})
	})
	for i := range errs {
		require.NoError(t, errs[i])
		require.Equal(t, int64(1), answers[i], "everybody gets the answer of the first")
	}
	var last int64
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT last FROM counters WHERE kind = 'lot'`).Scan(&last))
	require.Equal(t, int64(1), last)
}

// What makes a wish the same: drive, person, key, what is done and to what.
func TestWhatMakesAWishTheSame(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	startDriveAs(t, s, "autumn")
	var done atomic.Int64
	first := s.act("key")
	n, err := wish(t.Context(), s, first, "body", &done, well)
	require.NoError(t, err)
	require.Equal(t, int64(1), n)

	later := first
	later.At, later.Request, later.Initials = later.At.Add(time.Hour), "another request", "XY"
	n, err = wish(t.Context(), s, later, "body", &done, well)
	require.NoError(t, err)
	require.Equal(t, int64(1), n, "the same wish sent later is the same wish")

	_, err = wish(t.Context(), s, first, "other", &done, well)
	require.True(t, apperr.Is(err, apperr.KindConflict), "another body: %v", err)
	_, err = once(t.Context(), s.Store, first, "something else", "body", func(pgx.Tx) (int64, error) { return done.Add(1), nil })
	require.True(t, apperr.Is(err, apperr.KindConflict), "another deed: %v", err)
	require.Equal(t, int64(1), done.Load())

	other := first
	other.Who = 2
	n, err = wish(t.Context(), s, other, "other", &done, well)
	require.NoError(t, err)
	require.Equal(t, int64(2), n, "another person's key is another key")
	n, err = wish(t.Context(), s, s.actIn("autumn", "key"), "other", &done, well)
	require.NoError(t, err)
	require.Equal(t, int64(3), n, "and so is one of another drive")
	outside := first
	outside.Drive = ""
	n, err = wish(t.Context(), s, outside, "other", &done, well)
	require.NoError(t, err)
	require.Equal(t, int64(4), n, "and one outside every drive")

	for key, kind := range map[string]string{"": "", "short": "not arrive whole", fmt.Sprintf("%0201d", 0): "not arrive whole"} {
		bad := first
		bad.Key = key
		_, err = wish(t.Context(), s, bad, "body", &done, well)
		require.ErrorContains(t, err, kind)
	}
}

// A refusal keeps nothing, so that the form can be mended and sent again.
func TestRefusedThenMended(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	var done atomic.Int64
	_, err := wish(t.Context(), s, s.act("key"), "bad", &done, func(tx pgx.Tx) error {
		if _, err := next(t.Context(), tx, "spring", "lot"); err != nil {
			return err
		}
		return apperr.Invalid("length", "Give a length.")
	})
	require.NotEmpty(t, apperr.Fields(err)["length"])
	_, err = wish(t.Context(), s, s.act("key"), "good", &done, well)
	require.NoError(t, err)
	var kept int
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT count(*) FROM counters WHERE kind = 'lot'`).Scan(&kept))
	require.Zero(t, kept, "what was done before the refusal is undone")
}

// Whoever waits for a first that is cut off does it in its place; a first that
// was kept although its answer got lost is found.
func TestTheFirstIsCutOff(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	var done atomic.Int64
	act := s.act("key")
	inside, second := make(chan uint32), make(chan error, 1)
	go func() {
		pid := <-inside
		go func() {
			_, err := wish(context.WithoutCancel(t.Context()), s, act, "body", &done, well)
			second <- err
		}()
		waitingFor(t, s, 1)
		_, err := s.db.Pool.Exec(context.WithoutCancel(t.Context()), `SELECT pg_terminate_backend($1)`, pid)
		if err != nil {
			t.Errorf("end the first: %v", err)
		}
	}()
	_, err := wish(t.Context(), s, act, "body", &done, func(tx pgx.Tx) error {
		inside <- tx.Conn().PgConn().PID()
		_, err := tx.Exec(t.Context(), `SELECT pg_sleep(30)`)
		return err
	})
	require.Error(t, err)
	require.Nil(t, apperr.As(err), "a lost connection is nothing for people: %v", err)
	require.NoError(t, <-second)
	require.Equal(t, int64(2), done.Load())
	n, err := wish(t.Context(), s, act, "body", &done, well)
	require.NoError(t, err)
	require.Equal(t, int64(2), n, "sent once more after the answer was lost")
}

// waitingFor waits until so many of the server's statements wait for a lock.
func waitingFor(t *testing.T, s *testStore, n int) {
	const q = `SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'`
	for range 500 {
		var waiting int
		if err := s.db.Pool.QueryRow(context.Background(), q).Scan(&waiting); err != nil {
			t.Errorf("who waits: %v", err)
			return
		}
		if waiting >= n {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("nobody waits")
}

// A transaction that Postgres ended is run again, and finds everything as it was.
func TestRunAgain(t *testing.T) {
	s, a := wardOf(t, 20)
	_, err := s.db.Owner().Exec(t.Context(), `CREATE SEQUENCE tries;
		CREATE FUNCTION trip() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER AS $$ BEGIN
			IF nextval('tries') = 1 THEN RAISE EXCEPTION 'tripped' USING ERRCODE = 'deadlock_detected'; END IF;
			RETURN NULL;
		END $$;
		CREATE TRIGGER trip AFTER INSERT ON audit FOR EACH ROW EXECUTE FUNCTION trip()`)
	require.NoError(t, err)
	again := func(what string, do func(act drive.Act) error) {
		t.Helper()
		_, err := s.db.Owner().Exec(t.Context(), `SELECT setval('tries', 1, false)`)
		require.NoError(t, err)
		require.NoError(t, do(s.fresh()), what)
		var tries int
		require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT last_value FROM tries`).Scan(&tries))
		require.Greater(t, tries, 1, "%s was tried once more", what)
	}
	d, err := s.Drive(t.Context(), "spring")
	require.NoError(t, err)
	z, err := s.Size(t.Context(), "spring", 1)
	require.NoError(t, err)
	r, err := s.Recipient(t.Context(), "spring", a.Recipient)
	require.NoError(t, err)
	var person PersonSaved
	again("start a drive", func(act drive.Act) error {
		act.Drive, act.Who = "", 0
		_, err := s.CreateDrive(t.Context(), act, drive.NewDrive("autumn", "Autumn", "Europe/Dublin", length.In))
		return err
	})
	again("change the drive", func(act drive.Act) error { d.KitCases = 3; _, err := s.UpdateDrive(t.Context(), act, d); return err })
	again("change a size", func(act drive.Act) error { z.Name = "other"; _, err := s.UpdateSize(t.Context(), act, z); return err })
	again("change a recipient", func(act drive.Act) error {
		r.Phone = "555"
		_, err := s.UpdateRecipient(t.Context(), act, r)
		return err
	})
	again("change a line", func(act drive.Act) error { a.Wanted = 21; _, err := s.UpdateAsked(t.Context(), act, a); return err })
	again("add a person", func(act drive.Act) (err error) {
		person, err = s.CreatePerson(t.Context(), act, drive.Person{Kind: drive.PersonVolunteer, Name: "Ada", Heads: 1}, nil)
		return err
	})
	again("change a person", func(act drive.Act) error {
		_, err := s.UpdatePerson(t.Context(), act, drive.Person{Number: person.Number, Version: 1, Kind: drive.PersonVolunteer, Name: "Bo", Heads: 2, Active: true}, nil)
		return err
	})
	again("tag", func(act drive.Act) error {
		_, err := s.TagLots(t.Context(), act, []drive.Tagging{{Donor: "Rosa", Pieces: 1, ReceivedOn: dayIn(0)}})
		return err
	})
	again("measure", func(act drive.Act) error {
		_, err := s.MeasureLot(t.Context(), act, 1, 1, cotton(1, 90*inch))
		return err
	})
	again("import", func(act drive.Act) error {
		report, err := s.ImportFabric(t.Context(), act, []drive.Incoming[drive.LotIn]{cut(2, "X1", "Rosa", 70*inch)}, false)
		require.Equal(t, 1, report.Taken)
		return err
	})
	again("kits", func(act drive.Act) error {
		_, err := s.MakeOwnFabricKits(t.Context(), act, drive.OwnFabric{Kits: 2, Cases: 4, Size: z.Number, Person: &person.Number})
		return err
	})
	again("take back", func(act drive.Act) error {
		_, err := s.TakeBack(t.Context(), act, drive.KitRef{Number: 1, Part: 1}, drive.KitReturn{Sewn: 3, RestUnsewn: true}, time.Time{})
		return err
	})
	again("undo", func(act drive.Act) error {
		_, err := s.UndoHandOut(t.Context(), act, []drive.KitRef{{Number: 2, Part: 1}})
		return err
	})
	agrees(t, s)

	// What fails each time is told in the end, for whoever looks after the program.
	_, err = s.db.Owner().Exec(t.Context(), `CREATE OR REPLACE FUNCTION trip() RETURNS trigger LANGUAGE plpgsql AS
		$$ BEGIN RAISE EXCEPTION 'tripped' USING ERRCODE = 'deadlock_detected'; END $$`)
	require.NoError(t, err)
	_, err = s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: z.Number, N: 1})
	require.Error(t, err)
	require.Nil(t, apperr.As(err), "%v", err)
	require.True(t, isRetryable(err), "%v", err)
}

func TestWishesAreKeptThirtyDays(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	var done atomic.Int64
	act := s.act("key")
	_, err := wish(t.Context(), s, act, "body", &done, well)
	require.NoError(t, err)
	s.clock.forward(30 * 24 * time.Hour)
	forgotten, err := s.ForgetOnce(t.Context())
	require.NoError(t, err)
	require.Zero(t, forgotten, "on the thirtieth day it is known still")
	n, err := wish(t.Context(), s, act, "body", &done, well)
	require.NoError(t, err)
	require.Equal(t, int64(1), n)
	s.clock.forward(time.Second)
	forgotten, err = s.ForgetOnce(t.Context())
	require.NoError(t, err)
	require.Equal(t, int64(2), forgotten, "this one and that which started the drive")
}

// In Whole every wish is part of one transaction, and a refusal ends only itself.
func TestWishesInOneTransaction(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	gone := errors.New("gone")
	err := s.Whole(t.Context(), s.now, func(w *Store) error {
		act := s.act("whole")
		if _, err := w.CreateRecipient(t.Context(), act, drive.Recipient{Kind: "castle", Name: "Keep"}); err == nil {
			return errors.New("no castle")
		}
		if _, err := w.CreateRecipient(t.Context(), act, drive.Recipient{Kind: drive.RecipientWard, Name: "Ward 4"}); err != nil {
			return err
		}
		list, err := w.Recipients(t.Context(), "spring")
		if err != nil || len(list) != 1 {
			return fmt.Errorf("%d recipients within: %w", len(list), err)
		}
		return gone
	})
	require.ErrorIs(t, err, gone)
	list, err := s.Recipients(t.Context(), "spring")
	require.NoError(t, err)
	require.Empty(t, list)
}
