package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/backup"
	"boltward/internal/drive"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

func names(t *testing.T, db *pgtest.DB) (all []string) {
	t.Helper()
	require.NoError(t, db.Pool.QueryRow(t.Context(), `SELECT array_agg(name) FROM people`).Scan(&all))
	return all
}

// Erased after a backup was made, somebody who sews, a donor and an account are erased again by the
// same command that puts it back, or by the list alone afterwards; check is clean then.
func TestWhoWasErasedStaysErased(t *testing.T) {
	s := savedDemo(t)
	restored := func(from, identity string, args ...string) (db *pgtest.DB, set map[string]string, errs string) {
		t.Helper()
		db = pgtest.Empty(t)
		set = map[string]string{"DATABASE_URL": db.OwnerURL, "BOLTWARD_DATA": t.TempDir()}
		code, _, errs := say(t, set, append([]string{"restore", from, "--identity", identity}, args...)...)
		require.Zero(t, code, errs)
		set["DATABASE_URL"] = db.URL
		return db, set, errs
	}
	live, set, errs := restored(s.file, s.identity)
	require.Contains(t, errs, "there is no list of them beside the backup")
	code, _, errs := say(t, set, "user", "add", "--name", "Halcyon Reed", "--email", "halcyon@example.org", "--drive", demoDrive, "--role", "desk")
	require.Zero(t, code, errs)
	identity := filepath.Join(t.TempDir(), "identity.txt")
	code, public, errs := say(t, nil, "backup", "--new-identity", identity)
	require.Zero(t, code, errs)
	folder := t.TempDir()
	saved := filepath.Join(folder, "older.boltward")
	code, _, errs = say(t, set, "backup", saved, "--recipient", strings.TrimSpace(public))
	require.Zero(t, code, errs)

	store := postgres.New(live.Pool, time.Now)
	who := map[string]struct {
		number int64
		name   string
	}{}
	for kind, q := range map[string]string{
		"person":  `SELECT number, name FROM people p WHERE erased_at IS NULL AND NOT EXISTS (SELECT FROM kits k WHERE k.drive_id = p.drive_id AND k.holder = p.number) ORDER BY number LIMIT 1`,
		"donor":   `SELECT number, name FROM donors WHERE erased_at IS NULL ORDER BY number LIMIT 1`,
		"account": `SELECT id, email FROM accounts WHERE email = 'halcyon@example.org'`,
	} {
		one := who[kind]
		require.NoError(t, live.Pool.QueryRow(t.Context(), q).Scan(&one.number, &one.name), kind)
		who[kind] = one
	}
	act := func(key string) drive.Act {
		return drive.Act{Drive: demoDrive, Key: "erased-" + key, At: time.Now(), Request: "test"}
	}
	_, err := store.ErasePerson(t.Context(), act("person"), who["person"].number)
	require.NoError(t, err)
	_, err = store.EraseDonor(t.Context(), act("donor"), who["donor"].number)
	require.NoError(t, err)
	code, _, errs = say(t, set, "user", "erase", "--email", who["account"].name)
	require.Zero(t, code, errs)
	code, list, errs := say(t, set, "erased")
	require.Zero(t, code, errs)
	for _, one := range who {
		require.NotContains(t, list, one.name)
	}
	file := filepath.Join(folder, backup.ErasedFile)
	require.NoError(t, os.WriteFile(file, []byte(list), 0o600))

	gone := func(db *pgtest.DB, set map[string]string) {
		t.Helper()
		var left int
		const q = `SELECT (SELECT count(*) FROM people WHERE name = $1) + (SELECT count(*) FROM donors WHERE name = $2) + (SELECT count(*) FROM accounts WHERE email = $3)`
		require.NoError(t, db.Pool.QueryRow(t.Context(), q, who["person"].name, who["donor"].name, who["account"].name).Scan(&left))
		require.Zero(t, left)
		code, out, errs := say(t, set, "check")
		require.Zero(t, code, "%s%s", out, errs)
	}
	db, set, errs := restored(saved, identity)
	require.Contains(t, errs, "Erased again: 3, by "+file+".")
	require.Contains(t, errs, "erase whoever was erased after "+file+" was written")
	gone(db, set)

	db, set, errs = restored(saved, identity, "--erased", "none")
	require.Contains(t, errs, "boltward restore --erased LIST")
	code, out, errs := say(t, set, "restore", "--erased", file)
	require.Zero(t, code, errs)
	require.Contains(t, out, "Erased again: 3")
	gone(db, set)
	code, out, errs = say(t, set, "restore", "--erased", file)
	require.Zero(t, code, errs)
	require.Contains(t, out, "Erased again: 0, by "+file+"; 3 were erased before")

	// Lines of the log, written down by hand: somebody who had the number then is erased, who was
	// given it later stays and is told of, and nobody has a number that was given after the backup.
	db, set, _ = restored(saved, identity, "--erased", "none")
	hand := filepath.Join(folder, "by-hand.txt")
	line := func(kind, in string, at time.Time) string {
		return fmt.Sprintf("%s %s %d erased=%s\n", kind, in, who[kind].number, at.Format(time.RFC3339Nano))
	}
	const before = "2001-01-01T00:00:00Z"
	text := fmt.Sprintf("person %s %d erased=%s\nperson %s 99999 erased=%s\n", demoDrive, who["person"].number, before, demoDrive, before)
	require.NoError(t, os.WriteFile(hand, []byte(text), 0o600))
	code, out, errs = say(t, set, "restore", "--erased", hand)
	require.Zero(t, code, errs)
	require.Contains(t, out, "Erased again: 0, by "+hand+"; of 1 nobody has the number, so nothing of them is in it; of 1 somebody else has the number now, who was left as they are.")
	require.Contains(t, names(t, db), who["person"].name)
	text += line("person", demoDrive, time.Now()) + line("donor", demoDrive, time.Now()) + line("account", "-", time.Now())
	require.NoError(t, os.WriteFile(hand, []byte(text), 0o600))
	code, out, errs = say(t, set, "restore", "--erased", hand)
	require.Zero(t, code, errs)
	require.Contains(t, out, "Erased again: 3, by "+hand)
	gone(db, set)

	// A list that says nothing, or not when, is refused before anything is touched.
	bare := filepath.Join(folder, "bare.txt")
	require.NoError(t, os.WriteFile(bare, []byte("# from the log\nperson spring 57\n"), 0o600))
	bad := filepath.Join(folder, "notes.txt")
	require.NoError(t, os.WriteFile(bad, []byte("person 12\n"), 0o600))
	for list, says := range map[string]string{bad: "Line 1 of the list", bare: "Line 2 of the list says not when they were erased", filepath.Join(folder, "nowhere.txt"): "cannot be read"} {
		empty := pgtest.Empty(t)
		code, _, errs = say(t, map[string]string{"DATABASE_URL": empty.OwnerURL, "BOLTWARD_DATA": t.TempDir()}, "restore", saved, "--identity", identity, "--erased", list)
		require.Equal(t, exitBad, code, errs)
		require.True(t, strings.Contains(errs, says), errs)
		require.NoError(t, postgres.Empty(t.Context(), empty.Owner()))
	}
}
