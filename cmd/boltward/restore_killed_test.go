package main

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// Killed when everything is put back and who was erased since is not erased again, a restore leaves a
// database that neither serve nor work takes, that is in no backup, and that a program which runs
// already is not ready with; until it is finished, by the list that the database has kept.
func TestARestoreKilledBeforeItHasErased(t *testing.T) {
	s := savedDemo(t)
	folder := t.TempDir()
	list := filepath.Join(folder, "erased.txt")
	var text strings.Builder
	const before = "2020-01-01T00:00:00Z"
	for n := range 1000 { // accounts come first, and take their time
		fmt.Fprintf(&text, "account - %d erased=%s\n", 1_000_000+n, before)
	}
	fmt.Fprintf(&text, "person %s 1 erased=%s\n", demoDrive, time.Now().UTC().Add(time.Hour).Format(time.RFC3339))
	require.NoError(t, os.WriteFile(list, []byte(text.String()), 0o600))
	db := pgtest.Empty(t)
	data := t.TempDir()
	person := func() (name string) {
		require.NoError(t, db.Owner().QueryRow(t.Context(), `SELECT name FROM people WHERE drive_id = $1 AND number = 1`, demoDrive).Scan(&name))
		return name
	}

	restore := launch(t, settings{"DATABASE_URL": db.OwnerURL, "BOLTWARD_DATA": data}, "restore", s.file, "--identity", s.identity, "--erased", list)
	restore.until("it erases", func() bool { return strings.Contains(restore.errs.String(), "Erasing again who was erased since") })
	restore.kill()
	restore.wait()
	was := person()
	due, err := postgres.New(db.Pool, time.Now).StillToErase(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, due, "it was killed too late to break anything")
	require.NotContains(t, was, "Erased", "%d are left", len(due))

	set := settings{"DATABASE_URL": db.URL, "BOLTWARD_DATA": data, "PORT": "0"}
	code, public, errs := say(t, nil, "backup", "--new-identity", filepath.Join(folder, "identity.txt"))
	require.Zero(t, code, errs)
	for _, args := range [][]string{{"serve"}, {"work"}, {"backup", filepath.Join(folder, "new.boltward"), "--recipient", strings.TrimSpace(public)}} {
		p := launch(t, set, args...)
		require.NotZero(t, p.wait(), args[0])
		require.Contains(t, p.errs.String(), "A restore was cut off here", args[0])
		require.Contains(t, p.errs.String(), "boltward restore --finish", args[0])
		require.Empty(t, p.out.String(), args[0])
	}
	require.NoFileExists(t, filepath.Join(folder, "new.boltward"))

	finish := launch(t, set, "restore", "--finish")
	require.Zero(t, finish.wait(), finish.errs.String())
	require.Contains(t, finish.out.String(), "Erased again: 1, by the list of the restore that was cut off; of ")
	require.NotEqual(t, was, person())
	again := launch(t, set, "restore", "--finish")
	require.Zero(t, again.wait(), again.errs.String())
	require.Contains(t, again.out.String(), "Erased again: 0")

	// It serves now; and one that runs while a restore is cut off is not ready.
	p := serving(t, set)
	ready := func() string {
		answer, err := http.Get(p.address + "/readyz")
		require.NoError(t, err)
		defer answer.Body.Close()
		body, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		return fmt.Sprint(answer.StatusCode, " ", string(body))
	}
	require.Equal(t, "200 ready\n", ready())
	_, err = db.Owner().Exec(t.Context(), `INSERT INTO erase_again (kind, drive, number, erased_at) VALUES ('account', '', 1000000, now())`)
	require.NoError(t, err)
	require.Equal(t, "503 not ready: a restore was cut off before it had erased again who was erased since: boltward restore --finish\n", ready())
	for _, args := range [][]string{{"restore", "--finish", s.file}, {"restore", "--finish", "--erased", list}} {
		p := launch(t, set, args...)
		require.Equal(t, exitBad, p.wait())
		require.Contains(t, p.errs.String(), "--finish stands alone")
	}
	other := filepath.Join(folder, "other.txt")
	require.NoError(t, os.WriteFile(other, []byte("donor nowhere 1 erased="+before+"\n"), 0o600))
	named := launch(t, set, "restore", "--erased", other)
	require.Zero(t, named.wait(), named.errs.String())
	require.Equal(t, "200 ready\n", ready(), "another list finishes the first as well")
}
