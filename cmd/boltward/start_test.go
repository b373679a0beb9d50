package main

import (
	"context"
	"net"
	"net/http"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"boltward/internal/pgtest"
)

// What keeps serve from starting is told in one sentence, by the real program.
func TestCannotStart(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	port := strconv.Itoa(taken.Addr().(*net.TCPAddr).Port)

	old := privateFolder(t)
	require.NoError(t, os.MkdirAll(filepath.Join(old, "postgres"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(old, "postgres", "PG_VERSION"), []byte("11\n"), 0o644))

	inTheWay := filepath.Join(filepath.Dir(privateFolder(t)), "file")
	require.NoError(t, os.WriteFile(inTheWay, []byte("a file"), 0o644))

	locked := filepath.Join(filepath.Dir(privateFolder(t)), "locked")
	require.NoError(t, os.Mkdir(locked, 0o555))

	first := privateFolder(t)
	running := serving(t, settings{"BOLTWARD_DATA": first, "PORT": "0"})

	for name, test := range map[string]struct {
		as   *syscall.Credential
		set  settings
		says []string
	}{
		"a taken port": {
			nil,
			settings{"BOLTWARD_DATA": privateFolder(t), "PORT": port},
			[]string{"Another program listens at 127.0.0.1:" + port, "PORT=8081"},
		},
		"a folder nobody may write to": {
			ordinaryUser(t),
			settings{"BOLTWARD_DATA": filepath.Join(locked, "var"), "PORT": "0"},
			[]string{"Boltward cannot write to its data folder " + locked, "BOLTWARD_DATA"},
		},
		"a file where the folder should be": {
			nil,
			settings{"BOLTWARD_DATA": inTheWay, "PORT": "0"},
			[]string{"Boltward cannot write to its data folder " + inTheWay},
		},
		"the data of another Postgres": {
			nil,
			settings{"BOLTWARD_DATA": old, "PORT": "0"},
			[]string{"was made by Postgres 11", "not installed here", old},
		},
		"a second serve": {
			nil,
			settings{"BOLTWARD_DATA": first, "PORT": "0"},
			[]string{"already serves the data in " + first, running.address},
		},
	} {
		t.Run(name, func(t *testing.T) {
			p := launchAs(t, test.as, test.set, "serve")
			require.Equal(t, exitFailed, p.wait(), p.errs.String())
			said := lines(p.errs.String())
			sentence := said[len(said)-1]
			require.True(t, strings.HasPrefix(sentence, "boltward serve: "), "one clear sentence: %q", said)
			for _, progress := range said[:len(said)-1] {
				require.True(t, strings.HasSuffix(progress, "…"), "before it only what was being done: %q", said)
			}
			for _, part := range test.says {
				require.Contains(t, sentence, part)
			}
			require.Empty(t, p.out.String(), "standard output is for results")
		})
	}
	answer, err := http.Get(running.address + "/readyz")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusOK, answer.StatusCode, "the first goes on serving")
}

// ordinaryUser is whom the program runs as where a test needs somebody without
// rights: ourselves, unless we are root.
func ordinaryUser(t testing.TB) *syscall.Credential {
	t.Helper()
	if os.Geteuid() != 0 {
		return nil
	}
	nobody, err := user.Lookup("nobody")
	if err != nil {
		t.Skip("LEFT OUT: there is no user nobody to be")
	}
	uid, err := strconv.ParseUint(nobody.Uid, 10, 32)
	require.NoError(t, err)
	gid, err := strconv.ParseUint(nobody.Gid, 10, 32)
	require.NoError(t, err)
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
}

// Ctrl-C at any moment of the first start ends it soon and leaves no process,
// and the next start goes on from there.
func TestInterruptedWhileStarting(t *testing.T) {
	t.Parallel()
	data := privateFolder(t)
	set := settings{"BOLTWARD_DATA": data, "PORT": "0"}
	stopped := func(p *program, after string) {
		p.until("it says "+after, func() bool { return strings.Contains(p.errs.String(), after) || p.out.String() != "" })
		p.interrupt()
		begun := time.Now()
		code := p.wait()
		require.Less(t, time.Since(begun), 15*time.Second, "after %q", after)
		require.Contains(t, []int{exitDone, exitFailed}, code, "after %q: %s", after, p.errs.String())
		require.NotContains(t, p.errs.String(), "panic", "after %q", after)
		nothingLeft(t, data)
	}
	for _, after := range []string{"Making the database folder", "Starting the database…", "Bringing the database up"} {
		stopped(launch(t, set, "serve"), after)
	}
	// A shell's background job has SIGINT ignored, and so has what it starts until that asks for it: Postgres.
	binary, err := built()
	require.NoError(t, err)
	stopped(launchBy(t, nil, set, exec.Command("sh", "-c", `trap "" INT; exec "$0" serve`, binary)), "Starting the database…")
	serving(t, set).stop()
	nothingLeft(t, data)
}

// A first start in a home that others may not enter, as an ordinary user and, where
// the tests run as root, as root, whose Postgres must run as somebody else.
func TestFirstStartAtHome(t *testing.T) {
	t.Parallel()
	users := map[string]*syscall.Credential{"ourselves": nil}
	if os.Geteuid() == 0 {
		users["an ordinary user"] = ordinaryUser(t)
	}
	for name, who := range users {
		t.Run(name, func(t *testing.T) {
			home := filepath.Join(filepath.Dir(privateFolder(t)), "home")
			require.NoError(t, os.Mkdir(home, 0o700))
			if who != nil {
				require.NoError(t, os.Chown(home, int(who.Uid), int(who.Gid)))
			}
			set := settings{"BOLTWARD_DATA": filepath.Join(home, "clone", "var"), "PORT": "0", "HOME": home}
			for _, start := range []string{"first", "second"} {
				begun := time.Now()
				p := launchAs(t, who, set, "serve")
				p.answers()
				t.Logf("the %s start took %v", start, time.Since(begun).Round(10*time.Millisecond))
				require.NotEmpty(t, p.link)
				someAtWork(t, home)
				p.stop()
				nothingLeft(t, home)
			}
		})
	}
}

// The demo drive goes into an empty database once, and is told so after.
func TestDemoTwice(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	set, db := withDatabase(t)
	code, _, errs := run(t, set, "demo")
	require.Zero(t, code, errs)
	before := countRows(t, ctx, db)
	require.Greater(t, before["lots"], int64(44), "lots of fabric")
	require.Greater(t, before["people"], int64(14), "volunteers and a school")
	balanced(t, ctx, db.Pool)
	sumsNotice(t, ctx, db.Owner())

	code, out, errs := run(t, set, "demo")
	require.Equal(t, exitFailed, code)
	require.Empty(t, out)
	require.Len(t, lines(errs), 1, "one sentence: %s", errs)
	require.Contains(t, errs, "There is a drive here already: Lantern Row pillowcase drive.")
	code, _, errs = run(t, set, "demo", "--if-empty")
	require.Zero(t, code, errs)
	require.Empty(t, errs)
	require.Equal(t, before, countRows(t, ctx, db), "nothing was added")

	code, out, errs = run(t, set, "drives", "--json")
	require.Zero(t, code, errs)
	require.JSONEq(t, `[{"id": "lantern-row", "name": "Lantern Row pillowcase drive"}]`, out)
}

// countRows counts the rows of every table that belongs to drives.
func countRows(t *testing.T, ctx context.Context, db *pgtest.DB) map[string]int64 {
	t.Helper()
	const q = `
		SELECT table_name FROM information_schema.columns
		WHERE table_schema = 'public' AND column_name = 'drive_id' ORDER BY table_name`
	rows, err := db.Pool.Query(ctx, q)
	require.NoError(t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	require.Greater(t, len(tables), 10)
	counts := map[string]int64{}
	for _, table := range tables {
		var n int64
		require.NoError(t, db.Pool.QueryRow(ctx, `SELECT count(*) FROM `+pgx.Identifier{table}.Sanitize()).Scan(&n))
		counts[table] = n
	}
	return counts
}

// Whoever asks for help gets an example to copy, from every command.
func TestHelpShowsExamples(t *testing.T) {
	code, out, errs := run(t, nil, "help")
	require.Zero(t, code, errs)
	named := 0
	for _, line := range lines(out) {
		word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
		if !strings.HasPrefix(line, "  ") || rest == "" {
			continue
		}
		named++
		for _, args := range [][]string{{"help", word}, {word, "--help"}} {
			code, out, errs := say(t, nil, args...)
			require.Zero(t, code, "%q: %s", args, errs)
			require.Contains(t, out, "Example:\n  boltward", "%q", args)
			require.Contains(t, out, "boltward "+word, "%q shows how it is called", args)
			require.Empty(t, errs, "%q", args)
		}
	}
	require.Equal(t, len(commands()), named, "help lists every command: %s", out)
}
