package main

import (
	"context"
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// onceSaved is the demo drive as a backup, for all tests that put it somewhere.
type onceSaved struct {
	folder   string // with the installation's key
	file     string
	identity string
	check    string // what boltward check --json says of it
	rows     map[string]int64
}

var demoSaved sync.Map // one a run

// savedDemo makes the backup at the first call. It is for a public key, which is quick.
func savedDemo(t *testing.T) onceSaved {
	t.Helper()
	make := sync.OnceValue(func() onceSaved {
		above, err := testFolder()
		require.NoError(t, err)
		s := onceSaved{folder: filepath.Join(above, "saved")}
		s.file, s.identity = filepath.Join(s.folder, "demo.boltward"), filepath.Join(s.folder, "identity.txt")
		require.NoError(t, os.Mkdir(s.folder, 0o755))
		db := pgtest.New(t)
		set := map[string]string{"DATABASE_URL": db.URL, "BOLTWARD_DATA": s.folder}
		_, err = installationKey(Env{Getenv: func(name string) string { return set[name] }})
		require.NoError(t, err)
		code, _, errs := say(t, set, "demo")
		require.Zero(t, code, errs)
		code, public, errs := say(t, nil, "backup", "--new-identity", s.identity)
		require.Zero(t, code, errs)
		code, out, errs := say(t, set, "backup", s.file, "--recipient", strings.TrimSpace(public), "--json")
		require.Zero(t, code, errs)
		var told struct{ Rows map[string]int64 }
		require.NoError(t, json.Unmarshal([]byte(out), &told))
		s.rows = told.Rows
		code, s.check, errs = say(t, set, "check", "--json")
		require.Zero(t, code, errs)
		return s
	})
	kept, _ := demoSaved.LoadOrStore("demo", make)
	return kept.(func() onceSaved)()
}

// say runs a command within the test.
func say(t *testing.T, set map[string]string, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e lockedBuffer
	env := Env{
		Args: args, Stdin: strings.NewReader(""), Stdout: &o, Stderr: &e,
		Getenv: func(name string) string { return set[name] }, Now: time.Now,
	}
	code = dispatch(context.Background(), env, commands())
	return code, o.String(), e.String()
}

// The demo drive goes out by a passphrase and comes back the same, with the key.
func TestBackupCommands(t *testing.T) {
	s := savedDemo(t)
	require.Positive(t, s.rows["public.fabric_entries"])
	require.Positive(t, s.rows["public.people"])
	db, folder := pgtest.Empty(t), t.TempDir()
	set := map[string]string{"DATABASE_URL": db.OwnerURL, "BOLTWARD_DATA": folder}
	code, out, errs := say(t, set, "restore", s.file, "--identity", s.identity)
	require.Zero(t, code, errs)
	require.Contains(t, out, "every balance agrees with its ledger")
	require.Regexp(t, `Everything is as it was on \d+ \w+ 20\d\d at \d\d:\d\d UTC, \d+ minutes? ago\.`, errs)
	require.Contains(t, errs, "there is no list of them beside the backup (boltward-erased.txt)")
	was, err := os.ReadFile(filepath.Join(s.folder, "key"))
	require.NoError(t, err)
	is, err := os.ReadFile(filepath.Join(folder, "key"))
	require.NoError(t, err)
	require.Equal(t, was, is)
	set["DATABASE_URL"] = db.URL
	code, out, errs = say(t, set, "check", "--json")
	require.Zero(t, code, errs)
	require.Equal(t, s.check, out)

	// By a passphrase.
	file := filepath.Join(t.TempDir(), "again.boltward")
	code, _, errs = say(t, set, "backup", file)
	require.Equal(t, exitBad, code)
	require.Contains(t, errs, "There is no terminal to ask")
	set["BOLTWARD_PASSPHRASE"] = "short"
	code, _, errs = say(t, set, "backup", file)
	require.Equal(t, exitBad, code)
	require.Contains(t, errs, "12 characters or more")
	set["BOLTWARD_PASSPHRASE"] = "lantern window thimble"
	code, out, errs = say(t, set, "backup", file)
	require.Zero(t, code, errs)
	require.Contains(t, out, "is written, read back and whole")
	code, out, errs = say(t, set, "verify", file)
	require.Zero(t, code, errs)
	require.Contains(t, out, "is good")
	code, _, errs = say(t, set, "verify", file, "--identity", s.identity)
	require.Equal(t, exitBad, code)
	require.Contains(t, errs, "was made with a passphrase")

	// A row of Settings' list for each that was made.
	var good int
	require.NoError(t, db.Pool.QueryRow(t.Context(), `SELECT count(*) FROM backups WHERE state = 'good' AND NOT by_itself`).Scan(&good))
	require.Equal(t, 1, good)
}

func TestBackupRefusals(t *testing.T) {
	s := savedDemo(t)
	content, err := os.ReadFile(s.file)
	require.NoError(t, err)
	folder := t.TempDir()
	put := func(name string, content []byte) string {
		file := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(file, content, 0o600))
		return file
	}
	content[len(content)/2] ^= 1
	broken := put("broken", content)
	content[len(content)/2] ^= 1
	cut := put("cut", content[:len(content)-7])
	letter := put("letter.txt", []byte("Dear Rosa, the backup is on the stick. "))
	db := pgtest.New(t)
	set := map[string]string{"DATABASE_URL": db.OwnerURL, "BOLTWARD_DATA": folder}
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"verify", broken, "--identity", s.identity}, exitFailed, "damaged or cut short"},
		{[]string{"verify", cut, "--identity", s.identity}, exitFailed, "damaged or cut short"},
		{[]string{"verify", letter}, exitBad, "no backup of Boltward"},
		{[]string{"verify", s.file}, exitBad, "name the file with the private key"},
		{[]string{"verify", s.file, "--identity", letter}, exitBad, "holds no private keys"},
		{[]string{"verify"}, exitBad, "name the file"},
		{[]string{"restore", broken, "--identity", s.identity}, exitFailed, "damaged or cut short"},
		{[]string{"restore", cut, "--identity", s.identity}, exitFailed, "damaged or cut short"},
		{[]string{"backup", s.file, "--recipient", "age1zzz"}, exitBad, "no public key"},
		{[]string{"backup", "--new-identity", s.identity}, exitFailed, "is there already"},
		{[]string{"backup", filepath.Join(folder, "no", "where"), "--recipient", strings.TrimSpace(publicOf(t, s))}, exitBad, "BOLTWARD_KEY"},
	} {
		code, _, errs := say(t, set, c.args...)
		require.Equal(t, c.code, code, "%v: %s", c.args, errs)
		require.Contains(t, errs, c.says, "%v", c.args)
	}
	require.NoError(t, postgres.Empty(t.Context(), db.Owner()))
	require.NoFileExists(t, filepath.Join(folder, "key"))

	set["BOLTWARD_KEY"] = strings.Repeat("ab", 32)
	code, _, errs := say(t, set, "restore", s.file, "--identity", s.identity)
	require.Equal(t, exitFailed, code)
	require.Contains(t, errs, "BOLTWARD_KEY is another key")
	delete(set, "BOLTWARD_KEY")
	key := put("key", []byte(strings.Repeat("cd", 32)))
	code, _, errs = say(t, set, "restore", s.file, "--identity", s.identity)
	require.Equal(t, exitFailed, code)
	require.Contains(t, errs, "is another key")
	require.NoError(t, postgres.Empty(t.Context(), db.Owner()))
	require.NoError(t, os.Remove(key))
	code, _, errs = say(t, map[string]string{"DATABASE_URL": db.URL, "BOLTWARD_DATA": folder}, "restore", s.file, "--identity", s.identity)
	require.Equal(t, exitFailed, code, "the server's own login may not")
	require.Contains(t, errs, "as the owner of its tables")
	require.NoFileExists(t, filepath.Join(folder, "key"), "what was not restored leaves no key")
}

func publicOf(t *testing.T, s onceSaved) string {
	t.Helper()
	text, err := os.ReadFile(s.identity)
	require.NoError(t, err)
	first, _, _ := strings.Cut(string(text), "\n")
	return strings.TrimPrefix(first, "# public key: ")
}

// The real program puts it into a private database, writes nothing that can be read beside
// it, and serves what it has restored.
func TestRestoreIntoPrivateDatabase(t *testing.T) {
	s := savedDemo(t)
	data, temp := privateFolder(t), t.TempDir()
	require.NoError(t, os.Chmod(temp, 0o777)) // Postgres runs as another user
	set := settings{"BOLTWARD_DATA": data, "PORT": "0", "TMPDIR": temp}
	code, out, errs := run(t, set, "restore", s.file, "--identity", s.identity)
	require.Zero(t, code, errs)
	require.Contains(t, out, "is restored")
	code, out, errs = run(t, set, "check", "--json")
	require.Zero(t, code, errs)
	require.Equal(t, s.check, out)
	p := serving(t, set)
	code, _, errs = run(t, set, "restore", s.file, "--identity", s.identity)
	require.Equal(t, exitFailed, code)
	require.Contains(t, errs, "already serves the data")

	file := filepath.Join(temp, "of-private.boltward")
	code, _, errs = run(t, set, "backup", file, "--recipient", publicOf(t, s))
	require.Zero(t, code, errs)
	p.stop()
	nothingLeft(t, data)
	left, err := os.ReadDir(temp)
	require.NoError(t, err)
	require.Len(t, left, 1, "nothing beside the file")
	content, err := os.ReadFile(file)
	require.NoError(t, err)
	for _, secret := range []string{"Lantern Row", "fabric_entries", "manifest", "@example.org"} {
		require.NotContains(t, string(content), secret)
	}
	code, _, errs = run(t, settings{"BOLTWARD_DATA": filepath.Join(temp, "none")}, "verify", file, "--identity", s.identity)
	require.Zero(t, code, errs)
	require.NoDirExists(t, filepath.Join(temp, "none"), "verify needs no database")
}

// restoreHeldUp begins a restore into a prepared database, and holds it up when all rows are in and
// nothing is kept yet, until it is let go.
func restoreHeldUp(t *testing.T, db *pgtest.DB, set settings, args []string) (p *program, letGo func()) {
	t.Helper()
	tx, err := db.Owner().Begin(t.Context())
	require.NoError(t, err)
	t.Cleanup(func() { _ = tx.Rollback(context.Background()) })
	// Only ANALYZE waits for it.
	_, err = tx.Exec(t.Context(), `LOCK TABLE goose_db_version IN SHARE UPDATE EXCLUSIVE MODE`)
	require.NoError(t, err)
	p = launch(t, set, args...)
	p.until("it looks at what was put in", func() bool {
		var n int
		require.NoError(t, db.Owner().QueryRow(t.Context(), `SELECT count(*) FROM pg_locks WHERE NOT granted AND relation = 'goose_db_version'::regclass`).Scan(&n))
		return n > 0
	})
	require.Contains(t, p.errs.String(), "Comparing every table with the backup")
	return p, func() {
		t.Helper()
		require.NoError(t, tx.Rollback(t.Context()))
	}
}

// Killed when all rows are in and nothing is kept yet, it leaves an empty database, into
// which the next one goes.
func TestKilledWhileRestoring(t *testing.T) {
	s := savedDemo(t)
	db := pgtest.New(t)
	set := settings{"DATABASE_URL": db.OwnerURL, "BOLTWARD_DATA": t.TempDir()}
	args := []string{"restore", s.file, "--identity", s.identity}
	p, letGo := restoreHeldUp(t, db, set, args)
	p.kill()
	letGo()
	require.NoError(t, postgres.Empty(t.Context(), db.Owner()))
	if longRun() {
		for range 20 {
			p := launch(t, set, args...)
			select {
			case <-p.ended:
			case <-time.After(time.Duration(rand.Int64N(int64(3 * time.Second)))):
				p.kill()
			}
			if postgres.Empty(t.Context(), db.Owner()) != nil {
				_, out, _ := say(t, map[string]string{"DATABASE_URL": db.URL}, "check", "--json")
				require.Equal(t, s.check, out, "all of it or nothing")
				db = pgtest.New(t)
				set["DATABASE_URL"] = db.OwnerURL
			}
		}
	}
	code, _, errs := run(t, set, args...)
	require.Zero(t, code, errs)
	code, out, errs := say(t, map[string]string{"DATABASE_URL": db.URL}, "check", "--json")
	require.Zero(t, code, errs)
	require.Equal(t, s.check, out)
}
