package backup

import (
	"bytes"
	"fmt"
	"io/fs"
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
		{Kind: "person", Drive: "spring", Number: 57, At: at},
	}
	var text bytes.Buffer
	require.NoError(t, WriteErased(&text, list))
	require.Contains(t, text.String(), "\naccount - 12 since=2026-03-14T03:15:00.123456Z erased=2026-03-14T04:15:00.123456Z\nperson spring 57 erased=2026-03-14T03:15:00.123456Z\n")
	got, err := ReadErased(&text)
	require.NoError(t, err)
	require.Equal(t, list, got)
	require.Error(t, WriteErased(&text, []postgres.Erased{{Kind: "donor", Drive: "spring", Number: 3, Created: at}}))
	require.Empty(t, text.String())
	const when = "2026-03-14T03:15:00.123456Z"
	got, err = ReadErased(strings.NewReader("# from the log\r\n\r\n  person spring 57 erased=2026-03-14T05:15:00.123456+02:00\r\naccount - 12 erased=" + when + " since=" + when))
	require.NoError(t, err)
	require.Len(t, got, 2)
	require.True(t, got[0].At.Equal(at) && got[0].Created.IsZero() && got[1].At.Equal(at) && got[1].Created.Equal(at))
	const who, more, none = "says not who was erased", "where nothing more is read", "which is no time"
	for bad, says := range map[string]string{
		"57": who, "person 57": who, "person spring": who, "person spring x": who, "person spring 0": who, "person - 57": who, "account spring 12": who, "ward spring 1": who,
		"person spring 99999999999999999999": who, strings.Repeat("x", erasedLine+1): "cannot be read",
		"person spring 57":                                    "says not when they were erased, and the number may be somebody else's by now: add the time of the line of the log, as in person spring 57 erased=2026-11-28T10:00:00Z.",
		"person spring 57 since=" + when:                      "says not when they were erased",
		"person spring 57 " + when:                            "mark when they were erased, as in person spring 57 erased=" + when,
		"person spring 57 yesterday":                          more,
		"person spring 57 " + when + " " + when + " more":     "mark when",
		"person spring 57 " + when + " " + when:               "mark when",
		"person spring 57 erased=" + when + " more":           more,
		"person spring 57 erased=" + when + " erased=" + when: more,
		"person spring 57 erased=yesterday":                   none,
		"person spring 57 erased=2026-03-14":                  none,
		"person spring 57 erased=0001-01-01T00:00:00Z":        none,
		"person spring 57 erased=" + when + " since=":         none,
	} {
		_, err := ReadErased(strings.NewReader("donor spring 3 erased=" + when + "\n" + bad))
		require.Contains(t, apperr.Fields(err)["erased"], "Line 2 of the list ", "%.60s", bad)
		require.Contains(t, apperr.Fields(err)["erased"], says, "%.60s", bad)
	}
}

// Who wants to erase by a list now is refused a line of the future by which somebody else would be erased:
// a number without since when it was given. Clocks that differ by a day at most are no reason to leave
// anybody in, and the list that is kept by itself is read however clocks stood.
func TestALineOfTheFuture(t *testing.T) {
	now := time.Date(2026, 11, 28, 10, 0, 0, 0, time.UTC)
	file := filepath.Join(t.TempDir(), ErasedFile)
	for line, refused := range map[string]bool{
		"person spring 57 erased=2026-11-28T09:59:59Z":                          false,
		"person spring 57 erased=2026-11-29T10:00:00Z":                          false,
		"person spring 57 erased=2026-11-29T10:00:00.000000001Z":                true,
		"account - 12 erased=2062-11-28T10:00:00Z":                              true,
		"account - 12 since=2062-11-27T10:00:00Z erased=2062-11-28T10:00:00Z":   false,
		"donor spring 3 since=2026-11-27T10:00:00Z erased=2062-11-28T10:00:00Z": false,
		"donor spring 3 erased=2026-11-30T00:00:00+14:00":                       false,
		"donor spring 3 erased=2026-11-29T10:00:00-00:01":                       true,
	} {
		text := "# who\ndonor spring 1 erased=2026-11-28T10:00:00Z\n" + line + "\n"
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		list, err := ReadErasedFile(file, now)
		if !refused {
			require.NoError(t, err, line)
			require.Len(t, list, 2)
			continue
		}
		require.Contains(t, apperr.Fields(err)["erased"], "Line 3 of the list says that they were erased on 20", line)
		require.Contains(t, apperr.Fields(err)["erased"], "more than a day after the clock of this machine (2026-11-28T10:00:00Z)", line)
		_, err = ReadErased(strings.NewReader(text))
		require.NoError(t, err)
	}
}

// Whatever a list holds, what is read of it is read the same once it was written.
func FuzzErased(f *testing.F) {
	f.Add("# who\nperson spring 57 erased=2026-03-14T03:15:00Z\naccount - 12 since=2026-03-14T03:15:00Z erased=2026-03-14T03:15:01Z\n")
	f.Add("donor a 1 since=2026-03-14T03:15:00.5+02:00 erased=9999-12-31T23:59:59-02:00")
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
			require.True(t, list[i].Created.Equal(got[i].Created) && list[i].At.Equal(got[i].At))
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
	r.Erased, err = ReadErasedFile(list, time.Now())
	require.NoError(t, err)
	back := &hall{postgres.New(into.Pool, time.Now), into}
	said := false
	r.Say = func(sentence string) {
		if said = strings.HasPrefix(sentence, "Erasing again"); said {
			// Ended at this moment, it leaves a database that nobody serves and that makes no backup.
			due, err := back.StillToErase(t.Context())
			require.NoError(t, err)
			require.Len(t, due, 2)
			require.True(t, apperr.Is(back.NobodyToErase(t.Context()), apperr.KindConflict))
			soon := s
			soon.Every = time.Nanosecond
			none, err := Run(t.Context(), back.Store, soon)
			require.NoError(t, err)
			require.NotNil(t, none)
			require.Equal(t, postgres.BackupFailed, none.State)
			require.Contains(t, none.Trouble, "boltward restore --finish")
		}
	}
	done, err := Restore(t.Context(), r)
	require.NoError(t, err)
	require.True(t, said)
	require.NoError(t, back.NobodyToErase(t.Context()))
	require.Equal(t, Again{Erased: 1, NotHere: 1}, done.Again)
	require.NotContains(t, rowsAsText(t, into, `SELECT x::text FROM people x`), "Halcyon")
	require.Contains(t, rowsAsText(t, into, `SELECT name FROM people`), "Bo Lund")
	found, err := back.CheckBalances(t.Context())
	require.NoError(t, err)
	require.True(t, found.Agree(), "%v", found.Differences)

	// The list forgets nobody though this database knows less, and the number of who came later is
	// given to somebody else, who is not erased for it.
	require.NoError(t, NoteErased(t.Context(), back.Store, folder))
	again, err := ReadErasedFile(list, time.Now())
	require.NoError(t, err)
	require.Len(t, again, 2)
	require.Equal(t, later, back.sewer(t, "Ada Quill"))
	a, err := EraseAgain(t.Context(), back.Store, again)
	require.NoError(t, err)
	require.Equal(t, Again{Before: 1, Another: 1}, a)
	require.Contains(t, rowsAsText(t, into, `SELECT name FROM people`), "Ada Quill")
	require.NotEqual(t, stays, gone)

	// A line of the log, which says when somebody was erased and not since when they had the number,
	// erases whoever had it then. Nobody is left out for another who was erased by the same number.
	byHand, err := ReadErased(strings.NewReader(fmt.Sprintf("person spring %d erased=%s\nperson spring %d erased=%s\nperson spring %d erased=%s\n",
		stays, time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC).Format(time.RFC3339), stays, time.Now().Format(time.RFC3339Nano), later+1, time.Now().Format(time.RFC3339Nano))))
	require.NoError(t, err)
	a, err = EraseAgain(t.Context(), back.Store, byHand)
	require.NoError(t, err)
	require.Equal(t, Again{Erased: 1, Another: 1, NotHere: 1}, a)
	require.NotContains(t, rowsAsText(t, into, `SELECT x::text FROM people x`), "Bo Lund")

	// Somebody new is noted where a line is there twice.
	doubled, err := os.ReadFile(list)
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(doubled)), "\n")
	doubled = append(doubled, lines[len(lines)-1]+"\n"...)
	require.NoError(t, os.WriteFile(list, doubled, 0o600))
	require.NoError(t, NoteErased(t.Context(), h.Store, folder))
	same, err = os.ReadFile(list)
	require.NoError(t, err)
	require.Equal(t, string(doubled), string(same))
	require.NoError(t, NoteErased(t.Context(), back.Store, folder))
	again, err = ReadErasedFile(list, time.Now())
	require.NoError(t, err)
	require.Len(t, again, 3)

	// What lasts is said in the same words each time.
	nowhere := filepath.Join(folder, "nowhere")
	first := NoteErased(t.Context(), h.Store, nowhere)
	require.ErrorIs(t, first, fs.ErrNotExist)
	require.EqualError(t, NoteErased(t.Context(), h.Store, nowhere), first.Error())

	// A list that cannot be read is not written over.
	require.NoError(t, os.WriteFile(list, []byte("somebody's notes\n"), 0o600))
	require.ErrorContains(t, NoteErased(t.Context(), h.Store, folder), "Line 1")

	// Where somebody cannot be erased again nothing of the backup is kept.
	empty := pgtest.Empty(t)
	undone := false
	r = returnTo(empty, filepath.Join(folder, made.File), by)
	r.PutKey = func(string) (func() error, error) { return func() error { undone = true; return nil }, nil }
	r.Erased = []postgres.Erased{{Kind: "ward", Drive: "spring", Number: 1, At: time.Now()}}
	_, err = Restore(t.Context(), r)
	require.Error(t, err)
	require.True(t, undone)
	require.NoError(t, postgres.Empty(t.Context(), empty.Owner()))
}
