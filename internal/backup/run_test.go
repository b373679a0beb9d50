package backup

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// Backups by themselves: due or not, one at a time, rotated, and the reason kept where one fails.
func TestRun(t *testing.T) {
	h := newHall(t)
	now := time.Date(2026, 3, 1, 3, 0, 0, 0, time.UTC)
	store := postgres.New(h.db.Pool, func() time.Time { return now })
	private, public, err := NewIdentity()
	require.NoError(t, err)
	folder := filepath.Join(t.TempDir(), "odd [name]*")
	require.NoError(t, os.Mkdir(folder, 0o700))
	s := Settings{Folder: folder, Recipients: []string{public}, Every: 24 * time.Hour, Keep: Keep{Days: 2, Months: 2}, Key: aKey}
	run := func() *Made {
		t.Helper()
		made, err := Run(t.Context(), store, s)
		require.NoError(t, err)
		return made
	}
	files := func() []string {
		t.Helper()
		left, err := os.ReadDir(folder)
		require.NoError(t, err)
		var names []string
		for _, f := range left {
			names = append(names, f.Name())
		}
		return names
	}
	killed := filepath.Join(folder, ".boltward-20260228T030000Z.age.part-ABC")
	require.NoError(t, os.WriteFile(killed, []byte("half"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "."+ErasedFile+partMark+"ABC"), []byte("half"), 0o600))
	others, letGo, err := makePart(filepath.Join(folder, "boltward-20260301T025959Z.age"))
	require.NoError(t, err)
	first := run()
	require.Equal(t, postgres.BackupGood, first.State, first.Trouble)
	require.Equal(t, []string{filepath.Base(others.Name()), "boltward-20260301T030000Z.age"}, files(),
		"what a killed one left is gone, what another process still writes is not")
	require.NoError(t, errors.Join(others.Close(), letGo()))
	require.NoError(t, sweep(folder))
	require.Equal(t, []string{"boltward-20260301T030000Z.age"}, files())
	require.Nil(t, run(), "none is due yet")
	keys := filepath.Join(t.TempDir(), "key")
	require.NoError(t, os.WriteFile(keys, []byte(private), 0o600))
	by, err := WithIdentities(keys)
	require.NoError(t, err)
	found, err := Verify(t.Context(), filepath.Join(folder, first.File), by)
	require.NoError(t, err)
	require.Equal(t, first.SHA256, found.SHA256)
	require.Equal(t, first.Counts, found.Counts())

	turn, err := store.BackupTurn(t.Context())
	require.NoError(t, err)
	now = now.Add(24 * time.Hour)
	require.Nil(t, run(), "another process makes one")
	require.NoError(t, turn.End())
	require.NotNil(t, run())
	for range 34 { // into the next month but one
		now = now.Add(24 * time.Hour)
		require.Equal(t, postgres.BackupGood, run().State)
	}
	require.Equal(t, []string{"boltward-20260331T030000Z.age", "boltward-20260404T030000Z.age", "boltward-20260405T030000Z.age"}, files())

	// One that somebody took away counts no more; the last good one stays whatever fails.
	require.NoError(t, os.Remove(filepath.Join(folder, "boltward-20260404T030000Z.age")))
	s.Folder = filepath.Join(folder, "gone")
	now = now.Add(24 * time.Hour)
	failed := run()
	require.Equal(t, postgres.BackupFailed, failed.State)
	require.Contains(t, failed.Trouble, "There is no folder")
	require.Nil(t, run(), "it is not tried again at once")
	s.Folder = folder
	now = now.Add(16 * time.Minute)
	require.Equal(t, postgres.BackupGood, run().State)
	require.Equal(t, []string{"boltward-20260331T030000Z.age", "boltward-20260405T030000Z.age", "boltward-20260406T031600Z.age"}, files())

	// What is none of a person's is told by one sentence, and kept for the log.
	_, err = h.db.Owner().Exec(t.Context(), `ALTER TABLE lots RENAME TO "lots of db.example.org"; REVOKE SELECT ON "lots of db.example.org" FROM boltward_server`)
	require.NoError(t, err)
	now = now.Add(24 * time.Hour)
	failed = run()
	require.Equal(t, postgres.BackupFailed, failed.State)
	require.Equal(t, unexpected, failed.Trouble)
	require.ErrorContains(t, failed.Why, "db.example.org")
	_, err = h.db.Owner().Exec(t.Context(), `GRANT SELECT ON "lots of db.example.org" TO boltward_server; ALTER TABLE "lots of db.example.org" RENAME TO lots`)
	require.NoError(t, err)

	now = now.Add(24 * time.Hour)
	ending, end := context.WithCancel(t.Context())
	end()
	_, err = Run(ending, store, s)
	require.ErrorIs(t, err, context.Canceled)
	// A process that was killed over one leaves a row that the next one ends.
	turn, err = store.BackupTurn(t.Context())
	require.NoError(t, err)
	id, err := turn.Begin(t.Context(), time.Hour, folder, "boltward-dead.age")
	require.NoError(t, err)
	require.NotZero(t, id)
	require.NoError(t, turn.End())
	require.Equal(t, postgres.BackupGood, run().State)
	made, err := store.BackupsMade(t.Context())
	require.NoError(t, err)
	require.Equal(t, postgres.BackupGood, made.Lately[0].State)
	require.Equal(t, postgres.BackupStopped, made.Lately[1].State)
	require.Equal(t, made.Lately[0].ID, made.Good.ID)
	require.Len(t, made.Lately, 10)
}

// A clock that was wrong takes no true backup away, neither while it is wrong nor later; a disk
// that was away comes back with what counts; what has served its time goes also where no new one can be made.
func TestRotationBesideWrongClocksAndDisksAway(t *testing.T) {
	h := newHall(t)
	day := func(year, day int) time.Time { return time.Date(year, 3, day, 3, 0, 0, 0, time.UTC) }
	now := day(2026, 1)
	store := postgres.New(h.db.Pool, func() time.Time { return now })
	_, public, err := NewIdentity()
	require.NoError(t, err)
	folder := filepath.Join(t.TempDir(), "backups")
	require.NoError(t, os.Mkdir(folder, 0o700))
	s := Settings{Folder: folder, Recipients: []string{public}, Every: 24 * time.Hour, Keep: Keep{Days: 2}, Key: aKey}
	makes := func(at time.Time) {
		t.Helper()
		now = at
		made, err := Run(t.Context(), store, s)
		require.NoError(t, err)
		require.Equal(t, postgres.BackupGood, made.State, made.Trouble)
	}
	lie := func(want ...string) {
		t.Helper()
		left, err := filepath.Glob(filepath.Join(s.Folder, "boltward-*.age"))
		require.NoError(t, err)
		for i, file := range left {
			left[i] = filepath.Base(file)[len(runStart) : len(runStart)+len("20060102")]
		}
		require.Equal(t, want, left)
	}
	for d := range 3 {
		makes(day(2026, 1+d))
	}
	lie("20260302", "20260303")
	for d := range 4 { // years back
		makes(day(2020, 1+d))
	}
	lie("20200303", "20200304", "20260302", "20260303")
	makes(day(2026, 4))
	lie("20260303", "20260304")
	makes(day(2036, 1)) // years ahead
	lie("20260304", "20360301")
	for d := range 3 {
		makes(day(2026, 5+d))
	}
	lie("20260306", "20260307", "20360301")
	made, err := store.BackupsMade(t.Context())
	require.NoError(t, err)
	require.True(t, made.Good.BeganAt.Equal(day(2026, 7)), "the last good one is the one made last, not the one dated last: %v", made.Good.BeganAt)

	away := folder + " away"
	require.NoError(t, os.Rename(folder, away))
	require.NoError(t, os.Mkdir(folder, 0o700)) // where the disk is mounted
	makes(day(2026, 8))
	lie("20260308")
	require.NoError(t, os.RemoveAll(folder))
	require.NoError(t, os.Rename(away, folder))
	makes(day(2026, 9))
	lie("20260307", "20260309", "20360301")
	makes(day(2026, 10))
	lie("20260309", "20260310", "20360301")

	s.Keep.Days, s.Recipients = 1, []string{"age1none"}
	now = day(2026, 11)
	failed, err := Run(t.Context(), store, s)
	require.NoError(t, err)
	require.Equal(t, postgres.BackupFailed, failed.State)
	lie("20260310", "20360301")
}

// A backup holds its own row as one that is being made. Restored, that row says what became
// of the file, which has its turn to go; others that were being made were left behind.
func TestRestoredRowsOfBackups(t *testing.T) {
	h := newHall(t)
	private, public, err := NewIdentity()
	require.NoError(t, err)
	folder := t.TempDir()
	keys := filepath.Join(folder, "key")
	require.NoError(t, os.WriteFile(keys, []byte(private), 0o600))
	by, err := WithIdentities(keys)
	require.NoError(t, err)
	s := Settings{Folder: folder, Recipients: []string{public}, Every: time.Hour, Keep: Keep{Days: 2}, Key: aKey}
	made, err := Run(t.Context(), h.Store, s)
	require.NoError(t, err)
	elsewhere := filepath.Join(t.TempDir(), "renamed")
	require.NoError(t, os.Link(filepath.Join(folder, made.File), elsewhere))
	there := pgtest.New(t)
	_, err = Restore(t.Context(), returnTo(there, elsewhere, by))
	require.NoError(t, err)
	kept, err := postgres.New(there.Pool, time.Now).KeptBackups(t.Context(), folder, nil)
	require.NoError(t, err)
	require.Len(t, kept, 1)
	require.Equal(t, made.SHA256, kept[0].SHA256)
	require.Equal(t, made.Bytes, kept[0].Bytes)
	require.Equal(t, made.Counts, kept[0].Counts)
	require.False(t, kept[0].EndedAt.Before(kept[0].BeganAt))

	turn, err := h.BackupTurn(t.Context())
	require.NoError(t, err)
	_, err = turn.Begin(t.Context(), 0, folder, "boltward-other.age")
	require.NoError(t, err)
	require.NoError(t, turn.End())
	seal, by := keySeal(t)
	file, _ := h.write(t, seal)
	there = pgtest.New(t)
	_, err = Restore(t.Context(), returnTo(there, file, by))
	require.NoError(t, err)
	require.Equal(t, "boltward-other.age stopped\n"+made.File+" good", rowsAsText(t, there, `SELECT file || ' ' || state FROM backups ORDER BY (file <> 'boltward-other.age')`))
}
