package backup

import (
	"context"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"filippo.io/age"
	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
)

const (
	words      = "four words of one's own"
	quickly    = 6 // 2 to the power of it is the work of a test's passphrase
	aKey       = "00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff"
	secretWard = "Kingfisher ward"
)

// hall is a database with a drive in which something has happened.
type hall struct {
	*postgres.Store
	db *pgtest.DB
}

func act(key string) drive.Act {
	return drive.Act{Drive: "spring", Who: 1, Key: "test-key-" + key, At: time.Now(), Request: "test"}
}

func newHall(t testing.TB) *hall {
	t.Helper()
	db := pgtest.New(t)
	h := &hall{postgres.New(db.Pool, time.Now), db}
	_, err := h.CreateDrive(t.Context(), drive.Act{Key: "start-drive", At: time.Now()}, drive.NewDrive("spring", "Spring", "Europe/Dublin", length.In))
	require.NoError(t, err)
	built, ok := sizing.CaseNamed("standard")
	require.True(t, ok)
	_, err = h.CreateSize(t.Context(), act("size"), drive.Size{Name: built.Name, Spec: built.Spec})
	require.NoError(t, err)
	_, err = h.CreateRecipient(t.Context(), act("recipient"), drive.Recipient{Kind: drive.RecipientWard, Name: secretWard})
	require.NoError(t, err)
	h.bring(t, "first", 3, "a tab \t, a backslash \\, a line\nbreak, ünï©ode and \\N")
	return h
}

// bring notes pillowcases that came without a kit: an entry, its balance, a note, an audit entry.
func (h *hall) bring(t testing.TB, key string, n int, note string) {
	t.Helper()
	_, err := h.BringIn(context.Background(), act("bring-"+key), drive.BroughtIn{Size: 1, N: n, Note: note})
	require.NoError(t, err)
}

func quickSeal(t testing.TB) (Seal, Opener) {
	t.Helper()
	seal, err := passphrase(words, quickly)
	require.NoError(t, err)
	return seal, quickOpener(t, words)
}

// quickOpener refuses to work long, as somebody might want who changed a head.
func quickOpener(t testing.TB, text string) Opener {
	t.Helper()
	id, err := age.NewScryptIdentity(text)
	require.NoError(t, err)
	id.SetMaxWorkFactor(quickly + 2)
	return Opener{[]age.Identity{id}}
}

func keySeal(t testing.TB) (Seal, Opener) {
	t.Helper()
	id, err := age.GenerateX25519Identity()
	require.NoError(t, err)
	seal, err := PublicKeys("--recipient", []string{id.Recipient().String()})
	require.NoError(t, err)
	return seal, Opener{[]age.Identity{id}}
}

func (h *hall) write(t testing.TB, seal Seal) (file string, made Contents) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "hall.boltward")
	made, err := Write(t.Context(), h.Store, Order{File: file, Seal: seal, Key: aKey, Now: time.Now})
	require.NoError(t, err)
	return file, made
}

// returnTo gives what Restore takes, for a database of its own, with no key there yet.
func returnTo(db *pgtest.DB, file string, by Opener) Return {
	return Return{
		File: file, By: by, Owner: db.Owner(), Say: func(string) {},
		PutKey: func(string) (func() error, error) { return func() error { return nil }, nil },
	}
}

// tablesOf gives every row of every table as text, but for those that no backup carries.
func tablesOf(t testing.TB, db *pgtest.DB) map[string]string {
	t.Helper()
	names := rowsAsText(t, db, `SELECT n.nspname || '.' || c.relname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
		WHERE c.relkind = 'r' AND n.nspname IN ('public', 'river') AND c.relname NOT IN ('goose_db_version', 'sessions', 'sign_in_attempts', 'erase_again')
			AND (n.nspname = 'public' OR c.relname = 'river_job') ORDER BY 1`)
	all := map[string]string{}
	for name := range strings.Lines(names) {
		name = strings.TrimSpace(name)
		all[name] = rowsAsText(t, db, `SELECT x::text FROM `+name+` x ORDER BY 1`)
	}
	require.Greater(t, len(all), 50)
	return all
}

func rowsAsText(t testing.TB, db *pgtest.DB, q string) string {
	t.Helper()
	var text string
	require.NoError(t, db.Owner().QueryRow(t.Context(), `SELECT coalesce(string_agg(one, E'\n'), '') FROM (`+q+`) AS rows (one)`).Scan(&text))
	return text
}

// shapeOf gives what holds the rows together: columns, keys, checks, triggers, rights.
func shapeOf(t testing.TB, db *pgtest.DB) string {
	t.Helper()
	return rowsAsText(t, db, `SELECT format('%s %s %s %s', conrelid::regclass, conname, pg_get_constraintdef(oid), convalidated) FROM pg_constraint WHERE connamespace = 'public'::regnamespace
		UNION ALL SELECT format('%s %s %s', tgrelid::regclass, pg_get_triggerdef(oid), tgenabled) FROM pg_trigger WHERE NOT tgisinternal
		UNION ALL SELECT format('%s %s', oid::regclass, relacl) FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relname !~ 'goose'
		ORDER BY 1`)
}

func changed(t testing.TB, whole []byte, change func([]byte) []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "changed-"+strconv.Itoa(len(whole)))
	require.NoError(t, os.WriteFile(file, change(append([]byte(nil), whole...)), 0o600))
	return file
}
