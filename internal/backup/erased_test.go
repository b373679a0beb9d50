package backup

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

func TestListsOfWhoWasErased(t *testing.T) {
	at := time.Date(2026, 3, 14, 3, 15, 0, 123456000, time.UTC)
	list := []postgres.Erased{
		{Kind: "account", Number: 12, Created: at, At: at.Add(time.Hour)},
		{Kind: "donor", Drive: "spring", Number: 3, Created: at},
		{Kind: "person", Drive: "spring", Number: 57},
	}
	var text bytes.Buffer
	require.NoError(t, WriteErased(&text, list))
	require.Contains(t, text.String(), "\naccount - 12 2026-03-14T03:15:00.123456Z 2026-03-14T04:15:00.123456Z\n")
	got, err := ReadErased(&text)
	require.NoError(t, err)
	require.Equal(t, list, got)
	got, err = ReadErased(strings.NewReader("# from the log\r\n\r\n  person spring 57\r\naccount - 12"))
	require.NoError(t, err)
	require.Len(t, got, 2)
	for _, bad := range []string{
		"57", "person 57", "person spring", "person spring x", "person spring 0", "person - 57", "account spring 12", "ward spring 1",
		"person spring 57 yesterday", "person spring 57 2026-03-14T03:15:00Z 2026-03-14T03:15:00Z more", "person spring 99999999999999999999", strings.Repeat("x", erasedLine+1),
	} {
		_, err := ReadErased(strings.NewReader("donor spring 3\n" + bad))
		require.Contains(t, apperr.Fields(err)["erased"], "Line 2", "%.60s", bad)
	}
}

// Whatever a list holds, what is read of it is read the same once it was written.
func FuzzErased(f *testing.F) {
	f.Add("# who\nperson spring 57\naccount - 12 2026-03-14T03:15:00Z\n")
	f.Add("donor a 1 2026-03-14T03:15:00.5+02:00 0001-01-01T00:00:00Z")
	f.Fuzz(func(t *testing.T, text string) {
		list, err := ReadErased(strings.NewReader(text))
		if err != nil {
			require.NotEmpty(t, apperr.Fields(err)["erased"])
			return
		}
		var again bytes.Buffer
		require.NoError(t, WriteErased(&again, list))
		got, err := ReadErased(&again)
		require.NoError(t, err)
		require.Len(t, got, len(list))
		for i := range list {
			if !list[i].Created.IsZero() {
				require.True(t, list[i].Created.Equal(got[i].Created))
			}
			list[i].Created, list[i].At, got[i].Created, got[i].At = time.Time{}, time.Time{}, time.Time{}, time.Time{}
			require.Equal(t, list[i], got[i])
		}
	})
}

// sewer adds somebody who sews, and gives their number.
func (h *hall) sewer(t *testing.T, name string) int64 {
	t.Helper()
	saved, err := h.CreatePerson(t.Context(), act("sewer "+name), drive.Person{Kind: drive.PersonVolunteer, Name: name, Heads: 1}, &drive.Contacts{Email: "kingfisher@example.org"})
	require.NoError(t, err)
	return saved.Number
}

// A backup brings whoever was erased since back; the list beside the backups erases them again at
// once. A number that was given anew meanwhile is another's.
func TestARestoreErasesAgain(t *testing.T) {
	h := newHall(t)
	folder := t.TempDir()
	private, public, err := NewIdentity()
	require.NoError(t, err)
	s := Settings{Folder: folder, Recipients: []string{public}, Every: time.Hour, Keep: UsualKeep(), Key: aKey}
	gone, stays := h.sewer(t, "Halcyon Reed"), h.sewer(t, "Bo Lund")
	made, err := Run(t.Context(), h.Store, s)
	require.NoError(t, err)
	require.Equal(t, postgres.BackupGood, made.State, made.Trouble)
	list := filepath.Join(folder, ErasedFile)
	require.NoFileExists(t, list, "nobody was erased")

	later := h.sewer(t, "Halcyon Later")
	for _, n := range []int64{gone, later} {
		_, err = h.ErasePerson(t.Context(), act("erase "+string(rune('a'+n))), n)
		require.NoError(t, err)
	}
	require.NoError(t, NoteErased(t.Context(), h.Store, folder))
	text, err := os.ReadFile(list)
	require.NoError(t, err)
	require.NotContains(t, strings.ToLower(string(text)), "halcyon")
	require.NoError(t, NoteErased(t.Context(), h.Store, folder))
	same, err := os.ReadFile(list)
	require.NoError(t, err)
	require.Equal(t, string(text), string(same))

	keys := filepath.Join(t.TempDir(), "key")
	require.NoError(t, os.WriteFile(keys, []byte(private), 0o600))
	by, err := WithIdentities(keys)
	require.NoError(t, err)
	into := pgtest.Empty(t)
	r := returnTo(into, filepath.Join(folder, made.File), by)
	r.Erased, err = ReadErasedFile(list)
	require.NoError(t, err)
	done, err := Restore(t.Context(), r)
	require.NoError(t, err)
	require.Equal(t, Again{Erased: 1, NotHere: 1}, done.Again)
	back := &hall{postgres.New(into.Pool, time.Now), into}
	require.NotContains(t, rowsAsText(t, into, `SELECT x::text FROM people x`), "Halcyon")
	require.Contains(t, rowsAsText(t, into, `SELECT name FROM people`), "Bo Lund")
	found, err := back.CheckBalances(t.Context())
	require.NoError(t, err)
	require.True(t, found.Agree(), "%v", found.Differences)

	// The list forgets nobody though this database knows less, and the number of who came later is
	// given to somebody else, who is not erased for it.
	require.NoError(t, NoteErased(t.Context(), back.Store, folder))
	again, err := ReadErasedFile(list)
	require.NoError(t, err)
	require.Len(t, again, 2)
	require.Equal(t, later, back.sewer(t, "Ada Quill"))
	a, err := EraseAgain(t.Context(), back.Store, again)
	require.NoError(t, err)
	require.Equal(t, Again{Before: 1, NotHere: 1}, a)
	require.Contains(t, rowsAsText(t, into, `SELECT name FROM people`), "Ada Quill")
	require.NotEqual(t, stays, gone)

	// A list that cannot be read is not written over.
	require.NoError(t, os.WriteFile(list, []byte("somebody's notes\n"), 0o600))
	require.ErrorContains(t, NoteErased(t.Context(), h.Store, folder), "Line 1")

	// Where somebody cannot be erased again nothing of the backup is kept.
	empty := pgtest.Empty(t)
	undone := false
	r = returnTo(empty, filepath.Join(folder, made.File), by)
	r.PutKey = func(string) (func() error, error) { return func() error { undone = true; return nil }, nil }
	r.Erased = []postgres.Erased{{Kind: "ward", Drive: "spring", Number: 1}}
	_, err = Restore(t.Context(), r)
	require.Error(t, err)
	require.True(t, undone)
	require.NoError(t, postgres.Empty(t.Context(), empty.Owner()))
}
