package main

import (
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"

	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// No backup is restored into a database that somebody serves or works on: who they are is said, and
// nothing is touched.
func TestNoRestoreIntoWhatIsUsed(t *testing.T) {
	t.Parallel()
	s := savedDemo(t)
	db := pgtest.New(t)
	set := settings{"DATABASE_URL": db.URL, "BOLTWARD_DATA": t.TempDir(), "PORT": "0"}
	serve, work := launch(t, set, "serve", "--jobs=false"), launch(t, set, "work")
	serve.answers()
	work.until("it works", func() bool { return work.out.String() != "" })
	into := settings{"DATABASE_URL": db.OwnerURL, "BOLTWARD_DATA": t.TempDir()}
	refused := func(by ...string) {
		t.Helper()
		code, out, errs := run(t, into, "restore", s.file, "--identity", s.identity)
		require.Equal(t, exitFailed, code)
		require.Empty(t, out)
		require.Contains(t, errs, "This database is in use (boltward "+by[0]+", process ")
		require.Equal(t, len(by), strings.Count(errs, ", process "), errs)
		require.Contains(t, errs, "boltward "+by[len(by)-1]+", process ")
		require.Contains(t, errs, "pg_stat_activity")
		require.NoFileExists(t, filepath.Join(into["BOLTWARD_DATA"], "key"))
		require.NoError(t, postgres.Empty(t.Context(), db.Owner()))
	}
	refused("serve", "work")
	serve.stop()
	refused("work")
	work.stop()
	code, out, errs := run(t, into, "restore", s.file, "--identity", s.identity)
	require.Zero(t, code, errs)
	require.Contains(t, out, "is restored")
	code, out, errs = run(t, set, "check", "--json")
	require.Zero(t, code, errs)
	require.Equal(t, s.check, out)
}

// While a backup is being restored nothing else begins with that database. When the connection that
// shuts them out is lost nothing is kept, and the next restore is whole.
func TestNothingBeginsWhileARestoreGoesOn(t *testing.T) {
	t.Parallel()
	s := savedDemo(t)
	db := pgtest.New(t)
	set := settings{"DATABASE_URL": db.OwnerURL, "BOLTWARD_DATA": t.TempDir(), "PORT": "0"}
	args := []string{"restore", s.file, "--identity", s.identity}
	restore, letGo := restoreHeldUp(t, db, set, args)
	var barred []*program
	for _, args := range [][]string{{"serve"}, {"work"}, {"migrate"}, {"check"}, {"demo"}} {
		barred = append(barred, launch(t, set, args...))
	}
	for _, p := range append(barred, launch(t, settings{"DATABASE_URL": db.OwnerURL, "BOLTWARD_DATA": t.TempDir()}, args...)) {
		require.Equal(t, exitFailed, p.wait(), p.errs.String())
		require.Empty(t, p.out.String())
		says := "A backup is being restored into this database (boltward restore, process "
		if p.cmd.Args[1] == "restore" {
			says = "This database is in use (boltward restore, process "
		}
		require.Contains(t, p.errs.String(), says)
	}

	require.Equal(t, 1, endShares(t, db.Owner(), "ExclusiveLock"))
	require.Equal(t, exitFailed, restore.wait())
	for _, says := range []string{"The connection by which nobody else could use the database was lost", "Restore again", "Nothing of the backup was kept."} {
		require.Contains(t, restore.errs.String(), says)
	}
	letGo()
	require.NoError(t, postgres.Empty(t.Context(), db.Owner()))
	require.NoFileExists(t, filepath.Join(set["BOLTWARD_DATA"], "key"))
	code, _, errs := run(t, set, args...)
	require.Zero(t, code, errs)
	code, out, errs := run(t, set, "check", "--json")
	require.Zero(t, code, errs)
	require.Equal(t, s.check, out)
}

// endShares ends every connection of the program that has the database's lock in that way, and says
// of how many.
func endShares(t testing.TB, pool *pgxpool.Pool, mode string) (n int) {
	t.Helper()
	const q = `SELECT count(pg_terminate_backend(pid)) FROM pg_locks JOIN pg_stat_activity USING (pid)
		WHERE locktype = 'advisory' AND mode = $1 AND granted AND database = datid AND datname = current_database() AND application_name LIKE 'boltward %'`
	require.NoError(t, pool.QueryRow(t.Context(), q, mode).Scan(&n))
	return n
}

// Whoever loses every connection takes its share again, and goes on. Where a restore came in between it
// answers nobody meanwhile, nor afterwards while the restore was cut off before it had erased everybody.
func TestWhoRanBeforeARestoreAnswersNobody(t *testing.T) {
	t.Parallel()
	set, db := withDatabase(t)
	p := launch(t, set, "serve", "--jobs=false")
	p.answers()
	becomes := func(code int, says string) {
		t.Helper()
		for end := patience(); ; end.wait(t, says) {
			if got, text := get(t, p.address+"/readyz", ""); got == code && text == says {
				return
			}
		}
	}
	// With a cookie it asks who that is.
	asks := func() (int, string) {
		t.Helper()
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.address+"/sign-in", nil)
		require.NoError(t, err)
		request.AddCookie(&http.Cookie{Name: "boltward", Value: "some-session"})
		answer, err := http.DefaultClient.Do(request)
		require.NoError(t, err)
		text, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		return answer.StatusCode, string(text)
	}
	answers := func() {
		t.Helper()
		code, text := asks()
		require.Equal(t, http.StatusOK, code, text)
	}
	answersNobody := func() {
		t.Helper()
		code, text := asks()
		require.GreaterOrEqual(t, code, 500)
		require.NotContains(t, text, "estore", "what it is about is for whoever looks after it")
	}
	becomes(http.StatusOK, "ready\n")
	answers()
	server := poolOf(t, settings{"DATABASE_URL": db.URL})

	require.GreaterOrEqual(t, endShares(t, server, "ShareLock"), 2, "the pool's and one beside it")
	becomes(http.StatusOK, "ready\n")
	answers()
	_, err := postgres.TakeAlone(t.Context(), db.Owner())
	require.ErrorContains(t, err, "in use (boltward serve, process ")

	// A restore takes the moment between.
	alone := make(chan *postgres.Alone)
	go func() {
		defer close(alone)
		for t.Context().Err() == nil {
			if a, err := postgres.TakeAlone(t.Context(), db.Owner()); err == nil {
				alone <- a
				return
			}
		}
	}()
	var a *postgres.Alone
	for end := patience(); a == nil; {
		endShares(t, server, "ShareLock")
		select {
		case a = <-alone:
		default:
			end.wait(t, "a restore comes in between")
		}
	}
	becomes(http.StatusServiceUnavailable, "not ready: a backup is being restored into the database\n")
	answersNobody()
	require.NoError(t, a.Held(t.Context()))

	// It is cut off while people are still to be erased.
	_, err = db.Owner().Exec(t.Context(), `INSERT INTO erase_again (kind, drive, number, erased_at) VALUES ('account', '', 1000000, now())`)
	require.NoError(t, err)
	require.NoError(t, a.End(t.Context()))
	becomes(http.StatusServiceUnavailable, "not ready: a restore was cut off before it had erased again who was erased since: boltward restore --finish\n")
	answersNobody()
	code, _, errs := run(t, set, "restore", "--finish")
	require.Zero(t, code, errs)
	becomes(http.StatusOK, "ready\n")
	answers()
}
