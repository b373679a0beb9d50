package backup

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"filippo.io/age"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// What is restored is the same, row by row, and lives on: counting goes on, the ledgers'
// triggers act, and what only grows is still refused to be changed.
func TestRoundTrip(t *testing.T) {
	h := newHall(t)
	const others = `INSERT INTO accounts (email, name, initials, created_at) SELECT 'a' || i || '@example.org', 'A', 'A', now() FROM generate_series(1, 9) i;
		DELETE FROM accounts WHERE id = 9;
		INSERT INTO links (id, purpose, account_id, created_at, expires_at) SELECT 'abc', 'account', min(id), now(), now() FROM accounts;
		INSERT INTO sessions (token, data, expiry) VALUES ('hash', 'in', now() + interval '1 day');
		INSERT INTO photos (drive_id, hash, full_jpg, small_jpg, width, height, kept_at) VALUES ('spring', repeat('ab', 32), '\x00ff0a5c0d', '\xffd8', 4, 3, now());
		INSERT INTO river.river_job (kind, args, max_attempts, state) VALUES ('plan', '{"drive": "spring", "number": 1}', 3, 'available')`
	_, err := h.db.Owner().Exec(t.Context(), others)
	require.NoError(t, err)
	seal, by := keySeal(t)
	file, made := h.write(t, seal)
	require.Equal(t, int64(1), made.Sums["river.river_job"].Rows)
	require.Equal(t, int64(8), made.Sums["public.accounts"].Rows)

	there := pgtest.New(t)
	before := shapeOf(t, there)
	done, err := Restore(t.Context(), returnTo(there, file, by))
	require.NoError(t, err)
	require.Equal(t, made.Sums, done.Sums)
	require.Equal(t, aKey, done.Key)
	require.True(t, done.Balances.Agree())
	require.Equal(t, tablesOf(t, h.db), tablesOf(t, there))
	require.Equal(t, before, shapeOf(t, there), "keys and triggers stand as before")
	require.Equal(t, "0", rowsAsText(t, there, `SELECT count(*)::text FROM sessions`), "nobody is signed in")
	was, err := h.CheckAll(t.Context())
	require.NoError(t, err)
	store := postgres.New(there.Pool, time.Now)
	is, err := store.CheckAll(t.Context())
	require.NoError(t, err)
	require.Equal(t, was, is)
	require.Greater(t, len(is.Checksums), 50)

	_, err = store.BringIn(t.Context(), act("later"), drive.BroughtIn{Size: 1, N: 2})
	require.NoError(t, err)
	after, err := store.CheckBalances(t.Context())
	require.NoError(t, err)
	require.Empty(t, after.Differences, "the ledger's trigger moved the balance")
	require.Equal(t, "5", after.Drives["spring"].Sums["pillowcases sewn"].String())
	var id int64
	require.NoError(t, there.Owner().QueryRow(t.Context(), `INSERT INTO accounts (email, name, initials, created_at) VALUES ('new@example.org', 'N', 'N', now()) RETURNING id`).Scan(&id))
	require.Equal(t, int64(10), id, "an account that is gone leaves its number free to nobody")
	_, err = there.Owner().Exec(t.Context(), `DELETE FROM audit`)
	require.Error(t, err)

	_, err = Restore(t.Context(), returnTo(there, file, by))
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	require.ErrorContains(t, err, "not empty")
}

// While people go on writing, a backup is of one moment: whatever it holds, its balances agree.
func TestWhileOthersWrite(t *testing.T) {
	h := newHall(t)
	seal, by := keySeal(t)
	ctx, stop := context.WithCancel(t.Context())
	var writers sync.WaitGroup
	began := make(chan struct{}, 4)
	for w := range 4 {
		writers.Go(func() {
			for i := 0; ctx.Err() == nil; i++ {
				_, err := h.BringIn(context.WithoutCancel(ctx), act(fmt.Sprintf("w%d-%d", w, i)), drive.BroughtIn{Size: 1, N: 1, Note: "while"})
				if err != nil {
					t.Error(err)
					return
				}
				if i == 0 {
					began <- struct{}{}
				}
			}
		})
	}
	for range 4 {
		<-began
	}
	rounds := 2
	if os.Getenv("BOLTWARD_LONG") != "" {
		rounds = 20
	}
	for range rounds {
		file, made := h.write(t, seal)
		there := pgtest.New(t)
		done, err := Restore(t.Context(), returnTo(there, file, by))
		require.NoError(t, err)
		require.True(t, done.Balances.Agree())
		cases := made.Sums["public.case_entries"].Rows
		require.Equal(t, cases, made.Sums["public.once"].Rows-3, "each wish with what it did, and nothing of it without")
		require.GreaterOrEqual(t, cases, int64(5))
	}
	stop()
	writers.Wait()
}

// Any one byte that is changed, any end that is cut off and anything put behind is refused.
func TestEveryByteCounts(t *testing.T) {
	h := newHall(t)
	for name, sealed := range map[string]func(testing.TB) (Seal, Opener){"passphrase": quickSeal, "public key": keySeal} {
		t.Run(name, func(t *testing.T) {
			seal, by := sealed(t)
			file, made := h.write(t, seal)
			whole, err := os.ReadFile(file)
			require.NoError(t, err)
			require.Equal(t, made.Bytes, int64(len(whole)))
			head := bytes.Index(whole, []byte("\n---"))
			require.Positive(t, head)
			refused := func(t testing.TB, what string, file string) {
				_, err := Verify(t.Context(), file, by)
				require.Error(t, err, what)
				require.NotNil(t, apperr.As(err), "%s: %v", what, err)
				os.Remove(file)
			}
			rapid.Check(t, func(rt *rapid.T) {
				tail := len(whole) - 1
				at := rapid.OneOf(rapid.IntRange(0, head+60), rapid.IntRange(0, tail), rapid.IntRange(tail-40, tail)).Draw(rt, "at")
				flip := rapid.ByteRange(1, 255).Draw(rt, "flip")
				refused(t, fmt.Sprintf("byte %d of %d changed by %02x", at, len(whole), flip), changed(t, whole, func(b []byte) []byte { b[at] ^= flip; return b }))
			})
			rapid.Check(t, func(rt *rapid.T) {
				end := rapid.OneOf(rapid.IntRange(0, head+60), rapid.IntRange(0, len(whole)-1), rapid.IntRange(len(whole)-40, len(whole)-1)).Draw(rt, "end")
				refused(t, fmt.Sprintf("cut off at %d of %d", end, len(whole)), changed(t, whole, func(b []byte) []byte { return b[:end] }))
			})
			for _, more := range []string{"\x00", "\n", string(whole)} {
				refused(t, "something behind the end", changed(t, whole, func(b []byte) []byte { return append(b, more...) }))
			}
			if os.Getenv("BOLTWARD_LONG") != "" {
				for at := range whole {
					refused(t, fmt.Sprintf("byte %d", at), changed(t, whole, func(b []byte) []byte { b[at]++; return b }))
				}
			}
			_, err = Verify(t.Context(), file, by)
			require.NoError(t, err, "the file itself is good")
		})
	}
}

func TestWhatIsNoBackup(t *testing.T) {
	h := newHall(t)
	seal, by := quickSeal(t)
	toKey, withKey := keySeal(t)
	file, _ := h.write(t, seal)
	forKey, _ := h.write(t, toKey)
	_, otherKey := keySeal(t)
	folder := t.TempDir()
	put := func(name string, content []byte) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, content, 0o600))
		return path
	}
	var foreign bytes.Buffer
	w, err := age.Encrypt(&foreign, toKey.recipients...)
	require.NoError(t, err)
	_, err = w.Write(bytes.Repeat([]byte("a letter to somebody else\n"), 99))
	require.NoError(t, errors.Join(err, w.Close()))
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	head := bytes.Index(whole, []byte("\n---")) + 60 // beyond the line that begins so
	for _, c := range []struct {
		what, file, says string
		by               Opener
		kind             apperr.Kind
	}{
		{"another passphrase", file, "The passphrase does not open it", quickOpener(t, "another passphrase"), apperr.KindInvalid},
		{"another private key", forKey, "The private key does not open it", otherKey, apperr.KindInvalid},
		{"a private key for a passphrase", file, "The passphrase does not open it", withKey, apperr.KindInvalid},
		{"a passphrase for a private key", forKey, "The private key does not open it", by, apperr.KindInvalid},
		{"a file of another program", put("picture.png", []byte("\x89PNG\r\n\x1a\n"+strings.Repeat("pixels", 99))), "no backup of Boltward", by, apperr.KindInvalid},
		{"something else encrypted", put("letter.age", foreign.Bytes()), "what is inside is no backup", withKey, apperr.KindInvalid},
		{"the head of one", put("head", whole[:head+9]), "damaged or cut short", by, apperr.KindConflict},
		{"its first half", put("half", whole[:len(whole)/2]), "damaged or cut short", by, apperr.KindConflict},
		{"all but its last byte", put("most", whole[:len(whole)-1]), "damaged or cut short", by, apperr.KindConflict},
		{"nothing in it", put("empty", nil), "damaged or cut short", by, apperr.KindConflict},
		{"a folder", folder, "no file", by, apperr.KindInvalid},
		{"no file", filepath.Join(folder, "nowhere"), "cannot be read", by, apperr.KindInvalid},
	} {
		_, err := Verify(t.Context(), c.file, c.by)
		require.ErrorContains(t, err, c.says, c.what)
		require.True(t, apperr.Is(err, c.kind), "%s: %v", c.what, err)
	}
	for which, passphrase := range map[string]bool{file: true, forKey: false} {
		is, err := For(which)
		require.NoError(t, err)
		require.Equal(t, passphrase, is)
	}
	// A refused file has touched nothing, and no key was put anywhere.
	there := pgtest.Empty(t)
	put2 := returnTo(there, forKey, otherKey)
	put2.PutKey = func(string) (func() error, error) { t.Error("a key was put"); return nil, nil }
	_, err = Restore(t.Context(), put2)
	require.ErrorContains(t, err, "The private key does not open it")
	require.Empty(t, rowsAsText(t, there, `SELECT relname::text FROM pg_class WHERE relnamespace = 'public'::regnamespace`))
}

func TestWhatABackupIsWrittenTo(t *testing.T) {
	h := newHall(t)
	seal, by := keySeal(t)
	file, made := h.write(t, seal)
	order := Order{File: file, Seal: seal, Key: aKey, Now: time.Now}
	_, err := Write(t.Context(), h.Store, order)
	require.ErrorContains(t, err, "is there already")
	order.Force = true
	h.bring(t, "more", 1, "")
	again, err := Write(t.Context(), h.Store, order)
	require.NoError(t, err)
	require.Greater(t, again.Rows(), made.Rows())
	found, err := Verify(t.Context(), file, by)
	require.NoError(t, err)
	require.Equal(t, again.SHA256, found.SHA256)

	info, err := os.Stat(file)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	content, err := os.ReadFile(file)
	require.NoError(t, err)
	for _, secret := range []string{secretWard, aKey, "boltward", "lots"} {
		require.NotContains(t, string(content), secret)
	}
	// What fails on the way leaves nothing behind, and what was there stays.
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = Write(ctx, h.Store, order)
	require.ErrorIs(t, err, context.Canceled)
	left, err := os.ReadDir(filepath.Dir(file))
	require.NoError(t, err)
	require.Len(t, left, 1)
	_, err = Verify(t.Context(), file, by)
	require.NoError(t, err)
	order.File = filepath.Join(t.TempDir(), "nowhere", "file")
	_, err = Write(t.Context(), h.Store, order)
	require.ErrorContains(t, err, "There is no folder")

	_, err = Passphrase("too short")
	require.ErrorContains(t, err, "12 characters")
	private, public, err := NewIdentity()
	require.NoError(t, err)
	_, err = PublicKeys("--recipient", []string{public, strings.Fields(private)[4]})
	require.ErrorContains(t, err, "private key")
	_, err = PublicKeys("--recipient", []string{"age1nonsense"})
	require.ErrorContains(t, err, "no public key")
}
